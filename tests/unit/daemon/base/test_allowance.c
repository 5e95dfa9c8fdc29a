/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/base/allowance.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

static struct mono
at(int64_t s)
{
	return (struct mono){s * CLOCK_SECOND_NS};
}

static void
so_many_of_a_day_are_told(void **state)
{
	struct allowance allowance = {0};
	int64_t s = 1000;

	(void)state;
	assert_false(allowance_is_spent(&allowance, at(s), 3));
	assert_int_equal(allowance_take(&allowance, at(s), 3), ALLOWANCE_TELL);
	assert_int_equal(allowance_take(&allowance, at(++s), 3), ALLOWANCE_TELL);
	assert_int_equal(allowance_take(&allowance, at(++s), 3), ALLOWANCE_LAST);
	assert_true(allowance_is_spent(&allowance, at(s), 3));
	for (int i = 0; i < 7; i++)
		assert_int_equal(
		    allowance_take(&allowance, at(++s), 3), ALLOWANCE_COUNT);
	assert_int_equal(allowance_untold(&allowance, at(1000 + 86399)), 0);
	assert_int_equal(allowance_untold(&allowance, at(1000 + 86400)), 7);
	assert_int_equal(allowance_untold(&allowance, at(1000 + 86400)), 0);
	assert_false(allowance_is_spent(&allowance, at(1000 + 86400), 3));
	assert_int_equal(allowance_take(&allowance, at(90000), 3), ALLOWANCE_TELL);
}

/* Ten years of something that happens every minute. */
static void
what_goes_on_for_years_is_told_as_often_each_day(void **state)
{
	struct allowance allowance = {0};
	int64_t told = 0, counted = 0, days = 3650;

	(void)state;
	for (int64_t s = 0; s < days * 86400; s += 60) {
		counted += allowance_untold(&allowance, at(s));
		told += allowance_take(&allowance, at(s), 24) != ALLOWANCE_COUNT;
	}
	assert_int_equal(told, days * 24);
	counted += allowance_untold(&allowance, at(days * 86400));
	assert_int_equal(told + counted, days * 1440);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(so_many_of_a_day_are_told),
	    cmocka_unit_test(what_goes_on_for_years_is_told_as_often_each_day),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
