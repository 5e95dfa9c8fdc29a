/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>

#include <float.h>
#include <math.h>

#include "cli/stats/ewma.h"
#include "tests/reference/control_charts.h"
#include "tests/unit/cli/stats/normal.h"
#include "tests/unit/cli/stats/numerics_started.h"
#include "tests/unit/near.h"
#include "tests/unit/published.h"
#include "tests/unit/seed.h"

#define LENGTH(array) (sizeof(array) / sizeof((array)[0]))

static const struct ewma_setting handbook = {.lambda = 0.3, .limit = 3};

static void
the_handbook_course_and_limits_are_met(void **state)
{
	const struct series series = {.values = nist_ewma_data, .count = 20};
	double course[20];
	size_t signals[20];
	struct published_table table =
	    published_begin(SOURCE_HANDBOOK_EWMA, "average after each of 20 values");

	(void)state;
	struct ewma got = ewma_of(&series, 50, 2.0539, &handbook, signals, course);
	for (size_t i = 0; i < 20; i++)
		published_add(&table, course[i], nist_ewma[i], 1e-7);
	published_end(&table);
	published(SOURCE_HANDBOOK_EWMA, "upper limit (printed 52.5884)", got.high,
	    52.58843174, 1e-7);
	published(SOURCE_HANDBOOK_EWMA, "lower limit (printed 47.4115)", got.low,
	    47.41156826, 1e-7);
	published(
	    SOURCE_HANDBOOK_EWMA, "number of signals", (double)got.signal_count, 0, 0);
	assert_near(got.last, nist_ewma[19], 1e-7);
	assert_near(got.max, 51.98824326, 1e-7);
	assert_int_equal(got.signal_count, 0);
	assert_int_equal(got.first_signal, 0);
}

/* The EWMA after t values at the centre and one that just reaches, or just passes, `limit`. */
static size_t
signals_near(size_t t, double limit, double nudge)
{
	double values[10];
	const struct series series = {.values = values, .count = t};

	for (size_t i = 0; i < t; i++)
		values[i] = 50;
	values[t - 1] = 50 + (limit - 50) / 0.3 + nudge;
	return ewma_of(&series, 50, 2.0539, &handbook, NULL, NULL).signal_count;
}

static void
limits_widen_with_the_values(void **state)
{
	/* Time-varying limits of the handbook's example, computed with NumPy 1.24. */
	static const struct {
		size_t t;
		double low, high;
	} at[] = {{1, 48.151490, 51.848510}, {2, 47.743606, 52.256394},
	    {5, 47.448389, 52.551611}};

	(void)state;
	for (size_t i = 0; i < LENGTH(at); i++) {
		assert_int_equal(signals_near(at[i].t, at[i].high, -1e-5), 0);
		assert_int_equal(signals_near(at[i].t, at[i].high, 1e-5), 1);
		assert_int_equal(signals_near(at[i].t, at[i].low, 1e-5), 0);
		assert_int_equal(signals_near(at[i].t, at[i].low, -1e-5), 1);
	}
}

static void
a_missing_value_leaves_the_average_and_its_limits(void **state)
{
	static const double holed[] = {NAN, 51, NAN, 54, INFINITY, 56};
	static const double whole[] = {51, 54, 56};
	const struct series with = {.values = holed, .count = LENGTH(holed)};
	const struct series without = {.values = whole, .count = LENGTH(whole)};
	double course[LENGTH(holed)], plain[LENGTH(whole)];
	size_t signals[LENGTH(holed)], plain_signals[LENGTH(whole)];

	(void)state;
	struct ewma a = ewma_of(&with, 50, 1, &handbook, signals, course);
	struct ewma b = ewma_of(&without, 50, 1, &handbook, plain_signals, plain);
	assert_near(course[0], 50, 0);
	assert_near(course[1], plain[0], 0);
	assert_near(course[2], plain[0], 0);
	assert_near(course[4], plain[1], 0);
	assert_near(a.last, b.last, 0);
	assert_int_equal(a.signal_count, b.signal_count);
	assert_int_equal(b.signal_count, 2);
	assert_int_equal(plain_signals[0], 2);
	assert_int_equal(signals[0], 4);
	assert_int_equal(signals[1], 6);
	assert_int_equal(a.first_signal, 4);
}

static void
without_a_deviation_there_are_no_limits(void **state)
{
	static const double values[] = {50, 50, 50};
	const struct series series = {.values = values, .count = 3};
	const struct series none = {.values = values, .count = 0};
	static const struct cusum_setting cusum = {0.5, 5};

	(void)state;
	struct ewma got = ewma_of(&series, 50, 0, &handbook, NULL, NULL);
	assert_near(got.last, 50, 0);
	assert_true(isnan(got.low) && isnan(got.high));
	assert_int_equal(got.signal_count, 0);
	got = ewma_of(&none, 50, 1, &handbook, NULL, NULL);
	assert_true(isnan(got.last) && isnan(got.max));
	got = ewma_of(&series, NAN, NAN, &handbook, NULL, NULL);
	assert_true(isnan(got.last) && isnan(got.max) && isnan(got.low));

	struct cusum sums = cusum_of(&series, 50, 0, &cusum, NULL);
	assert_true(isnan(sums.high_last) && isnan(sums.low_max));
	sums = cusum_of(&none, 50, 1, &cusum, NULL);
	assert_true(isnan(sums.high_max) && isnan(sums.low_last));
	sums = cusum_of(&series, NAN, 1, &cusum, NULL);
	assert_true(isnan(sums.high_max));
}

static void
a_lambda_of_one_is_the_values_themselves(void **state)
{
	static const double values[] = {50, 53, 53.5, 46.9};
	static const struct ewma_setting shewhart = {1, 3};
	const struct series series = {.values = values, .count = 4};
	size_t signals[4];

	(void)state;
	struct ewma got = ewma_of(&series, 50, 1, &shewhart, signals, NULL);
	assert_near(got.last, 46.9, 1e-14);
	assert_int_equal(got.signal_count, 2); /* on the limit is not beyond it */
	assert_int_equal(signals[0], 3);
	assert_int_equal(signals[1], 4);
}

static void
the_handbook_sums_are_met(void **state)
{
	/* Sums after i values: those of the first i alone. */
	static const struct cusum_setting setting = {0.3175 / 0.635, 4.1959 / 0.635};
	size_t signals[20];

	struct cusum got = {0};
	struct published_table table =
	    published_begin(SOURCE_HANDBOOK_CUSUM, "both sums after each of 20 groups");

	(void)state;
	for (size_t i = 1; i <= 20; i++) {
		const struct series series = {.values = nist_cusum_data, .count = i};
		got = cusum_of(&series, 325, 0.635, &setting, signals);
		published_add(&table, got.high_last, nist_cusum_high[i - 1], 1e-6);
		published_add(&table, got.low_last, nist_cusum_low[i - 1], 1e-6);
		assert_int_equal(got.signal_count, i >= 14 ? i - 13 : 0);
		assert_int_equal(got.first_signal, i >= 14 ? 14 : 0);
	}
	published_end(&table);
	published(SOURCE_HANDBOOK_CUSUM, "first group that signals",
	    (double)got.first_signal, 14, 0);
	assert_near(got.high_max, 19.035, 1e-6);
	assert_near(got.low_max, 0.715, 1e-6);
	assert_int_equal(signals[6], 20);
}

/* How long independent normal values run, on the average, until the first signal. */
static void
check_run_length(struct published_table *table, double h, double shift, double wanted,
    uint64_t *random)
{
	enum { RUNS = 3000, LONGEST = 51200 };
	static double values[LONGEST];
	const struct cusum_setting setting = {0.5, h};
	double sum = 0, squares = 0;

	for (int run = 0; run < RUNS; run++) {
		/* Taken longer until it signals: most do early. */
		size_t count = 0, first = 0;
		for (size_t most = 100; first == 0; most *= 2) {
			assert_true(most <= LONGEST);
			while (count < most)
				values[count++] = shift + normal_next(random);
			const struct series series = {.values = values, .count = count};
			first = cusum_of(&series, 0, 1, &setting, NULL).first_signal;
		}
		sum += (double)first;
		squares += (double)first * (double)first;
	}
	double mean = sum / RUNS;
	double error = sqrt((squares / RUNS - mean * mean) / RUNS);
	published_add(table, mean, wanted, 3 * error);
}

static void
sums_signal_as_late_as_published(void **state)
{
	/* k = 1/2, two-sided; D. C. Montgomery, Introduction to Statistical Quality Control,
	 * table of CUSUM run lengths (from memory): 465, 10.4; 168, 8.38. */
	uint64_t random = seed_take(20261127);
	struct published_table table = published_begin(
	    SOURCE_MEMORY_MONTGOMERY, "mean run length of two-sided sums, simulated");

	(void)state;
	check_run_length(&table, 5, 0, 465, &random);
	check_run_length(&table, 5, 1, 10.4, &random);
	check_run_length(&table, 4, 0, 168, &random);
	check_run_length(&table, 4, 1, 8.38, &random);
	published_end(&table);
}

static void
sums_pass_over_what_is_missing(void **state)
{
	static const double values[] = {NAN, 48, NAN, 47, 60};
	static const struct cusum_setting setting = {0.5, 3};
	const struct series series = {.values = values, .count = 5};
	size_t signals[5];

	(void)state;
	struct cusum got = cusum_of(&series, 50, 1, &setting, signals);
	/* low: 1.5, then 4, then 0; high: 0, 0, 9.5 */
	assert_near(got.low_max, 4, 1e-14);
	assert_near(got.low_last, 0, 0);
	assert_near(got.high_last, 9.5, 1e-14);
	assert_int_equal(got.signal_count, 2);
	assert_int_equal(signals[0], 4);
	assert_int_equal(signals[1], 5);
}

static void
values_at_the_end_of_the_doubles_do_not_crash(void **state)
{
	static const double wide[] = {DBL_MAX, -DBL_MAX, DBL_MAX, -DBL_MAX};
	static const struct cusum_setting cusum = {0.5, 5};
	const struct series series = {.values = wide, .count = 4};
	size_t signals[4];

	(void)state;
	struct ewma got = ewma_of(&series, 0, 1, &handbook, signals, NULL);
	assert_int_equal(got.first_signal, 1);
	assert_false(isinf(got.last) || isinf(got.max));
	struct cusum sums = cusum_of(&series, DBL_MAX, 1, &cusum, signals);
	assert_true(sums.signal_count <= 4);
	assert_false(isinf(sums.low_max) || isinf(sums.high_max));
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(the_handbook_course_and_limits_are_met),
	    cmocka_unit_test(limits_widen_with_the_values),
	    cmocka_unit_test(a_missing_value_leaves_the_average_and_its_limits),
	    cmocka_unit_test(without_a_deviation_there_are_no_limits),
	    cmocka_unit_test(a_lambda_of_one_is_the_values_themselves),
	    cmocka_unit_test(the_handbook_sums_are_met),
	    cmocka_unit_test(sums_signal_as_late_as_published),
	    cmocka_unit_test(sums_pass_over_what_is_missing),
	    cmocka_unit_test(values_at_the_end_of_the_doubles_do_not_crash),
	};

	return cmocka_run_group_tests(tests, numerics_started, NULL);
}
