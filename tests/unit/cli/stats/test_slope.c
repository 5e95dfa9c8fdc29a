/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>

#include <math.h>
#include <stdlib.h>

#include "cli/stats/slope.h"
#include "tests/unit/cli/stats/numerics_started.h"
#include "tests/unit/near.h"
#include "tests/unit/published.h"
#include "tests/unit/seed.h"

#define LENGTH(array) (sizeof(array) / sizeof((array)[0]))

static const double at[] = {0, 1, 2, 3, 4, 6, 7.5};
static const double value[] = {1.41, 1.38, 1.47, 1.29, 1.31, 1.22, 1.25};
static const double variance[] = {.006, .007, .0065, .002, .003, .0031, .009};
enum { POINTS = LENGTH(at) };

/* `zigzag` is added and taken off in turn. */
static void
make(struct slope_point points[static POINTS], double zigzag)
{
	for (size_t i = 0; i < POINTS; i++)
		points[i] = (struct slope_point){
		    at[i], value[i] + (i % 2 ? -zigzag : zigzag), variance[i]};
}

static void
the_line_is_the_weighted_one(void **state)
{
	struct slope_point points[POINTS];
	struct slope slope;
	struct published_table table = published_begin(
	    SOURCE_SCIPY, "weighted line through time, its interval and r1");

	(void)state;
	make(points, 0);
	assert_true(slope_of(points, POINTS, &slope));
	/* computed with NumPy 1.24 and SciPy 1.10 from the matrices */
	assert_int_equal(slope.n, POINTS);
	published_add(&table, slope.slope, -0.0294513925, 1e-9);
	published_add(&table, slope.slope_95.low, -0.05957305681, 1e-9);
	published_add(&table, slope.slope_95.high, 0.0006702717998, 1e-9);
	published_add(&table, slope.first, 1.416243698, 1e-9);
	published_add(&table, slope.last, 1.195358254, 1e-9);
	assert_near(slope.between, 0, 0);
	published_add(&table, slope.r1, -0.3795219982, 1e-9);
	published_end(&table);
}

static void
scatter_between_the_times_widens_the_interval(void **state)
{
	struct slope_point points[POINTS];
	struct slope slope;
	struct published_table table = published_begin(
	    SOURCE_SCIPY, "weighted line with scatter between the times");

	(void)state;
	make(points, 0.2);
	assert_true(slope_of(points, POINTS, &slope));
	published_add(&table, slope.slope, -0.02821032588, 1e-9);
	published_add(&table, slope.slope_95.low, -0.1373482057, 1e-9);
	published_add(&table, slope.slope_95.high, 0.08092755398, 1e-9);
	published_add(&table, slope.between, 0.2671752453, 1e-9);
	published_add(&table, slope.r1, -0.8678454488, 1e-9);
	published_end(&table);
}

static void
too_few_or_unusable_points_give_no_line(void **state)
{
	struct slope_point points[POINTS];
	struct slope slope;

	(void)state;
	make(points, 0);
	assert_true(slope_of(points, 0, &slope));
	assert_int_equal(slope.n, 0);
	assert_true(isnan(slope.slope) && isnan(slope.slope_95.low));
	assert_true(slope_of(points, SLOPE_LEAST - 1, &slope));
	assert_true(isnan(slope.slope));
	points[0].value = NAN;
	points[1].variance = 0;
	points[2].variance = NAN;
	assert_true(slope_of(points, POINTS, &slope));
	assert_int_equal(slope.n, POINTS - 3);
	assert_true(isnan(slope.slope));
	make(points, 0);
	for (size_t i = 0; i < POINTS; i++)
		points[i].at = 3;
	assert_true(slope_of(points, POINTS, &slope));
	assert_true(isnan(slope.slope));
}

static double
normal(unsigned short random[3])
{
	double u = 1 - erand48(random), v = erand48(random);

	return sqrt(-2 * log(u)) * cos(2 * M_PI * v);
}

/* The share of intervals that hold the true slope. */
static double
coverage(unsigned short random[3], size_t count, double between)
{
	enum { RUNS = 4000, MOST = 60 };
	const double true_slope = 0.3;
	int held = 0;

	for (int run = 0; run < RUNS; run++) {
		struct slope_point points[MOST];
		struct slope slope;
		for (size_t i = 0; i < count; i++) {
			double own = 0.1 + 0.4 * erand48(random), x = (double)i;
			points[i] = (struct slope_point){x,
			    true_slope * x +
				sqrt(own + between * between) * normal(random),
			    own};
		}
		assert_true(slope_of(points, count, &slope));
		held += slope.slope_95.low <= true_slope &&
		        true_slope <= slope.slope_95.high;
	}
	return (double)held / RUNS;
}

static void
the_interval_holds_the_true_slope_as_often_as_it_says(void **state)
{
	static const size_t counts[] = {6, 12, 60};
	static const double betweens[] = {0, 0.5, 3};
	unsigned short random[3] = {(unsigned short)seed_take(7)};

	(void)state;
	for (size_t i = 0; i < LENGTH(counts); i++)
		for (size_t k = 0; k < LENGTH(betweens); k++) {
			double share = coverage(random, counts[i], betweens[k]);
			print_message("%zu times, %.1f between them: %.3f\n", counts[i],
			    betweens[k], share);
			/* never below 1: on the safe side where nothing is between */
			assert_true(share > 0.935 && share <= 1);
			if (betweens[k] > 2)
				assert_true(share < 0.965);
		}
}

static void
neighbours_that_are_alike_are_told(void **state)
{
	struct slope_point points[24];
	struct slope slope;

	(void)state;
	for (size_t i = 0; i < LENGTH(points); i++)
		points[i] = (struct slope_point){
		    (double)i, sin((double)i * 2 * M_PI / 12), 0.01};
	assert_true(slope_of(points, LENGTH(points), &slope));
	assert_true(slope.r1 > slope.r1_bound);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(the_line_is_the_weighted_one),
	    cmocka_unit_test(scatter_between_the_times_widens_the_interval),
	    cmocka_unit_test(too_few_or_unusable_points_give_no_line),
	    cmocka_unit_test(the_interval_holds_the_true_slope_as_often_as_it_says),
	    cmocka_unit_test(neighbours_that_are_alike_are_told),
	};
	return cmocka_run_group_tests(tests, numerics_started, NULL);
}
