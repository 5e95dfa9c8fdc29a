/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>

#include <math.h>
#include <stdlib.h>

#include "cli/stats/autocorrelation.h"
#include "daemon/base/moments.h"
#include "tests/reference/nist_strd.h"
#include "tests/unit/cli/stats/normal.h"
#include "tests/unit/cli/stats/numerics_started.h"
#include "tests/unit/near.h"
#include "tests/unit/published.h"
#include "tests/unit/seed.h"

#define LENGTH(array) (sizeof(array) / sizeof((array)[0]))

static double
lag1(const double *values, size_t count)
{
	struct series series = {.values = values, .count = count};
	struct moments moments;

	moments_init(&moments);
	for (size_t i = 0; i < count; i++)
		if (isfinite(values[i]))
			moments_add(&moments, values[i]);
	return autocorrelation_lag1(&series, moments_mean(&moments));
}

static void
lag_one_equals_the_certified_values(void **state)
{
	struct published_table table = published_begin(
	    SOURCE_STRD_UNIVARIATE, "autocorrelation at lag 1 of a data set");

	(void)state;
	for (size_t i = 0; i < LENGTH(nist_strd); i++) {
		const struct nist_strd *set = &nist_strd[i];
		published_add(&table, lag1(set->values, set->count), set->lag,
		    set->near_lag * fabs(set->lag));
	}
	published_end(&table);
}

static void
lag_one_survives_a_large_offset(void **state)
{
	double values[1 + 2 * NIST_NUMACC_PAIRS];
	struct published_table table = published_begin(
	    SOURCE_STRD_UNIVARIATE, "autocorrelation at lag 1 of NumAcc2 to 4");

	(void)state;
	for (size_t i = 0; i < LENGTH(nist_numacc); i++) {
		const struct nist_numacc *set = &nist_numacc[i];
		values[0] = set->mean;
		for (size_t k = 0; k < NIST_NUMACC_PAIRS; k++) {
			values[1 + 2 * k] = set->low;
			values[2 + 2 * k] = set->high;
		}
		/* certified -0.999; the doubles' own is up to 1e-11 off */
		published_add(&table, lag1(values, LENGTH(values)), -0.999, 1e-10);
	}
	published_end(&table);
}

static void
a_break_or_a_missing_value_takes_its_products_out(void **state)
{
	static const double values[] = {1, -1, 2, -2};
	static const bool breaks[] = {false, false, true, false};
	static const double holed[] = {1, -1, NAN, 2, -2};
	const struct series series = {values, breaks, 4};

	(void)state;
	/* products -1 and -4 of two pairs, squares 10, (n - 1) / pairs = 3/2 */
	assert_near(autocorrelation_lag1(&series, 0), -0.75, 1e-15);
	assert_near(lag1(holed, 5), -0.75, 1e-15);
}

static void
without_variation_or_neighbours_there_is_none(void **state)
{
	static const double same[] = {3, 3, 3, 3};
	static const double lonely[] = {3, NAN, 4};

	(void)state;
	assert_true(isnan(lag1(same, 4)));
	assert_true(isnan(lag1(lonely, 3)));
	assert_true(isnan(lag1(same, 0)));
	assert_true(isnan(autocorrelation_bound(0)));
}

static void
the_bias_of_lag_one_is_taken_off(void **state)
{
	(void)state;
	/* the mean of r1 of n independent values is -1/n, about */
	assert_near(autocorrelation_unbiased(-1.0 / 50, 50), -0.08 / 50, 1e-15);
	assert_near(autocorrelation_unbiased(0.5, 30), 0.6, 1e-15);
	assert_true(isnan(autocorrelation_unbiased(NAN, 30)));
}

static void
the_bound_is_the_usual_one(void **state)
{
	(void)state;
	/* 1.96/sqrt(n) */
	published(SOURCE_HANDBOOK_AUTOCORRELATION, "95 % bound of 30 values",
	    autocorrelation_bound(30), 0.357845, 1e-6);
	published(SOURCE_HANDBOOK_AUTOCORRELATION, "95 % bound of 100 values",
	    autocorrelation_bound(100), 0.196, 1e-12);
	published(SOURCE_HANDBOOK_AUTOCORRELATION, "95 % bound of 300 values",
	    autocorrelation_bound(300), 0.113161, 1e-6);
}

/*
 * Exact moments of an AR(1) series, computed from the full matrices with NumPy 1.24
 * (trace formulas); the last column is the standard error of an index of 1.33 by
 * sqrt(Var(mean) / (9 E) + 1.33^2 Var(s^2) / (4 E^2)).
 */
static void
the_moments_equal_those_of_the_full_matrices(void **state)
{
	static const struct row {
		double phi;
		size_t n;
		double n_mean, expected, variance, error;
	} ar1_rows[] = {
	    {0.3, 160, 86.5103, 0.99465730, 0.01487326, 0.089104},
	    {0.5, 100, 33.7838, 0.98020202, 0.03203062, 0.134529},
	    {0.5, 160, 53.7815, 0.98757862, 0.02032317, 0.106334},
	    {0.8, 100, 11.6279, 0.92323232, 0.07555581, 0.222599},
	    {0.8, 160, 18.2857, 0.95125786, 0.05074671, 0.176601},
	    {0.9, 160, 8.9510, 0.89386792, 0.09111134, 0.253604},
	    {0.9, 300, 16.3043, 0.94180602, 0.05524536, 0.186492},
	};

	struct published_table worth = published_begin(
	    SOURCE_NUMPY, "independent values that an AR(1) series is worth");
	struct published_table s2 = published_begin(
	    SOURCE_NUMPY, "mean and variance of s^2 of an AR(1) series");
	struct published_table errors = published_begin(
	    SOURCE_NUMPY, "standard error of an index of 1.33 of an AR(1) series");

	(void)state;
	for (size_t i = 0; i < LENGTH(ar1_rows); i++) {
		const struct row *row = &ar1_rows[i];
		struct ar1_moments m = ar1_moments(row->phi, row->n);
		double e = m.expected_s2;
		published_add(&worth, 1 / m.variance_of_mean, row->n_mean, 1e-4);
		published_add(&s2, e, row->expected, 1e-8);
		published_add(&s2, m.variance_of_s2, row->variance, 1e-8);
		published_add(&errors,
		    sqrt(m.variance_of_mean / (9 * e) +
			 1.33 * 1.33 * m.variance_of_s2 / (4 * e * e)),
		    row->error, 1e-6);
	}
	published_end(&worth);
	published_end(&s2);
	published_end(&errors);
}

static void
without_memory_the_moments_are_the_textbook_s(void **state)
{
	(void)state;
	struct ar1_moments m = ar1_moments(0, 40);
	assert_near(m.variance_of_mean, 1.0 / 40, 1e-15);
	assert_near(m.expected_s2, 1, 1e-14);
	assert_near(m.variance_of_s2, 2.0 / 39, 1e-14);
}

/* A stationary Gaussian AR(1) series of deviation 1. */
static double
next_of(double last, double phi, uint64_t *state)
{
	return phi * last + sqrt(1 - phi * phi) * normal_next(state);
}

static void
memory_shrinks_the_moving_range_as_it_must(void **state)
{
	/* E[mean moving range / d2] / sigma = sqrt(1 - phi): neighbours differ by a normal
	 * value of variance 2 (1 - phi) */
	static const double phis[] = {-0.5, 0, 0.3, 0.5, 0.7, 0.8, 0.9, 0.95};
	enum { N = 200000 };
	uint64_t random_state = seed_take(20261202);

	(void)state;
	for (size_t i = 0; i < LENGTH(phis); i++) {
		double last = normal_next(&random_state), sum = 0;
		for (int k = 0; k < N; k++) {
			double value = next_of(last, phis[i], &random_state);
			sum += fabs(value - last);
			last = value;
		}
		double ratio = sum / N / (2 / sqrt(M_PI));
		assert_near(ratio / sqrt(1 - phis[i]), 1, 0.01);
	}
}

static void
independent_values_seldom_pass_the_bound(void **state)
{
	/* shares by 20,000 simulated series each, computed with NumPy 1.24 */
	static const struct {
		size_t n;
		double share;
	} rows[] = {{30, 0.041}, {100, 0.047}, {160, 0.047}};
	enum { RUNS = 5000 };
	uint64_t random_state = seed_take(20261203);
	double values[160];
	struct published_table table = published_begin(SOURCE_NUMPY,
	    "share of independent series beyond the bound, both simulated");

	(void)state;
	for (size_t i = 0; i < LENGTH(rows); i++) {
		int beyond = 0;
		for (int run = 0; run < RUNS; run++) {
			for (size_t k = 0; k < rows[i].n; k++)
				values[k] = normal_next(&random_state);
			beyond += fabs(lag1(values, rows[i].n)) >
			          autocorrelation_bound(rows[i].n);
		}
		/* four standard errors of both */
		published_add(&table, (double)beyond / RUNS, rows[i].share, 0.014);
	}
	published_end(&table);
}

static void
a_long_series_with_much_memory_has_its_limits(void **state)
{
	(void)state;
	/* n Var(mean) tends to (1 + phi) / (1 - phi) */
	struct ar1_moments m = ar1_moments(0.999, 10000000);
	assert_near(m.variance_of_mean * 1e7, 1999, 0.5);
	assert_near(m.expected_s2, 1, 1e-3);
	/* n Var(s^2) to 2 (1 + phi^2) / (1 - phi^2) */
	assert_near(
	    m.variance_of_s2 * 1e7 / (2 * (1 + 0.999 * 0.999) / (1 - 0.999 * 0.999)), 1,
	    1e-3);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(lag_one_equals_the_certified_values),
	    cmocka_unit_test(lag_one_survives_a_large_offset),
	    cmocka_unit_test(a_break_or_a_missing_value_takes_its_products_out),
	    cmocka_unit_test(without_variation_or_neighbours_there_is_none),
	    cmocka_unit_test(the_bias_of_lag_one_is_taken_off),
	    cmocka_unit_test(the_bound_is_the_usual_one),
	    cmocka_unit_test(the_moments_equal_those_of_the_full_matrices),
	    cmocka_unit_test(memory_shrinks_the_moving_range_as_it_must),
	    cmocka_unit_test(independent_values_seldom_pass_the_bound),
	    cmocka_unit_test(a_long_series_with_much_memory_has_its_limits),
	    cmocka_unit_test(without_memory_the_moments_are_the_textbook_s),
	};
	return cmocka_run_group_tests(tests, numerics_started, NULL);
}
