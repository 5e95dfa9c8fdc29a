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
#include "tests/unit/published.h"
#include "tests/unit/seed.h"

#define LENGTH(array) (sizeof(array) / sizeof((array)[0]))

static uint64_t random_state;

static int
seed_random(void **state)
{
	(void)state;
	random_state = seed_take(20261201);
	return 0;
}

static void
a_perfect_process_gets_its_cpk_quoted_and_is_capable(void **state)
{
	enum { N = 160, SHIFTS = 600 };
	double values[N];
	int quoted = 0, capable = 0, ppk = 0;

	(void)state;
	for (int k = 0; k < SHIFTS; k++) {
		normal_fill(&random_state, values, N);
		struct study *study = study_of(values, N, -6, 6);
		study_check(study);
		quoted += study->cpk.quotable;
		ppk += study->ppk.quotable;
		capable += study->verdict == STUDY_CAPABLE;
		study_free(study);
	}
	printf("perfect shifts of %d: Cpk quotable in %.1f %%, Ppk in %.1f %%, capable "
	       "(true index 2) in %.1f %%\n",
	    N, 100.0 * quoted / SHIFTS, 100.0 * ppk / SHIFTS, 100.0 * capable / SHIFTS);
	assert_true(quoted >= 0.87 * SHIFTS);
	/* of 200 perfect shifts one is called not normal: p below 0.005 */
	assert_true(ppk >= 0.985 * SHIFTS);
	assert_true(capable >= 0.9 * SHIFTS);
}

static void
a_step_hides_cpk_and_not_ppk(void **state)
{
	double values[160];

	(void)state;
	normal_fill(&random_state, values, 160);
	for (size_t i = 100; i < 160; i++)
		values[i] += 4;
	struct study *study = study_of(values, 160, -20, 20);
	study_check(study);
	assert_true(study->ppk.quotable && study->ppk.lower_bound > 1.33);
	assert_false(study->cpk.quotable);
	assert_true(isfinite(study->cpk.value));
	assert_true((study->cpk.reasons & STUDY_BIT(STUDY_UNSTABLE)) != 0);
	assert_int_equal(study->verdict, STUDY_NOT_ESTABLISHED);
	assert_true((study->reasons & STUDY_BIT(STUDY_UNSTABLE)) != 0);
	assert_int_equal(study->onset.kind, ONSET_STEP);
	assert_in_range(study->onset.slot, 98, 104);
	study_free(study);
}

static void
one_limit_gives_one_index(void **state)
{
	double values[60];

	(void)state;
	normal_fill(&random_state, values, 60);
	struct study *study = study_of(values, 60, NAN, 5);
	study_check(study);
	assert_true(isnan(study->pp) && isnan(study->ppl) && isnan(study->cp));
	assert_near(study->ppk.value, study->ppu, 0);
	assert_true(isnan(study->expected_below) && isnan(study->cpm));
	/* the expected share beyond is the normal one at three times the index */
	assert_near(
	    study->expected_above / (erfc(3 * study->ppu / sqrt(2)) / 2), 1, 1e-9);
	study_free(study);
	study = study_of(values, 60, NAN, NAN);
	study_check(study);
	assert_true(isnan(study->ppk.value) && isnan(study->observed_most));
	assert_int_equal(study->ppk.reasons, STUDY_BIT(STUDY_NO_LIMIT));
	assert_int_equal(study->verdict, STUDY_NOT_ESTABLISHED);
	study_free(study);
}

/*
 * Normal shares beyond a limit that lies 3 C deviations off, in ppm: computed with SciPy 1.10.
 * Two limits at that distance have twice that.
 */
static const struct {
	double index, ppm;
} expected_rows[] = {
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

static void
expected_shares_equal_the_table(void **state)
{
	enum { N = 99 };
	double values[N], squares = 0;
	struct published_table table = published_begin(
	    SOURCE_SCIPY, "expected shares beyond the limits of a study, ppm");

	(void)state;
	/* as normal as can be, with mean 0 and deviation 1 */
	for (size_t i = 0; i < N; i++) {
		values[i] = gsl_cdf_ugaussian_Pinv(((double)i + 1) / (N + 1));
		squares += values[i] * values[i];
	}
	for (size_t i = 0; i < N; i++)
		values[i] /= sqrt(squares / (N - 1));
	for (size_t i = 0; i < LENGTH(expected_rows); i++) {
		double index = expected_rows[i].index, ppm = expected_rows[i].ppm;
		struct study *study = study_of(values, N, -3 * index, 3 * index);
		assert_near(study->ppk.value, index, 1e-12);
		published_add(&table, study->expected_below * 1e6, ppm, 2e-9 * ppm);
		published_add(&table, study->expected_above * 1e6, ppm, 2e-9 * ppm);
		study_free(study);
	}
	published_end(&table);
}

static void
cpm_equals_the_handbook_inputs(void **state)
{
	double values[50], step = 2 / sqrt(50.0 / 49.0);

	(void)state;
	/* mean 16, s 2, limits 8 and 20, target 14: 12 / (6 sqrt(4 + 4)) */
	for (size_t i = 0; i < 50; i++)
		values[i] = 16 + (i % 2 ? step : -step);
	struct study_asked asked = study_usual(values, 50, 8, 20);
	asked.target = 14;
	struct study *study = study_new(&asked);
	assert_non_null(study);
	published(SOURCE_HANDBOOK_CAPABILITY, "Cpm, target 14 (its formula)",
	    study->cpm, 0.707106781187, 1e-11);
	assert_near(study->pp, 1, 1e-12);
	study_free(study);
}

static void
the_required_index_is_as_asked(void **state)
{
	double values[200];

	(void)state;
	for (size_t i = 0; i < 200; i++)
		values[i] = normal_next(&random_state);
	struct study_asked asked = study_usual(values, 200, -5, 5);
	struct study *study = study_new(&asked);
	assert_non_null(study);
	assert_near(study->required, 1.33, 0);
	assert_near(capability_least_pk(study->needed, 200), 1.33, 1e-8);
	study_free(study);
	asked.required = 4;
	study = study_new(&asked);
	assert_non_null(study);
	assert_int_equal(study->verdict, STUDY_NOT_CAPABLE);
	study_free(study);
}

/* Half-normal: a spread that cannot fall below zero. */
static void
fill_spread(double *values, size_t n)
{
	for (size_t i = 0; i < n; i++)
		values[i] = fabs(normal_next(&random_state));
}

static void
a_zero_bounded_quantity_has_the_percentile_index(void **state)
{
	enum { N = 200 };
	double values[N];

	(void)state;
	fill_spread(values, N);
	struct study_asked asked = study_usual(values, N, NAN, 6);
	asked.zero_bounded = true;
	struct study *study = study_new(&asked);
	assert_non_null(study);
	study_check(study);
	assert_true(study->fits.used >= 0);
	const struct fit *fit = &study->fits.list[study->fits.used];
	assert_near(study->ppk.value, fit->index.ppu, 0);
	assert_near(study->ppu,
	    (6 - fit->quantiles.x50) / (fit->quantiles.x99865 - fit->quantiles.x50),
	    1e-12);
	/* no lower limit is made up, and no index within */
	assert_true(isnan(study->pp) && isnan(study->ppl) && isnan(study->cp) &&
		    isnan(study->cpl) && isnan(study->cpu) && isnan(study->cpk.value));
	assert_true((study->cpk.reasons & STUDY_BIT(STUDY_ZERO_BOUNDED)) != 0);
	assert_true(
	    study->ppk.low < study->ppk.value && study->ppk.value < study->ppk.high);
	assert_true(isnan(study->individuals.low) && study->individuals.high > 2);
	/* the normal index would flatter it: U 6 is 2.1 by the half-normal itself */
	assert_true(study->c.overall.pu > study->ppk.value);
	assert_true(isnan(study->expected_below) && study->expected_above > 0);
	study_free(study);

	/* a lower limit that was given is one */
	asked.lower = 0.01;
	study = study_new(&asked);
	assert_non_null(study);
	study_check(study);
	assert_true(isfinite(study->ppl) && isfinite(study->pp));
	assert_near(study->ppk.value, fmin(study->ppl, study->ppu), 0);
	study_free(study);
}

static void
intervals_of_cpk_hold_for_every_sigma_within(void **state)
{
	enum { N = 200, SHIFTS = 400 };
	static const enum study_method methods[] = {
	    STUDY_INDIVIDUALS, STUDY_MEAN_RANGE, STUDY_MEAN_SD};
	const double truth = 4.0 / 3;
	double values[N];

	(void)state;
	for (size_t m = 0; m < LENGTH(methods); m++) {
		struct study_asked asked = study_usual(values, N, -4, 6);
		double covered = 0, least = 0, unstable = 0;
		asked.method = methods[m];
		asked.subgroup = methods[m] == STUDY_INDIVIDUALS ? 0 : 5;
		for (int k = 0; k < SHIFTS; k++) {
			normal_fill(&random_state, values, N);
			struct study *study = study_new(&asked);
			assert_non_null(study);
			covered += study->cpk.low < truth && truth < study->cpk.high;
			least += study->cpk.lower_bound < truth;
			unstable += study->stability.verdict == STABILITY_UNSTABLE;
			study_free(study);
		}
		printf("sigma within by method %zu, n = %d: Cpk covered in %.3f, above "
		       "its "
		       "bound in %.3f, unstable in %.3f\n",
		    m, N, covered / SHIFTS, least / SHIFTS, unstable / SHIFTS);
		/* one standard error is 0.008 */
		assert_near(covered / SHIFTS, 0.95, 0.032);
		assert_near(least / SHIFTS, 0.95, 0.032);
		assert_true(unstable < 0.08 * SHIFTS);
	}
}

static void
outliers_are_shown_and_stay(void **state)
{
	double values[100];

	(void)state;
	normal_fill(&random_state, values, 100);
	values[30] = 9;
	values[60] = -11;
	struct study *study = study_of(values, 100, -12, 12);
	study_check(study);
	assert_int_equal(study->described.n, 100);
	assert_int_equal(study->outliers, 2);
	assert_true(study->outlying.low == 1 && study->outlying.high == 1);
	assert_true(study->ppk_without_outliers > study->ppk.value);
	assert_near(study->ppk_without_outliers,
	    fmin(study->outlying.mean + 12, 12 - study->outlying.mean) /
		(3 * study->outlying.sd),
	    1e-12);
	study_free(study);
}

static void
the_resolution_is_the_smallest_step(void **state)
{
	double values[60];

	(void)state;
	for (size_t i = 0; i < 60; i++)
		values[i] = 180.0 + 0.1 * (double)(i * 7 % 9);
	struct study *study = study_of(values, 60, 170, 190);
	assert_near(study->step, 0.1, 1e-9);
	study_free(study);
}

static void
too_much_memory_is_not_established(void **state)
{
	double values[100], x = 0;

	(void)state;
	for (size_t i = 0; i < 100; i++)
		values[i] = x = 0.97 * x + normal_next(&random_state);
	struct study *study = study_of(values, 100, -100, 100);
	study_check(study);
	assert_true(study->ppk.quotable && isnan(study->ppk.low));
	assert_true((study->reasons & STUDY_BIT(STUDY_TOO_DEPENDENT)) != 0);
	assert_true((study->cpk.reasons & STUDY_BIT(STUDY_AUTOCORRELATED)) != 0);
	assert_int_equal(study->verdict, STUDY_NOT_ESTABLISHED);
	study_free(study);
}

/* Also where no fit is used because normality is doubtful (p < 0.05), but not refused. */
static void
the_normal_in_use_is_a_distribution(void **state)
{
	enum { N = 100 };
	double values[N] = {0};
	int doubtful = 0;

	(void)state;
	for (int k = 0; k < 400; k++) {
		normal_fill(&random_state, values, N);
		struct study *study = study_of(values, N, -9, 9);
		double p = fits_p(&study->fits, FAMILY_NORMAL);
		if (p >= 0.005) {
			doubtful += p < 0.05;
			assert_true(study_has_distribution(study));
		}
		study_free(study);
	}
	assert_true(doubtful > 0);
	struct study *few = study_of(values, CAPABILITY_LEAST - 1, -9, 9);
	assert_false(study_has_distribution(few));
	study_free(few);
	for (size_t i = 0; i < N; i++)
		values[i] = i % 2 ? 9 + 0.1 * values[i] : 0.1 * values[i];
	struct study *heaps = study_of(values, N, -9, 19);
	assert_int_equal(heaps->fits.used, -1);
	assert_false(study_has_distribution(heaps));
	study_free(heaps);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test_setup(
		a_perfect_process_gets_its_cpk_quoted_and_is_capable, seed_random),
	    cmocka_unit_test_setup(a_step_hides_cpk_and_not_ppk, seed_random),
	    cmocka_unit_test_setup(one_limit_gives_one_index, seed_random),
	    cmocka_unit_test(expected_shares_equal_the_table),
	    cmocka_unit_test(cpm_equals_the_handbook_inputs),
	    cmocka_unit_test_setup(the_required_index_is_as_asked, seed_random),
	    cmocka_unit_test_setup(
		a_zero_bounded_quantity_has_the_percentile_index, seed_random),
	    cmocka_unit_test_setup(
		intervals_of_cpk_hold_for_every_sigma_within, seed_random),
	    cmocka_unit_test_setup(outliers_are_shown_and_stay, seed_random),
	    cmocka_unit_test_setup(the_normal_in_use_is_a_distribution, seed_random),
	    cmocka_unit_test(the_resolution_is_the_smallest_step),
	    cmocka_unit_test_setup(too_much_memory_is_not_established, seed_random),
	};

	return cmocka_run_group_tests(tests, numerics_started, NULL);
}
