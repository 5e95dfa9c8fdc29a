/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>

#include <math.h>
#include <stdio.h>

#include "cli/stats/describe.h"
#include "cli/stats/onset.h"
#include "tests/unit/cli/stats/normal.h"
#include "tests/unit/cli/stats/numerics_started.h"
#include "tests/unit/near.h"
#include "tests/unit/seed.h"

#define LENGTH(array) (sizeof(array) / sizeof((array)[0]))

enum { N = 160 };

static uint64_t random_state;

static int
seed_random(void **state)
{
	(void)state;
	random_state = seed_take(20261130);
	return 0;
}

static struct onset
found(const double *values, size_t n)
{
	static double room[N + 1];
	const struct series series = {.values = values, .count = n};
	double sigma = describe_moving_ranges(&series, room).sigma, mean = 0;
	size_t there = 0;

	for (size_t i = 0; i < n; i++) {
		if (isfinite(values[i])) {
			mean += (values[i] - mean) / (double)(there + 1);
			there++;
		}
	}
	struct stability stability = stability_of(&series, mean, sigma, 0);
	return onset_of(&series, &stability, mean, sigma);
}

/* From slot `from` on, in deviations. */
static double
changed(enum onset_kind kind, double size, size_t slot, size_t from)
{
	double value = normal_next(&random_state);

	switch (kind) {
	case ONSET_STEP:
		return slot >= from ? value + size : value;
	case ONSET_DRIFT: /* `size` is where it ends */
		return slot >= from ? value + size * (double)(slot + 1 - from) /
		                                  (double)(N + 1 - from)
		                    : value;
	case ONSET_SCATTER:
		return slot >= from ? value * size : value;
	case ONSET_SINGLE:
		return slot == from ? size : value;
	case ONSET_NONE:
		break;
	}
	return value;
}

static const struct simulated {
	const char *name;
	enum onset_kind kind;
	double size;
	size_t from;
	double told_least; /* share of the unstable ones that get this kind */
} simulations[] = {
    {"step of 1 s at 60", ONSET_STEP, 1, 60, 0.95},
    {"step of 2 s at 120", ONSET_STEP, 2, 120, 0.95},
    {"step of 5 s at 20", ONSET_STEP, 5, 20, 0.95},
    {"drift to 3 s from 60", ONSET_DRIFT, 3, 60, 0.95},
    {"drift to 3 s from 1", ONSET_DRIFT, 3, 1, 0.95},
    {"drift to 6 s from 120", ONSET_DRIFT, 6, 120, 0.95},
    {"scatter doubled at 80", ONSET_SCATTER, 2, 80, 0.95},
    {"scatter tripled at 120", ONSET_SCATTER, 3, 120, 0.95},
    {"a point of 6 s at 40", ONSET_SINGLE, 6, 40, 0.95},
};

static void
the_range_covers_the_truth_in_nineteen_of_twenty(void **state)
{
	enum { RUNS = 2000 };

	(void)state;
	for (size_t s = 0; s < LENGTH(simulations); s++) {
		const struct simulated *sim = &simulations[s];
		double unstable = 0, told = 0, covered = 0, width = 0;
		for (int k = 0; k < RUNS; k++) {
			double values[N];
			for (size_t i = 0; i < N; i++)
				values[i] =
				    changed(sim->kind, sim->size, i + 1, sim->from);
			struct onset onset = found(values, N);
			unstable += onset.kind != ONSET_NONE;
			if (onset.kind != sim->kind)
				continue;
			told++;
			covered += onset.least <= sim->from && sim->from <= onset.most;
			width += (double)(onset.most - onset.least + 1);
			assert_true(
			    onset.least <= onset.slot && onset.slot <= onset.most);
		}
		printf(
		    "%s: found in %.3f, of these told as such in %.3f, range covers it "
		    "in %.3f, %.1f slots wide\n",
		    sim->name, unstable / RUNS, told / unstable, covered / told,
		    width / told);
		assert_true(told / unstable >= sim->told_least);
		assert_true(covered / told >= 0.91);
	}
}

/* AR(1) values are unstable by the tests, which are of independent ones: that is no change. */
static void
memory_alone_seldom_has_a_beginning(void **state)
{
	enum { RUNS = 2000 };
	const double phi = 0.5;
	double told = 0, covered = 0, steps = 0;

	(void)state;
	for (int k = 0; k < RUNS; k++) {
		double values[N], off = normal_next(&random_state);
		for (size_t i = 0; i < N; i++) {
			values[i] = off;
			off = phi * off +
			      sqrt(1 - phi * phi) * normal_next(&random_state);
		}
		told += found(values, N).kind != ONSET_NONE;
		for (size_t i = 79; i < N; i++)
			values[i] += 2;
		struct onset onset = found(values, N);
		if (onset.kind != ONSET_STEP)
			continue;
		steps++;
		covered += onset.least <= 80 && 80 <= onset.most;
	}
	printf(
	    "AR(1) %.1f: told as a change in %.3f; a step of 2 s at 80 told as such in "
	    "%.3f, range covers it in %.3f\n",
	    phi, told / RUNS, steps / RUNS, covered / steps);
	assert_true(told < 0.07 * RUNS);
	assert_true(steps > 0.9 * RUNS && covered > 0.95 * steps);
}

static void
a_plain_step_is_told_exactly(void **state)
{
	double values[N];

	(void)state;
	for (size_t i = 0; i < N; i++)
		values[i] = 1e9 + (i % 2 ? 0.1 : -0.1) + (i >= 100 ? 3 : 0);
	struct onset onset = found(values, N);
	assert_int_equal(onset.kind, ONSET_STEP);
	assert_true(onset.slot == 101 && onset.least == 101 && onset.most == 101);
	assert_near(onset.before, 1e9, 1e-6);
	assert_near(onset.after, 1e9 + 3, 1e-6);
	assert_near(
	    onset.explained, 1 - 0.01 / (0.01 + 9 * 60.0 * 100 / 160 / 160), 1e-6);
}

static void
a_plain_drift_is_told_exactly(void **state)
{
	double values[N];

	(void)state;
	for (size_t i = 0; i < N; i++)
		values[i] = 20 + (i % 2 ? 0.01 : -0.01) +
		            (i >= 100 ? 0.1 * (double)(i - 99) : 0);
	struct onset onset = found(values, N);
	assert_int_equal(onset.kind, ONSET_DRIFT);
	assert_in_range(onset.slot, 100, 102);
	assert_near(onset.before, 20, 0.01);
	assert_near(onset.after, 26, 0.02);
	assert_true(onset.explained > 0.99 && onset.explained < 1);
}

static void
missing_values_keep_their_slots(void **state)
{
	double values[N];

	(void)state;
	for (size_t i = 0; i < N; i++)
		values[i] =
		    i % 10 == 3 ? NAN : (i % 2 ? 0.1 : -0.1) + (i >= 100 ? 3 : 0);
	struct onset onset = found(values, N);
	assert_int_equal(onset.kind, ONSET_STEP);
	assert_int_equal(onset.slot, 101);
}

static void
two_points_are_told_as_single_ones(void **state)
{
	double values[N];

	(void)state;
	for (size_t i = 0; i < N; i++)
		values[i] = i % 2 ? 1 : -1;
	values[50] = 12;
	values[90] = -13;
	struct onset onset = found(values, N);
	assert_int_equal(onset.kind, ONSET_SINGLE);
	assert_true(onset.slot == 51 && onset.least == 51 && onset.most == 51);
	assert_near(onset.after, 12, 1e-12);
	assert_near(onset.before, 0, 0.02);
}

static void
what_is_stable_or_nothing_has_no_beginning(void **state)
{
	double values[N];

	(void)state;
	for (size_t i = 0; i < N; i++)
		values[i] = i % 2 ? 1 : -1;
	struct onset onset = found(values, N);
	assert_int_equal(onset.kind, ONSET_NONE);
	assert_true(onset.slot == 0 && isnan(onset.before) && isnan(onset.explained));
	assert_int_equal(found(values, 0).kind, ONSET_NONE);
	assert_int_equal(found(values, 2).kind, ONSET_NONE);
	for (size_t i = 0; i < N; i++)
		values[i] = 4;
	assert_int_equal(found(values, N).kind, ONSET_NONE);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test_setup(
		the_range_covers_the_truth_in_nineteen_of_twenty, seed_random),
	    cmocka_unit_test_setup(memory_alone_seldom_has_a_beginning, seed_random),
	    cmocka_unit_test(a_plain_step_is_told_exactly),
	    cmocka_unit_test(a_plain_drift_is_told_exactly),
	    cmocka_unit_test(missing_values_keep_their_slots),
	    cmocka_unit_test(two_points_are_told_as_single_ones),
	    cmocka_unit_test(what_is_stable_or_nothing_has_no_beginning),
	};

	return cmocka_run_group_tests(tests, numerics_started, NULL);
}
