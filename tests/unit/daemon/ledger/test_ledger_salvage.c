/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Ledgers with damaged pages: what can still be read of them is got out, and is as it was. */
#include "daemon/ledger/ledger_salvage.h"

#include "tests/unit/daemon/ledger/ledger_pair.h"
#include "tests/unit/seed.h"

#include <fcntl.h>
#include <sys/stat.h>
#include <time.h>

#include "daemon/ledger/database.h"

enum { PAGE = 2048, SHOTS_THERE = 60 };

static char copy_path[400];
static struct ledger_backup made;

/* What a salvage told. */
static struct {
	int tables, lost, incomplete;
	int64_t places, lost_shots;
	struct ledger_lost last;
	char line[64];
	int64_t incomplete_shots;
	char table[64];
	char within[400]; /* what may be incomplete, as a condition */
} told;

static void
take_table(void *arg, const struct ledger_salvaged *salvaged)
{
	(void)arg;
	told.tables++;
	told.places += salvaged->places;
}

static void
take_lost(void *arg, const struct ledger_lost *lost)
{
	(void)arg;
	told.lost++;
	told.lost_shots += lost->count;
	told.last = *lost;
	snprintf(told.line, sizeof told.line, "%s", lost->line);
}

static void
take_incomplete(void *arg, const struct ledger_incomplete *incomplete)
{
	(void)arg;
	size_t length = strlen(told.within);

	snprintf(told.within + length, sizeof told.within - length,
	    " OR (line.name = '%s' AND shot_no BETWEEN %lld AND %lld)",
	    incomplete->line, (long long)incomplete->first_no,
	    (long long)incomplete->last_no);
	told.incomplete++;
	told.incomplete_shots += incomplete->count;
	snprintf(told.table, sizeof told.table, "%s", incomplete->table);
}

static int
salvage(bool dry)
{
	return ledger_salvage(fixture.path,
	    &(struct ledger_salvage_order){.to = copy_path,
		.over = true,
		.dry = dry,
		.take = {take_table, take_lost, take_incomplete, NULL}},
	    &made, &error);
}

/* A ledger of both lines at rest, with all that hangs on shots. */
static int
open_rested(void **state)
{
	int64_t relabelled;
	int code = open_both(state);

	if (code != 0)
		return code;
	snprintf(copy_path, sizeof copy_path, "%s/salvaged.db", fixture.directory);
	fixture.trace_bytes = 3000;
	for (int64_t no = 1; no <= SHOTS_THERE; no++) {
		write_shots(0, no, no);
		if (no % 2 == 0)
			write_shots(1, no / 2, no / 2);
	}
	if (ledger_put_context(ledger,
		&(struct ledger_entry){
		    "line-1", CONTEXT_TOOL, "T-1", fixture_time(0), seconds(0)},
		&relabelled, &error) != 0)
		return -1;
	ledger_read_close(reader);
	ledger_close(ledger);
	reader = NULL;
	ledger = NULL;
	memset(&told, 0, sizeof told);
	return 0;
}
#define SALVAGE_TEST(name) \
	cmocka_unit_test_setup_teardown(name, open_rested, close_both)

/* --- damage -------------------------------------------------------------------------------- */

static int64_t
value_of(const char *path, const char *sql)
{
	sqlite3 *db;
	int64_t value = -1;

	assert_int_equal(database_open(path, DATABASE_READ_IMMUTABLE, &db, &error), 0);
	if (database_integer(db, sql, &value, &error) != 0)
		fail_msg("%s", error.text);
	sqlite3_close(db);
	return value;
}

/* The pages of a table or index. */
static int64_t
page_of(const char *what, int64_t number, bool leaf)
{
	char sql[300];

	snprintf(sql, sizeof sql,
	    "SELECT pageno FROM dbstat WHERE name = '%s' AND pagetype = '%s'"
	    " ORDER BY path LIMIT 1 OFFSET %lld",
	    what, leaf ? "leaf" : "internal", (long long)number);
	return value_of(fixture.path, sql);
}

static void
overwrite(int64_t page, const void *bytes, size_t count)
{
	int fd = open(fixture.path, O_WRONLY);

	assert_true(fd >= 0 && page >= 1);
	assert_int_equal(pwrite(fd, bytes, count, (page - 1) * PAGE), (ssize_t)count);
	close(fd);
}

static void
wipe(int64_t page)
{
	static const unsigned char zeros[PAGE];

	overwrite(page, zeros, sizeof zeros);
}

static void
salvage_it(void)
{
	if (salvage(false) != 0)
		fail_msg("%s", error.text);
}

/* Whatever is in the new ledger is as it was in the old one before the damage: `whole`. */
static void
assert_nothing_is_made_up(const char *whole)
{
	static const char *const compared[] = {"shot", "shot_channel", "absent",
	    "trace", "superseded", "context", "channel", "recipe", "feature"};
	char sql[480];
	sqlite3 *db;
	int64_t other = -1;

	assert_int_equal(sqlite3_open(copy_path, &db), SQLITE_OK);
	snprintf(sql, sizeof sql, "ATTACH '%s' AS whole", whole);
	assert_int_equal(database_run(db, sql, &error), 0);
	for (size_t i = 0; i < sizeof compared / sizeof compared[0]; i++) {
		snprintf(sql, sizeof sql,
		    "SELECT count(*) FROM (SELECT * FROM main.%s EXCEPT SELECT * FROM"
		    " whole.%s)",
		    compared[i], compared[i]);
		if (database_integer(db, sql, &other, &error) != 0)
			fail_msg("%s", error.text);
		if (other != 0)
			fail_msg("%lld rows of %s were never there", (long long)other,
			    compared[i]);
	}
	sqlite3_close(db);
}

static void
copy_file(const char *from, const char *to)
{
	static char bytes[8 << 20];
	FILE *file = fopen(from, "rb");

	assert_non_null(file);
	size_t count = fread(bytes, 1, sizeof bytes, file);
	fclose(file);
	assert_in_range(count, 1, sizeof bytes - 1);
	file = fopen(to, "wb");
	assert_non_null(file);
	assert_int_equal(fwrite(bytes, 1, count, file), count);
	fclose(file);
}

static char whole_path[440];

static void
keep_whole(void)
{
	snprintf(whole_path, sizeof whole_path, "%s/whole.db", fixture.directory);
	copy_file(fixture.path, whole_path);
}

/* --- tests ---------------------------------------------------------------------------------- */

static void
a_ledger_that_is_whole_comes_out_whole(void **state)
{
	(void)state;
	keep_whole();
	salvage_it();
	assert_int_equal(made.shots, SHOTS_THERE + SHOTS_THERE / 2);
	assert_int_equal(told.places, 0);
	assert_int_equal(told.lost, 0);
	assert_int_equal(value_of(copy_path, "SELECT count(*) FROM shot_channel"),
	    value_of(whole_path, "SELECT count(*) FROM shot_channel"));
	assert_int_equal(value_of(copy_path, "SELECT count(*) FROM trace"),
	    value_of(whole_path, "SELECT count(*) FROM trace"));
	assert_int_equal(value_of(copy_path, "SELECT count(*) FROM superseded"),
	    value_of(whole_path, "SELECT count(*) FROM superseded"));
	assert_int_equal(value_of(copy_path, "SELECT count(*) FROM copied"), 1);
	assert_nothing_is_made_up(whole_path);
}

static void
what_lies_behind_a_damaged_page_is_read_and_what_is_lost_is_named(void **state)
{
	(void)state;
	keep_whole();
	wipe(page_of("shot", 9, true));
	salvage_it();
	assert_true(told.places >= 1);
	/* A shot with so many features fills a page. */
	assert_in_range(told.lost_shots, 1, 3);
	assert_int_equal(made.shots, SHOTS_THERE + SHOTS_THERE / 2 - told.lost_shots);
	assert_int_equal(told.last.last_no - told.last.first_no + 1, told.last.count);
	assert_true(told.last.after.ns > 0 && told.last.before.ns > told.last.after.ns);
	/* What hung on them is gone with them, the rest is there. */
	assert_int_equal(value_of(copy_path, "SELECT count(*) FROM trace"), made.shots);
	assert_int_equal(
	    value_of(copy_path, "SELECT count(*) FROM shot_channel WHERE shot IN"
				" (SELECT id FROM shot WHERE line = 1)"),
	    value_of(copy_path, "SELECT 90 * count(*) FROM shot WHERE line = 1"));
	assert_nothing_is_made_up(whole_path);
}

/* How many shots have fewer rows in the new ledger and meet a condition. */
static int64_t
count_fewer(const char *table, const char *condition)
{
	char sql[1000];
	sqlite3 *db;
	int64_t count = -1;

	assert_int_equal(
	    database_open(copy_path, DATABASE_READ_IMMUTABLE, &db, &error), 0);
	snprintf(sql, sizeof sql, "ATTACH '%s' AS whole", whole_path);
	assert_int_equal(database_run(db, sql, &error), 0);
	snprintf(sql, sizeof sql,
	    "SELECT count(*) FROM main.shot s JOIN main.line ON line.id = s.line WHERE"
	    " (SELECT count(*) FROM main.%s t WHERE t.shot = s.id) <"
	    " (SELECT count(*) FROM whole.%s t WHERE t.shot = s.id) AND (%s)",
	    table, table, condition);
	assert_int_equal(database_integer(db, sql, &count, &error), 0);
	sqlite3_close(db);
	return count;
}

static void
shots_that_lost_what_hangs_on_them_are_named(void **state)
{
	static const char *const damaged[] = {"shot_channel", "trace"};
	(void)state;

	keep_whole();
	for (int i = 0; i < 2; i++) {
		copy_file(whole_path, fixture.path);
		wipe(page_of(damaged[i], 3, true));
		memset(&told, 0, sizeof told);
		salvage_it();
		assert_string_equal(told.table, damaged[i]);
		int64_t fewer = count_fewer(damaged[i], "1");
		assert_true(fewer >= 1);
		assert_int_equal(
		    count_fewer(damaged[i], told.within + strlen(" OR ")), fewer);
		/* the page may begin or end between two of them */
		assert_in_range(told.incomplete_shots, fewer, fewer + 2);
	}
}

static void
a_damaged_index_costs_no_shot(void **state)
{
	static const char *const indexes[] = {
	    "shot_by_time", "sqlite_autoindex_shot_1", "sqlite_autoindex_shot_2"};
	(void)state;

	keep_whole();
	for (int i = 0; i < 3; i++) {
		copy_file(whole_path, fixture.path);
		wipe(page_of(indexes[i], 0, true));
		memset(&told, 0, sizeof told);
		salvage_it();
		assert_int_equal(made.shots, SHOTS_THERE + SHOTS_THERE / 2);
		assert_int_equal(told.lost, 0);
		assert_nothing_is_made_up(whole_path);
	}
}

static void
a_page_from_which_all_others_hang_costs_its_table_alone(void **state)
{
	(void)state;
	keep_whole();
	wipe(page_of("shot_channel", 0, false));
	salvage_it();
	assert_int_equal(made.shots, SHOTS_THERE + SHOTS_THERE / 2);
	assert_int_equal(value_of(copy_path, "SELECT count(*) FROM shot_channel"), 0);
	assert_int_equal(told.places, 1);
	assert_nothing_is_made_up(whole_path);
}

static void
a_set_up_that_is_lost_is_stood_in_for(void **state)
{
	(void)state;
	wipe(page_of("setup", 0, true));
	salvage_it();
	assert_int_equal(made.shots, SHOTS_THERE + SHOTS_THERE / 2);
	assert_int_equal(
	    value_of(copy_path, "SELECT count(*) FROM setup WHERE program = 'unknown'"),
	    1);
}

static bool
is_inside_shots(int64_t page)
{
	char sql[160];

	snprintf(sql, sizeof sql,
	    "SELECT count(*) FROM dbstat WHERE name = 'shot' AND pagetype ="
	    " 'internal' AND pageno = %lld",
	    (long long)page);
	return value_of(whole_path, sql) > 0;
}

static void
any_page_with_any_damage_is_got_over_or_said_to_be_too_much(void **state)
{
	struct fixture dice = {.random = seed_take((unsigned)time(NULL)) | 1};
	int salvaged = 0, refused = 0, whole = 0;
	(void)state;

	keep_whole();
	int64_t pages = value_of(whole_path, "PRAGMA page_count");
	for (int64_t page = 1; page <= pages; page += FIXTURE_SPARSELY + pages / 150) {
		unsigned char junk[PAGE];
		size_t count = fixture_random(&dice) < 0.5 ? PAGE : 64;
		for (size_t i = 0; i < PAGE; i++)
			junk[i] = (unsigned char)(256 * fixture_random(&dice));
		copy_file(whole_path, fixture.path);
		overwrite(page, junk, count);
		memset(&told, 0, sizeof told);
		if (salvage(false) != 0) {
			refused++;
			assert_true(strlen(error.text) > 10);
			continue;
		}
		salvaged++;
		whole += made.shots == SHOTS_THERE + SHOTS_THERE / 2;
		/* All shots hang from one page; each of the others has few. */
		if (!is_inside_shots(page))
			assert_true(made.shots >= SHOTS_THERE);
		assert_int_equal(value_of(copy_path, "SELECT count(*) FROM"
						     " pragma_integrity_check WHERE"
						     " integrity_check = 'ok'"),
		    1);
	}
	print_message("%d salvaged, %d of them with all shots, %d refused\n", salvaged,
	    whole, refused);
	/* The list of tables has a few pages; all others are got over. */
	assert_true(salvaged > 10 * refused);
}

static void
a_dry_run_leaves_nothing(void **state)
{
	(void)state;
	wipe(page_of("shot", 9, true));
	assert_int_equal(salvage(true), 0);
	assert_true(told.lost_shots > 0);
	assert_int_not_equal(access(copy_path, F_OK), 0);
	snprintf(whole_path, sizeof whole_path, "%s.part", copy_path);
	assert_int_not_equal(access(whole_path, F_OK), 0);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    SALVAGE_TEST(a_ledger_that_is_whole_comes_out_whole),
	    SALVAGE_TEST(
		what_lies_behind_a_damaged_page_is_read_and_what_is_lost_is_named),
	    SALVAGE_TEST(shots_that_lost_what_hangs_on_them_are_named),
	    SALVAGE_TEST(a_damaged_index_costs_no_shot),
	    SALVAGE_TEST(a_page_from_which_all_others_hang_costs_its_table_alone),
	    SALVAGE_TEST(a_set_up_that_is_lost_is_stood_in_for),
	    SALVAGE_TEST(any_page_with_any_damage_is_got_over_or_said_to_be_too_much),
	    SALVAGE_TEST(a_dry_run_leaves_nothing),
	};

	return cmocka_run_group_tests_name("ledger salvage", tests, NULL, NULL);
}
