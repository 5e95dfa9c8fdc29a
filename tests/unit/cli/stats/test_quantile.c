/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>

#include "cli/stats/quantile.h"
#include "tests/reference/quantiles.h"
#include "tests/unit/cli/stats/numerics_started.h"
#include "tests/unit/published.h"

#define LENGTH(array) (sizeof(array) / sizeof((array)[0]))

static void
chi_square_equals_the_table(void **state)
{
	struct published_table few = published_begin(
	    SOURCE_MPMATH, "quantiles of chi-square, 1 to 999 degrees of freedom");
	struct published_table many = published_begin(
	    SOURCE_SCIPY, "quantiles of chi-square, up to 1e7 degrees of freedom");

	(void)state;
	for (size_t i = 0; i < LENGTH(reference_chi_square); i++) {
		const struct reference_chi_square *row = &reference_chi_square[i];
		double got = quantile_chi_square(row->p, row->df);
		double tolerance = row->df < 20000 ? 1e-11 : 1e-7;
		published_add(row->df < 1000 ? &few : &many, got, row->quantile,
		    tolerance * row->quantile);
	}
	published_end(&few);
	published_end(&many);
}

static void
the_ratio_of_variances_equals_the_table(void **state)
{
	struct published_table table =
	    published_begin(SOURCE_SCIPY, "quantiles of a ratio of two variances (F)");

	(void)state;
	for (size_t i = 0; i < LENGTH(reference_f); i++) {
		const struct reference_f *row = &reference_f[i];
		double got = quantile_f(row->p, row->above_df, row->below_df);
		published_add(&table, got, row->quantile, 1e-7 * row->quantile);
	}
	published_end(&table);
}

static void
beta_equals_the_table(void **state)
{
	struct published_table table =
	    published_begin(SOURCE_SCIPY, "quantiles of the beta distribution");

	(void)state;
	for (size_t i = 0; i < LENGTH(reference_beta); i++) {
		const struct reference_beta *row = &reference_beta[i];
		published_add(&table, quantile_beta(row->p, row->a, row->b),
		    row->quantile, 1e-7 * row->quantile);
	}
	published_end(&table);
}

static void
no_degrees_of_freedom_give_no_quantile(void **state)
{
	(void)state;
	assert_true(isnan(quantile_chi_square(0.5, 0)));
	assert_true(isnan(quantile_chi_square(0.5, NAN)));
	assert_true(isnan(quantile_f(0.5, 0, 3)));
	assert_true(isnan(quantile_f(0.5, 3, NAN)));
	assert_true(isnan(quantile_beta(0.5, 0, 3)));
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(chi_square_equals_the_table),
	    cmocka_unit_test(the_ratio_of_variances_equals_the_table),
	    cmocka_unit_test(beta_equals_the_table),
	    cmocka_unit_test(no_degrees_of_freedom_give_no_quantile),
	};

	return cmocka_run_group_tests(tests, numerics_started, NULL);
}
