/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/picture/axes.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "tests/unit/near.h"
#include "tests/unit/seed.h"

static void
ticks_are_round_numbers(void **state)
{
	static const struct {
		double low, high;
		int ticks;
		bool wide;
		double step, first, axis_low, axis_high;
		int digits;
	} rows[] = {
	    {23, 181.5, 8, true, 20, 20, 20, 200, 0},
	    {0, 6.35, 6, false, 2, 0, 0, 6.35, 0},
	    {0, 3, 6, false, 0.5, 0, 0, 3, 1},
	    {-13, 17, 6, true, 5, -15, -15, 20, 0},
	    {0.1, 0.2, 10, true, 0.01, 0.1, 0.1, 0.2, 2},
	    {100, 200, 10, true, 10, 100, 100, 200, 0},
	};

	(void)state;
	for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
		struct axis axis =
		    axis_make(rows[i].low, rows[i].high, rows[i].ticks, rows[i].wide);
		assert_near(axis.step, rows[i].step, 1e-12);
		assert_near(axis.first, rows[i].first, 1e-12);
		assert_near(axis.low, rows[i].axis_low, 1e-12);
		assert_near(axis.high, rows[i].axis_high, 1e-12);
		assert_int_equal(axis.digits, rows[i].digits);
	}
}

static void
any_range_has_a_few_ticks_within(void **state)
{
	unsigned short random[3] = {(unsigned short)seed_take(11)};

	(void)state;
	for (int i = 0; i < 2000; i++) {
		double low = (erand48(random) - 0.5) * 1000;
		double high = low + pow(10, erand48(random) * 8 - 4);
		struct axis axis = axis_make(low, high, 6, i % 2 == 0);
		double count = (axis.high - axis.low) / axis.step;
		assert_true(axis.low <= low + 1e-9 * fabs(low));
		assert_true(axis.high >= high - 1e-9 * fabs(high));
		assert_true(count <= 8.001 && count >= 1);
	}
}

static void
a_range_of_nothing_is_widened(void **state)
{
	struct axis axis = axis_make(23, 23, 5, false);

	(void)state;
	assert_true(axis.low < 23 && axis.high > 23);
	assert_true(axis.step > 0);
}

static void
a_narrow_range_is_none_of_nothing(void **state)
{
	static const double rows[][2] = {
	    {1e9, 1e9 + 1}, {2e-7, 5e-7}, {-1e-9, 1e-9}, {1e140, 1.00001e140}};

	(void)state;
	for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
		struct axis axis = axis_make(rows[i][0], rows[i][1], 5, false);
		assert_true(axis.low >= rows[i][0] && axis.high <= rows[i][1]);
		assert_true(isfinite(axis_tick(&axis, 0)));
		assert_true(!isfinite(axis_tick(&axis, 20)));
	}
}

static void
values_lie_where_the_scales_say(void **state)
{
	const struct axes axes = {.box = {10, 20, 110, 220},
	    .x = axis_make(0, 10, 5, false),
	    .y = axis_make(0, 100, 5, false)};
	struct canvas_point at = axes_point(&axes, 2.5, 75);

	(void)state;
	assert_near(at.x, 35, 1e-9);
	assert_near(at.y, 70, 1e-9); /* up is less */
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(ticks_are_round_numbers),
	    cmocka_unit_test(any_range_has_a_few_ticks_within),
	    cmocka_unit_test(a_range_of_nothing_is_widened),
	    cmocka_unit_test(a_narrow_range_is_none_of_nothing),
	    cmocka_unit_test(values_lie_where_the_scales_say),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
