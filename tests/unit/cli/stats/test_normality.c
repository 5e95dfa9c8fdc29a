/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>

#include <gsl/gsl_randist.h>
#include <gsl/gsl_rng.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "cli/stats/normality.h"
#include "tests/reference/nist_strd.h"
#include "tests/reference/normality_data.h"
#include "tests/unit/cli/stats/numerics_started.h"
#include "tests/unit/published.h"
#include "tests/unit/seed.h"

#define LENGTH(array) (sizeof(array) / sizeof((array)[0]))

static int
compare(const void *a, const void *b)
{
	const double *x = a, *y = b;

	return (*x > *y) - (*x < *y);
}

static struct normality
of_sorted(const double *sorted, size_t n)
{
	double sum = 0, squares = 0;

	for (size_t i = 0; i < n; i++)
		sum += sorted[i] - sorted[0];
	double mean = sorted[0] + sum / (double)n;
	for (size_t i = 0; i < n; i++)
		squares += (sorted[i] - mean) * (sorted[i] - mean);
	return normality_of(sorted, n, mean, sqrt(squares / (double)(n - 1)));
}

static struct normality
of(const double *values, size_t n)
{
	double *sorted = malloc(n * sizeof *sorted);

	assert_non_null(sorted);
	memcpy(sorted, values, n * sizeof *sorted);
	qsort(sorted, n, sizeof *sorted, compare);
	struct normality normality = of_sorted(sorted, n);
	free(sorted);
	return normality;
}

/* Computed with SciPy 1.10 (the first seven), R 4.2 (the others). */
static const struct {
	const double *values;
	size_t n;
	double a2, adjusted, p; /* p NAN: only a bound is told */
} known[] = {
    {data_flow, LENGTH(data_flow), 0.3048580493, 0.3345817091, 0.5078618436},
    {data_ewma, LENGTH(data_ewma), 0.3505387376, 0.3656557207, 0.4354163866},
    {data_cusum, LENGTH(data_cusum), 1.2246390877, 1.2774516483, 0.002557005474},
    {nist_michelso, LENGTH(nist_michelso), 0.4607638557, 0.4643232564, 0.2549566333},
    {nist_mavro, LENGTH(nist_mavro), 1.6684654847, 1.6949940859, 0.0002412725516},
    {nist_lew, LENGTH(nist_lew), 6.0006469158, 6.0234868781, 8.324827704e-15},
    {nist_lottery, LENGTH(nist_lottery), 2.5737264715, 2.5827028868, 1.630078813e-06},
    {data_precip, LENGTH(data_precip), 0.9989437942, 1.010105462, 0.01163178013},
    {data_nile, LENGTH(data_nile), 1.031974074, 1.039946074, 0.009820959397},
    {data_women, LENGTH(data_women), 0.1758615609, 0.1864132546, 0.9052732541},
    {data_rivers, LENGTH(data_rivers), 12.66209506, 12.73087964, NAN},
};

enum { KNOWN_BY_SCIPY = 7 };

static void
check_known(enum source_id source, size_t from, size_t to)
{
	struct published_table statistics = published_begin(
	    source, "Anderson-Darling statistic of a data set, plain and adjusted");
	struct published_table chances =
	    published_begin(source, "p of that Anderson-Darling statistic");

	for (size_t i = from; i < to; i++) {
		struct normality got = of(known[i].values, known[i].n);
		published_add(&statistics, got.a2, known[i].a2, 1e-8);
		published_add(&statistics, got.a2_adjusted, known[i].adjusted, 1.5e-8);
		assert_int_equal(got.p_below, isnan(known[i].p));
		if (got.p_below)
			assert_true(got.p <= 1e-20);
		else
			published_add(&chances, got.p, known[i].p, 1e-6 * known[i].p);
	}
	published_end(&statistics);
	published_end(&chances);
}

static void
the_statistic_of_known_data_is_exact(void **state)
{
	(void)state;
	check_known(SOURCE_SCIPY, 0, KNOWN_BY_SCIPY);
	check_known(SOURCE_R, KNOWN_BY_SCIPY, LENGTH(known));
}

/* Critical values of 10, 5, 2.5, 1 and 0.5 %: table 4.7 (see normality.h). */
static void
published_critical_values_have_their_p(void **state)
{
	static const double table[][2] = {{0.631, 0.100131}, {0.752, 0.050340},
	    {0.873, 0.025322}, {1.035, 0.010100}, {1.159, 0.0050014}};

	static const double nominal[] = {0.1, 0.05, 0.025, 0.01, 0.005};
	struct published_table printed = published_begin(
	    SOURCE_MEMORY_STEPHENS, "p of the critical values of A*, normal (4.7)");

	(void)state;
	for (size_t i = 0; i < LENGTH(table); i++) {
		double p = normality_p(table[i][0]);
		/* three digits of A* are 1.3 % of p */
		published_add(&printed, p, nominal[i], 0.013 * nominal[i]);
		assert_true(fabs(p - table[i][1]) < 1e-4 * table[i][1]);
	}
	published_end(&printed);
}

static void
p_never_rises_with_the_statistic(void **state)
{
	double last = 1;

	(void)state;
	/* Where two of the formulas meet they differ by up to 0.001. */
	for (double a = 0.01; a < 40; a += 0.001) {
		double p = normality_p(a);
		if (!(p <= last + 2e-3 && p > 0 && p <= 1))
			fail_msg("A* %g: p %g after %g", a, p, last);
		last = p;
	}
	assert_true(normality_p(1e300) <= 1e-20);
}

static void
an_outlier_gives_no_infinity(void **state)
{
	double values[1000];

	(void)state;
	for (size_t i = 0; i < LENGTH(values); i++)
		values[i] = (double)i / 1000;
	values[999] = 1e9;
	struct normality far = normality_of(values, 1000, 0.5, 0.3);
	assert_true(isfinite(far.a2) && far.p_below && far.p <= 1e-20);
	values[999] = 12; /* z of 38 and more: the tail is below every double */
	struct normality some = normality_of(values, 1000, 0.5, 0.3);
	assert_true(isfinite(some.a2) && some.a2 < far.a2);
}

static void
too_few_or_equal_values_have_no_statistic(void **state)
{
	const double equal[] = {3, 3, 3, 3, 3, 3, 3, 3, 3},
		     few[] = {1, 2, 3, 4, 5, 6, 8};

	(void)state;
	assert_true(isnan(normality_of(equal, 9, 3, 0).p));
	assert_true(isnan(of_sorted(few, 7).a2));
	assert_true(isnan(normality_of(few, 0, NAN, NAN).p));
	assert_true(isnan(normality_of(few, 7, NAN, NAN).a2_adjusted));
	assert_false(normality_of(equal, 9, 3, 0).p_below);
}

/* NIST StRD NumAcc4 is made of three values about 1e7, 0.1 apart: beside the same about 0. */
static void
an_offset_changes_nothing(void **state)
{
	double near[200], far[200];

	(void)state;
	for (size_t i = 0; i < 200; i++) {
		near[i] = ldexp((double)(i * i), -12);
		far[i] = 1e9 + near[i];
	}
	assert_true(fabs(of_sorted(near, 200).a2 - of_sorted(far, 200).a2) < 1e-6);
}

static void
one_in_twenty_normal_series_is_refused(void **state)
{
	enum { SERIES = 4000 };
	static const size_t lengths[] = {8, 20, 50, 160};
	gsl_rng *rng = gsl_rng_alloc(gsl_rng_mt19937);

	(void)state;
	gsl_rng_set(rng, seed_take(7));
	for (size_t i = 0; i < LENGTH(lengths); i++) {
		double values[160];
		int refused = 0;
		for (int k = 0; k < SERIES; k++) {
			for (size_t j = 0; j < lengths[i]; j++)
				values[j] = gsl_ran_ugaussian(rng);
			refused += of(values, lengths[i]).p < 0.05;
		}
		double share = (double)refused / SERIES;
		printf("n %zu: %.4f refused at 0.05\n", lengths[i], share);
		/* 0.0485 to 0.0524 are known of 20,000 series; four standard errors more. */
		assert_true(share > 0.035 && share < 0.067);
	}
	gsl_rng_free(rng);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(the_statistic_of_known_data_is_exact),
	    cmocka_unit_test(published_critical_values_have_their_p),
	    cmocka_unit_test(p_never_rises_with_the_statistic),
	    cmocka_unit_test(an_outlier_gives_no_infinity),
	    cmocka_unit_test(too_few_or_equal_values_have_no_statistic),
	    cmocka_unit_test(an_offset_changes_nothing),
	    cmocka_unit_test(one_in_twenty_normal_series_is_refused),
	};
	return cmocka_run_group_tests(tests, numerics_started, NULL);
}
