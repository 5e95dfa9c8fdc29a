/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A ledger of version 5, full of everything, taken over by this program. */
#include "daemon/ledger/schema.h"

#include "daemon/ledger/ledger_shift.h"
#include "tests/unit/daemon/ledger/ledger_operations.h"

enum { MANY = 1500, TABLES_MOST = 64, STEPS_MOST = 200 };

/* --- the whole of a file ------------------------------------------------------------------ */

/* A table's rows to the last bit, and how it was made. */
struct table {
	char name[64];
	int64_t rows;
	uint64_t bits, made;
};

struct tables {
	struct table list[TABLES_MOST];
	int count;
};

static uint64_t
add_bits(uint64_t bits, const void *bytes, size_t count)
{
	const unsigned char *byte = bytes;

	for (size_t i = 0; i < count; i++)
		bits = (bits ^ byte[i]) * UINT64_C(1099511628211);
	return bits;
}

static sqlite3_stmt *
prepare(sqlite3 *db, const char *sql)
{
	sqlite3_stmt *statement;

	if (sqlite3_prepare_v2(db, sql, -1, &statement, NULL) != SQLITE_OK)
		fail_msg("%s: %s", sql, sqlite3_errmsg(db));
	return statement;
}

static void
read_rows(sqlite3 *db, struct table *table)
{
	char sql[128];

	snprintf(sql, sizeof sql, "SELECT * FROM \"%s\"", table->name);
	sqlite3_stmt *rows = prepare(db, sql);

	table->bits = UINT64_C(14695981039346656037);
	for (table->rows = 0; sqlite3_step(rows) == SQLITE_ROW; table->rows++)
		for (int i = 0; i < sqlite3_column_count(rows); i++) {
			int type = sqlite3_column_type(rows, i);
			double number = sqlite3_column_double(rows, i);
			int64_t whole = sqlite3_column_int64(rows, i);
			table->bits = add_bits(table->bits, &type, sizeof type);
			if (type == SQLITE_FLOAT)
				table->bits =
				    add_bits(table->bits, &number, sizeof number);
			else if (type == SQLITE_INTEGER)
				table->bits =
				    add_bits(table->bits, &whole, sizeof whole);
			else if (type != SQLITE_NULL)
				table->bits =
				    add_bits(table->bits, sqlite3_column_blob(rows, i),
					(size_t)sqlite3_column_bytes(rows, i));
		}
	assert_int_equal(sqlite3_finalize(rows), SQLITE_OK);
}

static struct tables
read_tables(sqlite3 *db)
{
	struct tables tables = {.count = 0};
	sqlite3_stmt *names = prepare(db,
	    "SELECT name, sql FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE"
	    " 'sqlite_%' ORDER BY name");

	while (sqlite3_step(names) == SQLITE_ROW) {
		struct table *table = &tables.list[tables.count++];
		assert_true(tables.count < TABLES_MOST);
		snprintf(table->name, sizeof table->name, "%s",
		    (const char *)sqlite3_column_text(names, 0));
		table->made = add_bits(0, sqlite3_column_text(names, 1),
		    (size_t)sqlite3_column_bytes(names, 1));
		read_rows(db, table);
	}
	sqlite3_finalize(names);
	return tables;
}

static const struct table *
find_table(const struct tables *tables, const char *name)
{
	for (int i = 0; i < tables->count; i++)
		if (strcmp(tables->list[i].name, name) == 0)
			return &tables->list[i];
	return NULL;
}

/* Whatever was there is there, bit for bit, in tables made as they were. */
static void
assert_holds(const struct tables *tables, const struct tables *before)
{
	for (int i = 0; i < before->count; i++) {
		const struct table *was = &before->list[i];
		const struct table *is = find_table(tables, was->name);
		if (is == NULL || is->rows != was->rows || is->bits != was->bits ||
		    is->made != was->made)
			fail_msg("'%s' is not as it was", was->name);
	}
}

static sqlite3 *
open_file(const char *path)
{
	sqlite3 *db;

	assert_int_equal(sqlite3_open(path, &db), SQLITE_OK);
	return db;
}

static void
run(sqlite3 *db, const char *sql)
{
	char *words = NULL;

	if (sqlite3_exec(db, sql, NULL, NULL, &words) != SQLITE_OK)
		fail_msg("%s: %s", sql, words);
}

/* --- a full ledger of version 5 ----------------------------------------------------------- */

static struct schema_steps
steps_of_5(void)
{
	struct schema_steps steps = {schema_steps.list, 0};

	while (steps.count < schema_steps.count &&
	       schema_steps.list[steps.count].version <= 5)
		steps.count++;
	return steps;
}

/* One whose figure is absent for a reason; all others have all. */
static void
write_with_absence(int64_t shot_no)
{
	struct shot *shot = fixture_shot(&fixture, 0, shot_no);

	shot->value[FEATURE_HEAT_S] = NAN;
	shot->absent[FEATURE_HEAT_S] = ABSENT_SENSOR_FAULT;
	assert_int_equal(ledger_put_shot(ledger, &fixture.settings, shot, &error), 0);
	shot_free(shot);
}

/* By the writer of now, which writes all that version 5 has as version 5 did; what is new is
 * taken out again.  Tables are as the steps of then make them, but for features' columns. */
static void
make_version_5(struct tables *tables)
{
	sqlite3 *then = open_file(":memory:");
	struct schema_steps steps = steps_of_5();
	char sql[128];

	prepare_operations();
	write_with_absence(BASE_SHOTS + MANY + 1);
	write_shots(0, BASE_SHOTS + 1, BASE_SHOTS + MANY);
	write_shots(1, 1, 10);
	for (int i = 0; i < OPERATIONS - 1; i++)
		for (int64_t turn = 1; turn <= 3; turn++)
			if (operations[i].run(turn) != 0)
				fail_msg("%s: %s", operations[i].name, error.text);
	ledger_read_close(reader);
	ledger_close(ledger);
	reader = NULL;
	ledger = NULL;
	assert_int_equal(schema_upgrade(then, "then", &steps, &error), 0);
	struct tables made = read_tables(then);
	sqlite3 *db = open_file(fixture.path);
	struct tables now = read_tables(db);
	run(db, "INSERT INTO copied VALUES (7); PRAGMA foreign_keys = OFF;"
		"DELETE FROM shift_summary");
	for (int i = 0; i < now.count; i++)
		if (find_table(&made, now.list[i].name) == NULL) {
			snprintf(sql, sizeof sql, "DROP TABLE %s", now.list[i].name);
			run(db, sql);
		}
	run(db, "DELETE FROM delivery WHERE stream = 'shift'; PRAGMA user_version = 5");
	*tables = read_tables(db);
	assert_int_equal(tables->count, made.count);
	for (int i = 0; i < made.count; i++) {
		const struct table *table = &tables->list[i];
		assert_string_equal(table->name, made.list[i].name);
		if (table->rows == 0)
			fail_msg("there is nothing in '%s'", table->name);
		if (strcmp(table->name, "shot") != 0 &&
		    strcmp(table->name, "reference_shot") != 0)
			assert_int_equal(table->made, made.list[i].made);
	}
	sqlite3_close(db);
	sqlite3_close(then);
}

/* --- taking it over ----------------------------------------------------------------------- */

static int
see_shift(void *arg, const struct ledger_shift *shift)
{
	int64_t *change = arg;

	*change = shift->change;
	return 0;
}

static void
assert_goes_on(int64_t last_change, int64_t last_no)
{
	struct ledger_shift shift = {.line = "line-1",
	    .shift = "early",
	    .from = fixture_time(0),
	    .to = fixture_time(100),
	    .closed = fixture_time(110)};
	enum ledger_shift_filed filed;
	struct wall closed;
	int64_t shot_no = 0, id, change = 0;

	assert_int_equal(
	    ledger_last_shot(ledger, "line-1", &shot_no, &closed, &error), 0);
	assert_int_equal(shot_no, last_no);
	assert_int_equal(
	    ledger_put_setup(ledger, &fixture.settings, seconds(9), &id, &error), 0);
	write_shots(0, last_no + 1, last_no + 1);
	assert_int_equal(sql_integer("SELECT max(change) FROM shot"), last_change + 1);
	assert_int_equal(
	    ledger_put_event(ledger, "line-1", seconds(10), "index", "x", &error), 0);
	assert_int_equal(ledger_put_shift(ledger, &shift, false, &filed, &error), 0);
	assert_int_equal(filed, LEDGER_SHIFT_NEW);
	reader = ledger_read_open(fixture.path, &error);
	assert_non_null(reader);
	assert_int_equal(ledger_read_shifts(reader, &(struct ledger_shift_filter){0},
			     see_shift, &change, &error),
	    0);
	assert_int_equal(change, last_change + 3);
}

static void
a_full_ledger_of_version_5_keeps_every_bit_and_goes_on(void **state)
{
	static struct tables before, after;
	(void)state;

	make_version_5(&before);
	assert_null(ledger_read_open(fixture.path, &error));
	assert_non_null(strstr(error.text, "older version"));
	int64_t change = sql_integer(
	    "SELECT max((SELECT max(change) FROM shot), (SELECT max(change) FROM "
	    "event),"
	    " (SELECT max(change) FROM delivery WHERE stream <> 'reading'))");
	ledger = ledger_open(fixture.path, NULL, &error);
	if (ledger == NULL)
		fail_msg("%s", error.text);
	assert_int_equal(sql_integer("PRAGMA user_version"), SCHEMA_VERSION);
	sqlite3 *db = open_file(fixture.path);
	after = read_tables(db);
	sqlite3_close(db);
	assert_holds(&after, &before); /* with it cursors, counters and refusals */
	assert_true(after.count > before.count);
	assert_goes_on(change, BASE_SHOTS + MANY + 1);
	assert_int_equal(sql_integer("SELECT count(*) FROM pragma_integrity_check"
				     " WHERE integrity_check = 'ok'"),
	    1);
	assert_int_equal(
	    sql_integer("SELECT count(*) FROM pragma_foreign_key_check"), 0);
}

static void
whichever_statement_fails_version_5_stays_as_it_was(void **state)
{
	static struct tables before, after;
	static struct schema_step list[STEPS_MOST];
	int first = steps_of_5().count;
	(void)state;

	make_version_5(&before);
	assert_true(schema_steps.count < STEPS_MOST);
	sqlite3 *db = open_file(fixture.path);
	for (int i = first; i < schema_steps.count; i++) {
		memcpy(list, schema_steps.list,
		    (size_t)schema_steps.count * sizeof list[0]);
		list[i].sql = "INSERT INTO nowhere VALUES (1)";
		assert_int_not_equal(
		    schema_upgrade(db, "x",
			&(struct schema_steps){list, schema_steps.count}, &error),
		    0);
		after = read_tables(db);
		assert_holds(&after, &before);
		assert_int_equal(after.count, before.count);
		assert_int_equal(sql_integer("PRAGMA user_version"), 5);
	}
	assert_int_equal(schema_upgrade(db, "x", &schema_steps, &error), 0);
	after = read_tables(db);
	assert_holds(&after, &before);
	sqlite3_close(db);
}

/* What a program of version 5 says of a ledger of this one; it does the same as now with one
 * of the next. */
static void
an_older_program_refuses_it_in_one_sentence_and_touches_nothing(void **state)
{
	static struct tables before, after;
	struct schema_steps steps = steps_of_5();
	(void)state;

	write_shots(0, 1, 3);
	sqlite3 *db = open_file(fixture.path);
	before = read_tables(db);
	assert_int_equal(
	    schema_upgrade(db, fixture.path, &steps, &error), ERROR_TOO_NEW);
	assert_non_null(strstr(error.text, "this program knows up to 5"));
	assert_non_null(strstr(error.text, "install the newer program"));
	after = read_tables(db);
	assert_holds(&after, &before);
	assert_int_equal(after.count, before.count);
	assert_int_equal(sql_integer("PRAGMA user_version"), SCHEMA_VERSION);
	sqlite3_close(db);
}

#define TEST(name) cmocka_unit_test_setup_teardown(name, open_both, close_both)

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    TEST(a_full_ledger_of_version_5_keeps_every_bit_and_goes_on),
	    TEST(whichever_statement_fails_version_5_stays_as_it_was),
	    TEST(an_older_program_refuses_it_in_one_sentence_and_touches_nothing),
	};
	return cmocka_run_group_tests_name("ledger, upgrade", tests, NULL, NULL);
}
