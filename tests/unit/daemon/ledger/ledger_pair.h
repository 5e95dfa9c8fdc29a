/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * A writer and a reader of one new ledger, opened before each test and removed after
 * it, and what tests ask of them.  For one test program: all of it is static.
 */
#ifndef TESTS_UNIT_DAEMON_LEDGER_LEDGER_PAIR_H
#define TESTS_UNIT_DAEMON_LEDGER_LEDGER_PAIR_H

#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>
#include <sqlite3.h>

#include "daemon/ledger/ledger_read.h"
#include "tests/unit/daemon/ledger/ledger_fixture.h"

static struct fixture fixture;
static struct ledger *ledger;
static struct ledger_read *reader;
static struct error error;
static int64_t setup_id;

static inline struct wall
seconds(int64_t s)
{
	return (struct wall){FIXTURE_START_NS + s * CLOCK_SECOND_NS};
}

static inline int
open_both(void **state)
{
	(void)state;
	if (!fixture_init(&fixture))
		return -1;
	ledger = ledger_open(fixture.path, NULL, &error);
	if (ledger == NULL || ledger_put_setup(ledger, &fixture.settings, seconds(0),
				  &setup_id, &error) != 0) {
		print_error("%s\n", error.text);
		return -1;
	}
	reader = ledger_read_open(fixture.path, &error);
	return reader == NULL ? -1 : 0;
}

static inline int
close_both(void **state)
{
	(void)state;
	ledger_read_close(reader);
	ledger_close(ledger);
	fixture_release(&fixture);
	return 0;
}

/* --- what the tests look at --------------------------------------------------------- */

static inline int64_t
sql_integer(const char *sql)
{
	sqlite3 *db;
	sqlite3_stmt *statement;

	assert_int_equal(sqlite3_open(fixture.path, &db), SQLITE_OK);
	sqlite3_busy_timeout(db, 5000); /* while a WAL is recovered after a kill */
	assert_int_equal(sqlite3_prepare_v2(db, sql, -1, &statement, NULL), SQLITE_OK);
	assert_int_equal(sqlite3_step(statement), SQLITE_ROW);
	int64_t value = sqlite3_column_int64(statement, 0);
	sqlite3_finalize(statement);
	sqlite3_close(db);
	return value;
}

/* What no ledger does by itself: damage, or a long time. */
static inline void
sql_run(const char *sql)
{
	sqlite3 *db;

	assert_int_equal(sqlite3_open(fixture.path, &db), SQLITE_OK);
	sqlite3_busy_timeout(db, 5000);
	assert_int_equal(sqlite3_exec(db, sql, NULL, NULL, NULL), SQLITE_OK);
	sqlite3_close(db);
}

/* The file is whole, and so is each shot on the first line: all of its channels, and its
 * trace where they have one, or it is not there. */
static inline void
assert_intact(void)
{
	int64_t shots = sql_integer("SELECT count(*) FROM shot WHERE line = 1");

	assert_int_equal(sql_integer("SELECT count(*) FROM pragma_integrity_check"
				     " WHERE integrity_check = 'ok'"),
	    1);
	assert_int_equal(
	    sql_integer("SELECT count(*) FROM pragma_foreign_key_check"), 0);
	assert_int_equal(sql_integer("SELECT count(*) FROM shot_channel WHERE"
				     " shot IN (SELECT id FROM shot WHERE line = 1)"),
	    FIXTURE_SHOT_CHANNELS * shots);
	if (fixture.trace_bytes > 0)
		assert_int_equal(
		    sql_integer("SELECT count(*) FROM trace WHERE"
				" shot IN (SELECT id FROM shot WHERE line = 1)"),
		    shots);
}

enum { SHOTS = 64 };
struct shots {
	int count;
	struct ledger_shot list[SHOTS];
};

static inline int
keep_shot(void *arg, const struct ledger_shot *shot)
{
	struct shots *shots = arg;

	assert_true(shots->count < SHOTS);
	shots->list[shots->count++] = *shot;
	return 0;
}

static inline const struct shots *
read_shots(struct ledger_filter filter)
{
	static struct shots shots;

	shots.count = 0;
	assert_int_equal(
	    ledger_read_shots(reader, &filter, true, keep_shot, &shots, &error), 0);
	return &shots;
}

static inline void
write_shots(uint32_t line, int64_t first, int64_t last)
{
	if (fixture_write(&fixture, ledger, line, first, last, &error) != 0)
		fail_msg("%s", error.text);
}

static inline void
write_shot_and_free(struct shot *shot)
{
	if (ledger_put_shot(ledger, &fixture.settings, shot, &error) != 0)
		fail_msg("%s", error.text);
	shot_free(shot);
}

#define TEST(name) cmocka_unit_test_setup_teardown(name, open_both, close_both)

#endif
