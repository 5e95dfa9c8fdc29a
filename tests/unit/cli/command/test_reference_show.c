/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>

#include "tests/unit/cli/command/changed.h"
#include "tests/unit/cli/command/waterplant.h"

#include "tests/unit/cli/command/one_plant.h"

#define run(...) plant_run_command(&plant, "--ledger", plant.ledger_path, __VA_ARGS__)

static void
what_was_frozen_with_it_is_shown(void **state)
{
	(void)state;
	run("calibrate", "enter", "water.tool_3", "--as-left", "0.2 K", "--at",
	    "2026-03-01T08:30", "--by", "A");
	waterplant_run(&plant, 1, 30, 0);
	run("reference", "freeze", "approved");
	assert_int_equal(plant.code, COMMAND_DONE);
	/* later changes change nothing of it */
	changed_set_up(&plant, "address = 20\n", "address = 22\n", 200);
	waterplant_run(&plant, 201, 30, 0);
	run("reference", "show", "approved");
	assert_int_equal(plant.code, COMMAND_DONE);
	assert_tells(plant.out, "pyrometers.stack: input 20, int16, times 0.1, C");
	assert_tells(
	    plant.out, "pyrometers.surface_top_2: input 1, int16, times 0.1, C");
	assert_tells(plant.out, "water.tool_3: ");
	assert_tells(plant.out, "0.36\n"); /* F are taken off */
	assert_tells(plant.out, "  its material   abs-demo simulated ");
	/* each table of a sensor says which one of its kind */
	assert_tells(plant.out, "\n  tool                   3       0.36\n");
	run("reference", "show", "approved", "--format", "json");
	assert_tells(plant.out, "\"feature\": \"exit_top_c\", \"version\": ");
}

static void
shots_that_were_not_measured_alike_are_told_as_they_are_frozen(void **state)
{
	(void)state;
	waterplant_run(&plant, 1, 20, 0);
	changed_set_up(&plant, "[site]\n", "[site]\n; a remark\n", 20);
	waterplant_run(&plant, 21, 20, 0);
	run("reference", "freeze", "alike");
	assert_int_equal(plant.code, COMMAND_DONE);
	assert_tells_not(plant.out, "measured alike");
	changed_set_up(&plant, "address = 20\n", "address = 22\n", 40);
	waterplant_run(&plant, 41, 20, 0);
	run("reference", "freeze", "mixed");
	assert_int_equal(plant.code, COMMAND_DONE);
	assert_says(plant.out, "not all of these shots were measured alike: stack was "
			       "'pyrometers.stack: input 20, ");
	assert_says(plant.out, "freeze a time after that change");
}

#define with_plant(test) cmocka_unit_test_setup_teardown(test, open_plant, close_plant)

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    with_plant(what_was_frozen_with_it_is_shown),
	    with_plant(shots_that_were_not_measured_alike_are_told_as_they_are_frozen),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
