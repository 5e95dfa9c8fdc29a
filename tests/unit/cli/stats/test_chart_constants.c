/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>

#include <gsl/gsl_cdf.h>
#include <gsl/gsl_integration.h>
#include <gsl/gsl_randist.h>
#include <math.h>

#include "cli/stats/chart_constants.h"
#include "tests/reference/chart_constants.h"
#include "tests/unit/cli/stats/numerics_started.h"
#include "tests/unit/near.h"
#include "tests/unit/published.h"

#define LENGTH(array) (sizeof(array) / sizeof((array)[0]))

static void
the_table_is_met(void **state)
{
	struct published_table table = published_begin(
	    SOURCE_RANGES, "constants of control charts, subgroups of 2 to 25");

	(void)state;
	assert_int_equal(LENGTH(chart_constants_table), 24);
	for (size_t i = 0; i < LENGTH(chart_constants_table); i++) {
		const struct chart_constants_row *row = &chart_constants_table[i];
		struct chart_constants got = chart_constants(row->n);
		assert_int_equal(row->n, i + CHART_SUBGROUP_LEAST);
		published_add(&table, got.d2, row->d2, 1e-8);
		published_add(&table, got.d3, row->d3, 1e-8);
		published_add(&table, got.c4, row->c4, 1e-8);
		published_add(&table, got.A2, row->A2, 1e-8);
		published_add(&table, got.A3, row->A3, 1e-8);
		published_add(&table, got.B3, row->B3, 1e-8);
		published_add(&table, got.B4, row->B4, 1e-8);
		published_add(&table, got.D3, row->D3, 1e-8);
		published_add(&table, got.D4, row->D4, 1e-8);
		published_add(&table, got.E2, row->E2, 1e-8);
	}
	published_end(&table);
}

static void
those_with_a_closed_form_are_met(void **state)
{
	(void)state;
	assert_near(chart_constants(2).d2, 2 / sqrt(M_PI), 2e-16);
	assert_near(chart_constants(2).d3, sqrt(2 - 4 / M_PI), 2e-16);
	assert_near(chart_constants(3).d2, 3 / sqrt(M_PI), 3e-16);
	assert_near(chart_constants(2).c4, sqrt(2 / M_PI), 2e-15);
	assert_near(chart_constants(3).c4, sqrt(M_PI) / 2, 2e-15);
	assert_near(chart_constants(4).c4, sqrt(8 / (3 * M_PI)), 2e-15);
}

/* P(range > r) of n normal values, and the moments of the range from it. */
struct range {
	size_t n;
	double r;
	int moment; /* 0: mean, 1: half the mean square */
	const gsl_integration_fixed_workspace *lowest;
};

static double
lowest_density(double x, void *context)
{
	const struct range *range = context;
	double others = gsl_cdf_ugaussian_P(x + range->r) - gsl_cdf_ugaussian_P(x);

	return (double)range->n * gsl_ran_ugaussian_pdf(x) *
	       pow(others, (double)range->n - 1);
}

static double
exceeds(double r, void *context)
{
	struct range *range = context;
	double at_most;

	range->r = r;
	gsl_integration_fixed(
	    &(gsl_function){lowest_density, range}, &at_most, range->lowest);
	return (range->moment ? r : 1) * (1 - at_most);
}

static void
another_quadrature_gives_the_same_ranges(void **state)
{
	gsl_integration_fixed_workspace *lowest = gsl_integration_fixed_alloc(
	    gsl_integration_fixed_legendre, 200, -12, 12, 0, 0);
	gsl_integration_fixed_workspace *over = gsl_integration_fixed_alloc(
	    gsl_integration_fixed_legendre, 120, 0, 20, 0, 0);

	(void)state;
	for (size_t n = CHART_SUBGROUP_LEAST; n <= CHART_SUBGROUP_MOST; n++) {
		struct range range = {.n = n, .lowest = lowest};
		double mean, half_square;

		gsl_integration_fixed(&(gsl_function){exceeds, &range}, &mean, over);
		range.moment = 1;
		gsl_integration_fixed(
		    &(gsl_function){exceeds, &range}, &half_square, over);
		assert_near(chart_constants(n).d2, mean, 1e-11);
		assert_near(
		    chart_constants(n).d3, sqrt(2 * half_square - mean * mean), 1e-10);
	}
	gsl_integration_fixed_free(lowest);
	gsl_integration_fixed_free(over);
}

static void
c4_keeps_its_digits_for_any_n(void **state)
{
	/* c4(81), with which a pooled deviation of 20 subgroups of 5 is divided: from
	 * 0.0696168083 / 0.0698346954, computed with R 4.2. */
	(void)state;
	published(SOURCE_R, "c4 of a pooled deviation of 80 degrees of freedom",
	    chart_c4(81), 0.0696168083 / 0.0698346954, 2e-9);
	/* The asymptotic series of the gamma quotient:
	 * c4 = 1 - 1/(4m) + 1/(32 m^2) + 5/(128 m^3) - ..., m = n - 1. */
	for (size_t df = 1000; df < 10000000000000; df *= 10) {
		double m = (double)df;
		assert_near(chart_c4(df + 1),
		    1 - 1 / (4 * m) + 1 / (32 * m * m) + 5 / (128 * m * m * m), 2e-14);
	}
	for (size_t n = 2; n < 1000; n++)
		assert_true(chart_c4(n) < chart_c4(n + 1));
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(the_table_is_met),
	    cmocka_unit_test(those_with_a_closed_form_are_met),
	    cmocka_unit_test(another_quadrature_gives_the_same_ranges),
	    cmocka_unit_test(c4_keeps_its_digits_for_any_n),
	};

	return cmocka_run_group_tests(tests, numerics_started, NULL);
}
