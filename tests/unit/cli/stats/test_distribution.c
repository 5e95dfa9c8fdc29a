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

#include "cli/stats/distribution.h"
#include "tests/reference/normal_and_t.h"
#include "tests/unit/cli/stats/numerics_started.h"
#include "tests/unit/near.h"
#include "tests/unit/published.h"

#define LENGTH(array) (sizeof(array) / sizeof((array)[0]))

/* P(T <= t; df, delta) by quadrature of the defining integral at 30 digits
 * (mpmath 1.2.1). */
static const struct row {
	double t, df, delta, p;
} rows[] = {
    {1, 5, 0.5, 0.66653570268727},
    {2, 5, 1, 0.77807466261621},
    {3, 2, 2, 0.62938565971844},
    {3, 9, 2, 0.77327342128762},
    {5, 9, 4, 0.70879332476033},
    {-1, 10, 1, 0.02680185676948},
    {0, 7, 1.5, 0.066807201268858},
    {10, 29, 8, 0.87834794268193},
    {21.85, 29, 18, 0.88847683411564},
    {21.85, 29, 21.85, 0.46789587115533},
    {24, 29, 30, 0.03291731953629},
    {40, 99, 36, 0.90356381860774},
    {40, 99, 44, 0.087885719701002},
    {50.4, 159, 46, 0.92659199486262},
    {50.4, 159, 55, 0.060474208232414},
    {69.1, 299, 65, 0.91209613060075},
    {69.1, 299, 74, 0.049997874406839},
};

/* Indices of 0.7, 1.33 and 3 at 100,000 and 1,000,000 values: the integral over the numerator by
 * Simpson's rule, with the chi-square of R 4.2 (whose own noncentral t is wrong out there). */
static const struct row large[] = {
    {660.5, 99999, 664.1, 0.02176247638469},
    {664.1, 99999, 664.1, 0.4995451870943},
    {667.7, 99999, 664.1, 0.9774155235161},
    {1255.8, 99999, 1261.7, 0.02388142216331},
    {1261.7, 99999, 1261.7, 0.4994551002754},
    {1267.7, 99999, 1261.7, 0.9770308425736},
    {2833.2, 99999, 2846, 0.02297976157817},
    {2846, 99999, 2846, 0.4994160372224},
    {2858.9, 99999, 2846, 0.9769043565677},
    {2096.4, 999999, 2100, 0.02203879602114},
    {2100, 999999, 2100, 0.4998561784856},
    {2103.6, 999999, 2100, 0.9777012836024},
    {3984, 999999, 3990, 0.02236584994276},
    {3990, 999999, 3990, 0.4998276874271},
    {3996, 999999, 3990, 0.9773437696308},
    {8987.1, 999999, 9000, 0.02246663262681},
    {9000, 999999, 9000, 0.4998153355231},
    {9012.9, 999999, 9000, 0.9772316116903},
};

/* A numerator that turns within a small part of the denominator's density; computed with
 * SciPy 1.10: its adaptive quadrature of the same integral, in pieces about the turn. */
static const struct row steep[] = {
    {118.79393923934, 1, 83.155757467538, 0.483942792543837},
    {848.52813742385642, 1, 593.96969619669952, 0.483927608026095},
    {1341.640786499874, 4, 939.14855054991175, 0.743115550707770},
};

static void
check(enum source_id source, const char *what, const struct row *list, size_t count)
{
	struct published_table table = published_begin(source, what);

	for (size_t i = 0; i < count; i++)
		published_add(&table,
		    noncentral_t_cdf(list[i].t, list[i].df, list[i].delta), list[i].p,
		    1e-10);
	published_end(&table);
}

static void
the_noncentral_t_equals_the_integral(void **state)
{
	(void)state;
	check(SOURCE_MPMATH, "noncentral t, 2 to 299 degrees of freedom", rows,
	    LENGTH(rows));
	check(SOURCE_R,
	    "noncentral t at 100,000 and 1,000,000 values, by R's chi-square", large,
	    LENGTH(large));
	check(SOURCE_SCIPY, "noncentral t of a steep numerator", steep, LENGTH(steep));
}

static void
far_out_it_stays_a_probability(void **state)
{
	(void)state;
	assert_true(noncentral_t_cdf(1e6, 4999, 1e6) > 0.4);
	assert_true(noncentral_t_cdf(1e6, 4999, 1e6) < 0.6);
	assert_true(noncentral_t_cdf(-50, 30, 10) < 1e-12);
	assert_true(noncentral_t_cdf(1e3, 30, 0) > 1 - 1e-9);
}

/* Another way to the same: over the numerator, a normal, instead of over the denominator. */
struct other {
	double t, df, delta;
};

static double
other_integrand(double z, void *params)
{
	const struct other *o = params;
	double root = (z + o->delta) / o->t;

	if (root <= 0)
		return gsl_ran_ugaussian_pdf(z);
	return gsl_ran_ugaussian_pdf(z) * gsl_cdf_chisq_Q(o->df * root * root, o->df);
}

/* t > 0: P(Z + delta <= t S), S the root of chi-square / df. */
static double
other_cdf(double t, double df, double delta)
{
	struct other params = {t, df, delta};
	gsl_function function = {other_integrand, &params};
	/* Smooth: it turns from 1 to 0 within some deviations of the numerator. */
	gsl_integration_glfixed_table *table = gsl_integration_glfixed_table_alloc(512);
	double sum = gsl_integration_glfixed(&function, -10, 10, table);
	gsl_integration_glfixed_table_free(table);
	return sum;
}

/* 25 to 5000 values: beyond, GSL's chi-square loses its digits (1e-6 at 1,000,000). */
static void
large_noncentralities_agree_with_another_integral(void **state)
{
	static const double sizes[] = {25, 160, 1000, 5000};
	static const double indices[] = {0.7, 1.33, 3};

	(void)state;
	for (size_t i = 0; i < LENGTH(sizes); i++)
		for (size_t j = 0; j < LENGTH(indices); j++)
			for (int step = -2; step <= 2; step++) {
				double n = sizes[i], c = indices[j];
				double error = sqrt(1 / (9 * n) + c * c / (2 * n - 2));
				double t = 3 * sqrt(n) * (c + step * error);
				double delta = 3 * sqrt(n) * c;
				double p = noncentral_t_cdf(t, n - 1, delta);
				double q = other_cdf(t, n - 1, delta);
				if (!(fabs(p - q) < 1e-10))
					fail_msg("n %g, index %g, t %g: %.12g, %.12g",
					    n, c, t, p, q);
			}
}

/* All of the density of the denominator is there, at 1 ... 1e7 degrees of freedom. */
static void
the_chances_add_up_to_one(void **state)
{
	(void)state;
	for (double df = 1; df < 1e7; df *= 1.7)
		assert_near(noncentral_t_cdf(1e12, df, 0), 1, 1e-10);
}

/* ---- GSL's own, which the program takes as they are -------------------------------------- */

static void
normal_quantiles_of_gsl_equal_the_table(void **state)
{
	struct published_table table =
	    published_begin(SOURCE_MPMATH, "quantiles of the normal, 1e-300 to 0.5");

	(void)state;
	for (size_t i = 0; i < LENGTH(reference_normal_quantile); i++) {
		double p = reference_normal_quantile[i].p;
		double wanted = reference_normal_quantile[i].quantile;
		double near = 1e-12 * fabs(wanted);
		published_add(&table, gsl_cdf_ugaussian_Pinv(p), wanted, near);
		published_add(&table, gsl_cdf_ugaussian_Qinv(p), -wanted, near);
	}
	published_end(&table);
}

static void
normal_shares_of_gsl_equal_the_table(void **state)
{
	struct published_table table =
	    published_begin(SOURCE_MPMATH, "shares of the normal below -38 to 3");

	(void)state;
	for (size_t i = 0; i < LENGTH(reference_normal_cdf); i++) {
		double x = reference_normal_cdf[i].x,
		       wanted = reference_normal_cdf[i].p;
		/* Below 1e-307 it gives 0. */
		double near = 1e-12 * wanted + 1e-307;
		published_add(&table, gsl_cdf_ugaussian_P(x), wanted, near);
		published_add(&table, gsl_cdf_ugaussian_Q(-x), wanted, near);
	}
	published_end(&table);
}

static void
t_quantiles_of_gsl_equal_the_table(void **state)
{
	struct published_table table = published_begin(
	    SOURCE_MPMATH, "quantiles of Student's t, 1 to 299 degrees of freedom");

	(void)state;
	for (size_t i = 0; i < LENGTH(reference_t); i++) {
		double p = reference_t[i].p, df = reference_t[i].df;
		double wanted = reference_t[i].quantile;
		published_add(
		    &table, gsl_cdf_tdist_Pinv(p, df), wanted, 1e-10 * wanted);
		published_add(
		    &table, gsl_cdf_tdist_Pinv(1 - p, df), -wanted, 1e-10 * wanted);
	}
	published_end(&table);
}

/* R. A. Fisher's series: z + (z^3 + z) / (4 df) + ...; GSL's chi-square inversion fails there. */
static void
t_quantiles_of_gsl_hold_at_many_degrees_of_freedom(void **state)
{
	double z = gsl_cdf_ugaussian_Pinv(0.975), z3 = z * z * z;
	struct published_table table = published_begin(
	    SOURCE_FISHER, "0.975 quantile, 1000 to 2,000,000 degrees of freedom");

	(void)state;
	for (double df = 1000; df < 2e6; df *= 1.01) {
		double wanted = z + (z3 + z) / (4 * df) +
		                (5 * z3 * z * z + 16 * z3 + 3 * z) / (96 * df * df);
		published_add(
		    &table, gsl_cdf_tdist_Pinv(0.975, floor(df)), wanted, 1e-5);
	}
	published_end(&table);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(the_noncentral_t_equals_the_integral),
	    cmocka_unit_test(far_out_it_stays_a_probability),
	    cmocka_unit_test(large_noncentralities_agree_with_another_integral),
	    cmocka_unit_test(the_chances_add_up_to_one),
	    cmocka_unit_test(normal_quantiles_of_gsl_equal_the_table),
	    cmocka_unit_test(normal_shares_of_gsl_equal_the_table),
	    cmocka_unit_test(t_quantiles_of_gsl_equal_the_table),
	    cmocka_unit_test(t_quantiles_of_gsl_hold_at_many_degrees_of_freedom),
	};
	return cmocka_run_group_tests(tests, numerics_started, NULL);
}
