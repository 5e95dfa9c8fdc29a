/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Which files are taken for a ledger, and how an older one becomes a newer one. */
#include "daemon/ledger/schema.h"

#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>

#include "daemon/ledger/database.h"
#include "daemon/ledger/ledger_read.h"
#include "tests/unit/daemon/ledger/ledger_fixture.h"

static struct fixture fixture;
static struct error error;

static int
make_place(void **state)
{
	(void)state;
	return fixture_init(&fixture) ? 0 : -1;
}

static int
remove_place(void **state)
{
	(void)state;
	fixture_release(&fixture);
	return 0;
}

static sqlite3 *
open_plain(void)
{
	sqlite3 *db;

	assert_int_equal(sqlite3_open(fixture.path, &db), SQLITE_OK);
	return db;
}

static void
run(sqlite3 *db, const char *sql)
{
	if (database_run(db, sql, &error) != 0)
		fail_msg("%s", error.text);
}

static int64_t
integer(sqlite3 *db, const char *sql)
{
	int64_t value;

	if (database_integer(db, sql, &value, &error) != 0)
		fail_msg("%s", error.text);
	return value;
}

static void
make_ledger(void)
{
	struct ledger *ledger = ledger_open(fixture.path, NULL, &error);

	assert_non_null(ledger);
	ledger_close(ledger);
}

/* --- steps ------------------------------------------------------------------------- */

static const struct schema_step three_versions[] = {
    {1, "CREATE TABLE a (x INTEGER)"},
    {2, "ALTER TABLE a ADD COLUMN y INTEGER"},
    {2, "UPDATE a SET y = 2 * x"},
    {3, "CREATE TABLE b AS SELECT sum(y) AS total FROM a"},
};

static void
the_steps_that_are_missing_are_taken_from_every_version(void **state)
{
	static const int counts[] = {1, 3, 4}; /* steps up to each version */
	(void)state;

	for (int from = 1; from <= 3; from++) {
		sqlite3 *db;
		struct schema_steps older = {three_versions, counts[from - 1]};
		struct schema_steps all = {three_versions, 4};

		assert_int_equal(sqlite3_open(":memory:", &db), SQLITE_OK);
		assert_int_equal(schema_upgrade(db, "x", &older, &error), 0);
		assert_int_equal(integer(db, "PRAGMA user_version"), from);
		if (from == 1)
			run(db, "INSERT INTO a VALUES (21)");
		if (from == 2)
			run(db, "INSERT INTO a VALUES (21, 42)");
		assert_int_equal(schema_upgrade(db, "x", &all, &error), 0);
		assert_int_equal(integer(db, "PRAGMA user_version"), 3);
		assert_int_equal(
		    integer(db, "PRAGMA application_id"), SCHEMA_APPLICATION);
		assert_int_equal(integer(db, "SELECT total FROM b"), from < 3 ? 42 : 0);
		/* Nothing is missing now, so nothing is done. */
		int changes = sqlite3_total_changes(db);
		assert_int_equal(schema_upgrade(db, "x", &all, &error), 0);
		assert_int_equal(sqlite3_total_changes(db), changes);
		sqlite3_close(db);
	}
}

static void
a_step_that_fails_leaves_the_file_as_it_was(void **state)
{
	static const struct schema_step broken[] = {
	    {1, "CREATE TABLE a (x INTEGER)"},
	    {2, "CREATE TABLE b (x INTEGER)"},
	    {2, "INSERT INTO nowhere VALUES (1)"},
	};
	sqlite3 *db = open_plain();
	(void)state;

	assert_int_equal(
	    schema_upgrade(db, "x", &(struct schema_steps){broken, 1}, &error), 0);
	assert_int_not_equal(
	    schema_upgrade(db, "x", &(struct schema_steps){broken, 3}, &error), 0);
	assert_non_null(strstr(error.text, "bring 'x' to version 2"));
	assert_non_null(strstr(error.text, "nowhere"));
	assert_int_equal(integer(db, "PRAGMA user_version"), 1);
	assert_int_equal(
	    integer(db, "SELECT count(*) FROM sqlite_schema WHERE name = 'b'"), 0);
	assert_int_equal(sqlite3_get_autocommit(db), 1);
	sqlite3_close(db);
}

static void
the_list_of_steps_rises_to_the_version_of_the_program(void **state)
{
	int version = 1;
	(void)state;

	for (int i = 0; i < schema_steps.count; i++) {
		int next = schema_steps.list[i].version;
		assert_true(next == version || next == version + 1);
		version = next;
	}
	assert_int_equal(version, SCHEMA_VERSION);
}

static void
a_new_ledger_is_of_this_version(void **state)
{
	(void)state;

	for (int round = 0; round < 2; round++) { /* made, then opened again */
		struct ledger *ledger = ledger_open(fixture.path, NULL, &error);
		assert_non_null(ledger);
		ledger_close(ledger);
	}
	sqlite3 *db = open_plain();
	assert_int_equal(integer(db, "PRAGMA user_version"), SCHEMA_VERSION);
	assert_int_equal(integer(db, "PRAGMA application_id"), SCHEMA_APPLICATION);
	sqlite3_close(db);
}

/* --- from version 1 ------------------------------------------------------------------ */

/* What a program of version 1 left: its steps, its columns of features, its rows. */
static void
make_version_1(void)
{
	struct schema_steps first = {schema_steps.list, 0};
	sqlite3 *db = open_plain();

	while (schema_steps.list[first.count].version == 1)
		first.count++;
	run(db, "PRAGMA page_size = 2048; PRAGMA journal_mode = WAL");
	if (schema_upgrade(db, fixture.path, &first, &error) != 0)
		fail_msg("%s", error.text);
	assert_int_equal(integer(db, "PRAGMA user_version"), 1);
	run(db,
	    "ALTER TABLE shot ADD COLUMN heat_s REAL;"
	    "ALTER TABLE shot ADD COLUMN stack_c REAL;"
	    "INSERT INTO setup VALUES (1, 10, '0.1.0', 'pond-works', '/etc/x.ini',"
	    " '00000000000000aa', 'whole text');"
	    "INSERT INTO line VALUES (1, 'line-1'), (2, 'line-2');"
	    "INSERT INTO recipe VALUES (1, 12, 'pond-basin', 'abs');"
	    "INSERT INTO channel VALUES"
	    " (3, 1, 'plc-1', 'zone_top_1', 'zone_top', 1, '1'),"
	    " (7, 1, 'plc-1', 'tool_2', 'tool', 2, 'C');"
	    "INSERT INTO feature VALUES ('heat_s', 1, 's', 'time in the oven', 1);");
	run(db,
	    "INSERT INTO shot (id, change, setup, line, shot_no, filed_at,"
	    " form_start_at, closed_at, outcome, flags, reason, recipe_read, recipe,"
	    " tool, lot, material, cycle_count, uncertainty_s, heat_s, stack_c)"
	    " VALUES (1, 1, 1, 1, 1, 2000, 2000, 3000, 'complete', 0, NULL, 12, 12,"
	    " 'T-1', 'L-1', 'abs', 100, 0.25, 143.5, 21),"
	    " (2, 4, 1, 1, 2, 4000, 4000, 5000, 'timer_release', 4, 'no sag', 12, 12,"
	    " 'T-1', 'L-1', 'abs', 101, 0.25, 230, NULL);"
	    "INSERT INTO absent VALUES (2, 'stack_c', 'sensor_fault');"
	    "INSERT INTO shot_channel VALUES (1048576 + 3, 0, 1, 2, 3, 4, 5, NULL),"
	    " (1048576 + 7, 0, 1, 2, 3, 4, 5, NULL),"
	    " (2 * 1048576 + 3, NULL, NULL, NULL, NULL, NULL, 0.5, 'stale');"
	    "INSERT INTO context VALUES (1, 1, 'lot', 'L-1', 1000, 1000);"
	    "INSERT INTO event VALUES (3, 1, 2500, 'start', 'evensoakd started');"
	    "INSERT INTO delivery VALUES ('plant', 'shot', 1, 3000);"
	    "INSERT INTO health VALUES (0, 'daemon', 'ok', 'runs', 1, 2, 3, 4);");
	sqlite3_close(db);
}

struct seen {
	int shots, channels;
	struct ledger_shot shot[2];
};

static int
see_shot(void *arg, const struct ledger_shot *shot)
{
	struct seen *seen = arg;

	assert_true(seen->shots < 2);
	seen->shot[seen->shots++] = *shot;
	return 0;
}

static int
see_channel(void *arg, const struct ledger_channel *channel)
{
	struct seen *seen = arg;
	static const char *const names[] = {"zone_top_1", "tool_2"};

	assert_true(seen->channels < 2);
	assert_string_equal(channel->channel, names[seen->channels++]);
	return 0;
}

static void
assert_version_1_is_there(void)
{
	static struct seen seen;
	struct ledger_read *reader = ledger_read_open(fixture.path, &error);

	assert_non_null(reader);
	seen = (struct seen){0};
	assert_int_equal(ledger_read_shots(reader, &(struct ledger_filter){.limit = 2},
			     true, see_shot, &seen, &error),
	    0);
	assert_int_equal(
	    ledger_read_channels(reader, 1, see_channel, &seen, &error), 0);
	assert_int_equal(seen.shots, 2);
	assert_int_equal(seen.channels, 2);
	assert_true(seen.shot[0].value[FEATURE_HEAT_S] == 143.5);
	assert_string_equal(seen.shot[0].lot, "L-1");
	assert_string_equal(seen.shot[1].reason, "no sag");
	assert_int_equal(seen.shot[1].absent[FEATURE_STACK_C], ABSENT_SENSOR_FAULT);
	for (int i = 0; i < 2; i++) {
		assert_string_equal(seen.shot[i].side, "");
		assert_true(seen.shot[i].set_points == 0);
	}
	ledger_read_close(reader);
}

static void
a_ledger_of_version_1_keeps_all_it_holds_and_is_written_on(void **state)
{
	int64_t setup, change;
	(void)state;

	make_version_1();
	assert_null(ledger_read_open(fixture.path, &error));
	assert_non_null(strstr(error.text, "older version"));
	struct ledger *ledger = ledger_open(fixture.path, NULL, &error);
	if (ledger == NULL)
		fail_msg("%s", error.text);
	assert_version_1_is_there();
	assert_int_equal(ledger_cursor(ledger, "plant", "shot", &change, &error), 0);
	assert_int_equal(change, 1);

	fixture.trace_bytes = 5000;
	assert_int_equal(ledger_put_setup(ledger, &fixture.settings, fixture_time(0),
			     &setup, &error),
	    0);
	assert_int_equal(setup, 2);
	assert_int_equal(fixture_write(&fixture, ledger, 0, 3, 4, &error), 0);
	ledger_close(ledger);
	assert_version_1_is_there();

	sqlite3 *db = open_plain();
	assert_int_equal(integer(db, "PRAGMA user_version"), SCHEMA_VERSION);
	assert_int_equal(integer(db, "SELECT count(*) FROM shot"), 4);
	assert_int_equal(integer(db, "SELECT max(change) FROM shot"), 6);
	assert_int_equal(integer(db, "SELECT count(*) FROM trace"), 2);
	/* The same channel of the same meaning is the one that was there. */
	assert_int_equal(
	    integer(db, "SELECT id FROM channel WHERE name = 'tool_2'"), 7);
	assert_int_equal(integer(db, "SELECT count(*) FROM pragma_integrity_check"
				     " WHERE integrity_check = 'ok'"),
	    1);
	assert_int_equal(
	    integer(db, "SELECT count(*) FROM pragma_foreign_key_check"), 0);
	sqlite3_close(db);
}

static void
a_migration_that_finds_no_room_leaves_version_1(void **state)
{
	sqlite3 *db;
	(void)state;

	make_version_1();
	db = open_plain();
	int64_t pages = integer(db, "PRAGMA page_count");
	char sql[64];
	snprintf(sql, sizeof sql, "PRAGMA max_page_count = %lld", (long long)pages);
	run(db, sql);
	assert_int_equal(schema_upgrade(db, "x", &schema_steps, &error), ERROR_FULL);
	assert_non_null(strstr(error.text, "full"));
	assert_int_equal(integer(db, "PRAGMA user_version"), 1);
	assert_int_equal(integer(db, "SELECT count(*) FROM channel"), 2);
	assert_int_equal(integer(db, "SELECT count(*) FROM pragma_table_info('shot')"
				     " WHERE name = 'side'"),
	    0);
	sqlite3_close(db);
	make_ledger();
	assert_version_1_is_there();
}

/* The schema tells a person with an SQL tool what the bits of shot.flags are. */
static void
every_flag_is_told_in_the_schema(void **state)
{
	char sql[256];
	(void)state;

	make_ledger();
	sqlite3 *db = open_plain();
	for (int bit = 0; bit < SHOT_FLAG_BITS; bit++) {
		snprintf(sql, sizeof sql,
		    "SELECT substr(sql, instr(sql, 'All flags')) GLOB '*[ \n]%d %s[, "
		    "]*'"
		    " FROM sqlite_schema WHERE name = 'shot'",
		    1 << bit, shot_flag_text(bit));
		if (integer(db, sql) != 1)
			fail_msg("%s", sql);
	}
	sqlite3_close(db);
}

/* --- files that are refused ---------------------------------------------------------- */

static char *
file_bytes(size_t *length)
{
	FILE *file = fopen(fixture.path, "rb");

	assert_non_null(file);
	fseek(file, 0, SEEK_END);
	*length = (size_t)ftell(file);
	rewind(file);
	char *bytes = malloc(*length + 1);
	assert_non_null(bytes);
	assert_int_equal(fread(bytes, 1, *length, file), *length);
	fclose(file);
	return bytes;
}

/* Neither the writer nor the reader takes the file, and neither changes a byte. */
static void
assert_refused(int expected, const char *words)
{
	size_t before_length, after_length;
	char *before = file_bytes(&before_length);
	int code = 0;

	assert_null(ledger_open(fixture.path, &code, &error));
	assert_int_equal(code, expected);
	if (strstr(error.text, words) == NULL || strchr(error.text, '\n') != NULL)
		fail_msg("%s", error.text);
	assert_null(ledger_read_open(fixture.path, &error));
	if (strstr(error.text, words) == NULL)
		fail_msg("%s", error.text);

	char *after = file_bytes(&after_length);
	assert_int_equal(after_length, before_length);
	assert_memory_equal(after, before, before_length);
	free(before);
	free(after);
}

static void
a_newer_ledger_is_refused_untouched(void **state)
{
	(void)state;

	make_ledger();
	sqlite3 *db = open_plain();
	run(db, "PRAGMA user_version = 9999; CREATE TABLE of_the_future (x)");
	sqlite3_close(db);
	assert_refused(ERROR_TOO_NEW, "is of version 9999");
}

static void
a_newer_ledger_is_refused_also_while_its_version_is_in_the_wal(void **state)
{
	(void)state;

	make_ledger();
	sqlite3 *db = open_plain();
	run(db, "PRAGMA wal_autocheckpoint = 0; PRAGMA user_version = 9999");
	assert_true(database_has_wal(fixture.path));
	assert_refused(ERROR_TOO_NEW, "is of version 9999");
	sqlite3_close(db);
}

static void
a_file_that_is_no_database_is_refused_in_one_line(void **state)
{
	(void)state;

	FILE *file = fopen(fixture.path, "w");
	assert_non_null(file);
	for (int i = 0; i < 1000; i++)
		fputs("these are not the bytes of a database\n", file);
	fclose(file);
	assert_refused(ERROR_IO, "not an SQLite database");
}

static void
the_database_of_something_else_is_refused(void **state)
{
	(void)state;

	sqlite3 *db = open_plain();
	run(db, "CREATE TABLE cookies (x)");
	sqlite3_close(db);
	assert_refused(ERROR_INVALID, "not a ledger");
}

static void
an_empty_file_becomes_a_ledger_but_is_not_read_as_one(void **state)
{
	(void)state;

	fclose(fopen(fixture.path, "w"));
	assert_null(ledger_read_open(fixture.path, &error));
	assert_non_null(strstr(error.text, "is empty"));
	make_ledger();
	struct ledger_read *reader = ledger_read_open(fixture.path, &error);
	assert_non_null(reader);
	ledger_read_close(reader);
}

static void
an_impossible_place_is_named_with_the_reason(void **state)
{
	int code = 0;
	(void)state;

	assert_null(ledger_open("/nowhere/at/all.db", &code, &error));
	assert_int_equal(code, ERROR_IO);
	assert_non_null(strstr(error.text, "/nowhere/at/all.db"));
	assert_non_null(strstr(error.text, "No such file"));
	assert_null(ledger_open(fixture.directory, &code, &error));
	assert_int_equal(code, ERROR_IO);
	assert_null(ledger_read_open("/nowhere/at/all.db", &error));
	assert_non_null(strstr(error.text, "evensoakd makes it"));
}

#define TEST(name) cmocka_unit_test_setup_teardown(name, make_place, remove_place)

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    TEST(the_steps_that_are_missing_are_taken_from_every_version),
	    TEST(a_step_that_fails_leaves_the_file_as_it_was),
	    TEST(the_list_of_steps_rises_to_the_version_of_the_program),
	    TEST(a_new_ledger_is_of_this_version),
	    TEST(a_ledger_of_version_1_keeps_all_it_holds_and_is_written_on),
	    TEST(a_migration_that_finds_no_room_leaves_version_1),
	    TEST(every_flag_is_told_in_the_schema),
	    TEST(a_newer_ledger_is_refused_untouched),
	    TEST(a_newer_ledger_is_refused_also_while_its_version_is_in_the_wal),
	    TEST(a_file_that_is_no_database_is_refused_in_one_line),
	    TEST(the_database_of_something_else_is_refused),
	    TEST(an_empty_file_becomes_a_ledger_but_is_not_read_as_one),
	    TEST(an_impossible_place_is_named_with_the_reason),
	};
	return cmocka_run_group_tests_name("schema", tests, NULL, NULL);
}
