/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>

#include <math.h>
#include <stdio.h>

#include "cli/stats/equivalence.h"
#include "tests/unit/cli/stats/normal.h"
#include "tests/unit/cli/stats/numerics_started.h"
#include "tests/unit/near.h"
#include "tests/unit/published.h"
#include "tests/unit/seed.h"

#define LENGTH(array) (sizeof(array) / sizeof((array)[0]))

enum { MOST = 200 };

static uint64_t random_state;

static int
seed_random(void **state)
{
	(void)state;
	random_state = seed_take(20261128);
	return 0;
}

static struct series
over(const double *values, size_t count)
{
	return (struct series){.values = values, .count = count};
}

/* Hours of sleep gained with two drugs: Student, The probable error of a mean, Biometrika
 * 6:1-25, 1908, as R's data set `sleep` has them. */
static const double first_drug[] = {
    0.7, -1.6, -0.2, -1.2, -0.1, 3.4, 3.7, 0.8, 0.0, 2.0};
static const double second_drug[] = {1.9, 0.8, 1.1, 0.1, -0.1, 4.4, 5.5, 1.6, 4.6, 3.4};

static void
students_sleep_data_give_their_intervals(void **state)
{
	struct series run = over(first_drug, 10), reference = over(second_drug, 10);
	struct published_table table = published_begin(
	    SOURCE_R, "difference, scatter, intervals and p of Student's sleep data");

	(void)state;
	/* computed with R 4.2: t.test(conf.level = 0.9), var.test, and the worse of two
	 * one-sided t.test at -4 and 4 */
	struct equivalence e = equivalence_of(&run, &reference, 4);
	published_add(&table, e.difference, -1.58, 1e-14);
	published_add(&table, e.difference_90.low, -3.053381497331606, 1e-9);
	published_add(&table, e.difference_90.high, -0.106618502668394, 1e-9);
	published_add(&table, e.p, 5.36162410315912e-03, 1e-11);
	published_add(&table, e.scatter_ratio, 0.893500205930806, 1e-13);
	published_add(&table, e.scatter_ratio_95.low * e.scatter_ratio_95.low,
	    0.198297013510539, 1e-10);
	published_add(&table, e.scatter_ratio_95.high * e.scatter_ratio_95.high,
	    3.214122716369865, 1e-9);
	published_end(&table);
	assert_int_equal(e.verdict, EQUIVALENCE_SAME);
	assert_near(e.run_worth, 10, 1e-12);

	assert_int_equal(equivalence_of(&run, &reference, 3).verdict, EQUIVALENCE_OPEN);
	assert_int_equal(
	    equivalence_of(&run, &reference, 0.05).verdict, EQUIVALENCE_DIFFERENT);
}

static void
the_order_of_the_runs_turns_the_sign(void **state)
{
	struct series run = over(first_drug, 10), reference = over(second_drug, 10);

	(void)state;
	struct equivalence a = equivalence_of(&run, &reference, 2);
	struct equivalence b = equivalence_of(&reference, &run, 2);
	assert_near(a.difference, -b.difference, 1e-15);
	assert_near(a.difference_90.low, -b.difference_90.high, 1e-12);
	assert_near(a.p, b.p, 1e-14);
	assert_near(a.scatter_ratio * b.scatter_ratio, 1, 1e-14);
	assert_near(a.scatter_ratio_95.low * b.scatter_ratio_95.high, 1, 1e-9);
}

/* A Gaussian AR(1) series of deviation 1. */
static void
fill(double *values, size_t n, double phi, double mean)
{
	double off = normal_next(&random_state);

	for (size_t i = 0; i < n; i++) {
		values[i] = mean + off;
		off = phi * off + sqrt(1 - phi * phi) * normal_next(&random_state);
	}
}

struct rates {
	double same, different, covered, ratio_covered, told;
};

static struct rates
simulated(double phi, double difference, double margin, size_t n)
{
	enum { RUNS = 4000 };
	double a[MOST], b[MOST];
	struct rates rates = {0};

	for (int i = 0; i < RUNS; i++) {
		fill(a, n, phi, difference);
		fill(b, n, phi, 0);
		struct series run = over(a, n), reference = over(b, n);
		struct equivalence e = equivalence_of(&run, &reference, margin);
		if (isnan(e.difference_90.low))
			continue;
		rates.told++;
		rates.same += e.verdict == EQUIVALENCE_SAME;
		rates.different += e.verdict == EQUIVALENCE_DIFFERENT;
		rates.covered += e.difference_90.low <= difference &&
		                 difference <= e.difference_90.high;
		rates.ratio_covered +=
		    e.scatter_ratio_95.low <= 1 && 1 <= e.scatter_ratio_95.high;
	}
	rates.same /= rates.told;
	rates.different /= rates.told;
	rates.covered /= rates.told;
	rates.ratio_covered /= rates.told;
	rates.told /= RUNS;
	return rates;
}

static void
at_the_margin_one_in_twenty_is_called_the_same(void **state)
{
	(void)state;
	/* binomial deviation 0.0034 */
	struct rates at = simulated(0, 0.5, 0.5, 80);
	printf("independent, n = 80, at the margin: same %.3f, different %.3f, "
	       "difference covered %.3f of 0.90, ratio %.3f of 0.95\n",
	    at.same, at.different, at.covered, at.ratio_covered);
	assert_near(at.same, 0.05, 0.014);
	assert_near(at.different, 0.05, 0.014);
	assert_near(at.covered, 0.90, 0.02);
	assert_near(at.ratio_covered, 0.95, 0.014);
	struct rates within = simulated(0, 0, 0.5, 80);
	printf("independent, n = 80, no difference, margin 0.5 s: same %.3f\n",
	    within.same);
	assert_true(within.same > 0.83);
}

static void
runs_with_a_memory_are_not_called_the_same_more_often(void **state)
{
	(void)state;
	struct rates at = simulated(0.6, 0.5, 0.5, 160);
	printf(
	    "AR(1) 0.6, n = 160, at the margin: same %.3f, difference covered %.3f of "
	    "0.90, ratio %.3f of 0.95; told in %.3f\n",
	    at.same, at.covered, at.ratio_covered, at.told);
	assert_true(at.same < 0.08 && at.covered > 0.86 && at.ratio_covered > 0.92);
}

static void
what_cannot_be_told_is_open(void **state)
{
	static const double constant[] = {3, 3, 3, 3, 3};
	static const double missing[] = {NAN, NAN, INFINITY};
	double trend[60];
	struct series usual = over(first_drug, 10);
	struct series others[] = {over(NULL, 0), over(first_drug, 1), over(constant, 5),
	    over(missing, 3), over(trend, 60)};

	(void)state;
	for (size_t i = 0; i < 60; i++)
		trend[i] = (double)i;
	for (size_t i = 0; i < LENGTH(others); i++) {
		struct equivalence e = equivalence_of(&others[i], &usual, 1);
		assert_int_equal(e.verdict, EQUIVALENCE_OPEN);
		assert_true(isnan(e.p) && isnan(e.difference_90.low) &&
			    isnan(e.scatter_ratio_95.high));
		e = equivalence_of(&usual, &others[i], 1);
		assert_int_equal(e.verdict, EQUIVALENCE_OPEN);
		assert_true(isnan(e.p) && !isinf(e.scatter_ratio));
	}
	struct equivalence e = equivalence_of(&usual, &usual, NAN);
	assert_int_equal(e.verdict, EQUIVALENCE_OPEN);
	assert_true(isnan(e.p) && isfinite(e.difference_90.low));
	assert_true(isnan(equivalence_of(&usual, &usual, 0).p));
}

static void
a_huge_offset_changes_nothing(void **state)
{
	double a[10], b[10];

	(void)state;
	for (size_t i = 0; i < 10; i++) {
		a[i] = first_drug[i] + 1e9;
		b[i] = second_drug[i] + 1e9;
	}
	struct series run = over(a, 10), reference = over(b, 10);
	struct equivalence e = equivalence_of(&run, &reference, 4);
	assert_near(e.p, 5.36162410315912e-03, 1e-6);
	assert_near(e.difference, -1.58, 1e-6);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(students_sleep_data_give_their_intervals),
	    cmocka_unit_test(the_order_of_the_runs_turns_the_sign),
	    cmocka_unit_test_setup(
		at_the_margin_one_in_twenty_is_called_the_same, seed_random),
	    cmocka_unit_test_setup(
		runs_with_a_memory_are_not_called_the_same_more_often, seed_random),
	    cmocka_unit_test(what_cannot_be_told_is_open),
	    cmocka_unit_test(a_huge_offset_changes_nothing),
	};

	return cmocka_run_group_tests(tests, numerics_started, NULL);
}
