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
	random_state = seed_take(20261207);
	return 0;
}

/* Half-normal: a spread that cannot fall below zero. */
static void
fill_spread(double *values, size_t n)
{
	for (size_t i = 0; i < n; i++)
		values[i] = fabs(normal_next(&random_state));
}

static void
subgroups_have_their_own_sigma_and_charts(void **state)
{
	enum { N = 200 };
	double values[N];

	(void)state;
	normal_fill(&random_state, values, N);
	struct study_asked asked = study_usual(values, N, -6, 6);
	struct ewma_setting ewma = {0.2, 3};
	asked.method = STUDY_MEAN_RANGE;
	asked.subgroup = 5;
	asked.ewma = &ewma;
	struct study *study = study_new(&asked);
	assert_non_null(study);
	study_check(study);
	assert_int_equal(study->subgroups.count, 40);
	assert_near(study->sigma_within, study->subgroups.sigma_range, 0);
	assert_near(study->cp, 12 / (6 * study->sigma_within), 1e-12);
	assert_near(study->sigma, study->sigma_within / sqrt(5), 1e-15);
	assert_near(study->centre, study->subgroups.grand_mean, 0);
	assert_int_equal(study->stability.limits.r, stability_limits(40).r);
	/* d3 / d2 of 5 gives a mean range about 36 degrees of freedom a ten subgroups */
	assert_near(study->within_df, 40 * 3.6226, 0.1);
	study_free(study);

	asked.method = STUDY_MEAN_SD;
	asked.centre = 0.5;
	asked.sigma = 2;
	study = study_new(&asked);
	assert_non_null(study);
	assert_near(study->sigma_within, study->subgroups.sigma_pooled, 0);
	assert_near(study->within_df, 160, 0);
	assert_near(study->centre, 0.5, 0);
	assert_near(study->sigma, 2 / sqrt(5), 1e-15);
	study_free(study);

	/* ten subgroups are too few to call the process stable */
	asked.series.count = 50;
	study = study_new(&asked);
	assert_non_null(study);
	study_check(study);
	assert_true(study->ppk.quotable);
	assert_true((study->cpk.reasons & STUDY_BIT(STUDY_FEW_SUBGROUPS)) != 0);
	assert_true(study->verdict != STUDY_CAPABLE);
	study_free(study);
}

static void
a_step_of_a_skewed_quantity_is_told_in_its_unit(void **state)
{
	enum { N = 160 };
	double values[N], before = 0, after = 0;

	(void)state;
	fill_spread(values, N);
	for (size_t i = 0; i < N; i++) {
		values[i] *= i >= 90 ? 4 : 1;
		*(i >= 90 ? &after : &before) += values[i];
	}
	struct study_asked asked = study_usual(values, N, NAN, 40);
	asked.zero_bounded = true;
	struct study *study = study_new(&asked);
	assert_non_null(study);
	study_check(study);
	assert_int_equal(study->stability.verdict, STABILITY_UNSTABLE);
	assert_int_equal(study->onset.kind, ONSET_STEP);
	assert_true(study->onset.least <= 91 && 91 <= study->onset.most);
	if (study->onset.slot == 91) {
		assert_near(study->onset.before, before / 90, 1e-12);
		assert_near(study->onset.after, after / 70, 1e-12);
	}
	assert_true(study->onset.before < 1.2 && study->onset.after > 2);
	/* rounded to zero is no point beyond */
	for (size_t i = 0; i < N; i++)
		values[i] = round(fabs(normal_next(&random_state)) * 10) / 10;
	study_free(study);
	study = study_new(&asked);
	assert_non_null(study);
	if (study_distribution(study).family != FAMILY_NORMAL)
		assert_true(study->steady.low < 0.05);
	study_free(study);
}

/* No moving ranges: what is missing is neighbours, not resolution. */
static void
every_second_slot_empty_leaves_no_neighbours(void **state)
{
	enum { N = 200 };
	double values[N];
	bool breaks[N];

	(void)state;
	normal_fill(&random_state, values, N);
	for (size_t i = 1; i < N; i += 2)
		values[i] = NAN;
	struct study *study = study_of(values, N, -6, 6);
	study_check(study);
	assert_int_equal(study->stability.verdict, STABILITY_NO_NEIGHBOURS);
	assert_int_equal(study->reasons,
	    STUDY_BIT(STUDY_MUCH_MISSING) | STUDY_BIT(STUDY_FEW_NEIGHBOURS));
	study_free(study);
	normal_fill(&random_state, values, N);
	for (size_t i = 0; i < N; i++)
		breaks[i] = true;
	struct study_asked asked = study_usual(values, N, -6, 6);
	asked.series.breaks = breaks;
	study = study_new(&asked);
	assert_non_null(study);
	study_check(study);
	assert_int_equal(study->reasons, STUDY_BIT(STUDY_FEW_NEIGHBOURS));
	assert_int_equal(study->cpk.reasons & ~STUDY_BIT(STUDY_AUTOCORRELATED),
	    STUDY_BIT(STUDY_FEW_NEIGHBOURS));
	study_free(study);
	/* five moving ranges are no sigma */
	for (size_t i = 1; i < 6; i++)
		breaks[i] = false;
	study = study_new(&asked);
	assert_non_null(study);
	study_check(study);
	assert_int_equal(study->stability.verdict, STABILITY_NO_NEIGHBOURS);
	assert_true((study->reasons & STUDY_BIT(STUDY_FEW_NEIGHBOURS)) != 0);
	study_free(study);
}

static void
the_chance_of_signals_is_told_of_normal_values_alone(void **state)
{
	enum { N = 160 };
	double values[N];

	(void)state;
	for (size_t i = 0; i < N; i++)
		values[i] = gsl_cdf_ugaussian_Pinv(((double)(i * 37 % N) + 0.5) / N);
	struct study *study = study_of(values, N, -6, 6);
	assert_near(study->signals_chance, run_rules_chance(RULES_USUAL, N), 0);
	study_free(study);
	for (size_t i = 0; i < N; i++)
		values[i] = round(values[i] / 0.6) * 0.6;
	study = study_of(values, N, -6, 6);
	assert_true(isnan(study->signals_chance));
	study_free(study);
	for (size_t i = 0; i < N; i++)
		values[i] = exp(0.5 * normal_next(&random_state));
	study = study_of(values, N, -6, 6);
	assert_true(isnan(study->signals_chance));
	study_free(study);
	fill_spread(values, N);
	struct study_asked asked = study_usual(values, N, NAN, 6);
	asked.zero_bounded = true;
	study = study_new(&asked);
	assert_non_null(study);
	assert_true(isnan(study->signals_chance));
	study_free(study);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test_setup(
		subgroups_have_their_own_sigma_and_charts, seed_random),
	    cmocka_unit_test_setup(
		a_step_of_a_skewed_quantity_is_told_in_its_unit, seed_random),
	    cmocka_unit_test_setup(
		every_second_slot_empty_leaves_no_neighbours, seed_random),
	    cmocka_unit_test_setup(
		the_chance_of_signals_is_told_of_normal_values_alone, seed_random),
	};

	return cmocka_run_group_tests(tests, numerics_started, NULL);
}
