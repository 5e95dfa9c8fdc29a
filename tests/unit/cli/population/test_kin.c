/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/population/kin.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

static void
what_rests_on_the_same_readings_is_kin(void **state)
{
	(void)state;
	assert_true(kin_are(FEATURE_EXIT_TOP_C, FEATURE_EXIT_TOP_FIRST + 2));
	assert_true(kin_are(FEATURE_EXIT_DIFFERENCE_DC, FEATURE_EXIT_BOTTOM_C));
	assert_true(kin_are(FEATURE_SAG_S, FEATURE_HEAT_S));
	assert_true(kin_are(FEATURE_SAG_S, FEATURE_CYCLE_S));
	assert_true(kin_are(FEATURE_SAG_S, FEATURE_ENERGY_KWH)); /* output times time */
	assert_true(kin_are(FEATURE_TOOL_MEAN_FIRST, FEATURE_TOOL_SPREAD_OF_MEANS_DC));
	assert_true(kin_are(FEATURE_STACK_C, FEATURE_STACK_C));
	assert_false(kin_are(FEATURE_EXIT_TOP_C, FEATURE_EXIT_BOTTOM_C));
	assert_false(kin_are(FEATURE_EXIT_TOP_C, FEATURE_AMBIENT_C));
	assert_false(
	    kin_are(FEATURE_TOOL_SPREAD_OF_MEANS_DC, FEATURE_WATER_FLOW_FIRST + 1));
}

static void
kinship_goes_both_ways(void **state)
{
	(void)state;
	for (int a = 0; a < FEATURE_COUNT; a++)
		for (int b = 0; b < FEATURE_COUNT; b++)
			assert_int_equal(kin_are(a, b), kin_are(b, a));
}

static void
circuits_are_told_apart_and_a_side_s_pyrometers_are_not(void **state)
{
	(void)state;
	assert_true(kin_tell_the_same(
	    FEATURE_WATER_RISE_FIRST + 1, FEATURE_HEAT_REMOVED_FIRST + 1));
	assert_false(kin_tell_the_same(
	    FEATURE_WATER_RISE_FIRST + 1, FEATURE_WATER_RISE_FIRST + 7));
	assert_true(
	    kin_tell_the_same(FEATURE_EXIT_BOTTOM_C, FEATURE_EXIT_BOTTOM_FIRST));
}

static void
how_well_something_was_read_moves_nothing(void **state)
{
	(void)state;
	assert_false(kin_is_input(FEATURE_HEAT_COVERAGE));
	assert_false(kin_is_input(FEATURE_CORE_HEAT_END_BAND_DC));
	assert_true(kin_is_input(FEATURE_AMBIENT_C));
}

static void
a_line_s_inputs_are_those_it_has_positions_for(void **state)
{
	struct line_settings line = {.surfaces_top = 2, .circuits = 1};
	struct population_features features = {.count = 0}, bare = {.count = 0};

	(void)state;
	kin_add_inputs(&features, &line);
	kin_add_inputs(&bare, NULL);
	size_t tops = 0, tools = 0;
	for (size_t i = 0; i < features.count; i++) {
		int first;
		enum feature_family family = feature_family(features.list[i], &first);
		tops += family == FAMILY_SURFACES_TOP;
		tools += family == FAMILY_TOOLS;
	}
	assert_int_equal(tops, 2);
	assert_int_equal(tools, 0);
	/* six families have a figure a circuit */
	assert_true(features.count > bare.count + 2);
	for (size_t i = 0; i < bare.count; i++)
		assert_true(bare.list[i] < FEATURE_FIXED_COUNT);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(what_rests_on_the_same_readings_is_kin),
	    cmocka_unit_test(kinship_goes_both_ways),
	    cmocka_unit_test(circuits_are_told_apart_and_a_side_s_pyrometers_are_not),
	    cmocka_unit_test(how_well_something_was_read_moves_nothing),
	    cmocka_unit_test(a_line_s_inputs_are_those_it_has_positions_for),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
