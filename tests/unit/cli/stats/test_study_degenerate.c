/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <time.h>

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
	numerics_started(state);
	random_state = seed_take(20261204);
	return 0;
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
			    study_usual(values, n, limits[l][0], limits[l][1]);
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
			study_check(study);
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
	normal_fill(&random_state, values, N);
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

/* Whatever may come out of a plant: rounded, with gaps, drifting, spiked, mostly stuck. */
static void
fill_at_random(double *values, bool *breaks, size_t n)
{
	double step = pow(10, 2 - 6 * normal_uniform(&random_state));
	double offset = pow(10, 12 * normal_uniform(&random_state) - 3);
	double memory = normal_uniform(&random_state), at = 0;
	unsigned kind = (unsigned)(normal_uniform(&random_state) * 64);

	for (size_t i = 0; i < n; i++) {
		double noise = normal_next(&random_state);
		at = kind & 1 ? memory * at + noise : noise;
		double value = kind & 2 ? at * at : at;
		value += kind & 4 ? 5 * (double)i / (double)n : 0;
		value *= kind & 8 && normal_uniform(&random_state) < 0.02 ? 1e3 : 1;
		value = kind & 16 && normal_uniform(&random_state) < 0.9 ? 1 : value;
		value = kind & 32 ? value + offset : value;
		value = round(value / step) * step;
		values[i] = normal_uniform(&random_state) < 0.02 ? NAN : value;
		breaks[i] = normal_uniform(&random_state) < 0.02;
	}
}

static void
whatever_comes_has_a_verdict_with_its_reasons(void **state)
{
	enum { MOST = 200, RUNS = 3000 };
	double values[MOST];
	bool breaks[MOST];

	(void)state;
	for (int run = 0; run < RUNS; run++) {
		size_t n = (size_t)(normal_uniform(&random_state) * MOST);
		fill_at_random(values, breaks, n);
		struct study_asked asked = study_usual(values, n, NAN, NAN);
		asked.series.breaks = breaks;
		double middle = n ? values[n / 2] : 0;
		if (run % 4 != 1)
			asked.lower = middle - 10 * normal_uniform(&random_state);
		if (run % 4 != 2)
			asked.upper = middle + 10 * normal_uniform(&random_state);
		asked.zero_bounded = run % 3 == 0;
		asked.method = run % 5 == 1   ? STUDY_MEAN_RANGE
		               : run % 5 == 2 ? STUDY_MEAN_SD
		                              : STUDY_INDIVIDUALS;
		asked.subgroup = 2 + (size_t)run % 5;
		struct study *study = study_new(&asked);
		assert_non_null(study);
		study_check(study);
		study_free(study);
	}
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
	struct study *near = study_of(values, N, -5, 5);
	struct study *there = study_of(far, N, 1e9 - 5, 1e9 + 5);
	study_check(there);
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
	normal_fill(&random_state, values, N);
	struct study_asked asked = study_usual(values, N, -6, 6);
	asked.ewma = &ewma;
	clock_t began = clock();
	struct study *study = study_new(&asked);
	double took_s = (double)(clock() - began) / CLOCKS_PER_SEC;
	assert_non_null(study);
	printf("a study of %d values: %.2f s\n", N, took_s);
	study_check(study);
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
	    cmocka_unit_test(degenerate_values_give_nothing_wrong),
	    cmocka_unit_test(whatever_comes_has_a_verdict_with_its_reasons),
	    cmocka_unit_test(a_huge_offset_changes_no_index),
	    cmocka_unit_test(a_million_values_take_well_under_a_second),
	};

	return cmocka_run_group_tests(tests, seed_random, NULL);
}
