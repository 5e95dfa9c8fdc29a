/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What is given to the filing gets into the ledger once, in order, whatever the disk does. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "tests/unit/daemon/run/filing_fixture.h"

static void
all_that_was_put_is_in_the_ledger(void **state)
{
	(void)state;
	assert_start(0, NULL);
	filing_put_event(filing, 1, fixture_time(0), "start", "logging begins");
	put_shot(1);
	put_standing("one");
	put_shot(2);
	put_standing("two");
	assert_int_equal(status().waiting, 2);
	assert_true(filing_write(filing, false));
	assert_int_equal(status().waiting, 0);
	assert_int_equal(status().filed, 2);
	assert_start(2, "two");
	assert_int_equal(sql_integer("SELECT count(*) FROM event"), 1);
}

static void
who_stands_where_is_written_after_the_shots_given_out_before(void **state)
{
	(void)state;
	put_standing("before");
	assert_true(filing_write(filing, false));
	put_standing("older");
	put_shot(1);
	put_standing("newer");
	/* a write fails: nothing of what comes behind it may be there */
	fault.code = SQLITE_FULL;
	fault.left = 3;
	assert_false(filing_write(filing, false));
	if (sql_integer("SELECT count(*) FROM shot") == 0)
		assert_start(0, "before");
	assert_true(filing_write(filing, true));
	assert_start(1, "newer");
}

static void
a_refusal_is_tried_again_later_and_loses_nothing(void **state)
{
	(void)state;
	for (int fail_at = 0; fail_at < 60; fail_at++) {
		int64_t first = 3 * fail_at + 1;

		for (int64_t no = first; no < first + 3; no++)
			put_shot(no);
		filing_put_event(filing, 0, fixture_time(first), "fault", "a fault");
		put_standing("somebody");
		fault.code = SQLITE_FULL;
		fault.left = fail_at;
		if (!filing_write(filing, false)) {
			assert_int_equal(status().writing, 0);
			assert_true(strlen(status().text) > 0);
			/* not before its time */
			assert_false(filing_write(filing, false));
			assert_int_equal(status().writing, 0);
		}
		fault.code = SQLITE_OK;
		assert_true(filing_write(filing, true));
		assert_int_equal(status().writing, 1);
		assert_int_equal(sql_integer("SELECT count(*) FROM shot"), first + 2);
		assert_int_equal(
		    sql_integer("SELECT count(*) FROM event"), fail_at + 1);
	}
	assert_int_equal(status().lost, 0);
}

/* The file system went read-only, the disk fails, a page is damaged, another program holds
 * the ledger: what can be put right outside is waited for. */
static void
shots_wait_whatever_the_ledger_says(void **state)
{
	static const int codes[] = {SQLITE_READONLY, SQLITE_IOERR_WRITE,
	    SQLITE_IOERR_FSYNC, SQLITE_CORRUPT, SQLITE_CANTOPEN};
	int64_t no = 0;

	(void)state;
	for (size_t i = 0; i < sizeof(codes) / sizeof(codes[0]); i++) {
		put_shot(++no);
		put_shot(++no);
		fault.code = codes[i];
		fault.left = 0;
		assert_false(filing_write(filing, true));
		assert_int_equal(status().waiting, 2);
		assert_int_equal(status().writing, 0);
		assert_true(strlen(status().text) > 0);
		fault.code = codes[i]; /* it goes on failing */
		fault.left = 0;
		assert_false(filing_write(filing, true));
		fault.code = SQLITE_OK;
		assert_true(filing_write(filing, true));
		assert_int_equal(status().writing, 1);
		assert_int_equal(sql_integer("SELECT count(*) FROM shot"), no);
	}
	assert_int_equal(status().lost, 0);
	assert_int_equal(status().filed, no);
}

static void
what_waits_has_a_bound_and_what_is_lost_is_counted(void **state)
{
	(void)state;
	for (int64_t no = 1; no <= 8; no++) {
		put_shot(no);
		put_standing("somebody");
		for (int i = 0; i < 300; i++)
			filing_put_event(
			    filing, 0, fixture_time(no), "fault", "a fault");
	}
	assert_int_equal(status().waiting, 5);
	assert_int_equal(status().lost, 3);
	assert_true(filing_write(filing, false));
	assert_int_equal(sql_integer("SELECT max(shot_no) FROM shot"), 5);
	assert_int_equal(sql_integer("SELECT count(*) FROM event"), 1000);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    FILED(all_that_was_put_is_in_the_ledger),
	    FILED(who_stands_where_is_written_after_the_shots_given_out_before),
	    FILED(a_refusal_is_tried_again_later_and_loses_nothing),
	    FILED(shots_wait_whatever_the_ledger_says),
	    FILED(what_waits_has_a_bound_and_what_is_lost_is_counted),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
