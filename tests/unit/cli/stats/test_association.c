/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>

#include <math.h>
#include <stdio.h>

#include "cli/stats/association.h"
#include "tests/unit/cli/stats/normal.h"
#include "tests/unit/cli/stats/numerics_started.h"
#include "tests/unit/near.h"
#include "tests/unit/seed.h"

#define LENGTH(array) (sizeof(array) / sizeof((array)[0]))

enum { MOST = 200 };

static uint64_t random_state;

static int
seed_random(void **state)
{
	(void)state;
	random_state = seed_take(20261129);
	return 0;
}

static struct series
over(const double *values, size_t count)
{
	return (struct series){.values = values, .count = count};
}

static void
differences_of_a_line_are_explained_altogether(void **state)
{
	double x[50], y[50];

	(void)state;
	for (size_t i = 0; i < 50; i++) {
		x[i] = (double)(i * 17 % 23);
		y[i] = 1e6 - 2.5 * x[i];
	}
	struct series quantity = over(y, 50), input = over(x, 50);
	struct association a = association_of(&quantity, &input, 1, 3);
	assert_int_equal(a.pairs, 49);
	assert_near(a.explained, 1, 1e-12);
	assert_near(a.slope, -2.5, 1e-9);
	assert_true(a.p >= 0 && a.p < 1e-20);
}

static void
a_small_example_equals_its_correlation(void **state)
{
	/* differences 1 2 -1 3 -2 and 2 1 -1 2 -3, means 0.6 and 0.2 */
	static const double y[] = {0, 1, 3, 2, 5, 3}, x[] = {0, 2, 3, 2, 4, 1};
	struct series quantity = over(y, 6), input = over(x, 6);

	(void)state;
	struct association a = association_of(&quantity, &input, 1, 1);
	/* sums about the means: xy 17 - 5 * 0.6 * 0.2 = 16.4, yy 19 - 5 * 0.36 = 17.2,
	 * xx 19 - 5 * 0.04 = 18.8 */
	assert_int_equal(a.pairs, 5);
	assert_near(a.explained, 16.4 * 16.4 / (17.2 * 18.8), 1e-14);
	assert_near(a.slope, 16.4 / 18.8, 1e-14);
}

static void
no_difference_goes_over_a_gap_or_a_break(void **state)
{
	double x[40], y[40];
	bool breaks[40] = {false};

	(void)state;
	for (size_t i = 0; i < 40; i++) {
		x[i] = normal_next(&random_state);
		y[i] = x[i] + (i >= 20 ? 1000 : 0);
	}
	breaks[20] = true;
	struct series quantity = {y, breaks, 40}, input = over(x, 40);
	struct association a = association_of(&quantity, &input, 1, 1);
	assert_int_equal(a.pairs, 38);
	assert_near(a.explained, 1, 1e-9);
	a = association_of(&quantity, &input, 3, 1);
	assert_int_equal(a.pairs, 34);
	assert_near(a.slope, 1, 1e-9);
	breaks[20] = false;
	y[20] = NAN;
	x[5] = NAN;
	quantity.count = 20;
	assert_int_equal(association_of(&quantity, &input, 1, 1).pairs, 17);
}

/* White noise, or where that adds up. */
static void
fill(double *values, size_t n, bool walk)
{
	double at = 0;

	for (size_t i = 0; i < n; i++) {
		double next = normal_next(&random_state);
		at += next;
		values[i] = walk ? at : next;
	}
}

static void
what_has_nothing_in_common_seldom_has_a_small_p(void **state)
{
	enum { RUNS = 2000 };
	static const size_t strides[] = {1, 5, 20};

	(void)state;
	for (size_t s = 0; s < LENGTH(strides); s++)
		for (int kind = 0; kind < 3; kind++) {
			double small = 0, tenth = 0;
			for (int i = 0; i < RUNS; i++) {
				double y[MOST], x[MOST];
				fill(y, MOST, kind > 0);
				fill(x, MOST, kind > 1);
				struct series quantity = over(y, MOST),
					      input = over(x, MOST);
				struct association a =
				    association_of(&quantity, &input, strides[s], 1);
				small += a.p < 0.05;
				tenth += a.p * 10 < 0.05;
			}
			printf("stride %zu, %s: p < 0.05 in %.3f, p < 0.005 in %.4f\n",
			    strides[s],
			    kind == 0   ? "noise and noise"
			    : kind == 1 ? "walk and noise"
					: "walk and walk",
			    small / RUNS, tenth / RUNS);
			assert_true(small / RUNS < 0.085);
		}
}

static void
what_moves_with_it_is_found_among_others(void **state)
{
	double y[MOST], x[MOST], other[MOST];

	(void)state;
	fill(x, MOST, true);
	fill(other, MOST, true);
	for (size_t i = 0; i < MOST; i++)
		y[i] = 3 * x[i] + normal_next(&random_state);
	struct series quantity = over(y, MOST), input = over(x, MOST),
		      beside = over(other, MOST);
	struct association found = association_of(&quantity, &input, 1, 10);
	struct association none = association_of(&quantity, &beside, 1, 10);
	assert_true(found.explained > 0.6 && found.p < 1e-9);
	assert_near(found.slope, 3, 0.5);
	assert_true(none.explained < 0.2 && none.p > found.p);
	/* every candidate counts */
	assert_near(
	    none.p, fmin(1, 10 * association_of(&quantity, &beside, 1, 1).p), 1e-12);
}

static void
what_does_not_move_explains_nothing(void **state)
{
	double x[30], y[30];

	(void)state;
	for (size_t i = 0; i < 30; i++) {
		x[i] = 4;
		y[i] = (double)(i % 5);
	}
	struct series quantity = over(y, 30), input = over(x, 30),
		      empty = over(NULL, 0);
	struct series few = over(y, 4);
	struct association a = association_of(&quantity, &input, 1, 1);
	assert_int_equal(a.pairs, 29);
	assert_true(isnan(a.explained) && isnan(a.slope) && isnan(a.p));
	assert_true(isnan(association_of(&input, &quantity, 1, 1).explained));
	assert_true(isnan(association_of(&empty, &quantity, 1, 1).explained));
	assert_int_equal(association_of(&quantity, &few, 1, 1).pairs, 3);
	assert_true(isnan(association_of(&quantity, &few, 1, 1).p));
	assert_int_equal(association_of(&quantity, &quantity, 30, 1).pairs, 0);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(differences_of_a_line_are_explained_altogether),
	    cmocka_unit_test(a_small_example_equals_its_correlation),
	    cmocka_unit_test_setup(
		no_difference_goes_over_a_gap_or_a_break, seed_random),
	    cmocka_unit_test_setup(
		what_has_nothing_in_common_seldom_has_a_small_p, seed_random),
	    cmocka_unit_test_setup(
		what_moves_with_it_is_found_among_others, seed_random),
	    cmocka_unit_test(what_does_not_move_explains_nothing),
	};

	return cmocka_run_group_tests(tests, numerics_started, NULL);
}
