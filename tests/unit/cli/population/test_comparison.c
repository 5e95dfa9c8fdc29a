/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>

#include <math.h>
#include <stdlib.h>

#include "cli/population/comparison.h"
#include "conf/feature.h"
#include "tests/unit/near.h"
#include "tests/unit/seed.h"

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

/* --- what changed within the run ---------------------------------------------------------- */

static void
a_step_within_the_run_is_no_matter_of_too_few(void **state)
{
	(void)state;
	fill(then, 300, 8, 0.1);
	fill(now, 150, 8, 0.1);
	for (size_t i = 102; i < 150; i++)
		now[i] -= 5.2;
	struct comparison one = compared(300, 150, NAN);
	assert_string_equal(comparison_text(&one), "changed");
	assert_int_equal(one.changed.kind, ONSET_STEP);
	assert_int_equal(one.changed.shot, 103);
	assert_true(one.changed.earliest <= 103 && one.changed.latest >= 103);
	assert_near(one.changed.before, 8, 0.05);
	assert_near(one.changed.after, 2.8, 0.05);
	assert_near(one.changed.deviations, -52, 1);
	assert_true(isnan(one.more_shots));
}

static void
a_drift_and_a_scatter_within_the_run_are_told(void **state)
{
	(void)state;
	fill(then, 300, 8, 0.1);
	fill(now, 150, 8, 0.1);
	for (size_t i = 60; i < 150; i++)
		now[i] -= 0.01 * (double)(i - 60);
	struct comparison one = compared(300, 150, NAN);
	assert_int_equal(one.changed.kind, ONSET_DRIFT);
	assert_near((double)one.changed.shot, 60, 15);
	assert_near(one.changed.after, 7.1, 0.1);
	fill(now, 150, 8, 0.1);
	for (size_t i = 80; i < 150; i++)
		now[i] = 8 + 4 * (now[i] - 8);
	one = compared(300, 150, NAN);
	assert_int_equal(one.changed.kind, ONSET_SCATTER);
	assert_near(one.changed.deviations, 4, 0.5);
}

/* By a ramp that ends, in two steps, by a swing. */
static void
what_falls_in_its_own_way_has_changed_all_the_same(void **state)
{
	(void)state;
	fill(then, 300, 8, 0.1);
	for (int way = 0; way < 3; way++) {
		fill(now, 150, 8, 0.1);
		for (size_t i = 60; i < 150; i++) {
			double ramp = fmin((double)(i - 60) / 40, 1);
			double steps = i < 100 ? 0.4 : 1;
			double swing = 1 - cos((double)(i - 60) / 18);
			now[i] -= way == 0   ? 5.2 * ramp
			          : way == 1 ? 5.2 * steps
			                     : swing;
		}
		struct comparison one = compared(300, 150, NAN);
		assert_string_equal(comparison_text(&one), "changed");
		assert_in_range(one.changed.shot, 40, 101);
		assert_true(one.changed.after < one.changed.before - 0.5);
	}
}

/* Hardly any noise of its own on a slow fall: there is no one beginning. */
static void
what_wanders_off_without_a_beginning_has_changed(void **state)
{
	double noise = 0;

	(void)state;
	srand48((long)seed_take(20261127));
	fill(then, 75, 8, 0.01);
	fill(now, 70, 8, 0.01);
	for (size_t i = 20; i < 70; i++) {
		noise = 0.9 * noise + 0.1 * (drand48() - 0.5);
		now[i] -= 5.2 * (1 - exp(-(double)(i - 20) / 15)) + noise;
	}
	struct comparison one = compared(75, 70, NAN);
	assert_string_equal(comparison_text(&one), "changed");
	assert_near((double)one.changed.shot, 22, 2);
	assert_true(one.changed.deviations < -200);
	assert_true(isnan(one.more_shots));
}

/* It matters no more there than it does of the whole run. */
static void
a_change_within_the_margin_is_none(void **state)
{
	(void)state;
	fill(then, 300, 8, 0.1);
	fill(now, 150, 8, 0.1);
	for (size_t i = 102; i < 150; i++)
		now[i] -= 0.2;
	struct comparison one = compared(300, 150, 0.5);
	assert_true(one.unstable);
	assert_false(comparison_has_changed(&one));
}

static void
simulate(double *values, size_t count, double memory)
{
	double last = 0;

	for (size_t i = 0; i < count; i++) {
		double sum = -6; /* of twelve: near enough to normal */
		for (int k = 0; k < 12; k++)
			sum += drand48();
		last = memory * last + sqrt(1 - memory * memory) * sum;
		values[i] = last;
	}
}

static void
a_run_like_its_reference_has_hardly_ever_changed(void **state)
{
	enum { RUNS = 2000 };
	static const double memories[] = {0, 0.3, 0.6};
	static const double most[] = {0.001, 0.005, 0.03};

	(void)state;
	srand48((long)seed_take(20261127));
	for (size_t m = 0; m < 3; m++) {
		size_t changed = 0, runs = m == 0 ? RUNS : RUNS / 2;
		for (size_t i = 0; i < runs; i++) {
			simulate(then, 300, memories[m]);
			simulate(now, 150, memories[m]);
			struct comparison one = compared(300, 150, NAN);
			changed += comparison_has_changed(&one);
		}
		printf("AR(1) %.1f: changed by chance %.4f\n", memories[m],
		    (double)changed / (double)runs);
		assert_true((double)changed <= most[m] * (double)runs);
	}
}

static void
a_step_of_three_deviations_is_mostly_found(void **state)
{
	enum { RUNS = 300 };
	size_t found = 0;

	(void)state;
	srand48((long)seed_take(20261127));
	for (size_t i = 0; i < RUNS; i++) {
		simulate(then, 300, 0);
		simulate(now, 150, 0);
		for (size_t k = 102; k < 150; k++)
			now[k] += 3;
		struct comparison one = compared(300, 150, NAN);
		found += comparison_has_changed(&one);
	}
	printf("a step of 3 deviations: found %.3f\n", (double)found / RUNS);
	assert_true(found >= RUNS * 9 / 10);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(a_step_within_the_run_is_no_matter_of_too_few),
	    cmocka_unit_test(a_drift_and_a_scatter_within_the_run_are_told),
	    cmocka_unit_test(what_falls_in_its_own_way_has_changed_all_the_same),
	    cmocka_unit_test(what_wanders_off_without_a_beginning_has_changed),
	    cmocka_unit_test(a_change_within_the_margin_is_none),
	    cmocka_unit_test(a_step_of_three_deviations_is_mostly_found),
	    cmocka_unit_test(a_run_like_its_reference_has_hardly_ever_changed),
	    cmocka_unit_test(so_many_more_shots_settle_it),
	    cmocka_unit_test(what_the_reference_leaves_open_no_shots_settle),
	    cmocka_unit_test(shots_that_depend_on_each_other_count_for_less),
	    cmocka_unit_test(what_never_moved_tells_no_number),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
