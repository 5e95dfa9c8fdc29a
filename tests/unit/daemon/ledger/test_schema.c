/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Which files are taken for a ledger, and how steps are taken. */
#include "daemon/ledger/schema.h"

#include "tests/unit/daemon/ledger/plain_file.h"

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
	assert_refused(ERROR_IO, "put the last backup in its place");
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

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    TEST(the_steps_that_are_missing_are_taken_from_every_version),
	    TEST(a_step_that_fails_leaves_the_file_as_it_was),
	    TEST(the_list_of_steps_rises_to_the_version_of_the_program),
	    TEST(a_new_ledger_is_of_this_version),
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
