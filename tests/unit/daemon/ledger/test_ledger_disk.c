/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Writes and fsyncs fail where many things are written at once: what is forgotten, and
 * what is written in haste.  Everything else: test_ledger_calls.c.
 */
#include "daemon/ledger/ledger.h"

#include "tests/unit/daemon/ledger/counting_vfs.h"
#include "tests/unit/daemon/ledger/ledger_pair.h"

enum { FAULTS_MAX = 400 };

static void
forgetting_that_fails_forgets_nothing_and_can_be_tried_again(void **state)
{
	bool more;
	int failed = 0;
	(void)state;

	fixture.trace_bytes = 5000;
	write_shots(0, 1, 5);
	for (int place = 0; place < FAULTS_MAX; place++) {
		int64_t traces = sql_integer("SELECT count(*) FROM trace");
		int64_t no = 6 + place;
		fault.left = place;
		fault.code = place % 2 == 0 ? SQLITE_FULL : SQLITE_IOERR_WRITE;
		int code =
		    ledger_forget_traces(ledger, fixture_time(no - 4), &more, &error);
		bool came = fault.code == SQLITE_OK;
		fault.code = SQLITE_OK;
		if (code != 0) {
			failed++;
			assert_true(code == ERROR_FULL || code == ERROR_IO);
			assert_int_equal(sql_integer("SELECT count(*) FROM"
						     " pragma_integrity_check WHERE"
						     " integrity_check = 'ok'"),
			    1);
			assert_int_equal(
			    sql_integer("SELECT count(*) FROM trace"), traces);
			assert_int_equal(ledger_forget_traces(ledger,
					     fixture_time(no - 4), &more, &error),
			    0);
		}
		assert_int_equal(sql_integer("SELECT count(*) FROM trace"), traces - 1);
		if (!came)
			break;
		write_shots(0, no, no);
	}
	assert_true(failed >= 4 && failed < FAULTS_MAX);
}

static void
a_batch_in_haste_that_fails_is_there_whole_or_not_at_all(void **state)
{
	int64_t there = 0;
	int failed = 0;
	(void)state;

	fixture.trace_bytes = 3000;
	for (int place = 0; place < FAULTS_MAX; place++) {
		assert_int_equal(ledger_set_hasty(ledger, true, &error), 0);
		write_shots(0, there + 1, there + 3);
		fault.left = place;
		fault.code = place % 2 == 0 ? SQLITE_FULL : SQLITE_IOERR_WRITE;
		int code = ledger_set_hasty(ledger, false, &error);
		bool came = fault.code == SQLITE_OK;
		fault.code = SQLITE_OK;
		int64_t now = sql_integer("SELECT count(*) FROM shot");
		assert_true(now == there || now == there + 3);
		assert_intact();
		if (code == 0)
			assert_int_equal(now, there + 3);
		else
			failed++;
		there = now;
		assert_int_equal(ledger_set_hasty(ledger, false, &error), 0);
		write_shots(0, there + 1, there + 1); /* and all is well */
		there++;
		if (!came)
			break;
	}
	assert_true(failed >= 10 && failed < FAULTS_MAX);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    TEST(forgetting_that_fails_forgets_nothing_and_can_be_tried_again),
	    TEST(a_batch_in_haste_that_fails_is_there_whole_or_not_at_all),
	};

	if (counting_vfs_register() != SQLITE_OK)
		return 1;
	return cmocka_run_group_tests_name("ledger, disk", tests, NULL, NULL);
}
