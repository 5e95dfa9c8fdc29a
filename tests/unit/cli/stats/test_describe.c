/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>

#include <float.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "cli/stats/autocorrelation.h"
#include "cli/stats/describe.h"
#include "tests/reference/control_charts.h"
#include "tests/reference/nist_strd.h"
#include "tests/unit/cli/stats/numerics_started.h"
#include "tests/unit/near.h"
#include "tests/unit/published.h"

#define LENGTH(array) (sizeof(array) / sizeof((array)[0]))

static struct description
of(const double *values, size_t count)
{
	const struct series series = {.values = values, .count = count};
	double *sorted = calloc(count + 1, sizeof(*sorted));

	assert_non_null(sorted);
	size_t n = describe_sort(&series, sorted);
	for (size_t i = 1; i < n; i++)
		assert_true(sorted[i - 1] <= sorted[i]);
	struct description description = describe(&series, sorted, n);
	free(sorted);
	return description;
}

static struct moving_ranges
ranges_of(const double *values, const bool *breaks, size_t count)
{
	const struct series series = {values, breaks, count};
	double *ranges = calloc(count + 1, sizeof(*ranges));

	assert_non_null(ranges);
	struct moving_ranges moving = describe_moving_ranges(&series, ranges);
	free(ranges);
	return moving;
}

static void
certified_means_and_deviations_are_met(void **state)
{
	struct published_table means =
	    published_begin(SOURCE_STRD_UNIVARIATE, "mean of a data set");
	struct published_table deviations =
	    published_begin(SOURCE_STRD_UNIVARIATE, "standard deviation of a data set");

	(void)state;
	for (size_t i = 0; i < LENGTH(nist_strd); i++) {
		const struct nist_strd *set = &nist_strd[i];
		struct description got = of(set->values, set->count);
		assert_int_equal(got.n, set->count);
		published_add(&means, got.mean, set->mean, 1e-14 * fabs(set->mean));
		published_add(&deviations, got.sd, set->sd, set->near_sd * set->sd);
	}
	published_end(&means);
	published_end(&deviations);
}

static void
the_doubles_of_numacc_have_a_deviation_of_their_own(void **state)
{
	/* The decimals of NumAcc3 and 4 are no doubles; what is stored was computed in 30
	 * digits with mpmath 1.2. */
	static const double sd[] = {0.1, 0.100000000034924597, 0.100000000558793545};
	static const double lag[] = {-0.999, -0.9989999999994185, -0.9989999999906961};
	struct published_table means =
	    published_begin(SOURCE_STRD_UNIVARIATE, "mean of NumAcc2 to 4");
	struct published_table deviations = published_begin(
	    SOURCE_MPMATH, "standard deviation of the doubles of NumAcc2 to 4");
	struct published_table lags = published_begin(
	    SOURCE_MPMATH, "autocorrelation of the doubles of NumAcc2 to 4");

	(void)state;
	for (size_t i = 0; i < LENGTH(nist_numacc); i++) {
		const struct nist_numacc *set = &nist_numacc[i];
		double values[2 * NIST_NUMACC_PAIRS + 1] = {set->mean};
		for (size_t j = 1; j < LENGTH(values); j++)
			values[j] = j % 2 ? set->low : set->high;
		struct description got = of(values, LENGTH(values));
		const struct series series = {
		    .values = values, .count = LENGTH(values)};
		published_add(&means, got.mean, set->mean, 1e-14 * set->mean);
		published_add(&deviations, got.sd, sd[i], 1e-14);
		published_add(
		    &lags, autocorrelation_lag1(&series, got.mean), lag[i], 1e-10);
		assert_int_equal(got.distinct, 3);
	}
	published_end(&means);
	published_end(&deviations);
	published_end(&lags);
}

/*
 * The first digits of pi, 3, 1, 4 ..., by the spigot of S. Rabinowitz and S. Wagon, American
 * Mathematical Monthly 102:195-203, 1995: four digits a turn.
 */
enum { PI_DIGITS = 5000, SPIGOT = 14 * (PI_DIGITS / 4 + 2) };

static void
write_pi(double digits[static PI_DIGITS])
{
	static long rest[SPIGOT + 1];
	long carried = 0;
	size_t written = 0;

	for (size_t i = 0; i <= SPIGOT; i++)
		rest[i] = 2000;
	for (size_t terms = SPIGOT; written < PI_DIGITS; terms -= 14) {
		long sum = 0;
		for (size_t i = terms; i > 0; i--) {
			long odd = 2 * (long)i - 1;
			sum = sum * (long)i + 10000 * rest[i];
			rest[i] = sum % odd;
			sum /= odd;
		}
		long four = carried + sum / 10000;
		carried = sum % 10000;
		for (long place = 1000; place > 0; place /= 10)
			digits[written++] = (double)(four / place % 10);
	}
}

/* See nist_strd.h. */
static void
misprint(double digits[static PI_DIGITS])
{
	size_t i = 1;

	while (!(digits[i] > 7 && digits[i] < 9) ||
	       fabs(digits[i - 1] + digits[i + 1] - 7) > 0)
		assert_true(++i + 1 < PI_DIGITS);
	digits[i] = 3;
}

static void
the_digits_of_pi_have_their_certified_moments(void **state)
{
	static double digits[PI_DIGITS];
	const struct series series = {.values = digits, .count = PI_DIGITS};

	(void)state;
	write_pi(digits);
	double true_mean = of(digits, PI_DIGITS).mean;
	assert_near(true_mean, 4.5358, 1e-14 * true_mean);
	misprint(digits);
	struct description got = of(digits, PI_DIGITS);
	published(SOURCE_STRD_UNIVARIATE, "mean of 5000 digits of pi, as printed there",
	    got.mean, NIST_PI_MEAN, 1e-14 * NIST_PI_MEAN);
	published(SOURCE_STRD_UNIVARIATE, "standard deviation of these digits", got.sd,
	    NIST_PI_SD, 1e-14 * NIST_PI_SD);
	published(SOURCE_STRD_UNIVARIATE, "autocorrelation of these digits",
	    autocorrelation_lag1(&series, got.mean), NIST_PI_LAG, 1e-14);
	assert_int_equal(got.distinct, 10);
	assert_near(got.min, 0, 0);
	assert_near(got.max, 9, 0);
}

static void
a_huge_offset_leaves_the_deviation(void **state)
{
	/* Steps of 2^-20 about 1e9: the doubles hold them exactly. */
	enum { N = 1000 };
	double plain[N], offset[N];

	(void)state;
	for (size_t i = 0; i < N; i++) {
		plain[i] = (double)(i * 7919 % 1009) / 1048576;
		offset[i] = 1e9 + plain[i];
	}
	struct description small = of(plain, N), large = of(offset, N);
	assert_near(large.sd, small.sd, 1e-13 * small.sd);
	assert_near(large.mean, 1e9 + small.mean, 2e-7);
	assert_int_equal(large.distinct, small.distinct);
	struct moving_ranges a = ranges_of(plain, NULL, N);
	struct moving_ranges b = ranges_of(offset, NULL, N);
	assert_near(b.mean, a.mean, 1e-14 * a.mean);
	assert_near(b.median, a.median, 0);
}

static void
what_is_not_there_is_not_told(void **state)
{
	static const double missing[] = {NAN, NAN, INFINITY, -INFINITY};

	(void)state;
	struct description none = of(missing, 0);
	assert_int_equal(none.n + none.missing + none.distinct, 0);
	struct description lost = of(missing, LENGTH(missing));
	assert_int_equal(lost.n, 0);
	assert_int_equal(lost.missing, 4);
	assert_true(isnan(lost.min) && isnan(lost.max) && isnan(lost.mean));
	assert_true(isnan(lost.median) && isnan(lost.sd));
	struct moving_ranges moving = ranges_of(missing, NULL, LENGTH(missing));
	assert_int_equal(moving.count, 0);
	assert_true(isnan(moving.mean) && isnan(moving.median) && isnan(moving.max));
	assert_true(isnan(moving.sigma) && isnan(moving.sigma_from_median));
}

static void
one_value_has_a_mean_and_no_deviation(void **state)
{
	static const double one[] = {NAN, 4.5, NAN};

	(void)state;
	struct description got = of(one, LENGTH(one));
	assert_int_equal(got.n, 1);
	assert_int_equal(got.missing, 2);
	assert_int_equal(got.distinct, 1);
	assert_near(got.mean, 4.5, 0);
	assert_near(got.median, 4.5, 0);
	assert_true(isnan(got.sd));
	assert_int_equal(ranges_of(one, NULL, LENGTH(one)).count, 0);
}

static void
identical_values_do_not_scatter(void **state)
{
	double values[50];

	(void)state;
	for (size_t i = 0; i < LENGTH(values); i++)
		values[i] = 0.1;
	struct description got = of(values, LENGTH(values));
	assert_near(got.mean, 0.1, 0);
	assert_near(got.median, 0.1, 0);
	assert_near(got.sd, 0, 0);
	assert_int_equal(got.distinct, 1);
	struct moving_ranges moving = ranges_of(values, NULL, LENGTH(values));
	assert_int_equal(moving.count, 49);
	assert_near(moving.sigma, 0, 0);
	assert_near(moving.sigma_from_median, 0, 0);
}

static void
values_at_the_end_of_the_doubles_give_no_false_figure(void **state)
{
	static const double wide[] = {-DBL_MAX, DBL_MAX, -DBL_MAX, DBL_MAX};

	(void)state;
	struct description got = of(wide, LENGTH(wide));
	assert_near(got.max, DBL_MAX, 0);
	assert_true(isnan(got.mean) && isnan(got.sd) && isnan(got.median));
	assert_int_equal(ranges_of(wide, NULL, LENGTH(wide)).count, 0);
}

static void
quantiles_are_of_type_7(void **state)
{
	/* quantile(c(1, 2, 4, 8, 16), c(0, .1, .25, .5, .9, 1)) of R 4.2 */
	static const double sorted[] = {1, 2, 4, 8, 16};
	struct published_table table =
	    published_begin(SOURCE_R, "quantiles of 1 2 4 8 16, type 7");

	(void)state;
	published_add(&table, describe_quantile(sorted, 5, 0), 1, 0);
	published_add(&table, describe_quantile(sorted, 5, 0.1), 1.4, 1e-15);
	published_add(&table, describe_quantile(sorted, 5, 0.25), 2, 0);
	published_add(&table, describe_quantile(sorted, 5, 0.5), 4, 0);
	published_add(&table, describe_quantile(sorted, 5, 0.9), 12.8, 1e-14);
	published_add(&table, describe_quantile(sorted, 5, 1), 16, 0);
	published_end(&table);
	assert_near(describe_quantile(sorted, 1, 0.3), 1, 0);
	assert_true(isnan(describe_quantile(sorted, 0, 0.5)));
	assert_true(isnan(describe_quantile(sorted, 5, NAN)));
	assert_true(isnan(describe_quantile(sorted, 5, 1.5)));
}

static void
the_flow_rate_example_gives_its_moving_ranges(void **state)
{
	(void)state;
	struct description got = of(nist_flow_rate, LENGTH(nist_flow_rate));
	struct moving_ranges moving =
	    ranges_of(nist_flow_rate, NULL, LENGTH(nist_flow_rate));
	published(
	    SOURCE_HANDBOOK_INDIVIDUALS, "mean flow rate", got.mean, 50.81, 1e-12);
	assert_near(got.sd, 2.0338523928, 1e-9);
	assert_int_equal(moving.count, 9);
	/* printed: 1.8778, 55.8041, 45.8159 */
	published(SOURCE_HANDBOOK_INDIVIDUALS, "mean moving range", moving.mean,
	    1.87777777778, 1e-10);
	assert_near(moving.median, 1.5, 1e-12);
	assert_near(moving.max, 3.5, 1e-12);
	assert_near(moving.sigma, 1.66413723, 1e-8);
	assert_near(moving.sigma_from_median, 1.5725371238, 1e-8);
	assert_near(got.mean + 3 * moving.sigma, 55.80241168, 1e-7);
	assert_near(got.mean - 3 * moving.sigma, 45.81758832, 1e-7);
	/* The handbook's own limits, with d2 = 1.128. */
	published(SOURCE_HANDBOOK_INDIVIDUALS, "upper limit, with d2 = 1.128",
	    got.mean + 3 * moving.mean / 1.128, 55.804090, 1e-5);
	published(SOURCE_HANDBOOK_INDIVIDUALS, "lower limit, with d2 = 1.128",
	    got.mean - 3 * moving.mean / 1.128, 45.815910, 1e-5);
}

static void
no_range_crosses_a_gap(void **state)
{
	static const double holed[] = {1, 2, NAN, 100, 101.5, INFINITY, 7};
	static const double whole[] = {1, 2, 100, 101.5};
	static const bool breaks[] = {false, false, true, false};

	(void)state;
	struct moving_ranges moving = ranges_of(holed, NULL, LENGTH(holed));
	assert_int_equal(moving.count, 2);
	assert_near(moving.mean, 1.25, 1e-15);
	assert_near(moving.max, 1.5, 0);
	moving = ranges_of(whole, breaks, LENGTH(whole));
	assert_int_equal(moving.count, 2);
	assert_near(moving.median, 1.25, 1e-15);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(certified_means_and_deviations_are_met),
	    cmocka_unit_test(the_doubles_of_numacc_have_a_deviation_of_their_own),
	    cmocka_unit_test(the_digits_of_pi_have_their_certified_moments),
	    cmocka_unit_test(a_huge_offset_leaves_the_deviation),
	    cmocka_unit_test(what_is_not_there_is_not_told),
	    cmocka_unit_test(one_value_has_a_mean_and_no_deviation),
	    cmocka_unit_test(identical_values_do_not_scatter),
	    cmocka_unit_test(values_at_the_end_of_the_doubles_give_no_false_figure),
	    cmocka_unit_test(quantiles_are_of_type_7),
	    cmocka_unit_test(the_flow_rate_example_gives_its_moving_ranges),
	    cmocka_unit_test(no_range_crosses_a_gap),
	};

	return cmocka_run_group_tests(tests, numerics_started, NULL);
}
