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
#include "cli/stats/outliers.h"
#include "tests/unit/cli/stats/normal.h"
#include "tests/unit/cli/stats/numerics_started.h"
#include "tests/unit/near.h"
#include "tests/unit/published.h"
#include "tests/unit/seed.h"

#define LENGTH(array) (sizeof(array) / sizeof((array)[0]))

static uint64_t random_state;

static int
seed_random(void **state)
{
	(void)state;
	random_state = seed_take(20261205);
	return 0;
}

/* `values` are put in order. */
static struct outliers
found(double *values, size_t n)
{
	const struct series series = {.values = values, .count = n};
	double *sorted = malloc((n + 1) * sizeof(*sorted));

	assert_non_null(sorted);
	describe_sort(&series, sorted);
	struct description d = describe(&series, sorted, n);
	struct outliers outliers = outliers_of(sorted, n, d.mean, d.sd);
	free(sorted);
	return outliers;
}

/* NIST/SEMATECH e-Handbook 1.3.5.17.3, the data of Rosner's paper (from memory): deviates 3.118,
 * 2.942 and 3.179 against 3.158, 3.151 and 3.143, so three outliers although the first two do
 * not show. */
static double rosner[] = {-0.25, 0.68, 0.94, 1.15, 1.20, 1.26, 1.26, 1.34, 1.38, 1.43,
    1.49, 1.49, 1.55, 1.56, 1.58, 1.65, 1.69, 1.70, 1.76, 1.77, 1.81, 1.91, 1.94, 1.96,
    1.99, 2.06, 2.09, 2.10, 2.14, 2.15, 2.23, 2.24, 2.26, 2.35, 2.37, 2.40, 2.47, 2.54,
    2.62, 2.64, 2.90, 2.92, 2.92, 2.93, 3.21, 3.26, 3.30, 3.59, 3.68, 4.30, 4.64, 5.34,
    5.42, 6.01};

static void
the_handbook_example_has_three(void **state)
{
	struct outliers outliers = found(rosner, LENGTH(rosner));

	(void)state;
	published(SOURCE_MEMORY_ROSNER, "outliers of 54 values, above",
	    (double)outliers.high, 3, 0);
	published(SOURCE_MEMORY_ROSNER, "outliers of 54 values, below",
	    (double)outliers.low, 0, 0);
	/* mean and deviation of the other 51 */
	double sum = 0, squares = 0;
	for (size_t i = 0; i < 51; i++)
		sum += rosner[i];
	for (size_t i = 0; i < 51; i++)
		squares += pow(rosner[i] - sum / 51, 2);
	assert_near(outliers.mean, sum / 51, 1e-13);
	assert_near(outliers.sd, sqrt(squares / 50), 1e-13);
}

static void
one_perfect_series_in_twenty_has_some(void **state)
{
	enum { RUNS = 5000 };
	static const size_t counts[] = {25, 160};
	double values[160];

	(void)state;
	for (size_t c = 0; c < LENGTH(counts); c++) {
		int some = 0;
		for (int run = 0; run < RUNS; run++) {
			for (size_t i = 0; i < counts[c]; i++)
				values[i] = normal_next(&random_state);
			struct outliers outliers = found(values, counts[c]);
			some += outliers.low + outliers.high > 0;
		}
		printf("n = %zu: %.3f of perfect series have an outlier\n", counts[c],
		    (double)some / RUNS);
		/* one standard error is 0.003 */
		assert_near((double)some / RUNS, 0.05, 0.015);
	}
}

static void
a_value_far_out_is_exact_on_a_large_offset(void **state)
{
	enum { N = 20000 };
	static double values[N];

	(void)state;
	for (size_t i = 0; i < N; i++)
		values[i] = 1e9 + round(normal_next(&random_state) * 64) / 64;
	values[77] = -1e12;
	struct outliers outliers = found(values, N);
	assert_int_equal(outliers.low, 1);
	assert_near(outliers.mean, 1e9, 0.05);
	assert_near(outliers.sd, 1, 0.05);
}

static void
a_fit_has_its_own_tail(void **state)
{
	enum { N = 200 };
	double values[N];

	(void)state;
	/* quantiles of a half-normal: none lies out */
	const struct fit fit = {.family = FAMILY_HALF_NORMAL, .parameters = {1}};
	for (size_t i = 0; i < N; i++)
		values[i] =
		    family_quantile(fit.family, fit.parameters, ((double)i + 0.5) / N);
	struct outliers outliers = outliers_of_fit(values, N, &fit, NAN);
	assert_int_equal(outliers.low + outliers.high, 0);
	values[N - 1] = 6;
	outliers = outliers_of_fit(values, N, &fit, NAN);
	assert_int_equal(outliers.high, 1);
	assert_true(outliers.mean < 0.8);
	/* what was rounded to zero lies where the density is largest */
	for (size_t i = 0; i < N; i++)
		values[i] = round(values[i] * 5) / 5;
	outliers = outliers_of_fit(values, N, &fit, 0.2);
	assert_int_equal(outliers.low, 0);
	assert_int_equal(outliers.high, 1);
}

static void
few_or_equal_values_have_none(void **state)
{
	double values[30];

	(void)state;
	for (size_t i = 0; i < 30; i++)
		values[i] = 3;
	struct outliers outliers = found(values, 30);
	assert_int_equal(outliers.low + outliers.high, 0);
	values[29] = 1e6;
	outliers = found(values, 20);
	assert_int_equal(outliers.low + outliers.high, 0);
	outliers = found(values, 30);
	assert_int_equal(outliers.high, 1);
	assert_near(outliers.sd, 0, 0);
	outliers = found(values, 0);
	assert_int_equal(outliers.low + outliers.high, 0);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(the_handbook_example_has_three),
	    cmocka_unit_test_setup(one_perfect_series_in_twenty_has_some, seed_random),
	    cmocka_unit_test_setup(
		a_value_far_out_is_exact_on_a_large_offset, seed_random),
	    cmocka_unit_test(a_fit_has_its_own_tail),
	    cmocka_unit_test(few_or_equal_values_have_none),
	};

	return cmocka_run_group_tests(tests, numerics_started, NULL);
}
