/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/notify/age.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "daemon/base/text.h"
#include "daemon/ledger/ledger_read.h"

#define DAY_S INT64_C(86400)
#define TRUE_S INT64_C(1772445600) /* 2026-03-02 10:00 UTC */

static struct age age;

static void
start(int64_t wall_s)
{
	age = age_start((struct mono){7 * CLOCK_SECOND_NS},
	    (struct wall){wall_s * CLOCK_SECOND_NS});
}

/* So many seconds after the start, by a clock that shows wall_s. */
static bool
is_old(const char *kind, int64_t at_s, int64_t after_s, int64_t wall_s)
{
	struct ledger_event event = {.at = {at_s * CLOCK_SECOND_NS}};

	text_copy(event.kind, sizeof event.kind, kind);
	return age_is_old(&age, &event, (struct mono){(7 + after_s) * CLOCK_SECOND_NS},
	    (struct wall){wall_s * CLOCK_SECOND_NS});
}

static void
what_is_more_than_a_day_ago_is_old(void **state)
{
	(void)state;
	start(TRUE_S);
	assert_false(is_old("fault", TRUE_S - DAY_S, 0, TRUE_S));
	assert_true(is_old("fault", TRUE_S - DAY_S - 1, 0, TRUE_S));
	assert_false(is_old("fault", TRUE_S, DAY_S, TRUE_S + DAY_S));
	assert_true(is_old("fault", TRUE_S, DAY_S + 1, TRUE_S + DAY_S + 1));
}

static void
a_finding_may_be_a_day_older(void **state)
{
	(void)state;
	start(TRUE_S);
	assert_false(is_old("finding", TRUE_S - 2 * DAY_S, 0, TRUE_S));
	assert_true(is_old("finding", TRUE_S - 2 * DAY_S - 1, 0, TRUE_S));
}

/* The computer comes up in 1970, or at the time of its last stop, and is set right. */
static void
what_was_filed_before_the_clock_was_set_is_not_old(void **state)
{
	(void)state;
	start(100);
	assert_false(is_old("device_silent", 130, 300, TRUE_S));
	assert_false(is_old("device_silent", 130, DAY_S, TRUE_S));
	assert_true(is_old("device_silent", 130, DAY_S + 31, TRUE_S + DAY_S));
	start(TRUE_S - 30 * DAY_S);
	assert_false(is_old("device_silent", TRUE_S - 30 * DAY_S + 60, 90, TRUE_S));
}

/* It came up in the future. */
static void
a_clock_that_is_set_back_makes_nothing_old(void **state)
{
	(void)state;
	start(TRUE_S + 30 * DAY_S);
	assert_false(is_old("fault", TRUE_S, 60, TRUE_S + 60));
	assert_true(is_old("fault", TRUE_S - DAY_S, 60, TRUE_S + 60));
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(what_is_more_than_a_day_ago_is_old),
	    cmocka_unit_test(a_finding_may_be_a_day_older),
	    cmocka_unit_test(what_was_filed_before_the_clock_was_set_is_not_old),
	    cmocka_unit_test(a_clock_that_is_set_back_makes_nothing_old),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
