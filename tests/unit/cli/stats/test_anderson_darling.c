/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>

#include <gsl/gsl_randist.h>
#include <gsl/gsl_rng.h>
#include <gsl/gsl_sort.h>
#include <math.h>
#include <stdlib.h>

#include "cli/stats/anderson_darling.h"
#include "tests/unit/cli/stats/numerics_started.h"
#include "tests/unit/near.h"
#include "tests/unit/seed.h"

static struct log_tails
exponential(double x, void *context)
{
	(void)context;
	return (struct log_tails){log(-expm1(-x)), -x};
}

static struct log_tails
uniform(double x, void *context)
{
	(void)context;
	return (struct log_tails){log(x), log1p(-x)};
}

/* The formula as it is printed: two indices, one sum. */
static double
as_printed(
    const double *sorted, size_t n, struct log_tails (*log_tails)(double, void *))
{
	double sum = 0, size = (double)n;

	for (size_t i = 1; i <= n; i++)
		sum += (2 * (double)i - 1) * (log_tails(sorted[i - 1], NULL).below +
						 log_tails(sorted[n - i], NULL).above);
	return -size - sum / size;
}

static void
few_values_are_summed_as_the_formula_is_printed(void **state)
{
	const double one[] = {0.5}, four[] = {0.1, 0.3, 0.6, 0.95};
	const struct anderson_darling_target target = {uniform, NULL};

	(void)state;
	assert_near(anderson_darling(one, 1, &target), -1 + 2 * M_LN2, 1e-14);
	assert_near(
	    anderson_darling(four, 4, &target), as_printed(four, 4, uniform), 1e-14);
}

/* Beyond ANDERSON_DARLING_EXACT values; a true and a wrong distribution. */
static void
many_values_are_summed_nearly_so(void **state)
{
	enum { MOST = 300000 };
	static const size_t sizes[] = {20001, 33333, MOST};
	const struct anderson_darling_target target = {exponential, NULL};
	gsl_rng *rng = gsl_rng_alloc(gsl_rng_mt19937);
	double *sorted = malloc(MOST * sizeof *sorted);

	(void)state;
	assert_non_null(sorted);
	gsl_rng_set(rng, seed_take(3));
	for (size_t i = 0; i < sizeof sizes / sizeof *sizes; i++)
		for (int wrong = 0; wrong < 2; wrong++) {
			for (size_t k = 0; k < sizes[i]; k++)
				sorted[k] = gsl_ran_exponential(rng, wrong ? 1.05 : 1);
			gsl_sort(sorted, 1, sizes[i]);
			double exact = as_printed(sorted, sizes[i], exponential);
			double got = anderson_darling(sorted, sizes[i], &target);
			assert_near(got, exact, 1e-4 * (1 + exact));
		}
	free(sorted);
	gsl_rng_free(rng);
}

static void
a_tail_below_every_double_counts_as_the_smallest(void **state)
{
	const double beyond[] = {0, 0.5, 1}; /* 0 and 1 cannot be of (0, 1) */
	const struct anderson_darling_target target = {uniform, NULL};
	double a2 = anderson_darling(beyond, 3, &target);

	(void)state;
	assert_true(a2 > 400 && a2 < 1000);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(few_values_are_summed_as_the_formula_is_printed),
	    cmocka_unit_test(many_values_are_summed_nearly_so),
	    cmocka_unit_test(a_tail_below_every_double_counts_as_the_smallest),
	};
	return cmocka_run_group_tests(tests, numerics_started, NULL);
}
