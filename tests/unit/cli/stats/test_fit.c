/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>

#include <math.h>

#include "cli/stats/fit.h"
#include "tests/unit/near.h"

#define LENGTH(array) (sizeof(array) / sizeof((array)[0]))

/* Indices at the limits, computed with mpmath 1.2.1; NAN: no such limit. */
static const struct row {
	enum family family;
	double parameters[FAMILY_PARAMETERS];
	double lower, upper, pp, ppu, ppl;
} rows[] = {
    {FAMILY_NORMAL, {10, 2}, 2, 18, 1.33334355888, 1.33334355888, 1.33334355888},
    {FAMILY_WEIBULL, {1, 1}, NAN, 8, NAN, 1.23541271251, NAN},
    {FAMILY_GAMMA, {1, 2}, NAN, 12, NAN, 0.897260913631, NAN},
    {FAMILY_HALF_NORMAL, {1, 0}, NAN, 4, NAN, 1.31409672749, NAN},
    {FAMILY_HALF_NORMAL, {2.5, 0}, NAN, 9, NAN, 1.15603415919, NAN},
    {FAMILY_FOLDED_NORMAL, {1, 1}, NAN, 5, NAN, 1.339026693, NAN},
    {FAMILY_FOLDED_NORMAL, {1, 2}, NAN, 8, NAN, 1.179620078, NAN},
    {FAMILY_LOGNORMAL, {0, 0.5}, 0.1, 6, 1.38546280769, 1.43610584922, 1.15849905286},
    {FAMILY_LOGNORMAL, {1, 0.25}, 1, 7, 1.34212071228, 1.41018194804, 1.19803590381},
    {FAMILY_WEIBULL, {2, 1}, NAN, 3, NAN, 1.24710571039, NAN},
    {FAMILY_WEIBULL, {1.5, 3}, NAN, 12, NAN, 1.17484783513, NAN},
};

static void
check(double got, double wanted, size_t row)
{
	if (isnan(wanted) ? !isnan(got) : !(fabs(got - wanted) <= 1e-9 * wanted))
		fail_msg("row %zu: %.12g, wanted %.12g", row, got, wanted);
}

static void
indices_by_percentiles_are_exact(void **state)
{
	(void)state;
	for (size_t i = 0; i < LENGTH(rows); i++) {
		const double *parameters = rows[i].parameters;
		struct quantiles quantiles = {
		    family_quantile(rows[i].family, parameters, 0.00135),
		    family_quantile(rows[i].family, parameters, 0.5),
		    family_quantile(rows[i].family, parameters, 0.99865),
		};
		struct percentile_index index =
		    percentile_index_of(&quantiles, rows[i].lower, rows[i].upper);
		check(index.pp, rows[i].pp, i);
		check(index.ppu, rows[i].ppu, i);
		check(index.ppl, rows[i].ppl, i);
	}
}

/* The rule of three, exactly: of n without one seen, 1 - 0.05^(1/n). */
static void
nothing_seen_bounds_the_share_by_the_rule_of_three(void **state)
{
	static const size_t sizes[] = {1, 25, 160, 741, 10000, 1000000};

	(void)state;
	for (size_t i = 0; i < LENGTH(sizes); i++) {
		double n = (double)sizes[i], exact = -expm1(log(0.05) / n);
		assert_near(share_most(0, sizes[i]), exact, 1e-12);
	}
	assert_near(share_most(0, 1000), 3.0 / 1000, 1e-5);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(indices_by_percentiles_are_exact),
	    cmocka_unit_test(nothing_seen_bounds_the_share_by_the_rule_of_three),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
