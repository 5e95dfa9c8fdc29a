/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * A place for a ledger, and the file there as plain SQLite opens it.  For one test
 * program: all of it is static.
 */
#ifndef TESTS_UNIT_DAEMON_LEDGER_PLAIN_FILE_H
#define TESTS_UNIT_DAEMON_LEDGER_PLAIN_FILE_H

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

static inline int
make_place(void **state)
{
	(void)state;
	return fixture_init(&fixture) ? 0 : -1;
}

static inline int
remove_place(void **state)
{
	(void)state;
	fixture_release(&fixture);
	return 0;
}

static inline sqlite3 *
open_plain(void)
{
	sqlite3 *db;

	assert_int_equal(sqlite3_open(fixture.path, &db), SQLITE_OK);
	return db;
}

static inline void
run(sqlite3 *db, const char *sql)
{
	if (database_run(db, sql, &error) != 0)
		fail_msg("%s", error.text);
}

static inline int64_t
integer(sqlite3 *db, const char *sql)
{
	int64_t value;

	if (database_integer(db, sql, &value, &error) != 0)
		fail_msg("%s", error.text);
	return value;
}

static inline void
make_ledger(void)
{
	struct ledger *ledger = ledger_open(fixture.path, NULL, &error);

	assert_non_null(ledger);
	ledger_close(ledger);
}

#define TEST(name) cmocka_unit_test_setup_teardown(name, make_place, remove_place)

#endif
