/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>

#include <math.h>

#include "cli/stats/chart_constants.h"
#include "cli/stats/subgroups.h"
#include "tests/reference/nist_strd.h"
#include "tests/unit/cli/stats/numerics_started.h"
#include "tests/unit/near.h"
#include "tests/unit/published.h"

#define LENGTH(array) (sizeof(array) / sizeof((array)[0]))

static struct subgroups
of(const double *values, const bool *breaks, size_t count, size_t size)
{
	const struct series series = {values, breaks, count};

	return subgroups_of(&series, size);
}

static void
assert_nothing(const struct subgroups *got)
{
	assert_int_equal(got->count, 0);
	assert_true(isnan(got->grand_mean) && isnan(got->mean_range));
	assert_true(isnan(got->mean_sd) && isnan(got->pooled_sd));
	assert_true(isnan(got->sigma_range) && isnan(got->sigma_sd));
	assert_true(isnan(got->sigma_pooled) && isnan(got->mean_by_range.high));
	assert_true(isnan(got->range.high) && isnan(got->sd.centre));
}

static void
twenty_subgroups_of_five_give_their_limits(void **state)
{
	/* NIST StRD Michelso in the order of the file; computed with NumPy 1.24 and the
	 * exact constants. */
	struct published_table table = published_begin(
	    SOURCE_NUMPY, "deviations and limits of 20 subgroups of StRD Michelso");

	(void)state;
	struct subgroups got = of(nist_michelso, NULL, 100, 5);
	assert_int_equal(got.count, 20);
	assert_int_equal(got.left_out, 0);
	published(SOURCE_STRD_UNIVARIATE, "mean of the subgroups of Michelso",
	    got.grand_mean, 299.8524, 1e-10);
	published_add(&table, got.mean_range, 0.1355, 1e-12);
	published_add(&table, got.mean_sd, 0.0563517375, 1e-9);
	published_add(&table, got.pooled_sd, 0.0696168083, 1e-9);
	published_add(&table, got.sigma_range, 0.05825629, 1e-8);
	published_add(&table, got.sigma_sd, 0.05994958, 1e-8);
	published_add(&table, got.sigma_pooled, 0.0698346954, 1e-9);
	published_add(&table, got.mean_by_range.high, 299.93055902, 1e-7);
	published_add(&table, got.mean_by_range.low, 299.77424098, 1e-7);
	published_add(&table, got.range.high, 0.28651463, 1e-7);
	published_add(&table, got.range.low, 0, 0);
	published_add(&table, got.mean_by_sd.high, 299.93283080, 1e-7);
	published_add(&table, got.mean_by_sd.low, 299.77196920, 1e-7);
	published_add(&table, got.sd.high, 0.11771866, 1e-7);
	published_end(&table);
}

static void
incomplete_subgroups_are_left_out_and_counted(void **state)
{
	static const double values[] = {1, 3, NAN, 9, 2, 6, 4, 8, 5};
	static const bool breaks[] = {
	    false, false, false, false, true, false, false, true, false};

	(void)state;
	/* 1 3 | nan 9 | (break) 2 6 | 4 (break) 8 | 5: a break before a subgroup parts none */
	struct subgroups got = of(values, breaks, LENGTH(values), 2);
	assert_int_equal(got.count, 2);
	assert_int_equal(got.left_out, 3);
	assert_near(got.grand_mean, 3, 1e-15);
	assert_near(got.mean_range, 3, 1e-15);
	assert_near(got.pooled_sd, sqrt(5), 1e-15);

	double means[LENGTH(values) / 2];
	const struct series series = {values, breaks, LENGTH(values)};
	assert_int_equal(subgroups_means(&series, 2, means), 4);
	assert_near(means[0], 2, 0);
	assert_true(isnan(means[1]));
	assert_near(means[2], 4, 0);
	assert_true(isnan(means[3]));
}

static void
too_few_values_make_no_subgroup(void **state)
{
	static const double values[] = {1, 2, 3};
	static const double missing[] = {NAN, NAN, NAN, NAN, NAN, NAN};

	(void)state;
	struct subgroups none = of(values, NULL, 0, 5), few = of(values, NULL, 3, 5);
	struct subgroups lost = of(missing, NULL, 6, 3);
	assert_nothing(&none);
	assert_int_equal(none.left_out, 0);
	assert_nothing(&few);
	assert_int_equal(few.left_out, 1);
	assert_nothing(&lost);
	assert_int_equal(lost.left_out, 2);
}

static void
identical_values_have_limits_without_width(void **state)
{
	double values[50];

	(void)state;
	for (size_t i = 0; i < LENGTH(values); i++)
		values[i] = 0.3;
	struct subgroups got = of(values, NULL, LENGTH(values), 25);
	assert_int_equal(got.count, 2);
	assert_near(got.sigma_range, 0, 0);
	assert_near(got.sigma_pooled, 0, 0);
	assert_near(got.mean_by_sd.low, 0.3, 0);
	assert_near(got.mean_by_sd.high, 0.3, 0);
}

static void
values_at_the_end_of_the_doubles_are_left_out(void **state)
{
	static const double wide[] = {1e308, -1e308, 1, 2, 1e200, -1e200};

	(void)state;
	struct subgroups got = of(wide, NULL, LENGTH(wide), 2);
	assert_int_equal(got.count, 1);
	assert_int_equal(got.left_out, 2);
	assert_near(got.grand_mean, 1.5, 0);
}

static void
a_huge_offset_leaves_the_widths(void **state)
{
	double values[100];

	(void)state;
	for (size_t i = 0; i < LENGTH(values); i++)
		values[i] = 1e9 + (double)(i * 37 % 101) / 1024;
	struct subgroups got = of(values, NULL, LENGTH(values), 5);
	for (size_t i = 0; i < LENGTH(values); i++)
		values[i] -= 1e9;
	struct subgroups plain = of(values, NULL, LENGTH(values), 5);
	assert_near(got.mean_range, plain.mean_range, 1e-15);
	assert_near(got.pooled_sd, plain.pooled_sd, 1e-14);
	assert_near(got.mean_sd, plain.mean_sd, 1e-14);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(twenty_subgroups_of_five_give_their_limits),
	    cmocka_unit_test(incomplete_subgroups_are_left_out_and_counted),
	    cmocka_unit_test(too_few_values_make_no_subgroup),
	    cmocka_unit_test(identical_values_have_limits_without_width),
	    cmocka_unit_test(values_at_the_end_of_the_doubles_are_left_out),
	    cmocka_unit_test(a_huge_offset_leaves_the_widths),
	};

	return cmocka_run_group_tests(tests, numerics_started, NULL);
}
