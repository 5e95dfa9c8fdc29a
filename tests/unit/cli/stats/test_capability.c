/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>

#include <gsl/gsl_cdf.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "cli/stats/capability.h"
#include "cli/stats/distribution.h"
#include "tests/unit/cli/stats/normal.h"
#include "tests/unit/cli/stats/numerics_started.h"
#include "tests/unit/near.h"
#include "tests/unit/published.h"
#include "tests/unit/seed.h"

#define LENGTH(array) (sizeof(array) / sizeof((array)[0]))

static struct capability
of(const double *values, size_t count, double lower, double upper)
{
	const struct series series = {.values = values, .count = count};

	return capability_of(&series, lower, upper);
}

static uint64_t random_state;

static double
normal(void)
{
	return normal_next(&random_state);
}

static int
seed_random(void **state)
{
	numerics_started(state);
	random_state = seed_take(20260302);
	return 0;
}

/* A series of mean 16 and s 2 exactly, all within 8 to 20: handbook inputs. */
static void
the_handbook_example_gives_its_indices(void **state)
{
	/* NIST/SEMATECH e-Handbook 6.1.6: USL 20, LSL 8, mean 16, s 2 gives
	 * Cp 1.0, Cpu 0.6667, Cpl 1.3333, Cpk 0.6667. */
	double values[50], step = 2 / sqrt(50.0 / 49.0);

	(void)state;
	for (size_t i = 0; i < 50; i++)
		values[i] = 16 + (i % 2 ? step : -step);
	struct capability c = of(values, 50, 8, 20);
	assert_near(c.mean, 16, 1e-13);
	assert_near(c.sd, 2, 1e-13);
	published(SOURCE_HANDBOOK_CAPABILITY, "Cp", c.overall.p, 1, 1e-12);
	published(SOURCE_HANDBOOK_CAPABILITY, "Cpu (printed 0.6667)", c.overall.pu,
	    0.666666666667, 1e-11);
	published(SOURCE_HANDBOOK_CAPABILITY, "Cpl (printed 1.3333)", c.overall.pl,
	    1.33333333333, 1e-11);
	published(SOURCE_HANDBOOK_CAPABILITY, "Cpk (printed 0.6667)", c.overall.pk,
	    0.666666666667, 1e-11);
	/* k = |14 - 16| / 6, and Cpk = (1 - k) Cp */
	assert_near((1 - fabs(14 - c.mean) / 6) * c.overall.p, c.overall.pk, 1e-12);
}

/*
 * Cp by chi-square (exact); Cpk by Bissell, Applied Statistics 39:331-340, 1990; the
 * one-sided bound by the noncentral t.  Figures recomputed from these formulas with
 * SciPy 1.10 (chi2, norm) and mpmath 1.2.1 (noncentral t by quadrature); the first
 * three rows take the handbook's Cpk of 0.6667 and Cp of 1.
 */
static const struct interval_row {
	double p, pk;
	size_t n;
	double p_low, p_high, pk_low, pk_high, least;
} interval_rows[] = {
    {1, 0.666666666667, 25, 0.718829, 1.280691, 0.437228, 0.896106, 0.470647},
    {1, 0.666666666667, 50, 0.802482, 1.197126, 0.505551, 0.827782, 0.529613},
    {1, 0.666666666667, 100, 0.860826, 1.138943, 0.553128, 0.780206, 0.570427},
    {1.33, 1.33, 10, 0.728524, 1.933603, 0.681778, 1.978222, 0.777314},
    {1.33, 1.33, 30, 0.989351, 1.670001, 0.967529, 1.692471, 1.021557},
    {1.33, 1.33, 50, 1.067301, 1.592177, 1.050939, 1.609061, 1.093070},
    {1.33, 1.33, 100, 1.144898, 1.514795, 1.133564, 1.526436, 1.163692},
    {1.33, 1.33, 160, 1.183869, 1.475928, 1.174964, 1.485036, 1.198956},
    {1.33, 1.33, 300, 1.223404, 1.436484, 1.216925, 1.443075, 1.234593},
    {2, 2, 30, 1.487746, 2.511279, 1.471648, 2.528352, 1.550847},
};

static void
the_intervals_equal_the_tables(void **state)
{
	struct published_table of_p =
	    published_begin(SOURCE_SCIPY, "95 % interval of Cp, by chi-square");
	struct published_table of_pk =
	    published_begin(SOURCE_BISSELL, "95 % interval of Cpk, 10 to 300 values");
	struct published_table least = published_begin(
	    SOURCE_MPMATH, "one-sided 95 % bound of Cpk, by the noncentral t");

	(void)state;
	for (size_t i = 0; i < LENGTH(interval_rows); i++) {
		const struct interval_row *row = &interval_rows[i];
		double df = (double)(row->n - 1);
		struct interval p = capability_interval_p(row->p, df);
		struct interval pk =
		    capability_interval_pk(row->pk, 1 / (double)row->n, df);
		published_add(&of_p, p.low, row->p_low, 2e-6);
		published_add(&of_p, p.high, row->p_high, 2e-6);
		published_add(&of_pk, pk.low, row->pk_low, 2e-6);
		published_add(&of_pk, pk.high, row->pk_high, 2e-6);
		published_add(
		    &least, capability_least_pk(row->pk, row->n), row->least, 2e-6);
	}
	published_end(&of_p);
	published_end(&of_pk);
	published_end(&least);
}

/* Exact two-sided 95 % intervals of an index with one limit: computed with mpmath 1.2.1. */
static void
the_noncentral_t_equals_the_exact_intervals(void **state)
{
	static const struct {
		double pk;
		size_t n;
		double low, high;
	} rows[] = {
	    {0.666666666667, 25, 0.435796, 0.892798},
	    {0.666666666667, 50, 0.504659, 0.826257},
	    {0.666666666667, 100, 0.552628, 0.779487},
	    {1.33, 10, 0.689632, 1.964627},
	    {1.33, 30, 0.967753, 1.689174},
	    {1.33, 50, 1.050755, 1.607289},
	    {1.33, 100, 1.133329, 1.525653},
	    {1.33, 160, 1.174776, 1.484579},
	    {1.33, 300, 1.216804, 1.442849},
	    {2, 30, 1.473105, 2.524203},
	};

	struct published_table upper = published_begin(
	    SOURCE_MPMATH, "exact upper 95 % bound of an index with one limit");
	struct published_table shares = published_begin(
	    SOURCE_MPMATH, "share of the noncentral t at the exact bounds of an index");

	(void)state;
	for (size_t i = 0; i < LENGTH(rows); i++) {
		double scale = 3 * sqrt((double)rows[i].n), df = (double)rows[i].n - 1;
		double t = scale * rows[i].pk;
		/* six digits of a bound are about 1e-5 of a share */
		published_add(&shares, noncentral_t_cdf(t, df, scale * rows[i].low),
		    0.975, 2e-6 * scale);
		published_add(&shares, noncentral_t_cdf(t, df, scale * rows[i].high),
		    0.025, 2e-6 * scale);
		/* with two limits each has half of the 5 % */
		published_add(&upper,
		    capability_most_pk_df(rows[i].pk, rows[i].n, df, true),
		    rows[i].high, 2e-6);
		double most = capability_most_pk_df(rows[i].pk, rows[i].n, df, false);
		assert_near(noncentral_t_cdf(t, df, scale * most), 0.05, 1e-7);
	}
	published_end(&upper);
	published_end(&shares);
}

/* The index that shows 1.33: computed with SciPy 1.10 and mpmath 1.2.1. */
static void
the_needed_index_equals_the_table(void **state)
{
	static const struct {
		size_t n;
		double needed;
	} rows[] = {{25, 1.7704}, {30, 1.7198}, {50, 1.6120}, {100, 1.5172},
	    {160, 1.4737}, {300, 1.4319}};

	struct published_table table =
	    published_begin(SOURCE_MPMATH, "index that shows 1.33 with 95 % certainty");

	(void)state;
	for (size_t i = 0; i < LENGTH(rows); i++) {
		double needed = capability_needed_pk(1.33, rows[i].n);
		published_add(&table, needed, rows[i].needed, 1e-4);
		assert_near(capability_least_pk(needed, rows[i].n), 1.33, 1e-8);
	}
	published_end(&table);
	assert_true(isnan(capability_needed_pk(1.33, 1)));
	assert_true(isnan(capability_needed_pk(NAN, 30)));
	assert_true(isfinite(capability_needed_pk(1.33, 2)));
}

/* Other degrees of freedom than n - 1, by simulation: sigma within of subgroups. */
static void
the_bound_holds_for_a_deviation_of_its_own(void **state)
{
	enum { RUNS = 2000, N = 40, DF = 20 };
	int below = 0;

	(void)state;
	for (int run = 0; run < RUNS; run++) {
		double squares = 0, mean = normal() / sqrt(N);
		for (int i = 0; i < DF; i++) {
			double x = normal();
			squares += x * x;
		}
		double pk = (4 - mean) / (3 * sqrt(squares / DF));
		below += capability_least_pk_df(pk, N, DF) < 4.0 / 3;
	}
	/* one standard error is 0.0034 */
	assert_near((double)below / RUNS, 0.95, 0.015);
}

static void
the_flow_rate_example_gives_its_moving_range(void **state)
{
	/* NIST/SEMATECH e-Handbook 6.3.2.2, flow rate: mean 50.81, mean moving range
	 * 1.8778; sigma with the exact d2 = 2/sqrt(pi). */
	static const double flow[] = {
	    49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1};

	(void)state;
	struct capability c = of(flow, LENGTH(flow), NAN, 60);
	published(SOURCE_HANDBOOK_INDIVIDUALS, "mean flow rate, of a capability study",
	    c.mean, 50.81, 1e-12);
	published(SOURCE_HANDBOOK_INDIVIDUALS,
	    "mean moving range, of a capability study", c.sd_within * 1.128379167095513,
	    1.87777777778, 1e-10);
	assert_near(c.sd_within, 1.66413723, 1e-8);
	assert_near(c.sd, 2.0338523928, 1e-9);
	/* the handbook prints 55.8041 with d2 = 1.128 */
	assert_near(c.mean + 3 * c.sd_within, 55.80241168, 1e-7);
	assert_int_equal(c.neighbours, 9);
}

static void
no_moving_range_crosses_a_gap(void **state)
{
	static const double whole[] = {1, 2, 100, 101.5};
	static const bool breaks[] = {false, false, true, false};
	static const double holed[] = {1, 2, NAN, 100, 101.5};

	(void)state;
	struct series series = {whole, breaks, 4};
	struct capability c = capability_of(&series, 0, 200);
	assert_int_equal(c.neighbours, 2);
	assert_near(c.sd_within, 1.25 / 1.128379167095513, 1e-14);

	c = of(holed, 5, 0, 200);
	assert_int_equal(c.n, 4);
	assert_int_equal(c.missing, 1);
	assert_int_equal(c.neighbours, 2);
	assert_near(c.sd_within, 1.25 / 1.128379167095513, 1e-14);
}

static void
one_limit_gives_no_cp(void **state)
{
	double values[30];

	(void)state;
	for (size_t i = 0; i < 30; i++)
		values[i] = (double)(i * 7 % 11);
	struct capability c = of(values, 30, NAN, 20);
	assert_true(isnan(c.overall.p) && isnan(c.overall.pl) && isnan(c.within.p));
	assert_true(isnan(c.overall.p_95.low) && isnan(c.overall.p_95.high));
	assert_true(isfinite(c.overall.pu));
	assert_near(c.overall.pk, c.overall.pu, 0);
	c = of(values, 30, -10, NAN);
	assert_near(c.overall.pk, c.overall.pl, 0);
	c = of(values, 30, NAN, NAN);
	assert_true(isnan(c.overall.pk) && isnan(c.within.pk));
	assert_int_equal(c.overall.verdict, CAPABILITY_NO_LIMIT);
	assert_int_equal(c.within.verdict, CAPABILITY_NO_LIMIT);
	assert_true(isfinite(c.mean) && isfinite(c.sd));
}

static void
nothing_is_invented_for_too_few_values(void **state)
{
	static const double two[] = {1, 2};

	(void)state;
	struct capability c = of(NULL, 0, 0, 1);
	assert_true(isnan(c.mean) && isnan(c.sd) && isnan(c.min) && isnan(c.max));
	assert_true(isnan(c.sd_within) && isnan(c.r1) && isnan(c.r1_bound));
	assert_true(isnan(c.overall.pk) && isnan(c.overall.pk_95.low));
	assert_int_equal(c.overall.verdict, CAPABILITY_TOO_FEW);
	c = of(two, 1, 0, 3);
	assert_near(c.mean, 1, 0);
	assert_true(isnan(c.sd) && isnan(c.overall.pk) && isnan(c.ppk_least));
	c = of(two, 2, 0, 3);
	assert_near(c.sd, sqrt(0.5), 1e-15);
	assert_true(isfinite(c.overall.pk) && isfinite(c.ppk_least));
	assert_int_equal(c.overall.verdict, CAPABILITY_TOO_FEW);
}

static void
identical_values_have_no_index(void **state)
{
	double values[40];

	(void)state;
	for (size_t i = 0; i < 40; i++)
		values[i] = 7.1;
	struct capability c = of(values, 40, 0, 10);
	assert_true(isnan(c.overall.pk) && isnan(c.within.pk) && isnan(c.r1));
	assert_int_equal(c.overall.verdict, CAPABILITY_COARSE);
}

static void
a_huge_offset_does_not_spoil_the_spread(void **state)
{
	double near_zero[60], far[60];

	(void)state;
	for (size_t i = 0; i < 60; i++) {
		near_zero[i] = (double)(i * 37 % 16);
		far[i] = near_zero[i] + 1e9; /* exact in a double */
	}
	struct capability a = of(near_zero, 60, -20, 40);
	struct capability b = of(far, 60, 1e9 - 20, 1e9 + 40);
	assert_near(b.sd, a.sd, 1e-8);
	assert_near(b.overall.pk, a.overall.pk, 1e-8);
	assert_near(b.sd_within, a.sd_within, 1e-12);
}

static void
a_coarse_resolution_is_refused(void **state)
{
	double values[60];

	(void)state;
	for (size_t i = 0; i < 60; i++)
		values[i] = (double)(i * 7 % 4);
	struct capability c = of(values, 60, -5, 10);
	assert_int_equal(c.distinct, 4);
	assert_int_equal(c.overall.verdict, CAPABILITY_COARSE);
	for (size_t i = 0; i < 60; i++)
		values[i] = (double)(i * 7 % 5);
	assert_int_not_equal(of(values, 60, -5, 10).overall.verdict, CAPABILITY_COARSE);
	/* all far outside the limits: that is a bad process, not a coarse gauge */
	c = of(values, 60, 10, 20);
	assert_int_equal(c.below, 60);
	assert_int_equal(c.overall.verdict, CAPABILITY_QUOTABLE);
	assert_true(c.overall.pk < 0);
}

static void
missing_values_beyond_a_tenth_are_refused(void **state)
{
	double values[100];

	(void)state;
	for (size_t i = 0; i < 100; i++)
		values[i] = i % 10 == 3 ? NAN : normal();
	assert_int_equal(of(values, 100, -9, 9).overall.verdict, CAPABILITY_QUOTABLE);
	values[0] = NAN;
	struct capability c = of(values, 100, -9, 9);
	assert_int_equal(c.missing, 11);
	assert_int_equal(c.overall.verdict, CAPABILITY_MUCH_MISSING);
	values[1] = INFINITY;
	assert_int_equal(of(values, 100, -9, 9).missing, 12);
}

static void
lag1_is_the_plain_one_and_r1_that_of_the_pairs_there_are(void **state)
{
	/* mean 3; squares 10; products of neighbours 2 + 0 + 0 + 2, without the gap 2 */
	static const double whole[] = {1, 2, 3, 4, 5}, holed[] = {1, 2, 3, NAN, 4, 5};

	(void)state;
	struct capability c = of(whole, 5, 0, 200);
	assert_near(c.lag1, 0.4, 1e-15);
	assert_near(c.r1, 0.4, 1e-15);
	assert_near(c.lag1_bound, 1.96 / sqrt(5), 1e-15);
	assert_near(c.r1_bound, c.lag1_bound, 0);
	c = of(holed, 6, 0, 200);
	assert_near(c.lag1, 0.4, 1e-15);
	assert_near(c.r1, 0.4 * 4 / 3, 1e-15);
	assert_near(c.lag1_bound, 1.96 / sqrt(5), 1e-15);
	assert_near(c.r1_bound, 1.96 / sqrt(4), 1e-15);
	c = of(NULL, 0, 0, 1);
	assert_true(isnan(c.lag1) && isnan(c.lag1_bound));
}

static void
memory_withholds_cpk_and_widens_ppk(void **state)
{
	double values[160], x = 0;

	(void)state;
	for (size_t i = 0; i < 160; i++)
		values[i] = x = 0.6 * x + 0.8 * normal();
	struct capability c = of(values, 160, -4, 4);
	assert_true(c.r1 > c.r1_bound);
	assert_near(c.r1_bound, 0.15495, 1e-5); /* 1.96/sqrt(160) */
	assert_int_equal(c.within.verdict, CAPABILITY_AUTOCORRELATED);
	assert_int_equal(c.overall.verdict, CAPABILITY_QUOTABLE);
	assert_int_equal(c.memory, CAPABILITY_WIDENED);
	struct interval narrow = capability_interval_pk(c.overall.pk, 1.0 / 160, 159);
	assert_true(c.overall.pk_95.low < narrow.low);
	assert_true(
	    c.overall.pk_95.high - c.overall.pk_95.low > narrow.high - narrow.low);
	/* r1 with its bias taken off, and the indices with that of s^2 */
	double phi = autocorrelation_unbiased(c.r1, 160);
	struct ar1_moments moments = ar1_moments(phi, 160);
	assert_near(c.n_effective, 1 / moments.variance_of_mean, 1e-9);
	/* the intervals by an r1 that is higher by 1.25 standard errors */
	moments = ar1_moments(phi + 1.25 * sqrt((1 - phi * phi) / 160), 160);
	assert_near((c.overall.pk_95.low + c.overall.pk_95.high) / 2,
	    c.overall.pk * sqrt(moments.expected_s2), 1e-12);
	/* a series that swings to and fro is withheld too, but narrows nothing */
	for (size_t i = 0; i < 160; i++)
		values[i] = (i % 2 ? 1 : -1) + 0.1 * normal();
	c = of(values, 160, -4, 4);
	assert_int_equal(c.within.verdict, CAPABILITY_AUTOCORRELATED);
	assert_int_equal(c.memory, CAPABILITY_NONE_SEEN);
	assert_near(c.n_effective, 160, 1e-9);
}

static void
too_much_memory_leaves_the_value_without_an_interval(void **state)
{
	double values[40];

	(void)state;
	for (size_t i = 0; i < 40; i++)
		values[i] = sin((double)i / 8); /* slow: r1 near 1 */
	struct capability c = of(values, 40, -4, 4);
	assert_int_equal(c.memory, CAPABILITY_TOO_DEPENDENT);
	assert_true(c.n_effective >= 1 && c.n_effective < CAPABILITY_LEAST_EFFECTIVE);
	assert_int_equal(c.overall.verdict, CAPABILITY_QUOTABLE);
	assert_true(isfinite(c.overall.p) && isfinite(c.overall.pk));
	assert_true(isnan(c.overall.p_95.low) && isnan(c.overall.p_95.high));
	assert_true(isnan(c.overall.pk_95.low) && isnan(c.overall.pk_95.high));
	assert_true(isnan(c.ppk_least));
}

static void
few_neighbours_withhold_cpk_alone(void **state)
{
	double values[40];
	bool breaks[40];

	(void)state;
	for (size_t i = 0; i < 40; i++) {
		values[i] = normal();
		breaks[i] = i % 2;
	}
	struct series series = {values, breaks, 40};
	struct capability c = capability_of(&series, -5, 5);
	assert_int_equal(c.overall.verdict, CAPABILITY_QUOTABLE);
	assert_int_equal(c.within.verdict, CAPABILITY_FEW_NEIGHBOURS);
}

static void
values_at_the_end_of_the_doubles_do_not_crash(void **state)
{
	static const double wide[] = {1e308, -1e308, 1e308, 5};

	(void)state;
	struct capability c = of(wide, LENGTH(wide), NAN, 10);
	assert_int_equal(c.n, 4);
	assert_int_equal(c.neighbours, 1);
	assert_true(c.overall.verdict != CAPABILITY_QUOTABLE);
}

/* An index over a deviation that left the range of doubles is not 0. */
static void
a_deviation_that_overflows_has_no_index(void **state)
{
	double values[60];

	(void)state;
	assert_true(isnan(capability_ratio(1, INFINITY)));
	assert_true(isnan(capability_ratio(INFINITY, 1)));
	assert_true(isnan(capability_ratio(1, NAN)) && isnan(capability_ratio(1, 0)));
	for (size_t i = 0; i < 60; i++)
		values[i] = 1e300 * normal();
	struct capability c = of(values, 60, -6e300, 6e300);
	assert_true(isnan(c.sd) && isnan(c.overall.p) && isnan(c.overall.pk));
	assert_true(isnan(c.ppk_least) && isnan(c.ppk_most));
	assert_true(c.overall.verdict != CAPABILITY_QUOTABLE);
	struct interval none = capability_interval_pk(1e200, 1, 10);
	assert_true(isnan(none.low) && isnan(none.high));
	assert_true(isnan(capability_least_pk(1e200, 30)));
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(the_handbook_example_gives_its_indices),
	    cmocka_unit_test(the_intervals_equal_the_tables),
	    cmocka_unit_test(the_noncentral_t_equals_the_exact_intervals),
	    cmocka_unit_test(the_needed_index_equals_the_table),
	    cmocka_unit_test(the_bound_holds_for_a_deviation_of_its_own),
	    cmocka_unit_test(the_flow_rate_example_gives_its_moving_range),
	    cmocka_unit_test(no_moving_range_crosses_a_gap),
	    cmocka_unit_test(one_limit_gives_no_cp),
	    cmocka_unit_test(nothing_is_invented_for_too_few_values),
	    cmocka_unit_test(identical_values_have_no_index),
	    cmocka_unit_test(a_huge_offset_does_not_spoil_the_spread),
	    cmocka_unit_test(a_coarse_resolution_is_refused),
	    cmocka_unit_test(missing_values_beyond_a_tenth_are_refused),
	    cmocka_unit_test(lag1_is_the_plain_one_and_r1_that_of_the_pairs_there_are),
	    cmocka_unit_test(memory_withholds_cpk_and_widens_ppk),
	    cmocka_unit_test(too_much_memory_leaves_the_value_without_an_interval),
	    cmocka_unit_test(few_neighbours_withhold_cpk_alone),
	    cmocka_unit_test(values_at_the_end_of_the_doubles_do_not_crash),
	    cmocka_unit_test(a_deviation_that_overflows_has_no_index),
	};
	return cmocka_run_group_tests(tests, seed_random, NULL);
}
