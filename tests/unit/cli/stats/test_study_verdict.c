/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>

#include <gsl/gsl_cdf.h>
#include <math.h>
#include <stdio.h>

#include "tests/unit/cli/stats/normal.h"
#include "tests/unit/cli/stats/numerics_started.h"
#include "tests/unit/cli/stats/study_checked.h"
#include "tests/unit/near.h"
#include "tests/unit/seed.h"

#define LENGTH(array) (sizeof(array) / sizeof((array)[0]))

static uint64_t random_state;

static int
seed_random(void **state)
{
	(void)state;
	random_state = seed_take(20261206);
	return 0;
}

/* True Ppk 1.33, for which 1.33, and less than that, are shown by chance in 5 % each. */
static void
what_is_just_required_is_seldom_shown(void **state)
{
	enum { N = 100, SHIFTS = 1000 };
	double values[N];
	int capable = 0, not_capable = 0;

	(void)state;
	for (int k = 0; k < SHIFTS; k++) {
		normal_fill(&random_state, values, N);
		struct study *study = study_of(values, N, NAN, 3 * 1.33);
		study_check(study);
		capable += study->verdict == STUDY_CAPABLE;
		not_capable += study->verdict == STUDY_NOT_CAPABLE;
		study_free(study);
	}
	printf("true Ppk 1.33, one limit, n = %d: capable in %.3f, not capable in "
	       "%.3f\n",
	    N, (double)capable / SHIFTS, (double)not_capable / SHIFTS);
	assert_true(capable < 0.07 * SHIFTS);
	assert_true(not_capable < 0.08 * SHIFTS && not_capable > 0.02 * SHIFTS);
}

/* Independent values that cannot be negative, the limit at a percentile index of 1.33. */
static const struct skewed {
	const char *name;
	double x50, x99865; /* computed with mpmath 1.2.1 */
} skewed[] = {
    {"half-normal", 0.67448975019608, 3.2051331801848},
    {"folded normal 1, 1", 1.0505442929, 4.00004166045},
    {"Weibull 2", 0.8325546111577, 2.5705350973157},
    {"lognormal 0, 0.5", 1, 4.4816375148598},
};

static double
skewed_value(size_t kind)
{
	double z = normal_next(&random_state);

	switch (kind) {
	case 0:
		return fabs(z);
	case 1:
		return fabs(1 + z);
	case 2:
		return sqrt(-log(gsl_cdf_ugaussian_Q(z)));
	default:
		return exp(0.5 * z);
	}
}

static void
perfect_skewed_processes_are_stable_and_rightly_bounded(void **state)
{
	enum { N = 160, SHIFTS = 250 };
	double values[N];

	(void)state;
	for (size_t kind = 0; kind < LENGTH(skewed); kind++) {
		const struct skewed *s = &skewed[kind];
		double quotable = 0, covered = 0, unstable = 0, capable = 0,
		       short_of = 0;
		struct study_asked asked =
		    study_usual(values, N, NAN, s->x50 + 1.33 * (s->x99865 - s->x50));
		asked.zero_bounded = true;
		for (int k = 0; k < SHIFTS; k++) {
			for (size_t i = 0; i < N; i++)
				values[i] = skewed_value(kind);
			struct study *study = study_new(&asked);
			assert_non_null(study);
			study_check(study);
			quotable += study->ppk.quotable;
			covered += study->ppk.low <= 1.33 && 1.33 <= study->ppk.high;
			unstable += study->stability.verdict == STABILITY_UNSTABLE;
			capable += study->verdict == STUDY_CAPABLE;
			short_of += study->verdict == STUDY_NOT_CAPABLE;
			study_free(study);
		}
		printf(
		    "%s, true index 1.33, n = %d: quotable in %.3f, of these covered "
		    "in %.3f; unstable in %.3f, capable in %.3f, not capable in %.3f\n",
		    s->name, N, quotable / SHIFTS, covered / quotable,
		    unstable / SHIFTS, capable / SHIFTS, short_of / SHIFTS);
		/* with 500 shifts one standard error of 0.05 is 0.01 */
		assert_true(quotable > 0.93 * SHIFTS);
		assert_true(covered > 0.87 * quotable);
		assert_true(unstable < 0.11 * SHIFTS && capable < 0.13 * SHIFTS);
		assert_true(short_of < 0.11 * SHIFTS);
	}
}

static void
where_nothing_fits_only_what_was_seen_is_told(void **state)
{
	enum { N = 200 };
	double values[N];

	(void)state;
	/* two heaps */
	for (size_t i = 0; i < N; i++)
		values[i] = (i * 7 % 10 < 5 ? 1 : 9) + 0.1 * normal_next(&random_state);
	struct study_asked asked = study_usual(values, N, NAN, 20);
	asked.zero_bounded = true;
	struct study *study = study_new(&asked);
	assert_non_null(study);
	study_check(study);
	assert_int_equal(study->fits.used, -1);
	assert_true(isnan(study->ppk.value) && isnan(study->expected_above));
	assert_false(study->ppk.quotable);
	assert_true((study->ppk.reasons & STUDY_BIT(STUDY_NOTHING_FITS)) != 0);
	assert_int_equal(study->observed_above, 0);
	/* none of 200: 1 - 0.05^(1/200) */
	assert_near(study->observed_most, 1 - pow(0.05, 1.0 / N), 1e-9);
	assert_true(isnan(study_distribution(study).parameters[0]));
	study_free(study);
	/* half of them beyond are more than any index allows */
	asked.upper = 5;
	study = study_new(&asked);
	assert_non_null(study);
	study_check(study);
	assert_int_equal(study->verdict, STUDY_NOT_CAPABLE);
	assert_true((study->reasons & STUDY_BIT(STUDY_BEYOND)) != 0);
	study_free(study);
}

static void
values_far_from_normal_answer_by_the_percentile_method_too(void **state)
{
	enum { N = 300 };
	double values[N];

	(void)state;
	for (size_t i = 0; i < N; i++)
		values[i] = exp(0.5 * normal_next(&random_state));
	struct study *study = study_of(values, N, NAN, 8);
	study_check(study);
	assert_true((study->reasons & STUDY_BIT(STUDY_NOT_NORMAL)) != 0);
	/* the normal number stays, but does not decide */
	assert_int_equal(study->ppk.reasons, STUDY_BIT(STUDY_NOT_NORMAL));
	assert_false(study->ppk.quotable || study->cpk.quotable);
	assert_near(study->ppk.value, study->c.overall.pk, 0);
	struct fit fit = study_distribution(study);
	struct study_shown shown = study_shown(study);
	assert_true(shown.by_fit && shown.quotable);
	assert_near(shown.index, fit.index.ppu, 0);
	assert_near(shown.least, study->fit_bounds.least, 0);
	assert_near(shown.most, study->fit_bounds.most, 0);
	assert_int_not_equal(fit.family, FAMILY_NORMAL);
	assert_near(
	    study->expected_above, family_above(fit.family, fit.parameters, 8), 1e-15);
	assert_true(study->verdict != STUDY_CAPABLE || fit.index.ppu >= 1.33);
	study_free(study);
	/* both ways: 20 is enough for exp(z / 2), 3 is not */
	study = study_of(values, N, NAN, 20);
	study_check(study);
	assert_true(study->verdict != STUDY_NOT_CAPABLE);
	if (study->stability.verdict == STABILITY_STABLE)
		assert_int_equal(study->verdict, STUDY_CAPABLE);
	study_free(study);
	study = study_of(values, N, NAN, 3);
	study_check(study);
	assert_int_equal(study->verdict, STUDY_NOT_CAPABLE);
	study_free(study);
	/* with two limits too: the normal Ppl of 0.6 decides nothing */
	study = study_of(values, N, 1e-3, 20);
	study_check(study);
	assert_true(study->ppk.value < 1);
	fit = study_distribution(study);
	assert_near(study_shown(study).index, fmin(fit.index.ppl, fit.index.ppu), 0);
	assert_true(study_shown(study).index > study->ppk.value);
	study_free(study);
}

static double
odd_value(int kind)
{
	double z = normal_next(&random_state), u = normal_uniform(&random_state);
	double squares = 0;

	switch (kind) {
	case 0: /* Student's t with four degrees of freedom */
		for (int i = 0; i < 4; i++) {
			double other = normal_next(&random_state);
			squares += other * other;
		}
		return 20 + z / sqrt(squares / 4);
	case 1: /* Laplace */
		return 20 + (u < 0.5 ? log(2 * u) : -log(2 - 2 * u));
	default: /* two heaps */
		return 20 + (u < 0.5 ? -4 : 4) + z;
	}
}

static void
assert_nothing_answers(const struct study *study)
{
	enum onset_kind kind = study->onset.kind;

	assert_int_equal(study->verdict, STUDY_NOT_ESTABLISHED);
	assert_true((study->reasons & STUDY_BIT(STUDY_NOTHING_FITS)) != 0);
	assert_true(isnan(study->expected_below) && isnan(study->expected_above));
	assert_true(isnan(study_distribution(study).parameters[1]));
	assert_true(isnan(study_shown(study).index) && !study_shown(study).quotable);
	assert_true(isfinite(study->ppk.value));
	/* a change that lasts may be why; single values are not */
	assert_true(!study->ppk.quotable || kind == ONSET_STEP || kind == ONSET_DRIFT ||
		    kind == ONSET_SCATTER ||
		    study->c.memory == CAPABILITY_TOO_DEPENDENT);
}

/* Far limits, which a normal Ppk of 1.57 and more would call capable. */
static void
nothing_is_capable_by_a_distribution_that_is_refused(void **state)
{
	enum { N = 300, SHIFTS = 60 };
	static const char *const names[] = {"Student t4", "Laplace", "two heaps"};
	double values[N];

	(void)state;
	for (int kind = 0; kind < 3; kind++) {
		int refused = 0, capable = 0, fitted = 0;
		for (int k = 0; k < SHIFTS; k++) {
			for (size_t i = 0; i < N; i++)
				values[i] = odd_value(kind);
			struct study *study = study_of(values, N, -20, 60);
			study_check(study);
			bool not_normal =
			    (study->reasons & STUDY_BIT(STUDY_NOT_NORMAL)) != 0;
			refused += not_normal;
			if (not_normal && study->fits.used < 0)
				assert_nothing_answers(study);
			capable += not_normal && study->verdict == STUDY_CAPABLE;
			fitted += not_normal && study->fits.used >= 0;
			study_free(study);
		}
		printf("%s, n = %d: normality refused in %d of %d, something fits in "
		       "%d of these, capable %d\n",
		    names[kind], N, refused, SHIFTS, fitted, capable);
		assert_true(refused > SHIFTS / 2 && capable <= fitted);
	}
}

/* Nothing fits, but three of 200 beyond are more than 33 in a million by any distribution. */
static void
what_lies_beyond_shows_it_where_nothing_fits(void **state)
{
	enum { N = 200 };
	double values[N];

	(void)state;
	for (size_t i = 0; i < N; i++)
		values[i] =
		    (i * 7 % 10 < 5 ? -4 : 4) + 0.5 * normal_next(&random_state);
	values[30] = values[90] = values[150] = 11;
	struct study *study = study_of(values, N, -20, 10);
	study_check(study);
	assert_true((study->reasons & STUDY_BIT(STUDY_NOTHING_FITS)) != 0);
	assert_int_equal(study->verdict, STUDY_NOT_CAPABLE);
	assert_true((study->reasons & STUDY_BIT(STUDY_BEYOND)) != 0);
	study_free(study);
}

/* An index below the required one may be so by chance. */
static void
not_capable_takes_an_upper_bound_below_the_required(void **state)
{
	enum { N = 100 };
	double values[N];

	(void)state;
	for (size_t i = 0; i < N; i++)
		values[i] = gsl_cdf_ugaussian_Pinv(((double)(i * 37 % N) + 0.5) / N);
	struct study *study = study_of(values, N, NAN, 3 * 1.25);
	study_check(study);
	assert_true(study->ppk.value < 1.33 && study->ppk.upper_bound > 1.33);
	assert_int_equal(study->verdict, STUDY_NOT_ESTABLISHED);
	assert_true((study->reasons & STUDY_BIT(STUDY_INDEX_BELOW)) != 0);
	study_free(study);
	study = study_of(values, N, NAN, 3 * 1.05);
	study_check(study);
	assert_true(study->ppk.upper_bound < 1.33);
	assert_int_equal(study->verdict, STUDY_NOT_CAPABLE);
	study_free(study);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test_setup(what_is_just_required_is_seldom_shown, seed_random),
	    cmocka_unit_test_setup(
		perfect_skewed_processes_are_stable_and_rightly_bounded, seed_random),
	    cmocka_unit_test_setup(
		where_nothing_fits_only_what_was_seen_is_told, seed_random),
	    cmocka_unit_test_setup(
		values_far_from_normal_answer_by_the_percentile_method_too,
		seed_random),
	    cmocka_unit_test_setup(
		nothing_is_capable_by_a_distribution_that_is_refused, seed_random),
	    cmocka_unit_test_setup(
		what_lies_beyond_shows_it_where_nothing_fits, seed_random),
	    cmocka_unit_test(not_capable_takes_an_upper_bound_below_the_required),
	};

	return cmocka_run_group_tests(tests, numerics_started, NULL);
}
