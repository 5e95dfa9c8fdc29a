/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A report of one lot, tool, recipe or characteristic alone, and of a time without shots. */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>

#include "tests/unit/cli/command/waterplant.h"

static struct plant plant;

static int
open_plant(void **state)
{
	(void)state;
	plant_open(&plant);
	plant.random[0] = 3;
	for (int no = 1; no <= 90; no++) {
		struct shot *shot = plant_shot(&plant, no);
		shot->recipe = no <= 60 ? 12 : 31;
		plant_write(&plant, shot);
	}
	plant_context(&plant, CONTEXT_LOT, "A-1", 0);
	plant_context(&plant, CONTEXT_LOT, "A-2", 31);
	return 0;
}

static int
close_plant(void **state)
{
	(void)state;
	plant_close(&plant);
	return 0;
}

#define report(...) \
	plant_run_command(&plant, "report", "--ledger", plant.ledger_path, __VA_ARGS__)

static size_t
count_of(const char *text, const char *part)
{
	size_t count = 0;

	for (; (text = strstr(text, part)); text += strlen(part))
		count++;
	return count;
}

static void
one_lot_is_shown_to_its_customer_alone(void **state)
{
	(void)state;
	report("--lot", "A-1");
	assert_int_equal(plant.code, COMMAND_DONE);
	assert_tells(plant.out, "line-3: shift early of 2026-03-02, lot A-1\n");
	assert_tells(plant.out, "\n  shots       30\n");
	assert_tells_not(plant.out, "A-2");
	report("--lot", "A-2", "--recipe", "12", "--format", "json");
	assert_tells(plant.out, "\"of_recipe\": \"12\",");
	assert_tells(plant.out, "\"of_lot\": \"A-2\",");
	assert_tells(plant.out, "\"of_tool\": null,");
	assert_int_equal(count_of(plant.out, "\"characteristics\": ["), 1);
	assert_tells(plant.out, "\"shots\": 30,");
	assert_tells_not(plant.out, "A-1");
}

static void
one_characteristic_is_judged_alone(void **state)
{
	(void)state;
	report("--characteristic", "sag_s", "--recipe", "12");
	assert_int_equal(plant.code, COMMAND_DONE);
	assert_tells(plant.out, "shift early of 2026-03-02, recipe 12, sag_s\n");
	assert_tells(plant.out, "of 1 characteristic shown to be capable in every lot");
	assert_tells_not(plant.out, "exit_top_c");
	report("--characteristic", "sag_z");
	assert_int_equal(plant.code, COMMAND_USAGE);
	assert_tells(plant.err, "there is no characteristic 'sag_z'");
}

static void
what_was_not_made_is_told_with_how_many_others(void **state)
{
	(void)state;
	report("--tool", "T-9");
	assert_int_equal(plant.code, COMMAND_NO);
	assert_says(plant.out, "there are no such shots in this time, and 90 others");
}

static void
a_shift_without_shots_tells_those_that_have_some(void **state)
{
	(void)state;
	report("--shift", "late", "--date", "2026-03-02");
	assert_int_equal(plant.code, COMMAND_NO);
	assert_tells(plant.out, "there are no shots in this time\n"
				"shifts that have shots: early of 2026-03-02\n");
}

static void
what_is_sure_stands_under_the_answer(void **state)
{
	struct plant water;

	(void)state;
	plant_open(&water);
	waterplant_run(&water, 1, 60, 0);
	waterplant_run(&water, 61, 100, 2);
	plant_run_command(&water, "reference", "freeze", "good", "--ledger",
	    water.ledger_path, "--from", "2026-03-02T06:00", "--to",
	    "2026-03-02T08:30");
	assert_int_equal(water.code, COMMAND_DONE);
	plant_run_command(&water, "report", "--ledger", water.ledger_path, "--from",
	    "2026-03-02T06:00", "--format", "json");
	assert_tells(water.out, "\"found\": \"Found: blocked circuit, water circuit 2 "
				"(sure), from shot ");
	plant_run_command(&water, "report", "--ledger", water.ledger_path, "--from",
	    "2026-03-02T06:00");
	const char *found = strstr(water.out, "\nFound: blocked circuit");
	assert_non_null(found);
	assert_true(found < strstr(water.out, "\n  site "));
	plant_close(&water);
}

#define with_plant(test) cmocka_unit_test_setup_teardown(test, open_plant, close_plant)

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    with_plant(one_lot_is_shown_to_its_customer_alone),
	    with_plant(one_characteristic_is_judged_alone),
	    with_plant(what_was_not_made_is_told_with_how_many_others),
	    with_plant(a_shift_without_shots_tells_those_that_have_some),
	    cmocka_unit_test(what_is_sure_stands_under_the_answer),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
