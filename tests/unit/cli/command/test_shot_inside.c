/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>

#include "cli/command/shot_inside.h"
#include "tests/unit/cli/command/waterplant.h"
#include "tests/unit/near.h"

#include "tests/unit/cli/command/one_plant.h"

#define run(...) plant_run_command(&plant, "--ledger", plant.ledger_path, __VA_ARGS__)

static struct shot *
exact_shot(void)
{
	struct shot *shot = waterplant_shot(&plant, 1, 2);

	waterplant_set(&plant, shot, FEATURE_CORE_FORM_START_C, 151.2, 0);
	waterplant_set(&plant, shot, FEATURE_CORE_FORM_START_BAND_DC, 7.6, 0);
	waterplant_set(&plant, shot, FEATURE_SURFACE_CORE_DC, 34, 0);
	waterplant_set(&plant, shot, FEATURE_SURFACE_CORE_BAND_DC, 6, 0);
	waterplant_set(&plant, shot, FEATURE_REYNOLDS_FIRST, 16000, 0);
	waterplant_set(&plant, shot, FEATURE_REYNOLDS_FIRST + 1, 3000, 0);
	waterplant_set(&plant, shot, FEATURE_REYNOLDS_FIRST + 2, 1500, 0);
	return shot;
}

/* How often a piece of text stands in another. */
static int
times(const char *text, const char *part)
{
	int count = 0;

	for (const char *at = text; (at = strstr(at, part)) != NULL; at++)
		count++;
	return count;
}

static void
a_core_is_told_with_its_band(void **state)
{
	(void)state;
	plant_write(&plant, exact_shot());
	run("shot", "1");
	assert_int_equal(plant.code, COMMAND_DONE);
	/* 151.2 C is 304.16 F; half of a band of 7.6 K 13.68 F, without the 32 */
	assert_tells(plant.out, "core at form start ");
	assert_tells(plant.out, " 304.2 +- 13.7 F\n");
	assert_tells(plant.out, " 61.2 +- 10.8 F\n");
	assert_tells(plant.out, "abs demo-1 4c1a09e2");
	assert_tells(plant.out, "+- is half of the 95 % interval");
}

static void
circuits_are_a_table_with_how_the_water_flows(void **state)
{
	(void)state;
	plant_write(&plant, exact_shot());
	run("shot", "1");
	const char *table = strstr(plant.out, "Water and tool by circuit");
	assert_non_null(table);
	assert_tells(table, "turbulent");
	assert_tells(table, "transitional");
	assert_tells(table, "laminar");
	assert_tells(plant.out, "water's share of it");
	/* none of the lines is there twice */
	assert_int_equal(times(plant.out, "water_rise_3_dc"), 0);
	assert_int_equal(times(plant.out, "core_form_start_c"), 0);
	assert_true(times(plant.out, "heat_s ") >= 1);
	for (const char *line = plant.out; *line; line = strchr(line, '\n') + 1)
		assert_true(strcspn(line, "\n") <= PAGE_WIDTH);
}

static void
machines_get_every_feature_and_the_regimes(void **state)
{
	(void)state;
	plant_write(&plant, exact_shot());
	run("shot", "1", "--format", "json");
	assert_tells(plant.out, "\"properties\": \"abs demo-1 4c1a09e2\"");
	assert_tells(
	    plant.out, "{\"feature\": \"core_form_start_c\", \"value\": 151.2");
	assert_tells(plant.out, "{\"feature\": \"water_rise_3_dc\"");
	assert_tells(plant.out, "\"regime\": \"transitional\"");
	run("shot", "1", "--format", "csv");
	assert_tells(plant.out, "core_form_start_band_dc,7.6,K,");
}

static void
what_was_not_computed_keeps_its_reason(void **state)
{
	(void)state;
	struct shot *shot = plant_shot(&plant, 1);
	shot->absent[FEATURE_CORE_HEAT_END_C] = ABSENT_LOW_COVERAGE;
	plant_write(&plant, shot);
	run("shot", "1");
	assert_tells_not(plant.out, "Inside of the sheet");
	assert_tells_not(plant.out, "Water and tool by circuit");
	assert_tells(plant.out, "core_heat_end_c");
	assert_tells(plant.out, "low_coverage");
}

#define with_plant(test) cmocka_unit_test_setup_teardown(test, open_plant, close_plant)

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    with_plant(a_core_is_told_with_its_band),
	    with_plant(circuits_are_a_table_with_how_the_water_flows),
	    with_plant(machines_get_every_feature_and_the_regimes),
	    with_plant(what_was_not_computed_keeps_its_reason),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
