/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>

#include <math.h>

#include "cli/population/comparison.h"
#include "conf/feature.h"
#include "tests/unit/near.h"

enum { MOST = 20000 };

static double then[MOST], now[MOST];
static int64_t numbers[MOST];

/* Values that never depend on the one before, of this mean and deviation. */
static void
fill(double *values, size_t count, double mean, double sd)
{
	double sum = 0, squares = 0;

	for (size_t i = 0; i < count; i++) {
		double part = fmod((double)i * 0.6180339887498949, 1);
		values[i] = i % 2 ? 0.2 + part : -0.2 - part;
		sum += values[i];
	}
	for (size_t i = 0; i < count; i++)
		squares += pow(values[i] - sum / (double)count, 2);
	double scale = sd / sqrt(squares / (double)(count - 1));
	for (size_t i = 0; i < count; i++)
		values[i] = mean + (values[i] - sum / (double)count) * scale;
}

static struct comparison
compared(size_t then_count, size_t now_count, double margin)
{
	struct comparison comparison;
	struct comparison_asked asked = {
	    .feature = FEATURE_EXIT_TOP_C,
	    .then = {then, numbers, then_count},
	    .now = {now, numbers, now_count},
	    .lower = NAN,
	    .upper = NAN,
	    .margin = margin,
	};

	for (size_t i = 0; i < MOST; i++)
		numbers[i] = (int64_t)i + 1;
	assert_true(comparison_make(&comparison, &asked));
	return comparison;
}

static struct comparison
compared_normally(size_t count, double difference, double ratio, double margin)
{
	fill(then, 2000, 100, 1);
	fill(now, count, 100 + difference, ratio);
	return compared(2000, count, margin);
}

static void
so_many_more_shots_settle_it(void **state)
{
	static const struct {
		size_t count;
		double difference, ratio, margin;
		enum equivalence_verdict verdict;
	} cases[] = {
	    {40, 0.1, 1, 0.3, EQUIVALENCE_SAME},
	    {40, 0.5, 1, 0.4, EQUIVALENCE_DIFFERENT},
	    {200, -0.2, 1, 0.25, EQUIVALENCE_SAME},
	    {40, 0, 1.3, 1, EQUIVALENCE_SAME},
	    {40, 0, 0.55, 1, EQUIVALENCE_DIFFERENT},
	};

	(void)state;
	for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
		double d = cases[i].difference, r = cases[i].ratio, m = cases[i].margin;
		size_t count = cases[i].count;
		struct comparison few = compared_normally(count, d, r, m);
		assert_int_equal(few.both, EQUIVALENCE_OPEN);
		assert_true(isfinite(few.more_shots));
		double wanted = (double)count + few.more_shots;
		struct comparison less =
		    compared_normally((size_t)(0.7 * wanted), d, r, m);
		assert_int_equal(less.both, EQUIVALENCE_OPEN);
		struct comparison more =
		    compared_normally((size_t)(1.05 * wanted), d, r, m);
		assert_int_equal(more.both, cases[i].verdict);
		assert_true(isnan(more.more_shots));
	}
}

static void
what_the_reference_leaves_open_no_shots_settle(void **state)
{
	(void)state;
	fill(then, 10, 100, 1);
	fill(now, 1000, 100, 1);
	struct comparison one = compared(10, 1000, 0.1);
	assert_int_equal(one.both, EQUIVALENCE_OPEN);
	assert_true(isinf(one.more_shots));
}

static void
shots_that_depend_on_each_other_count_for_less(void **state)
{
	(void)state;
	/* 200 in steps of 20: worth about ten */
	fill(then, 2000, 100, 1);
	fill(now, 10, 100, 1);
	for (size_t i = 200; i-- > 0;)
		now[i] = now[i / 20] + (i % 2 ? 0.01 : -0.01);
	struct comparison one = compared(2000, 200, 0.5);
	assert_int_equal(one.both, EQUIVALENCE_OPEN);
	assert_true(one.equivalence.run_worth < CAPABILITY_LEAST_EFFECTIVE);
	assert_true(isfinite(one.more_shots));
	assert_true(200 + one.more_shots >=
		    200 * CAPABILITY_LEAST_EFFECTIVE / one.equivalence.run_worth);
}

static void
what_never_moved_tells_no_number(void **state)
{
	(void)state;
	fill(then, 200, 100, 1);
	for (size_t i = 0; i < 50; i++)
		now[i] = 100;
	struct comparison one = compared(200, 50, 0.5);
	assert_int_equal(one.both, EQUIVALENCE_OPEN);
	assert_true(isnan(one.more_shots));
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(so_many_more_shots_settle_it),
	    cmocka_unit_test(what_the_reference_leaves_open_no_shots_settle),
	    cmocka_unit_test(shots_that_depend_on_each_other_count_for_less),
	    cmocka_unit_test(what_never_moved_tells_no_number),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
