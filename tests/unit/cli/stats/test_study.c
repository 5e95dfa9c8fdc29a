/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>

#include <gsl/gsl_cdf.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <time.h>

#include "cli/stats/study.h"
#include "tests/unit/cli/stats/normal.h"
#include "tests/unit/near.h"
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

static struct study_asked
usual(const double *values, size_t count, double lower, double upper)
{
	return (struct study_asked){
	    .series = {.values = values, .count = count},
	    .lower = lower,
	    .upper = upper,
	    .target = NAN,
	    .centre = NAN,
	    .sigma = NAN,
	    .rules = RULES_USUAL,
	    .required = NAN,
	};
}

static struct study *
of(const double *values, size_t count, double lower, double upper)
{
	struct study_asked asked = usual(values, count, lower, upper);
	struct study *study = study_new(&asked);

	assert_non_null(study);
	return study;
}

static void
fill(double *values, size_t n)
{
	for (size_t i = 0; i < n; i++)
		values[i] = normal_next(&random_state);
}

/* What holds of every study. */
static void
check_consistent(const struct study *study)
{
	const unsigned remarks = STUDY_BIT(STUDY_NOT_NORMAL);

	assert_true(study->ppk.quotable ==
		    (study->ppk.reasons == 0 && isfinite(study->ppk.value)));
	assert_true(study->cpk.quotable ==
		    (study->cpk.reasons == 0 && isfinite(study->cpk.value)));
	if (study->cpk.quotable)
		assert_true(study->ppk.quotable);
	switch (study->verdict) {
	case STUDY_CAPABLE:
		assert_true((study->reasons & ~remarks) == 0);
		assert_true(study->ppk.quotable);
		assert_true(study->ppk.lower_bound >= study->required);
		break;
	case STUDY_NOT_CAPABLE:
		assert_true((study->reasons & STUDY_BIT(STUDY_INDEX_BELOW)) != 0);
		assert_true(study->ppk.quotable);
		break;
	case STUDY_NOT_ESTABLISHED:
		assert_true((study->reasons & ~remarks) > 0);
		break;
	}
	const double finite_or_none[] = {study->ppk.value, study->ppk.low,
	    study->ppk.high, study->ppk.lower_bound, study->cpk.value, study->cpk.low,
	    study->cpk.high, study->cpk.lower_bound, study->pp, study->ppl, study->ppu,
	    study->cp, study->cpl, study->cpu, study->cpm, study->pp_95.low,
	    study->pp_95.high, study->cp_95.low, study->cp_95.high,
	    study->expected_below, study->expected_above, study->observed_most,
	    study->sigma_within, study->step, study->ppk_without_outliers,
	    study->needed, study->ewma.last, study->cusum.high_last,
	    study->onset.explained};
	for (size_t i = 0; i < LENGTH(finite_or_none); i++)
		if (isinf(finite_or_none[i]))
			fail_msg("figure %zu of a study of %zu is infinite", i,
			    study->described.n);
	if (isfinite(study->ppk.low))
		assert_true(study->ppk.low <= study->ppk.lower_bound + 1e-9 &&
			    study->ppk.lower_bound <= study->ppk.high);
}

static void
a_perfect_process_gets_its_cpk_quoted_and_is_capable(void **state)
{
	enum { N = 160, SHIFTS = 2000 };
	double values[N];
	int quoted = 0, capable = 0, ppk = 0;

	(void)state;
	for (int k = 0; k < SHIFTS; k++) {
		fill(values, N);
		struct study *study = of(values, N, -6, 6);
		check_consistent(study);
		quoted += study->cpk.quotable;
		ppk += study->ppk.quotable;
		capable += study->verdict == STUDY_CAPABLE;
		study_free(study);
	}
	printf("perfect shifts of %d: Cpk quotable in %.1f %%, Ppk in %.1f %%, capable "
	       "(true index 2) in %.1f %%\n",
	    N, 100.0 * quoted / SHIFTS, 100.0 * ppk / SHIFTS, 100.0 * capable / SHIFTS);
	assert_true(quoted >= 0.87 * SHIFTS);
	assert_int_equal(ppk, SHIFTS);
	assert_true(capable >= 0.9 * SHIFTS);
}

/* True Ppk 1.33, for which 1.33 is shown by chance in 5 % of shifts and less. */
static void
what_is_just_required_is_seldom_shown(void **state)
{
	enum { N = 100, SHIFTS = 1500 };
	double values[N];
	int capable = 0, not_capable = 0;

	(void)state;
	for (int k = 0; k < SHIFTS; k++) {
		fill(values, N);
		struct study *study = of(values, N, NAN, 3 * 1.33);
		check_consistent(study);
		capable += study->verdict == STUDY_CAPABLE;
		not_capable += study->verdict == STUDY_NOT_CAPABLE;
		study_free(study);
	}
	printf("true Ppk 1.33, one limit, n = %d: capable in %.3f, not capable in "
	       "%.3f\n",
	    N, (double)capable / SHIFTS, (double)not_capable / SHIFTS);
	assert_true(capable < 0.07 * SHIFTS);
	assert_true(not_capable > 0.4 * SHIFTS && not_capable < 0.6 * SHIFTS);
}

static void
a_step_hides_cpk_and_not_ppk(void **state)
{
	double values[160];

	(void)state;
	fill(values, 160);
	for (size_t i = 100; i < 160; i++)
		values[i] += 4;
	struct study *study = of(values, 160, -20, 20);
	check_consistent(study);
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
	fill(values, 60);
	struct study *study = of(values, 60, NAN, 5);
	check_consistent(study);
	assert_true(isnan(study->pp) && isnan(study->ppl) && isnan(study->cp));
	assert_near(study->ppk.value, study->ppu, 0);
	assert_true(isnan(study->expected_below) && isnan(study->cpm));
	/* the expected share beyond is the normal one at three times the index */
	assert_near(
	    study->expected_above / (erfc(3 * study->ppu / sqrt(2)) / 2), 1, 1e-9);
	study_free(study);
	study = of(values, 60, NAN, NAN);
	check_consistent(study);
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
		struct study *study = of(values, N, -3 * index, 3 * index);
		assert_near(study->ppk.value, index, 1e-12);
		assert_near(study->expected_below * 1e6 / ppm, 1, 2e-9);
		assert_near(study->expected_above * 1e6 / ppm, 1, 2e-9);
		study_free(study);
	}
}

static void
cpm_equals_the_handbook_inputs(void **state)
{
	double values[50], step = 2 / sqrt(50.0 / 49.0);

	(void)state;
	/* mean 16, s 2, limits 8 and 20, target 14: 12 / (6 sqrt(4 + 4)) */
	for (size_t i = 0; i < 50; i++)
		values[i] = 16 + (i % 2 ? step : -step);
	struct study_asked asked = usual(values, 50, 8, 20);
	asked.target = 14;
	struct study *study = study_new(&asked);
	assert_non_null(study);
	assert_near(study->cpm, 0.707106781187, 1e-11);
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
	struct study_asked asked = usual(values, 200, -5, 5);
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
	struct study_asked asked = usual(values, N, NAN, 6);
	asked.zero_bounded = true;
	struct study *study = study_new(&asked);
	assert_non_null(study);
	check_consistent(study);
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
	/* the normal index would flatter it: U 6 is 2.1 by the half-normal itself */
	assert_true(study->c.overall.pu > study->ppk.value);
	assert_true(isnan(study->expected_below) && study->expected_above > 0);
	study_free(study);

	/* a lower limit that was given is one */
	asked.lower = 0.01;
	study = study_new(&asked);
	assert_non_null(study);
	check_consistent(study);
	assert_true(isfinite(study->ppl) && isfinite(study->pp));
	assert_near(study->ppk.value, fmin(study->ppl, study->ppu), 0);
	study_free(study);
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
	struct study_asked asked = usual(values, N, NAN, 20);
	asked.zero_bounded = true;
	struct study *study = study_new(&asked);
	assert_non_null(study);
	check_consistent(study);
	assert_int_equal(study->fits.used, -1);
	assert_true(isnan(study->ppk.value) && isnan(study->expected_above));
	assert_false(study->ppk.quotable);
	assert_true((study->ppk.reasons & STUDY_BIT(STUDY_NOTHING_FITS)) != 0);
	assert_int_equal(study->observed_above, 0);
	/* none of 200: 1 - 0.05^(1/200) */
	assert_near(study->observed_most, 1 - pow(0.05, 1.0 / N), 1e-9);
	assert_true(isnan(study_distribution(study).parameters[0]));
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
	struct study *study = of(values, N, NAN, 8);
	check_consistent(study);
	assert_true((study->reasons & STUDY_BIT(STUDY_NOT_NORMAL)) != 0);
	assert_true(study->ppk.quotable);
	assert_near(study->ppk.value, study->c.overall.pk, 0);
	struct fit fit = study_distribution(study);
	assert_int_not_equal(fit.family, FAMILY_NORMAL);
	assert_near(
	    study->expected_above, family_above(fit.family, fit.parameters, 8), 1e-15);
	assert_true(study->verdict != STUDY_CAPABLE || fit.index.ppu >= 1.33);
	study_free(study);
}

static void
subgroups_have_their_own_sigma_and_charts(void **state)
{
	enum { N = 200 };
	double values[N];

	(void)state;
	fill(values, N);
	struct study_asked asked = usual(values, N, -6, 6);
	struct ewma_setting ewma = {0.2, 3};
	asked.method = STUDY_MEAN_RANGE;
	asked.subgroup = 5;
	asked.ewma = &ewma;
	struct study *study = study_new(&asked);
	assert_non_null(study);
	check_consistent(study);
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
	check_consistent(study);
	assert_true(study->ppk.quotable);
	assert_true((study->cpk.reasons & STUDY_BIT(STUDY_FEW_NEIGHBOURS)) != 0);
	assert_true(study->verdict != STUDY_CAPABLE);
	study_free(study);
}

static void
outliers_are_shown_and_stay(void **state)
{
	double values[100];

	(void)state;
	fill(values, 100);
	values[30] = 9;
	values[60] = -11;
	struct study *study = of(values, 100, -12, 12);
	check_consistent(study);
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
	struct study *study = of(values, 60, 170, 190);
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
	struct study *study = of(values, 100, -100, 100);
	check_consistent(study);
	assert_true(study->ppk.quotable && isnan(study->ppk.low));
	assert_true((study->reasons & STUDY_BIT(STUDY_TOO_DEPENDENT)) != 0);
	assert_true((study->cpk.reasons & STUDY_BIT(STUDY_AUTOCORRELATED)) != 0);
	assert_int_equal(study->verdict, STUDY_NOT_ESTABLISHED);
	study_free(study);
}

/* Every setting, over whatever values. */
static void
study_in_every_way(const double *values, size_t n)
{
	static const double limits[][2] = {
	    {NAN, NAN}, {-3, 3}, {NAN, 2}, {0, NAN}, {5, 1}, {1e9, 1e9 + 1}};
	struct ewma_setting ewma = {0.2, 3};
	struct cusum_setting cusum = {0.5, 5};

	for (size_t l = 0; l < LENGTH(limits); l++)
		for (int way = 0; way < 6; way++) {
			struct study_asked asked =
			    usual(values, n, limits[l][0], limits[l][1]);
			asked.rules = RULES_ALL;
			asked.ewma = &ewma;
			asked.cusum = &cusum;
			asked.target = 1;
			asked.zero_bounded = way == 1;
			asked.method = way == 2   ? STUDY_MEAN_RANGE
			               : way == 3 ? STUDY_MEAN_SD
			                          : STUDY_INDIVIDUALS;
			asked.subgroup = way == 2 ? 2 : way == 3 ? 25 : 0;
			asked.centre = way == 4 ? 0 : NAN;
			asked.sigma = way == 4 ? 1 : way == 5 ? 0 : NAN;
			struct study *study = study_new(&asked);
			assert_non_null(study);
			check_consistent(study);
			study_free(study);
		}
}

static void
degenerate_values_give_nothing_wrong(void **state)
{
	enum { N = 120 };
	double values[N];

	(void)state;
	study_in_every_way(NULL, 0);
	fill(values, N);
	for (size_t n = 1; n <= 30; n += n < 4 ? 1 : 13)
		study_in_every_way(values, n);
	for (size_t i = 0; i < N; i++)
		values[i] = 7.25;
	study_in_every_way(values, N);
	for (size_t i = 0; i < N; i++)
		values[i] = i % 2 ? NAN : INFINITY;
	study_in_every_way(values, N);
	for (size_t i = 0; i < N; i++)
		values[i] = i % 2 ? 1 : -1;
	study_in_every_way(values, N);
	for (size_t i = 0; i < N; i++)
		values[i] = i % 40 ? 0 : 1;
	study_in_every_way(values, N);
	for (size_t i = 0; i < N; i++)
		values[i] = i % 3 ? NAN : 1e308 * (i % 2 ? 1 : -1);
	study_in_every_way(values, N);
	for (size_t i = 0; i < N; i++)
		values[i] = 1e-310 * (double)(i % 7);
	study_in_every_way(values, N);
}

static void
a_huge_offset_changes_no_index(void **state)
{
	enum { N = 100 };
	double values[N], far[N];

	(void)state;
	for (size_t i = 0; i < N; i++) {
		/* exact in both places */
		values[i] = round(normal_next(&random_state) * 4096) / 4096;
		far[i] = values[i] + 1e9;
	}
	struct study *near = of(values, N, -5, 5);
	struct study *there = of(far, N, 1e9 - 5, 1e9 + 5);
	check_consistent(there);
	assert_near(there->ppk.value, near->ppk.value, 1e-7);
	assert_near(there->cpk.value, near->cpk.value, 1e-7);
	assert_near(there->ppk.lower_bound, near->ppk.lower_bound, 1e-7);
	assert_near(there->normality.p, near->normality.p, 1e-5);
	assert_int_equal(there->stability.verdict, near->stability.verdict);
	assert_int_equal(there->outliers, near->outliers);
	assert_int_equal(there->verdict, near->verdict);
	study_free(near);
	study_free(there);
}

static void
a_million_values_take_well_under_a_second(void **state)
{
	enum { N = 1000000 };
	double *values = malloc(N * sizeof(*values));
	struct ewma_setting ewma = {0.2, 3};

	(void)state;
	assert_non_null(values);
	fill(values, N);
	struct study_asked asked = usual(values, N, -6, 6);
	asked.ewma = &ewma;
	clock_t began = clock();
	struct study *study = study_new(&asked);
	double took_s = (double)(clock() - began) / CLOCKS_PER_SEC;
	assert_non_null(study);
	printf("a study of %d values: %.2f s\n", N, took_s);
	check_consistent(study);
	assert_near(study->ppk.value, 2, 0.01);
	assert_true(study->ppk.quotable);
	assert_near(study->observed_most, -log(0.05) / N, 1e-9);
	study_free(study);
	free(values);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test_setup(
		a_perfect_process_gets_its_cpk_quoted_and_is_capable, seed_random),
	    cmocka_unit_test_setup(what_is_just_required_is_seldom_shown, seed_random),
	    cmocka_unit_test_setup(a_step_hides_cpk_and_not_ppk, seed_random),
	    cmocka_unit_test_setup(one_limit_gives_one_index, seed_random),
	    cmocka_unit_test(expected_shares_equal_the_table),
	    cmocka_unit_test(cpm_equals_the_handbook_inputs),
	    cmocka_unit_test_setup(the_required_index_is_as_asked, seed_random),
	    cmocka_unit_test_setup(
		a_zero_bounded_quantity_has_the_percentile_index, seed_random),
	    cmocka_unit_test_setup(
		where_nothing_fits_only_what_was_seen_is_told, seed_random),
	    cmocka_unit_test_setup(
		values_far_from_normal_answer_by_the_percentile_method_too,
		seed_random),
	    cmocka_unit_test_setup(
		subgroups_have_their_own_sigma_and_charts, seed_random),
	    cmocka_unit_test_setup(outliers_are_shown_and_stay, seed_random),
	    cmocka_unit_test(the_resolution_is_the_smallest_step),
	    cmocka_unit_test_setup(too_much_memory_is_not_established, seed_random),
	    cmocka_unit_test_setup(degenerate_values_give_nothing_wrong, seed_random),
	    cmocka_unit_test_setup(a_huge_offset_changes_no_index, seed_random),
	    cmocka_unit_test_setup(
		a_million_values_take_well_under_a_second, seed_random),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
