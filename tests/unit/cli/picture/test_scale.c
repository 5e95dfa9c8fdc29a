/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/picture/scale.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>

#include <cmocka.h>

enum { COUNT = 100 };
static double values[COUNT];

static struct axis
make(size_t count, double lower, double upper)
{
	const double far[] = {lower, upper};
	struct axis axis;

	assert_true(scale_make(
	    &(struct scale_asked){
		.values = values, .count = count, .far = far, .far_count = 2},
	    &axis));
	return axis;
}

static void
fill(void)
{
	for (int i = 0; i < COUNT; i++)
		values[i] = 190 + 0.04 * (i - COUNT / 2.0); /* 188 ... 192 */
}

static void
values_fill_it_and_near_limits_are_on_it(void **state)
{
	(void)state;
	fill();
	struct axis axis = make(COUNT, 183, 197);
	assert_true(scale_holds(&axis, 183) && scale_holds(&axis, 197));
	assert_true(axis.low > 180 && axis.high < 200);
	axis = make(COUNT, NAN, NAN);
	assert_true(axis.low > 187 && axis.high < 193);
	assert_true(scale_holds(&axis, 188) && scale_holds(&axis, 191.96));
}

static void
limits_far_off_do_not_flatten_the_values(void **state)
{
	(void)state;
	fill();
	struct axis axis = make(COUNT, 100, 300);
	assert_true(axis.low > 187 && axis.high < 193);
	axis = make(COUNT, 185, 300); /* one of them is near */
	assert_true(scale_holds(&axis, 185) && !scale_holds(&axis, 300));
}

static void
a_few_wild_values_are_left_off_and_no_more(void **state)
{
	(void)state;
	for (int wild = 1; wild <= 20; wild++) {
		fill();
		for (int i = 0; i < wild; i++)
			values[5 * i] = 1000;
		struct axis axis = make(COUNT, NAN, NAN);
		assert_int_equal(scale_holds(&axis, 1000), wild > 4);
		assert_true(scale_holds(&axis, 191.9));
	}
}

static void
of_a_few_values_none_is_wild(void **state)
{
	(void)state;
	fill();
	values[0] = 1000;
	struct axis axis = make(5, NAN, NAN);
	assert_true(scale_holds(&axis, 1000));
}

static void
nothing_below_zero_needs_no_scale_there(void **state)
{
	(void)state;
	for (int i = 0; i < COUNT; i++)
		values[i] = 0.05 * i;
	struct axis axis = make(COUNT, NAN, 8);
	assert_true(axis.low >= 0);
	assert_true(scale_holds(&axis, 0));
}

static void
one_value_shows_its_limits_however_far(void **state)
{
	(void)state;
	values[0] = 190;
	struct axis axis = make(1, 100, 300);
	assert_true(scale_holds(&axis, 100) && scale_holds(&axis, 300));
}

static void
without_values_the_limits_are_shown(void **state)
{
	(void)state;
	values[0] = values[1] = NAN;
	struct axis axis = make(2, 183, 197);
	assert_true(scale_holds(&axis, 183) && scale_holds(&axis, 197));
	axis = make(0, NAN, NAN);
	assert_true(axis.low < axis.high);
}

static void
assert_number(
    const struct axis *axis, double value, int more, bool given, const char *expected)
{
	char number[SCALE_NUMBER];

	scale_number(axis, value, more, given, number);
	assert_string_equal(number, expected);
}

static void
what_was_set_in_another_unit_is_rounded_like_the_rest(void **state)
{
	const struct axis twos = axis_make(185, 197, 5, false), /* 186, 188 ... */
	    tenths = axis_make(1, 1.4, 5, false);

	(void)state;
	assert_number(&twos, (375.0 - 32) / 1.8, 1, true, "190.6");
	assert_number(&twos, (360.0 - 32) / 1.8, 1, true, "182.2");
	assert_number(&twos, 190, 1, true, "190");
	assert_number(&twos, 190.03 + 1e-11, 1, true, "190.03");
	assert_number(&twos, 190.03, 1, false, "190.0");
	assert_number(&tenths, 2 / 1.8, 1, true, "1.11");
	assert_number(&tenths, 1.125, 1, true, "1.125");
	assert_number(&tenths, -1e-9, 1, false, "0.00");
}

static void
a_scale_of_the_very_small_or_large_is_written_alike(void **state)
{
	const struct axis small = axis_make(4.5e-7, 6.1e-7, 5, false), /* 0.5e-7 */
	    large = axis_make(1e9 - 1, 1e9 + 1, 5, false),
			  huge = axis_make(1e13 - 10, 1e13 + 10, 5, false);

	(void)state;
	assert_number(&small, 5e-7, 0, false, "5.0e-07");
	assert_number(&small, 6e-7, 1, true, "6e-07");
	assert_number(&small, 5.3123e-7, 1, false, "5.31e-07");
	assert_number(&small, 0, 1, false, "0");
	assert_number(&large, 1e9 + 0.5, 0, false, "1000000000.5");
	assert_number(&large, 1e9 + 1, 1, true, "1000000001");
	assert_number(&large, 1e9 - 0.923, 1, false, "999999999.08");
	assert_number(&large, INFINITY, 1, true, "inf");
	assert_number(&huge, 1e13 + 5, 0, false, "1.0000000000005e+13");
	assert_number(&huge, 1e13, 1, true, "1e+13");
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(values_fill_it_and_near_limits_are_on_it),
	    cmocka_unit_test(limits_far_off_do_not_flatten_the_values),
	    cmocka_unit_test(a_few_wild_values_are_left_off_and_no_more),
	    cmocka_unit_test(of_a_few_values_none_is_wild),
	    cmocka_unit_test(nothing_below_zero_needs_no_scale_there),
	    cmocka_unit_test(one_value_shows_its_limits_however_far),
	    cmocka_unit_test(without_values_the_limits_are_shown),
	    cmocka_unit_test(what_was_set_in_another_unit_is_rounded_like_the_rest),
	    cmocka_unit_test(a_scale_of_the_very_small_or_large_is_written_alike),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
