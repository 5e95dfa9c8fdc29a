/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>

#include <gsl/gsl_rng.h>
#include <math.h>
#include <stdio.h>

#include "cli/stats/capability.h"
#include "cli/stats/fit.h"
#include "cli/stats/likelihood.h"
#include "tests/unit/cli/stats/goodness_simulated.h"
#include "tests/unit/cli/stats/numerics_started.h"
#include "tests/unit/near.h"
#include "tests/unit/seed.h"

#define LENGTH(array) (sizeof(array) / sizeof((array)[0]))

enum { SERIES = 1000, MOST = 160 };

static const struct member {
	enum family family;
	double parameters[FAMILY_PARAMETERS];
	double upper;
} members[] = {
    {FAMILY_NORMAL, {10, 1}, 14},
    {FAMILY_HALF_NORMAL, {1, 0}, 4},
    {FAMILY_FOLDED_NORMAL, {1, 1}, 5},
    {FAMILY_FOLDED_NORMAL, {2, 1}, 6},
    {FAMILY_LOGNORMAL, {0, 0.5}, 6},
    {FAMILY_WEIBULL, {1.5, 3}, 12},
    {FAMILY_WEIBULL, {2, 1}, 3},
    {FAMILY_GAMMA, {1, 1}, 8},
    {FAMILY_GAMMA, {20, 1}, 40},
};

static double
true_index(const struct member *member)
{
	struct quantiles quantiles = fit_quantiles(member->family, member->parameters);

	return percentile_index_of(&quantiles, NAN, member->upper).ppu;
}

static struct fit_bounds
drawn_bounds(gsl_rng *rng, const struct member *member, size_t n)
{
	double sorted[MOST];
	struct likelihood_sample sample;
	struct fit fit = {.family = member->family};

	simulated_values(rng, member->family, member->parameters, sorted, n);
	assert_true(likelihood_gather(&sample, sorted, n));
	assert_true(likelihood_maximum(
	    &sample, fit.family, fit.parameters, &fit.log_likelihood));
	likelihood_release(&sample);
	fit.quantiles = fit_quantiles(fit.family, fit.parameters);
	return fit_bounds_of(&fit, n, NAN, member->upper);
}

/* Standard error of a share of 0.95 of 1000: 0.007. */
static void
bounds_hold_the_true_index_as_often_as_they_say(void **state)
{
	static const size_t sizes[] = {50, 160};
	gsl_rng *rng = gsl_rng_alloc(gsl_rng_mt19937);

	(void)state;
	gsl_rng_set(rng, seed_take(5));
	for (size_t i = 0; i < LENGTH(members); i++)
		for (size_t j = 0; j < LENGTH(sizes); j++) {
			const struct member *member = &members[i];
			double index = true_index(member);
			int both = 0, one = 0, other = 0;
			for (int k = 0; k < SERIES; k++) {
				struct fit_bounds b =
				    drawn_bounds(rng, member, sizes[j]);
				both += b.low <= index && index <= b.high;
				one += b.least <= index;
				other += b.most >= index;
			}
			double in = (double)both / SERIES, above = (double)one / SERIES;
			double below = (double)other / SERIES;
			printf("%-13s %g %g, index %.3f, n %zu: %.3f between, %.3f "
			       "above the lower bound, %.3f below the upper\n",
			    family_table[member->family].name, member->parameters[0],
			    member->parameters[1], index, sizes[j], in, above, below);
			assert_true(in > 0.92 && in < 0.98);
			assert_true(above > 0.905 && above < 0.985);
			assert_true(below > 0.9 && below < 0.985);
		}
	gsl_rng_free(rng);
}

/* Bissell's divides by n - 1, and by 3 where percentiles have 2.99998. */
static void
of_a_normal_fit_they_are_bissells(void **state)
{
	static const size_t sizes[] = {30, 50, 160, 1000};

	(void)state;
	for (size_t i = 0; i < LENGTH(sizes); i++)
		for (double upper = 11; upper < 20; upper += 1) {
			struct fit fit = {FAMILY_NORMAL, .parameters = {10, 2}};
			fit.quantiles = fit_quantiles(fit.family, fit.parameters);
			double n = (double)sizes[i], pk = (upper - 10) / 6;
			struct fit_bounds got =
			    fit_bounds_of(&fit, sizes[i], NAN, upper);
			struct interval known =
			    capability_interval_pk(pk, 1 / n, n - 1);
			double width = known.high - known.low;
			assert_near(got.low, known.low, width / n);
			assert_near(got.high, known.high, width / n);
			struct fit_bounds mirrored =
			    fit_bounds_of(&fit, sizes[i], 20 - upper, NAN);
			assert_near(mirrored.low, got.low, 1e-12);
			struct fit_bounds both =
			    fit_bounds_of(&fit, sizes[i], -100, upper);
			assert_near(both.least, got.least, 0);
		}
}

/* Where a folded normal hardly folds, or not at all, both ways of reckoning agree. */
static void
a_folded_normal_far_from_zero_has_the_bounds_of_the_normal(void **state)
{
	static const double ratios[] = {5, 7.9, 8.1, 50, 1e10};

	(void)state;
	for (size_t i = 0; i < LENGTH(ratios); i++) {
		double mu = ratios[i];
		struct fit folded = {FAMILY_FOLDED_NORMAL, .parameters = {mu, 1}};
		struct fit normal = {FAMILY_NORMAL, .parameters = {mu, 1}};
		folded.quantiles = fit_quantiles(folded.family, folded.parameters);
		normal.quantiles = fit_quantiles(normal.family, normal.parameters);
		struct fit_bounds a = fit_bounds_of(&folded, 200, NAN, mu + 4);
		struct fit_bounds b = fit_bounds_of(&normal, 200, NAN, mu + 4);
		/* One is by likelihood, the other by error: they differ by O(1/n). */
		double width = b.high - b.low;
		assert_near(a.low, b.low, 0.03 * width);
		assert_near(a.high, b.high, 0.03 * width);
		assert_near(a.least, b.least, 0.03 * width);
	}
}

static void
they_narrow_with_the_root_of_n(void **state)
{
	(void)state;
	for (size_t i = 0; i < LENGTH(members); i++) {
		struct fit fit = {members[i].family,
		    .parameters = {members[i].parameters[0], members[i].parameters[1]}};
		fit.quantiles = fit_quantiles(fit.family, fit.parameters);
		struct fit_bounds few =
		    fit_bounds_of(&fit, 2500, NAN, members[i].upper);
		struct fit_bounds many =
		    fit_bounds_of(&fit, 1000000, NAN, members[i].upper);
		double ratio = (few.high - few.low) / (many.high - many.low);
		assert_near(ratio, 20, 0.4);
		assert_true(
		    many.low < many.least && many.least < true_index(&members[i]));
	}
}

static void
too_few_values_have_no_bounds(void **state)
{
	struct fit fit = {FAMILY_NORMAL, .parameters = {10, 2}};
	size_t least = FIT_BOUNDS_LEAST;

	(void)state;
	fit.quantiles = fit_quantiles(fit.family, fit.parameters);
	assert_true(isnan(fit_bounds_of(&fit, least - 1, NAN, 14).low));
	assert_true(fit_bounds_of(&fit, least, NAN, 14).low < 0.7);
}

/* Two that fit about as well; the index of the other is no number, so no bound holds for both. */
static void
bounds_of_all_fits_need_those_of_each(void **state)
{
	struct fits fits = {.count = 2, .used = 0};
	struct fit *one = &fits.list[0], *other = &fits.list[1];

	(void)state;
	*one = (struct fit){.family = FAMILY_WEIBULL, .parameters = {2, 1}, .p = 0.5};
	one->quantiles = fit_quantiles(one->family, one->parameters);
	*other = *one;
	other->family = FAMILY_GAMMA;
	other->parameters[0] = 3;
	other->parameters[1] = 0.3;
	other->quantiles = fit_quantiles(other->family, other->parameters);
	struct fit_bounds all = fits_bounds_of(&fits, 100, NAN, 3),
			  alone = fit_bounds_of(one, 100, NAN, 3);
	assert_true(all.least <= alone.least && alone.most <= all.most);
	assert_true(all.low < all.least && all.least < all.most);
	for (int which = 0; which < 2; which++) {
		struct fits bad = fits;
		bad.list[which].quantiles.x99865 = NAN;
		all = fits_bounds_of(&bad, 100, NAN, 3);
		assert_true(isnan(all.low) && isnan(all.high));
		assert_true(isnan(all.least) && isnan(all.most));
	}
	/* one that does not fit does not count */
	other->quantiles.x99865 = NAN;
	other->p = 0.001;
	all = fits_bounds_of(&fits, 100, NAN, 3);
	assert_near(all.least, alone.least, 0);
	fits.used = -1;
	assert_true(isnan(fits_bounds_of(&fits, 100, NAN, 3).least));
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(bounds_hold_the_true_index_as_often_as_they_say),
	    cmocka_unit_test(of_a_normal_fit_they_are_bissells),
	    cmocka_unit_test(
		a_folded_normal_far_from_zero_has_the_bounds_of_the_normal),
	    cmocka_unit_test(they_narrow_with_the_root_of_n),
	    cmocka_unit_test(too_few_values_have_no_bounds),
	    cmocka_unit_test(bounds_of_all_fits_need_those_of_each),
	};
	return cmocka_run_group_tests(tests, numerics_started, NULL);
}
