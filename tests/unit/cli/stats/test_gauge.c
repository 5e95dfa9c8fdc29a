/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>

#include <math.h>

#include "cli/stats/gauge.h"
#include "tests/unit/cli/stats/numerics_started.h"
#include "tests/unit/near.h"
#include "tests/unit/published.h"

enum { PARTS = 5, OPERATORS = 3, REPEATS = 2, N = PARTS * OPERATORS * REPEATS };

/* A made-up study in hundredths, part slowest, repeat fastest; what is expected of it was
 * computed with R 4.2 (aov of part * operator). */
/* clang-format off */
static const double study[N] = {
    29, 41, 8, 25, 4, -11,
    -56, -68, -47, -122, -138, -113,
    134, 117, 119, 94, 88, 109,
    47, 50, 1, 103, 14, 20,
    -80, -92, -56, -120, -146, -107,
};
/* clang-format on */

static struct gauge
of_study(double factor, double offset)
{
	double values[N];

	for (int i = 0; i < N; i++)
		values[i] = offset + factor * study[i];
	return gauge_of(values, PARTS, OPERATORS, REPEATS);
}

static void
a_crossed_study_gives_what_r_gives(void **state)
{
	struct published_table table = published_begin(
	    SOURCE_R, "mean squares, p and variances of a crossed gauge study, aov");

	(void)state;
	struct gauge got = of_study(0.01, 0);
	published_add(&table, got.mean_squares.part, 4.80757166666667, 1e-12);
	published_add(&table, got.mean_squares.operator_, 0.42753, 1e-12);
	published_add(&table, got.mean_squares.interaction, 0.0177341666667, 1e-12);
	published_add(&table, got.mean_squares.repeat, 0.0820566666667, 1e-12);
	published_add(&table, got.interaction_p, 0.9826406217, 1e-9);
	published_add(&table, got.variances.repeat, 0.0820566666667, 1e-12);
	published_add(&table, got.variances.interaction, 0, 0);
	published_add(&table, got.variances.operator_, 0.0409795833333, 1e-12);
	published_add(&table, got.variances.part, 0.79830625, 1e-12);
	published_add(&table, got.gauge_sd, 0.350765234879, 1e-11);
	published_add(&table, got.total_sd, 0.959865876047, 1e-11);
	published_end(&table);
	published(SOURCE_R, "share of the gauge in the total deviation, %",
	    got.percent_of_total_sd, 36.54315083, 1e-8);
	assert_near(got.distinct_categories, 3, 0); /* 3.591594803, truncated */
}

static void
an_offset_changes_nothing(void **state)
{
	(void)state;
	struct gauge plain = of_study(1, 0), moved = of_study(1, 1e9);
	assert_near(moved.mean_squares.part, plain.mean_squares.part, 1e-8);
	assert_near(
	    moved.mean_squares.interaction, plain.mean_squares.interaction, 1e-8);
	assert_near(moved.gauge_sd, plain.gauge_sd, 1e-10);
	assert_near(moved.distinct_categories, plain.distinct_categories, 0);
}

static void
an_interaction_that_shows_is_part_of_the_gauge(void **state)
{
	/* Means of the cells 0 and 2, crossed; repeats 1 apart.  By hand: part and operator
	 * mean squares 0, interaction 8, repeat 1/2. */
	static const double crossed[] = {-0.5, 0.5, 1.5, 2.5, 1.5, 2.5, -0.5, 0.5};

	(void)state;
	struct gauge got = gauge_of(crossed, 2, 2, 2);
	assert_near(got.mean_squares.part, 0, 1e-15);
	assert_near(got.mean_squares.operator_, 0, 1e-15);
	assert_near(got.mean_squares.interaction, 8, 1e-14);
	assert_near(got.mean_squares.repeat, 0.5, 1e-15);
	assert_near(got.variances.interaction, 3.75, 1e-14);
	assert_near(got.gauge_sd, sqrt(4.25), 1e-14);
	assert_near(got.percent_of_total_sd, 100, 1e-12);
	assert_near(got.distinct_categories, 0, 0);
}

static void
categories_are_truncated_from_1_41_ratios(void **state)
{
	/* Parts 4.24 apart, repeats 2: part sd / gauge sd = 2.12, times 1.41 = 2.99. */
	static const double values[] = {-1, 1, -1, 1, 3.24, 5.24, 3.24, 5.24};

	(void)state;
	struct gauge got = gauge_of(values, 2, 2, 2);
	assert_near(sqrt(got.variances.part) / got.gauge_sd, 2.12, 1e-12);
	assert_near(got.distinct_categories, 2, 0);
}

static void
a_gauge_without_scatter_claims_no_number_of_categories(void **state)
{
	static const double parts_only[] = {1, 1, 1, 1, 5, 5, 5, 5};
	static const double nothing[8] = {7, 7, 7, 7, 7, 7, 7, 7};

	(void)state;
	struct gauge got = gauge_of(parts_only, 2, 2, 2);
	assert_near(got.gauge_sd, 0, 0);
	assert_near(got.total_sd, sqrt(8), 1e-14);
	assert_near(got.percent_of_total_sd, 0, 0);
	assert_true(isnan(got.interaction_p) && isnan(got.distinct_categories));
	got = gauge_of(nothing, 2, 2, 2);
	assert_near(got.total_sd, 0, 0);
	assert_true(isnan(got.percent_of_total_sd) && isnan(got.distinct_categories));
}

static void
values_at_the_end_of_the_doubles_are_not_told_wrong(void **state)
{
	static const double wide[] = {1e308, -1e308, 1, 2, 3, 4, 1e200, -1e200};

	(void)state;
	struct gauge got = gauge_of(wide, 2, 2, 2);
	assert_true(isnan(got.mean_squares.part) && isnan(got.variances.repeat));
	assert_true(isnan(got.total_sd) && isnan(got.interaction_p));
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(a_crossed_study_gives_what_r_gives),
	    cmocka_unit_test(an_offset_changes_nothing),
	    cmocka_unit_test(an_interaction_that_shows_is_part_of_the_gauge),
	    cmocka_unit_test(categories_are_truncated_from_1_41_ratios),
	    cmocka_unit_test(a_gauge_without_scatter_claims_no_number_of_categories),
	    cmocka_unit_test(values_at_the_end_of_the_doubles_are_not_told_wrong),
	};

	return cmocka_run_group_tests(tests, numerics_started, NULL);
}
