/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "cli/stats/describe.h"
#include "cli/stats/stability.h"
#include "tests/unit/cli/stats/normal.h"
#include "tests/unit/cli/stats/numerics_started.h"
#include "tests/unit/published.h"
#include "tests/unit/seed.h"

#define LENGTH(array) (sizeof(array) / sizeof((array)[0]))

enum { MOST = 300 };

static uint64_t random_state;

static int
seed_random(void **state)
{
	(void)state;
	random_state = seed_take(20261127);
	return 0;
}

/* As a study asks: mean and mean moving range of the series itself. */
static struct stability
judged_rounded(const double *values, size_t n, double step)
{
	static double room[MOST + 1];
	const struct series series = {.values = values, .count = n};
	struct moving_ranges ranges = describe_moving_ranges(&series, room);
	double sum = 0;
	size_t there = 0;

	for (size_t i = 0; i < n; i++) {
		if (isfinite(values[i])) {
			sum += values[i];
			there++;
		}
	}
	return stability_of(&series, sum / (double)there, ranges.sigma, step);
}

static struct stability
judged(const double *values, size_t n)
{
	return judged_rounded(values, n, 0);
}

enum disturbance { NOTHING, STEP, DRIFT, SCATTER };

static double
disturbed(enum disturbance disturbance, size_t i, size_t n)
{
	double value = normal_next(&random_state);
	bool late = i >= n / 2;

	switch (disturbance) {
	case NOTHING:
		break;
	case STEP:
		return late ? value + 1 : value;
	case DRIFT:
		return value + 2 * (double)i / (double)(n - 1);
	case SCATTER:
		return late ? 2 * value : value;
	}
	return value;
}

static double
unstable_share(enum disturbance disturbance, size_t n, size_t count)
{
	double values[MOST];
	size_t unstable = 0;

	for (size_t k = 0; k < count; k++) {
		for (size_t i = 0; i < n; i++)
			values[i] = disturbed(disturbance, i, n);
		if (judged(values, n).verdict == STABILITY_UNSTABLE)
			unstable++;
	}
	return (double)unstable / (double)count;
}

static const size_t lengths[] = {30, 68, 160, 300};

static void
three_to_six_percent_of_perfect_series_are_called_unstable(void **state)
{
	(void)state;
	for (size_t i = 0; i < LENGTH(lengths); i++) {
		double share = unstable_share(NOTHING, lengths[i], 20000);
		printf("n = %3zu: %.2f %% of perfect series unstable\n", lengths[i],
		    100 * share);
		assert_in_range((long)(share * 1e4), 300, 600);
	}
}

/* Not allowing for the step: 24 to 33 % at 1 sd. */
static void
rounding_makes_no_series_unstable(void **state)
{
	enum { SERIES = 3000 };
	static const double steps[] = {0.25, 0.5, 1};
	double values[MOST];

	(void)state;
	for (size_t s = 0; s < LENGTH(steps); s++)
		for (size_t l = 2; l < LENGTH(lengths); l++) {
			size_t n = lengths[l], unstable = 0;
			for (int k = 0; k < SERIES; k++) {
				double mean = 20 + normal_uniform(&random_state);
				for (size_t i = 0; i < n; i++)
					values[i] =
					    steps[s] *
					    round((mean + normal_next(&random_state)) /
						  steps[s]);
				unstable +=
				    judged_rounded(values, n, steps[s]).verdict ==
				    STABILITY_UNSTABLE;
			}
			double share = (double)unstable / SERIES;
			printf("n = %3zu rounded to %.2f sd: %.2f %% unstable\n", n,
			    steps[s], 100 * share);
			/* one standard error is 0.35 % */
			assert_in_range((long)(share * 1e4), 230, 600);
		}
}

static void
a_rounded_value_on_the_mean_ends_a_run(void **state)
{
	double values[40];
	const struct series series = {.values = values, .count = 40};

	(void)state;
	for (size_t i = 0; i < 40; i++)
		values[i] = i < 20 ? 20 : 21;
	assert_int_not_equal(stability_of(&series, 20.3, 1, 0).run, 0);
	/* 20 may have been 20.3, 21 cannot */
	struct stability result = stability_of(&series, 20.3, 1, 1);
	assert_int_equal(result.run, 20 + result.limits.r);
	/* 24 may have been 23.5: 3.5 deviations, and the limit is more */
	values[7] = 24;
	assert_int_equal(stability_of(&series, 20, 1, 0).beyond, 8);
	assert_int_equal(stability_of(&series, 20, 1, 1).beyond, 0);
}

/* Least shares that must be found: below what was found, by five standard errors and more. */
static const struct power {
	enum disturbance disturbance;
	const char *name;
	double least[4];
} powers[] = {
    {STEP, "step of 1 s in the middle", {0.20, 0.34, 0.55, 0.68}},
    {DRIFT, "drift of 2 s", {0.33, 0.59, 0.84, 0.94}},
    {SCATTER, "doubled scatter from the middle", {0.19, 0.63, 0.98, 0.99}},
};

static void
changes_are_found_with_the_power_that_is_told(void **state)
{
	(void)state;
	for (size_t p = 0; p < LENGTH(powers); p++)
		for (size_t i = 0; i < LENGTH(lengths); i++) {
			double share =
			    unstable_share(powers[p].disturbance, lengths[i], 2000);
			printf("n = %3zu: %s found in %.1f %%\n", lengths[i],
			    powers[p].name, 100 * share);
			assert_true(share >= powers[p].least[i]);
		}
}

/* k, r, L at these n by 40,000 simulated series each: an own run of another program with
 * NumPy 1.24, whose standard error is 0.01. */
static const struct {
	size_t n;
	struct stability_limits limits;
} simulated[] = {
    {30, {.k = 3.46, .r = 10, .L = 3.29}},
    {68, {.k = 3.67, .r = 12, .L = 3.58}},
    {160, {.k = 3.89, .r = 13, .L = 3.83}},
    {300, {.k = 4.04, .r = 14, .L = 3.98}},
};

static void
the_limits_equal_those_of_another_simulation(void **state)
{
	struct published_table table = published_begin(
	    SOURCE_NUMPY, "limits of the tests of stability (40,000 simulated)");

	(void)state;
	for (size_t i = 0; i < LENGTH(simulated); i++) {
		struct stability_limits got = stability_limits(simulated[i].n);
		published_add(&table, got.k, simulated[i].limits.k, 0.03);
		assert_int_equal(got.r, simulated[i].limits.r);
		published_add(&table, got.L, simulated[i].limits.L, 0.03);
	}
	published_end(&table);
}

static void
limits_only_grow_with_the_length(void **state)
{
	struct stability_limits last = stability_limits(STABILITY_LEAST);

	(void)state;
	for (size_t n = STABILITY_LEAST; n < 3000000; n += 1 + n / 50) {
		struct stability_limits limits = stability_limits(n);
		assert_true(limits.k >= last.k && limits.k < 6.5);
		assert_true(limits.r >= last.r && limits.r < 32);
		assert_true(limits.L >= last.L && limits.L < limits.k);
		/* Kolmogorov's 0.5 % point of a Brownian bridge is 1.7308 */
		assert_true(limits.c > last.c - 0.002 && limits.c < 1.7308);
		last = limits;
	}
}

/*
 * Many values know mean and deviation: k is the normal quantile of Sidak's share, L has the
 * in-control run length n / -log(59/60) of the EWMA's integral equation (computed with NumPy
 * 1.24 by 120 Gauss-Legendre nodes).
 */
static void
limits_of_many_values_are_those_of_known_parameters(void **state)
{
	static const struct {
		size_t n;
		double k, L;
	} known[] = {
	    {10000, 4.788454, 4.765240},
	    {100000, 5.231576, 5.216504},
	    {1000000, 5.642015, 5.631939},
	};

	struct published_table table = published_begin(
	    SOURCE_NUMPY, "the same of 10,000 to 1,000,000 values, integral equation");

	(void)state;
	for (size_t i = 0; i < LENGTH(known); i++) {
		struct stability_limits limits = stability_limits(known[i].n);
		published_add(&table, limits.k, known[i].k, 0.02);
		published_add(&table, limits.L, known[i].L, 0.02);
	}
	published_end(&table);
}

static void
each_test_tells_the_slot_where_it_fails(void **state)
{
	double values[60];

	(void)state;
	for (size_t i = 0; i < 60; i++)
		values[i] = i % 2 ? 1 : -1;
	const struct series series = {.values = values, .count = 60};
	struct stability result = stability_of(&series, 0, 1, 0);
	assert_int_equal(result.verdict, STABILITY_STABLE);
	assert_true(result.beyond == 0 && result.run == 0 && result.ewma == 0);

	values[40] = 5;
	result = stability_of(&series, 0, 1, 0);
	assert_int_equal(result.verdict, STABILITY_UNSTABLE);
	assert_int_equal(result.beyond, 41);
	assert_int_equal(result.run, 0);

	/* r is 11 for 60 values */
	values[40] = -1;
	for (size_t i = 20; i < 32; i++)
		values[i] = 0.1;
	result = stability_of(&series, 0, 1, 0);
	assert_int_equal(result.limits.r, 11);
	assert_int_equal(result.run, 30); /* the run begins at slot 20 */
	assert_int_equal(result.beyond, 0);
}

static void
a_break_a_gap_and_the_mean_end_a_run(void **state)
{
	double values[60];
	bool breaks[60] = {false};

	(void)state;
	for (size_t i = 0; i < 60; i++)
		values[i] = i < 30 ? 0.1 : -0.1;
	const struct series series = {values, breaks, 60};
	assert_int_equal(stability_of(&series, 0, 1, 0).run, 11);
	breaks[10] = breaks[20] = breaks[40] = breaks[50] = true;
	assert_int_equal(stability_of(&series, 0, 1, 0).run, 0);
	for (size_t i = 10; i < 60; i += 10)
		breaks[i] = false;
	values[10] = values[40] = NAN;
	values[20] = values[50] = 0;
	assert_int_equal(stability_of(&series, 0, 1, 0).run, 0);
}

static void
few_values_and_no_variation_are_no_verdict(void **state)
{
	double values[40];

	(void)state;
	for (size_t i = 0; i < 40; i++)
		values[i] = i < 19 ? (double)(i % 3) : NAN;
	assert_int_equal(judged(values, 40).verdict, STABILITY_TOO_FEW);
	const struct series none = {.values = NULL, .count = 0};
	assert_int_equal(stability_of(&none, NAN, NAN, 0).verdict, STABILITY_TOO_FEW);
	for (size_t i = 0; i < 40; i++)
		values[i] = 7;
	assert_int_equal(judged(values, 40).verdict, STABILITY_NO_VARIATION);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test_setup(
		three_to_six_percent_of_perfect_series_are_called_unstable,
		seed_random),
	    cmocka_unit_test_setup(rounding_makes_no_series_unstable, seed_random),
	    cmocka_unit_test(a_rounded_value_on_the_mean_ends_a_run),
	    cmocka_unit_test_setup(
		changes_are_found_with_the_power_that_is_told, seed_random),
	    cmocka_unit_test(the_limits_equal_those_of_another_simulation),
	    cmocka_unit_test(limits_only_grow_with_the_length),
	    cmocka_unit_test(limits_of_many_values_are_those_of_known_parameters),
	    cmocka_unit_test(each_test_tells_the_slot_where_it_fails),
	    cmocka_unit_test(a_break_a_gap_and_the_mean_end_a_run),
	    cmocka_unit_test(few_values_and_no_variation_are_no_verdict),
	};

	return cmocka_run_group_tests(tests, numerics_started, NULL);
}
