/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>

#include <math.h>
#include <stdio.h>

#include "tests/unit/cli/stats/normal.h"
#include "tests/unit/cli/stats/numerics_started.h"
#include "tests/unit/cli/stats/study_checked.h"
#include "tests/unit/seed.h"

enum { N = 155, BEYOND = 33 };

static uint64_t random_state;

static int
seed_random(void **state)
{
	(void)state;
	random_state = seed_take(20261127);
	return 0;
}

/* Of deviation 1, each as like its last as `phi` says. */
static void
fill(double *values, size_t n, double phi)
{
	double z = normal_next(&random_state);

	for (size_t i = 0; i < n; i++) {
		values[i] = z;
		z = phi * z + sqrt(1 - phi * phi) * normal_next(&random_state);
	}
}

static void
assert_beyond(const struct study_asked *asked)
{
	struct study *study = study_new(asked);

	assert_non_null(study);
	study_check(study);
	assert_int_equal(study->verdict, STUDY_NOT_CAPABLE);
	assert_true((study->reasons & STUDY_BIT(STUDY_BEYOND)) != 0);
	study_free(study);
}

static void
a_part_that_stepped_beyond_a_limit_is_not_capable(void **state)
{
	double values[N] = {0};
	struct study_asked asked = study_usual(values, N, NAN, 14);

	(void)state;
	for (int zero_bounded = 0; zero_bounded < 2; zero_bounded++)
		for (size_t third = BEYOND; third <= N / 3; third += N / 3 - BEYOND) {
			fill(values, N, 0);
			for (size_t i = 0; i < N; i++)
				values[i] += i < N - third ? 10 : 20;
			asked.zero_bounded = zero_bounded;
			assert_beyond(&asked);
		}
}

static void
a_large_part_beyond_is_not_capable_however_dependent(void **state)
{
	double values[N] = {0};
	struct study_asked asked = study_usual(values, N, NAN, 10.3);
	int looked_at = 0;

	(void)state;
	for (int k = 0; k < 60; k++) {
		size_t beyond = 0;
		fill(values, N, 0.9);
		for (size_t i = 0; i < N; i++)
			beyond += (values[i] += 10) > asked.upper;
		if (beyond < BEYOND)
			continue;
		looked_at++;
		asked.zero_bounded = k % 2;
		assert_beyond(&asked);
	}
	assert_true(looked_at > 20);
}

/* None is left inside, whose number of different values could be too small. */
static void
where_all_lie_beyond_nothing_is_too_coarse_to_say_so(void **state)
{
	double values[N] = {0};
	struct study_asked asked = study_usual(values, N, NAN, 4);

	(void)state;
	fill(values, N, 0);
	for (size_t i = 0; i < N; i++)
		values[i] += 10;
	assert_beyond(&asked);
	for (size_t i = 0; i < N; i++)
		values[i] = 10;
	assert_beyond(&asked);
}

/* Those that are missing may all lie inside: then 5 of 155 are beyond, or 1 of 20,155. */
static void
missing_values_are_taken_for_good_ones(void **state)
{
	enum { MANY = 20000 };
	static double values[N + MANY];
	struct study_asked asked = study_usual(values, N, NAN, 8);

	(void)state;
	fill(values, N, 0);
	for (size_t i = 0; i < 50; i++)
		values[3 * i] = NAN;
	for (size_t i = 0; i < 5; i++)
		values[30 * i + 1] = 9;
	assert_beyond(&asked);
	for (size_t i = 0; i < 5; i++)
		values[30 * i + 1] = i == 2 ? 9 : 0.1 * (double)i;
	for (size_t i = N; i < N + MANY; i++)
		values[i] = NAN;
	asked.series.count = N + MANY;
	struct study *study = study_new(&asked);
	assert_non_null(study);
	study_check(study);
	assert_int_equal(study->verdict, STUDY_NOT_ESTABLISHED);
	study_free(study);
}

/* The limit lies at the required index: that more lie beyond is said wrongly in 5 % at most. */
static void
what_is_just_required_is_seldom_beyond(void **state)
{
	enum { MOST = 3000, SHIFTS = 300 };
	static const struct {
		double phi, required;
		size_t n;
	} tried[] = {
	    {0, 1.33, 155},
	    {0.9, 1.33, 155},
	    {0.95, 1.33, MOST},
	    {0, 0.4, 155},
	    {0.5, 0.4, 155},
	    {0.9, 0.4, 155},
	    {0.9, 0.7, MOST},
	};
	static double values[MOST];

	(void)state;
	for (size_t t = 0; t < sizeof tried / sizeof tried[0]; t++) {
		struct study_asked asked =
		    study_usual(values, tried[t].n, NAN, 3 * tried[t].required);
		double beyond = 0;
		asked.required = tried[t].required;
		for (int k = 0; k < SHIFTS; k++) {
			fill(values, tried[t].n, tried[t].phi);
			struct study *study = study_new(&asked);
			assert_non_null(study);
			study_check(study);
			beyond += (study->reasons & STUDY_BIT(STUDY_BEYOND)) != 0;
			study_free(study);
		}
		printf("true index %.2f, just required, dependence %.2f, n = %zu: too "
		       "many beyond in %.3f\n",
		    tried[t].required, tried[t].phi, tried[t].n, beyond / SHIFTS);
		assert_true(beyond < 0.09 * SHIFTS);
	}
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test_setup(
		a_part_that_stepped_beyond_a_limit_is_not_capable, seed_random),
	    cmocka_unit_test_setup(
		a_large_part_beyond_is_not_capable_however_dependent, seed_random),
	    cmocka_unit_test_setup(
		where_all_lie_beyond_nothing_is_too_coarse_to_say_so, seed_random),
	    cmocka_unit_test_setup(missing_values_are_taken_for_good_ones, seed_random),
	    cmocka_unit_test_setup(what_is_just_required_is_seldom_beyond, seed_random),
	};

	return cmocka_run_group_tests(tests, numerics_started, NULL);
}
