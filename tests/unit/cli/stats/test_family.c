/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>

#include <float.h>
#include <math.h>

#include "cli/stats/family.h"
#include "tests/unit/cli/stats/numerics_started.h"
#include "tests/unit/published.h"

#define LENGTH(array) (sizeof(array) / sizeof((array)[0]))

/* Quantiles at 0.00135, 0.5 and 0.99865 computed with mpmath 1.2.1 at 30 digits. */
static const struct row {
	enum family family;
	double parameters[FAMILY_PARAMETERS];
	double x00135, x50, x99865;
	double digits; /* relative; the folded normal's were printed with fewer */
} rows[] = {
    {FAMILY_NORMAL, {10, 2}, 4.0000460145932, 10, 15.999953985407, 1e-12},
    {FAMILY_WEIBULL, {1, 1}, 0.0013509120709563, 0.69314718055995, 6.6076506865318,
	1e-12},
    {FAMILY_GAMMA, {1, 1}, 0.0013509120709563, 0.69314718055995, 6.6076506865318,
	1e-12},
    {FAMILY_WEIBULL, {1, 2}, 0.0027018241419125, 1.3862943611199, 13.215301373064,
	1e-12},
    {FAMILY_GAMMA, {1, 2}, 0.0027018241419125, 1.3862943611199, 13.215301373064, 1e-12},
    {FAMILY_HALF_NORMAL, {1, 0}, 0.0016919748926673, 0.67448975019608, 3.2051331801848,
	1e-12},
    {FAMILY_FOLDED_NORMAL, {0, 1}, 0.0016919748926673, 0.67448975019608,
	3.2051331801848, 1e-12},
    {FAMILY_HALF_NORMAL, {2.5, 0}, 0.0042299372316682, 1.6862243754902, 8.012832950462,
	1e-12},
    {FAMILY_FOLDED_NORMAL, {1, 1}, 0.00278959366404, 1.0505442929, 4.00004166045,
	1e-10},
    {FAMILY_FOLDED_NORMAL, {1, 2}, 0.00383451739685, 1.52447797632, 7.01397594835,
	1e-10},
    {FAMILY_LOGNORMAL, {0, 0.5}, 0.22313272697408, 1, 4.4816375148598, 1e-12},
    {FAMILY_LOGNORMAL, {1, 0.25}, 1.2840328021974, 2.718281828459, 5.7545695766383,
	1e-12},
    {FAMILY_WEIBULL, {2, 1}, 0.036754755759715, 0.8325546111577, 2.5705350973157,
	1e-12},
    {FAMILY_WEIBULL, {1.5, 3}, 0.036661140909252, 2.349659306324, 10.56377896092,
	1e-12},
    /* With R 4.2: the last ROWS_BY_R. */
    {FAMILY_GAMMA, {10, 1}, 3.08425110541277, 9.66871461471414, 22.1757842293697,
	1e-12},
    {FAMILY_GAMMA, {1000, 1}, 907.793383898178, 999.666686426965, 1097.53914120375,
	1e-12},
    {FAMILY_GAMMA, {9999, 1}, 9701.68221901319, 9998.66666864224, 10301.6509506796,
	1e-12},
};

static void
check(struct published_table *table, const struct row *row, double p, double wanted)
{
	published_add(table, family_quantile(row->family, row->parameters, p), wanted,
	    row->digits * fabs(wanted));
}

enum { ROWS_BY_R = 3 };

static void
the_quantiles_of_capability_are_exact(void **state)
{
	struct published_table table = published_begin(
	    SOURCE_MPMATH, "quantiles at 0.00135, 0.5, 0.99865 of six families");
	struct published_table of_r = published_begin(
	    SOURCE_R, "quantiles at 0.00135, 0.5, 0.99865 of the gamma");

	(void)state;
	for (size_t i = 0; i < LENGTH(rows); i++) {
		struct published_table *into =
		    i < LENGTH(rows) - ROWS_BY_R ? &table : &of_r;

		check(into, &rows[i], 0.00135, rows[i].x00135);
		check(into, &rows[i], 0.5, rows[i].x50);
		check(into, &rows[i], 0.99865, rows[i].x99865);
	}
	published_end(&table);
	published_end(&of_r);
}

/* One of each kind, plain and odd. */
static const struct {
	enum family family;
	double parameters[FAMILY_PARAMETERS];
} members[] = {
    {FAMILY_NORMAL, {-3, 1e-3}},
    {FAMILY_NORMAL, {1e9, 1}},
    {FAMILY_HALF_NORMAL, {1e-5, 0}},
    {FAMILY_FOLDED_NORMAL, {0, 2}},
    {FAMILY_FOLDED_NORMAL, {0.01, 2}},
    {FAMILY_FOLDED_NORMAL, {5, 1}},
    {FAMILY_FOLDED_NORMAL, {100, 1}},
    {FAMILY_LOGNORMAL, {-20, 3}},
    {FAMILY_WEIBULL, {0.3, 10}},
    {FAMILY_WEIBULL, {50, 10}},
    {FAMILY_GAMMA, {0.02, 1}},
    {FAMILY_GAMMA, {0.3, 7}},
    {FAMILY_GAMMA, {3, 0.5}},
    {FAMILY_GAMMA, {1e4, 0.5}},
};

static void
quantile_cdf_and_tail_undo_each_other(void **state)
{
	static const double ps[] = {1e-6, 0.00135, 0.1, 0.3, 0.5, 0.7, 0.9, 0.99865};

	(void)state;
	for (size_t i = 0; i < LENGTH(members); i++)
		for (size_t j = 0; j < LENGTH(ps); j++) {
			enum family family = members[i].family;
			const double *parameters = members[i].parameters;
			double x = family_quantile(family, parameters, ps[j]);
			double below = family_cdf(family, parameters, x);
			double above = family_above(family, parameters, x);
			/* What one bit of x is worth, far from zero. */
			double bit = DBL_EPSILON * fabs(x) *
			             family_density(family, parameters, x);
			if (!(fabs(below - ps[j]) <= 1e-11 * ps[j] + 4 * bit) ||
			    !(fabs(above - (1 - ps[j])) <=
				1e-11 * (1 - ps[j]) + 4 * bit))
				fail_msg("%s %g %g at %g: x %.17g, %.17g and %.17g",
				    family_table[family].name, parameters[0],
				    parameters[1], ps[j], x, below, above);
		}
}

/* The area under the density over each tenth, by Simpson's rule. */
static void
the_density_is_the_slope_of_the_cdf(void **state)
{
	enum { PARTS = 200 };

	(void)state;
	for (size_t i = 0; i < LENGTH(members); i++)
		for (int tenth = 1; tenth < 9; tenth++) {
			enum family family = members[i].family;
			const double *parameters = members[i].parameters;
			double from = family_quantile(family, parameters, tenth / 10.0);
			double to =
			    family_quantile(family, parameters, (tenth + 1) / 10.0);
			double step = (to - from) / PARTS, sum = 0;
			if (from < 0.1 * to)
				continue; /* too steep for this rule */
			for (int k = 0; k <= PARTS; k++)
				sum +=
				    (k == 0 || k == PARTS ? 1
					: k % 2           ? 4
							  : 2) *
				    family_density(family, parameters, from + k * step);
			if (!(fabs(sum * step / 3 - 0.1) < 1e-6))
				fail_msg("%s %g %g, tenth %d: %.12g",
				    family_table[family].name, parameters[0],
				    parameters[1], tenth, sum * step / 3);
		}
}

static void
what_cannot_be_negative_never_is(void **state)
{
	(void)state;
	for (size_t i = 0; i < LENGTH(members); i++) {
		enum family family = members[i].family;
		const double *parameters = members[i].parameters;
		if (!family_table[family].positive)
			continue;
		assert_true(family_cdf(family, parameters, -1e-300) <= 0);
		assert_true(family_cdf(family, parameters, 0) <= 0);
		assert_true(family_above(family, parameters, -1) >= 1);
		assert_true(family_density(family, parameters, -1) <= 0);
	}
}

/* Shares beyond 3 C deviations (SciPy 1.10), and one-sided at 4 sigma of a half-normal. */
static void
shares_beyond_the_limits_keep_their_digits(void **state)
{
	static const double rows_ppm[][2] = {
	    {0.5, 66807.20127},
	    {2.0 / 3, 22750.13195},
	    {1, 1349.898032},
	    {1.2, 159.1085902},
	    {1.33, 33.03664763},
	    {4.0 / 3, 31.67124183},
	    {1.5, 3.397673125},
	    {1.67, 0.2721501773},
	    {5.0 / 3, 0.2866515719},
	    {2, 0.000986587645},
	};
	const double normal[] = {10, 2}, half[] = {1, 0}, exponential[] = {1, 1};
	struct published_table table =
	    published_begin(SOURCE_SCIPY, "shares of the normal beyond a limit, ppm");

	(void)state;
	for (size_t i = 0; i < LENGTH(rows_ppm); i++) {
		double reach = 6 * rows_ppm[i][0], ppm = rows_ppm[i][1];
		double above = 1e6 * family_above(FAMILY_NORMAL, normal, 10 + reach);
		double below = 1e6 * family_cdf(FAMILY_NORMAL, normal, 10 - reach);
		published_add(&table, above, ppm, 1e-9 * ppm);
		published_add(&table, below, ppm, 1e-9 * ppm);
	}
	published_end(&table);
	assert_true(
	    fabs(1e6 * family_above(FAMILY_HALF_NORMAL, half, 4) - 63.34248367) < 1e-7);
	assert_true(fabs(1e6 * family_above(FAMILY_WEIBULL, exponential, 8) -
			 335.4626279) < 1e-6);
	assert_true(fabs(1e6 * family_above(FAMILY_GAMMA, exponential, 8) -
			 335.4626279) < 1e-6);
}

/* No value of any size is a crash or more than a chance. */
static void
any_value_has_a_chance(void **state)
{
	static const double xs[] = {-DBL_MAX, -1, -DBL_TRUE_MIN, 0, DBL_TRUE_MIN,
	    1e-300, 1e-5, 1, 1e5, 1e30, 1e300, DBL_MAX};

	(void)state;
	for (size_t i = 0; i < LENGTH(members); i++)
		for (size_t j = 0; j < LENGTH(xs); j++) {
			enum family family = members[i].family;
			const double *parameters = members[i].parameters;
			double below = family_cdf(family, parameters, xs[j]);
			double above = family_above(family, parameters, xs[j]);
			if (!(below >= 0 && below <= 1 && above >= 0 && above <= 1 &&
				fabs(below + above - 1) < 1e-9))
				fail_msg("%s %g %g at %g: %g and %g",
				    family_table[family].name, parameters[0],
				    parameters[1], xs[j], below, above);
			assert_true(family_density(family, parameters, xs[j]) >= 0);
		}
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(the_quantiles_of_capability_are_exact),
	    cmocka_unit_test(quantile_cdf_and_tail_undo_each_other),
	    cmocka_unit_test(the_density_is_the_slope_of_the_cdf),
	    cmocka_unit_test(what_cannot_be_negative_never_is),
	    cmocka_unit_test(shares_beyond_the_limits_keep_their_digits),
	    cmocka_unit_test(any_value_has_a_chance),
	};
	return cmocka_run_group_tests(tests, numerics_started, NULL);
}
