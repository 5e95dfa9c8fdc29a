/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/ledger/database.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <unistd.h>

#include <cmocka.h>

#include <sqlite3.h>

#include "daemon/base/error.h"

/* The group's members write the file: one may leave there what others then run. */
static void
what_somebody_put_into_the_file_reaches_nothing_beside_it(void **state)
{
	char folder[] = "/tmp/evensoak-test-XXXXXX", path[64];
	struct error error;
	sqlite3 *db;
	int64_t value;

	(void)state;
	assert_non_null(mkdtemp(folder));
	snprintf(path, sizeof path, "%s/ledger.db", folder);
	assert_int_equal(sqlite3_open(path, &db), SQLITE_OK);
	assert_int_equal(
	    sqlite3_exec(db,
		"CREATE TABLE t (a); INSERT INTO t VALUES (7);"
		"CREATE VIEW plain AS SELECT abs(a) FROM t;"
		"CREATE VIEW planted AS SELECT count(*) FROM pragma_database_list",
		NULL, NULL, NULL),
	    SQLITE_OK);
	sqlite3_close(db);
	for (int mode = DATABASE_WRITE; mode <= DATABASE_READ_IMMUTABLE; mode++) {
		assert_int_equal(
		    database_open(path, (enum database_mode)mode, &db, &error), 0);
		assert_int_equal(
		    database_integer(db, "SELECT * FROM plain", &value, &error), 0);
		assert_int_equal(value, 7);
		assert_int_not_equal(
		    database_integer(db, "SELECT * FROM planted", &value, &error), 0);
		sqlite3_close(db);
	}
	unlink(path);
	rmdir(folder);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(what_somebody_put_into_the_file_reaches_nothing_beside_it),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
