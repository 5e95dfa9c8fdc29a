/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Every single call that reaches the system fails while a ledger is opened: one that is to
 * be made, one of each earlier version, one that a kill has left.  The opening tells, and
 * the next one finds everything.
 */
#include "daemon/ledger/ledger.h"

#include "tests/unit/daemon/ledger/failing_vfs.h"
#include "tests/unit/daemon/ledger/ledger_pair.h"

#include "daemon/ledger/schema.h"

enum { CALLS_MAX = 4000 };

static void
assert_sentence(const char *name, int code)
{
	if (code != ERROR_FULL && code != ERROR_IO && code != ERROR_BUSY &&
	    code != ERROR_DAMAGED)
		fail_msg("%s: %d: %s", name, code, error.text);
	if (strlen(error.text) < 10)
		fail_msg("%s: no sentence: '%s'", name, error.text);
}

/* --- opening ------------------------------------------------------------------------- */

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

/* Files of a ledger, as they lay there when nobody had it open. */
struct laid {
	char *bytes[2]; /* the file, its WAL */
	size_t count[2];
};
static const char *const laid_suffix[2] = {"", "-wal"};

static void
path_of(const char *suffix, char path[static 400])
{
	snprintf(path, 400, "%s%s", fixture.path, suffix);
}

static struct laid
keep_files(void)
{
	struct laid laid = {0};
	char path[400];

	for (int i = 0; i < 2; i++) {
		path_of(laid_suffix[i], path);
		FILE *file = fopen(path, "rb");
		if (file == NULL)
			continue;
		laid.bytes[i] = malloc(8 << 20);
		assert_non_null(laid.bytes[i]);
		laid.count[i] = fread(laid.bytes[i], 1, 8 << 20, file);
		assert_in_range(laid.count[i], 0, (8 << 20) - 1);
		fclose(file);
	}
	return laid;
}

static void
lay_files(const struct laid *laid)
{
	static const char *const suffixes[] = {"", "-wal", "-shm", "-journal"};
	char path[400];

	for (int i = 0; i < 4; i++) {
		path_of(suffixes[i], path);
		unlink(path);
	}
	for (int i = 0; i < 2; i++) {
		if (laid->bytes[i] == NULL)
			continue;
		path_of(laid_suffix[i], path);
		FILE *file = fopen(path, "wb");
		assert_non_null(file);
		assert_int_equal(
		    fwrite(laid->bytes[i], 1, laid->count[i], file), laid->count[i]);
		fclose(file);
	}
}

static void
run_plain(sqlite3 *db, const char *sql)
{
	if (sqlite3_exec(db, sql, NULL, NULL, NULL) != SQLITE_OK)
		fail_msg("%s", sqlite3_errmsg(db));
}

/* As a program of that version left it, with a shot; 0: there is no file yet. */
static struct laid
lay_version(int version)
{
	struct schema_steps steps = {schema_steps.list, 0};
	struct laid laid = {0};
	sqlite3 *db;

	if (version == 0)
		return laid;
	while (steps.count < schema_steps.count &&
	       schema_steps.list[steps.count].version <= version)
		steps.count++;
	lay_files(&laid);
	assert_int_equal(sqlite3_open(fixture.path, &db), SQLITE_OK);
	run_plain(db, "PRAGMA page_size = 2048; PRAGMA journal_mode = WAL");
	assert_int_equal(schema_upgrade(db, fixture.path, &steps, &error), 0);
	run_plain(db,
	    "INSERT INTO setup VALUES (1, 10, '0.1.0', 'pond-works', '/etc/x.ini',"
	    " '00000000000000aa', 'whole text');"
	    "INSERT INTO line (id, name) VALUES (1, 'line-1');"
	    "INSERT INTO shot (id, change, setup, line, shot_no, filed_at, closed_at,"
	    " outcome, flags) VALUES (1, 1, 1, 1, 1, 2000, 3000, 'complete', 0);");
	sqlite3_close(db);
	return keep_files();
}

/* A ledger of this version as a kill leaves it: what was written stands in the WAL. */
static struct laid
lay_killed(void)
{
	struct laid none = {0}, laid;
	int64_t id;

	lay_files(&none);
	struct ledger *mine = ledger_open(fixture.path, NULL, &error);
	assert_non_null(mine);
	assert_int_equal(
	    ledger_put_setup(mine, &fixture.settings, seconds(0), &id, &error), 0);
	assert_int_equal(fixture_write(&fixture, mine, 0, 1, 2, &error), 0);
	laid = keep_files();
	assert_true(laid.count[1] > 0);
	ledger_close(mine);
	return laid;
}

/* Opened in peace it is of this version, whole, and has the shots. */
static void
assert_opens_with(int64_t shots)
{
	struct ledger *mine = ledger_open(fixture.path, NULL, &error);

	if (mine == NULL)
		fail_msg("again: %s", error.text);
	assert_int_equal(sql_integer("PRAGMA user_version"), SCHEMA_VERSION);
	assert_int_equal(sql_integer("SELECT count(*) FROM shot"), shots);
	assert_int_equal(sql_integer("SELECT count(*) FROM pragma_integrity_check"
				     " WHERE integrity_check = 'ok'"),
	    1);
	ledger_close(mine);
}

static bool
fail_opening(
    const struct laid *laid, const struct failing_way *way, int place, int64_t shots)
{
	int code = 0;

	lay_files(laid);
	error.text[0] = '\0';
	failing_set(way->how, way->lasting, place);
	struct ledger *mine = ledger_open(fixture.path, &code, &error);
	bool came = failing_end();
	if (mine == NULL)
		assert_sentence("open", code);
	assert_true(came || mine != NULL);
	ledger_close(mine);
	assert_opens_with(shots);
	return came;
}

static void
fail_openings(const char *name, const struct laid *laid, int64_t shots)
{
	print_message("open %s:", name);
	for (int k = 0; k < FAILING_WAYS; k++) {
		int place = 0, failed = 0;
		while (fail_opening(laid, &failing_ways[k], place, shots)) {
			assert_true(place < CALLS_MAX);
			place += failing_ways[k].step * FIXTURE_SPARSELY;
			failed++;
		}
		print_message(" %d", failed);
		assert_true(failed > 0);
	}
	print_message("\n");
	lay_files(&(struct laid){0});
}

static void
free_laid(struct laid *laid)
{
	for (int i = 0; i < 2; i++)
		free(laid->bytes[i]);
}

static void
whatever_call_fails_while_it_is_opened_the_next_opening_finds_all(void **state)
{
	char name[32];
	(void)state;

	for (int version = 0; version <= SCHEMA_VERSION; version++) {
		struct laid laid = lay_version(version);
		snprintf(name, sizeof name, "version %d", version);
		fail_openings(name, &laid, version > 0);
		free_laid(&laid);
	}
	struct laid killed = lay_killed();
	fail_openings("after a kill", &killed, 2);
	free_laid(&killed);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test_setup_teardown(
		whatever_call_fails_while_it_is_opened_the_next_opening_finds_all,
		make_place, remove_place),
	};

	if (failing_vfs_register() != SQLITE_OK)
		return 1;
	return cmocka_run_group_tests_name("ledger, opening", tests, NULL, NULL);
}
