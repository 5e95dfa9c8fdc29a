/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/picture/histogram.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>

#include <cmocka.h>

#include "tests/unit/near.h"
#include "tests/unit/seed.h"

enum { MOST = 1000 };
static double values[MOST];

static struct histogram
make(size_t count, double low, double high, double lower, double upper)
{
	struct histogram histogram;

	assert_true(histogram_make(
	    &(struct histogram_asked){values, count, low, high, lower, upper},
	    &histogram));
	return histogram;
}

static size_t
counted(const struct histogram *histogram)
{
	size_t sum = 0;

	for (size_t i = 0; i < histogram->bins; i++)
		sum += histogram->counts[i];
	return sum;
}

static double
scatter(unsigned short noise[static 3])
{
	double sum = -6;

	for (int i = 0; i < 12; i++)
		sum += erand48(noise);
	return sum;
}

static void
every_value_within_is_counted_once(void **state)
{
	unsigned short noise[3] = {(unsigned short)seed_take(7)};

	(void)state;
	for (int round = 0; round < 300; round++) {
		size_t count = 1 + (size_t)(erand48(noise) * MOST);
		double scale = pow(10, 8 * erand48(noise) - 4), middle = 50 * scale;
		size_t within = 0, there = 0;
		for (size_t i = 0; i < count; i++) {
			values[i] = middle + scale * scatter(noise);
			if (erand48(noise) < 0.1)
				values[i] = NAN;
			else if (erand48(noise) < 0.02)
				values[i] = middle * 3;
			there += isnan(values[i]) ? 0 : 1;
			within += values[i] > 0 && values[i] < 2 * middle;
		}
		struct histogram histogram = make(
		    count, 0, 2 * middle, middle - 2.3 * scale, middle + 2.1 * scale);
		assert_int_equal(counted(&histogram), within);
		assert_int_equal(histogram.n, there);
		for (size_t i = 0; i < count; i++)
			if (values[i] > 0 && values[i] < 2 * middle)
				assert_true(
				    values[i] >= histogram.low - 1e-9 * middle &&
				    values[i] <=
					histogram.low +
					    (double)histogram.bins * histogram.width +
					    1e-9 * middle);
	}
}

static void
the_width_is_by_the_quartiles(void **state)
{
	(void)state;
	for (int i = 0; i < 1000; i++)
		values[i] = 0.001 * i * (1 + 1e-4 * sin(i)); /* on no grid */
	struct histogram histogram = make(1000, -1, 2, NAN, NAN);
	assert_near(histogram.width, 2 * 0.5 / 10, 0.002); /* 2 IQR / cbrt(1000) */
}

static void
coarse_values_get_whole_steps(void **state)
{
	unsigned short noise[3] = {3, 5, 7};

	(void)state;
	for (int i = 0; i < 400; i++)
		values[i] = 190 + 0.5 * round(3 * scatter(noise));
	struct histogram histogram = make(400, 180, 200, NAN, NAN);
	double steps = histogram.width / 0.5;
	assert_near(steps, round(steps), 1e-9);
	/* each value stands in the middle of a step, not on an edge */
	double off = (values[0] - histogram.low) / 0.5;
	assert_near(off - floor(off), 0.5, 1e-6);
}

static void
no_bin_reaches_over_the_limit_that_is_near(void **state)
{
	unsigned short noise[3] = {3, 5, 7};

	(void)state;
	for (int i = 0; i < 400; i++)
		values[i] = 190 + scatter(noise);
	const double limits[] = {191.37, 192.9, 188.2};
	for (size_t i = 0; i < 3; i++) {
		struct histogram histogram = make(400, 180, 200, NAN, limits[i]);
		double edge = (limits[i] - histogram.low) / histogram.width;
		assert_near(edge, round(edge), 1e-6);
	}
}

static void
no_bar_is_too_thin_to_be_seen(void **state)
{
	unsigned short noise[3] = {3, 5, 7};

	(void)state;
	for (int i = 0; i < 400; i++) /* most in one place, a few around */
		values[i] = i % 7 ? 11 + 0.001 * scatter(noise) : 11 + scatter(noise);
	struct histogram histogram = make(400, 5, 14, NAN, 14);
	assert_true(histogram.width >= 9.0 / HISTOGRAM_SEEN);
	for (int i = 0; i < 400; i++)
		values[i] = 11 + 0.01 * round(3 * scatter(noise));
	histogram = make(400, 5, 14, NAN, 14);
	assert_true(histogram.width >= 9.0 / HISTOGRAM_SEEN);
	assert_int_equal(counted(&histogram), 400);
}

static void
equal_values_are_one_bin(void **state)
{
	(void)state;
	for (int i = 0; i < 30; i++)
		values[i] = 191;
	struct histogram histogram = make(30, 189, 193, NAN, NAN);
	assert_int_equal(histogram.bins, 1);
	assert_int_equal(histogram.most, 30);
	assert_true(histogram.low < 191 && histogram.low + histogram.width > 191);
	assert_int_equal(make(0, 0, 1, NAN, NAN).bins, 0);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(every_value_within_is_counted_once),
	    cmocka_unit_test(the_width_is_by_the_quartiles),
	    cmocka_unit_test(coarse_values_get_whole_steps),
	    cmocka_unit_test(no_bin_reaches_over_the_limit_that_is_near),
	    cmocka_unit_test(no_bar_is_too_thin_to_be_seen),
	    cmocka_unit_test(equal_values_are_one_bin),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
