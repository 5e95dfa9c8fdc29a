/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/population/runs.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "tests/unit/near.h"

/* Two lots of recipe 12 that take turns, one of recipe 31, and one without a complete shot. */
static const struct population_features features = {{FEATURE_SAG_S}, 1};
static int64_t numbers_a[] = {1, 2, 6}, numbers_b[] = {3, 5}, numbers_c[] = {4};
static struct wall at_a[] = {{10}, {20}, {60}}, at_b[] = {{30}, {50}}, at_c[] = {{40}};
static double values_a[] = {1, 2, 6}, values_b[] = {3, 5}, values_c[] = {4};

static struct population list[] = {
    {.recipe = "12",
	.tool = "T-1",
	.lot = "A",
	.features = &features,
	.complete = {numbers_a, 3, 3},
	.filed_at = at_a,
	.values = values_a},
    {.recipe = "31",
	.tool = "T-1",
	.lot = "A",
	.features = &features,
	.complete = {numbers_c, 1, 1},
	.filed_at = at_c,
	.values = values_c},
    {.recipe = "12",
	.tool = "T-1",
	.lot = "B",
	.features = &features,
	.complete = {numbers_b, 2, 2},
	.filed_at = at_b,
	.values = values_b},
    {.recipe = "12", .tool = "T-1", .lot = "C", .features = &features},
};
static const struct populations all = {.features = &features, .list = list, .count = 4};

static void
a_run_is_a_recipe_and_tool_in_the_order_of_time(void **state)
{
	struct runs runs;
	double values[5];
	bool breaks[5];

	(void)state;
	assert_int_equal(runs_make(&runs, &all, NULL), 0);
	assert_int_equal(runs.count, 2);
	const struct run *run = &runs.list[0];
	assert_string_equal(run->recipe, "12");
	assert_int_equal(run->count, 5);
	assert_int_equal(run->lots, 2);
	run_series(run, FEATURE_SAG_S, false, values, breaks);
	const double wanted[] = {1, 2, 3, 5, 6};
	for (size_t i = 0; i < 5; i++) {
		assert_near(values[i], wanted[i], 0);
		assert_int_equal(run_shot_no(run, i), (int64_t)wanted[i]);
	}
	assert_string_equal(runs.list[1].recipe, "31");
	runs_release(&runs);
}

static void
a_break_is_where_a_shot_is_missing_or_the_lot_changes(void **state)
{
	struct runs runs;
	double values[5];
	bool breaks[5];
	const bool by_number[] = {true, false, false, true, false},
		   by_lot[] = {true, false, true, true, true};

	(void)state;
	assert_int_equal(runs_make(&runs, &all, NULL), 0);
	run_series(&runs.list[0], FEATURE_SAG_S, false, values, breaks);
	assert_memory_equal(breaks, by_number, sizeof breaks);
	run_series(&runs.list[0], FEATURE_SAG_S, true, values, breaks);
	assert_memory_equal(breaks, by_lot, sizeof breaks);
	runs_release(&runs);
}

static void
a_tail_has_the_last_shots(void **state)
{
	struct runs runs;

	(void)state;
	assert_int_equal(runs_make(&runs, &all, NULL), 0);
	const struct run tail = run_tail(&runs.list[0], 2);
	assert_int_equal(tail.count, 2);
	assert_int_equal(run_shot_no(&tail, 0), 5);
	assert_int_equal(run_tail(&runs.list[0], 9).count, 5);
	runs_release(&runs);
}

static void
without_a_complete_shot_there_is_no_run(void **state)
{
	const struct populations none = {.features = &features},
				 bare = {.features = &features,
				     .list = &list[3],
				     .count = 1};
	struct runs runs;

	(void)state;
	assert_int_equal(runs_make(&runs, &none, NULL), 0);
	assert_int_equal(runs.count, 0);
	runs_release(&runs);
	assert_int_equal(runs_make(&runs, &bare, NULL), 0);
	assert_int_equal(runs.count, 0);
	runs_release(&runs);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(a_run_is_a_recipe_and_tool_in_the_order_of_time),
	    cmocka_unit_test(a_break_is_where_a_shot_is_missing_or_the_lot_changes),
	    cmocka_unit_test(a_tail_has_the_last_shots),
	    cmocka_unit_test(without_a_complete_shot_there_is_no_run),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
