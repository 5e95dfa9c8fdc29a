/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "cli/stats/goodness.h"
#include "cli/stats/likelihood.h"
#include "tests/unit/cli/stats/goodness_simulated.h"
#include "tests/unit/cli/stats/numerics_started.h"
#include "tests/unit/published.h"
#include "tests/unit/seed.h"

#define LENGTH(array) (sizeof(array) / sizeof((array)[0]))

enum { MOST = 400 };

static gsl_rng *rng;

/* Of series of one family, the share in which another is refused at 0.05. */
static double
share_refused(enum family family, const double *parameters, enum family tested,
    size_t n, size_t series)
{
	double sorted[MOST];
	size_t refused = 0;

	for (size_t k = 0; k < series; k++) {
		struct likelihood_sample sample;
		double fitted[FAMILY_PARAMETERS], unused;
		simulated_values(rng, family, parameters, sorted, n);
		assert_true(likelihood_gather(&sample, sorted, n));
		assert_true(likelihood_maximum(&sample, tested, fitted, &unused));
		likelihood_release(&sample);
		double a2 = goodness_a2(tested, fitted, sorted, n);
		refused += goodness_p(tested, fitted, a2, n) < 0.05;
	}
	return (double)refused / (double)series;
}

static const struct {
	enum family family;
	double parameters[FAMILY_PARAMETERS];
} members[] = {
    {FAMILY_NORMAL, {170, 3}},
    {FAMILY_HALF_NORMAL, {2, 0}},
    {FAMILY_FOLDED_NORMAL, {0, 2}},
    {FAMILY_FOLDED_NORMAL, {1, 1}},
    {FAMILY_FOLDED_NORMAL, {5, 2}},
    {FAMILY_LOGNORMAL, {0, 0.8}},
    {FAMILY_WEIBULL, {1.5, 3}},
    {FAMILY_GAMMA, {0.7, 1}},
    {FAMILY_GAMMA, {3, 1}},
    {FAMILY_GAMMA, {40, 0.1}},
};

/* Standard error of a share of 0.05 of 1500: 0.0056. */
static void
about_one_in_twenty_true_fits_is_refused(void **state)
{
	static const size_t sizes[] = {30, 160, 400};

	(void)state;
	for (size_t i = 0; i < LENGTH(members); i++)
		for (size_t j = 0; j < LENGTH(sizes); j++) {
			const double *parameters = members[i].parameters;
			double share = share_refused(members[i].family, parameters,
			    members[i].family, sizes[j], 1500);
			printf("%-13s %g %g, n %zu: %.4f refused\n",
			    family_table[members[i].family].name, parameters[0],
			    parameters[1], sizes[j], share);
			if (!(share > 0.025 && share < 0.085))
				fail_msg("refused: %g", share);
		}
}

static void
a_wrong_family_is_mostly_refused_at_160_values(void **state)
{
	static const struct {
		enum family family;
		double parameters[FAMILY_PARAMETERS];
		enum family tested;
		double least;
	} pairs[] = {
	    {FAMILY_LOGNORMAL, {0, 0.8}, FAMILY_HALF_NORMAL, 0.9},
	    {FAMILY_LOGNORMAL, {0, 0.8}, FAMILY_FOLDED_NORMAL, 0.9},
	    {FAMILY_LOGNORMAL, {0, 0.8}, FAMILY_WEIBULL, 0.8},
	    {FAMILY_LOGNORMAL, {0, 0.8}, FAMILY_GAMMA, 0.6},
	    {FAMILY_LOGNORMAL, {0, 0.8}, FAMILY_NORMAL, 0.9},
	    {FAMILY_HALF_NORMAL, {1, 0}, FAMILY_LOGNORMAL, 0.9},
	    {FAMILY_HALF_NORMAL, {1, 0}, FAMILY_NORMAL, 0.9},
	    {FAMILY_WEIBULL, {3, 1}, FAMILY_HALF_NORMAL, 0.9},
	    {FAMILY_WEIBULL, {1.5, 3}, FAMILY_LOGNORMAL, 0.8},
	    {FAMILY_GAMMA, {0.7, 1}, FAMILY_HALF_NORMAL, 0.9},
	    {FAMILY_GAMMA, {1, 1}, FAMILY_FOLDED_NORMAL, 0.8},
	};

	(void)state;
	for (size_t i = 0; i < LENGTH(pairs); i++) {
		double share = share_refused(
		    pairs[i].family, pairs[i].parameters, pairs[i].tested, 160, 400);
		printf("%-11s %g %g as %s: %.3f refused\n",
		    family_table[pairs[i].family].name, pairs[i].parameters[0],
		    pairs[i].parameters[1], family_table[pairs[i].tested].name, share);
		if (!(share >= pairs[i].least))
			fail_msg("refused: %g", share);
	}
}

/* Critical values of A* of 25, 10, 5, 2.5, 1 %: table 4.17 of Stephens (from memory), which the
 * formula meets to 2 % of p. */
static void
the_extreme_value_table_has_its_p(void **state)
{
	static const double table[][2] = {
	    {0.474, 0.25}, {0.637, 0.1}, {0.757, 0.05}, {0.877, 0.025}, {1.038, 0.01}};
	const double any[] = {1, 1};
	struct published_table printed = published_begin(SOURCE_MEMORY_STEPHENS,
	    "p of the critical values of A*, extreme value (4.17)");

	(void)state;
	for (size_t i = 0; i < LENGTH(table); i++) {
		double a2 = table[i][0] / (1 + 0.2 / sqrt(1e4));
		double p = goodness_p(FAMILY_WEIBULL, any, a2, 10000);
		published_add(&printed, p, table[i][1], 0.02 * table[i][1]);
	}
	published_end(&printed);
}

/* 5 % and 1 % of a gamma whose shape is 1, 2, 4 or endless, many values: R. A. Lockhart and M. A.
 * Stephens, in table 4.21 of D'Agostino and Stephens (from memory): beside our simulation. */
static void
the_table_of_the_gamma_is_the_published_one(void **state)
{
	static const double table[][3] = {{1, 0.786, 1.092}, {2, 0.768, 1.062},
	    {4, 0.759, 1.048}, {1e4, 0.752, 1.035}};
	struct published_table printed = published_begin(
	    SOURCE_MEMORY_STEPHENS, "p of the critical values of A*, gamma (4.21)");

	(void)state;
	for (size_t i = 0; i < LENGTH(table); i++) {
		const double parameters[] = {table[i][0], 1};
		double p5 = goodness_p(FAMILY_GAMMA, parameters, table[i][1], 10000);
		double p1 = goodness_p(FAMILY_GAMMA, parameters, table[i][2], 10000);
		published_add(&printed, p5, 0.05, 0.004);
		published_add(&printed, p1, 0.01, 0.002);
	}
	published_end(&printed);
}

static void
p_falls_from_1_as_the_statistic_grows(void **state)
{
	static const size_t sizes[] = {8, 11, 32, 160, 100000};
	const double parameters[] = {0.7, 1};

	(void)state;
	for (int family = 0; family < FAMILY_COUNT; family++)
		for (size_t i = 0; i < LENGTH(sizes); i++) {
			double last = 1;
			for (double a2 = 1e-6; a2 < 50; a2 *= 1.01) {
				double p = goodness_p(
				    (enum family)family, parameters, a2, sizes[i]);
				/* 0.002: where the formulas for normality meet. */
				if (!(p >= 0 && p <= last + 0.002))
					fail_msg("%s, n %zu, A2 %g: %g after %g",
					    family_table[family].name, sizes[i], a2, p,
					    last);
				last = p;
			}
			assert_true(last < 1e-10);
		}
}

static void
too_few_values_have_no_p(void **state)
{
	const double parameters[] = {1, 1};

	(void)state;
	for (int family = 0; family < FAMILY_COUNT; family++)
		assert_true(isnan(goodness_p(
		    (enum family)family, parameters, 0.3, GOODNESS_LEAST - 1)));
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(about_one_in_twenty_true_fits_is_refused),
	    cmocka_unit_test(a_wrong_family_is_mostly_refused_at_160_values),
	    cmocka_unit_test(the_extreme_value_table_has_its_p),
	    cmocka_unit_test(the_table_of_the_gamma_is_the_published_one),
	    cmocka_unit_test(p_falls_from_1_as_the_statistic_grows),
	    cmocka_unit_test(too_few_values_have_no_p),
	};

	if (getenv("EVENSOAK_GOODNESS_TABLE")) {
		simulated_table_print();
		return 0;
	}
	rng = gsl_rng_alloc(gsl_rng_mt19937);
	if (!rng)
		return 1;
	gsl_rng_set(rng, seed_take(7));
	int failed = cmocka_run_group_tests(tests, numerics_started, NULL);
	gsl_rng_free(rng);
	return failed;
}
