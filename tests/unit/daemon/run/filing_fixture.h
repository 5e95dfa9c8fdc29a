/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the tests of the filing share: one over a ledger of its own, whose disk can fail.
 */
#ifndef TESTS_UNIT_DAEMON_RUN_FILING_FIXTURE_H
#define TESTS_UNIT_DAEMON_RUN_FILING_FIXTURE_H

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "tests/unit/daemon/ledger/counting_vfs.h"
#include "tests/unit/daemon/ledger/ledger_fixture.h"

#include "daemon/base/log.h"
#include "daemon/run/filing.h"
#include "daemon/shot/tracker.h"

static struct fixture fixture;
static struct filing *filing;
static struct error error;

static inline int
begin(void **state)
{
	(void)state;
	if (!fixture_init(&fixture) || counting_vfs_register() != SQLITE_OK)
		return -1;
	log_set_level(LOG_LEVEL_ERROR - 1);
	text_copy(
	    fixture.settings.ledger, sizeof(fixture.settings.ledger), fixture.path);
	fixture.settings.memory_shots = 5;
	fixture.settings.keep_traces_days = 30;
	filing = filing_open(&fixture.settings, &error);
	return filing != NULL ? 0 : -1;
}

static inline int
end(void **state)
{
	(void)state;
	fault.code = SQLITE_OK;
	filing_free(filing);
	filing = NULL;
	fixture_release(&fixture);
	return 0;
}

static inline void
put_shot(int64_t shot_no)
{
	filing_put_shot(filing, 0, fixture_shot(&fixture, 0, shot_no));
}

static inline void
put_standing(const char *text)
{
	filing_put_standing(filing, 0, fixture_time(0), text, strlen(text));
}

static inline struct filing_status
status(void)
{
	struct filing_status now;

	filing_status(filing, &now);
	return now;
}

/* The integer that an SQL statement gives, asked by another connection. */
static inline int64_t
sql_integer(const char *sql)
{
	sqlite3 *db;
	sqlite3_stmt *statement;
	int64_t value;

	assert_int_equal(
	    sqlite3_open_v2(fixture.path, &db, SQLITE_OPEN_READONLY, NULL), SQLITE_OK);
	assert_int_equal(sqlite3_prepare_v2(db, sql, -1, &statement, NULL), SQLITE_OK);
	assert_int_equal(sqlite3_step(statement), SQLITE_ROW);
	value = sqlite3_column_int64(statement, 0);
	sqlite3_finalize(statement);
	sqlite3_close(db);
	return value;
}

static inline void
run_outside(const char *sql)
{
	sqlite3 *db;

	assert_int_equal(sqlite3_open(fixture.path, &db), SQLITE_OK);
	assert_int_equal(sqlite3_exec(db, sql, NULL, NULL, NULL), SQLITE_OK);
	sqlite3_close(db);
}

/* What the next logger would start from. */
static inline void
assert_start(int64_t last_shot_no, const char *saved)
{
	struct tracker_start start;

	assert_int_equal(filing_start(filing, 0, &start, &error), 0);
	assert_int_equal(start.last_shot_no, last_shot_no);
	assert_int_equal(start.saved_bytes, saved == NULL ? 0 : strlen(saved));
	if (saved != NULL)
		assert_memory_equal(start.saved, saved, start.saved_bytes);
	assert_false(start.no_traces);
}

#define FILED(f) cmocka_unit_test_setup_teardown(f, begin, end)

#endif
