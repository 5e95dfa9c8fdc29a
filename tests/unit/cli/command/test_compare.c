/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>

#include "tests/unit/cli/command/changed.h"
#include "tests/unit/cli/command/waterplant.h"
#include "tests/unit/near.h"

#include "tests/unit/cli/command/one_plant.h"

/* Those that are frozen are 1 ... FROZEN, later ones come a day after. */
enum { FROZEN = 150, LATER = 481, RUN = 150 };
#define FROZEN_UNTIL "2026-03-03T06:00"
#define LATER_FROM "2026-03-03T06:00"

#define run(...) plant_run_command(&plant, "--ledger", plant.ledger_path, __VA_ARGS__)

static void
haste(bool hasty)
{
	plant_need(ledger_set_hasty(plant.ledger, hasty, NULL) == 0, "haste");
}

/* The same values each time but for exit_top_c. */
static void
write_run(int64_t first, int64_t count, double hotter_dc, double scatter)
{
	haste(true);
	memset(plant.random, 0, sizeof plant.random);
	for (int64_t no = first; no < first + count; no++) {
		struct shot *shot = waterplant_shot(&plant, no, 0);
		double *top = &shot->value[FEATURE_EXIT_TOP_C];
		*top = 182 + hotter_dc + (*top - 182) * scatter;
		plant_write(&plant, shot);
	}
	haste(false);
}

static void
freeze_first_run(void)
{
	write_run(1, FROZEN, 0, 1);
	run("reference", "freeze", "approved", "--to", FROZEN_UNTIL);
	assert_int_equal(plant.code, COMMAND_DONE);
}

#define compare(...) run("compare", "--from", LATER_FROM, __VA_ARGS__)

/* What is told for not comparing a feature; NULL: it is compared. */
static const char *
refused(const char *feature)
{
	static char reason[700];
	char row[128];
	const char *table = strstr(plant.out, "\"refused\": [");

	snprintf(row, sizeof row, "\"feature\": \"%s\"", feature);
	const char *at = table ? strstr(table, row) : NULL;
	at = at ? strstr(at, "\"reason\": \"") : NULL;
	if (!at)
		return NULL;
	at += strlen("\"reason\": \"");
	snprintf(reason, sizeof reason, "%.*s", (int)strcspn(at, "\""), at);
	return reason;
}

/* --- the same, or not --------------------------------------------------------------------- */

static void
a_run_of_the_same_process_is_shown_to_be_the_same(void **state)
{
	(void)state;
	freeze_first_run();
	write_run(LATER, RUN, 0, 1);
	run("compare", "--from", LATER_FROM);
	assert_int_equal(plant.code, COMMAND_DONE);
	assert_says(plant.out, "features that could be compared are shown to be what "
			       "they were");
	assert_says(plant.out, "approved, 150 shots from 2026-03-02 06:03:00 on");
	compare("--format", "json");
	const char *row = "\"feature\": \"exit_top_c\"";
	assert_near(
	    plant_number_after(&plant, row, "margin"), 0.1 * (375 - 345) / 1.8, 1e-9);
	assert_near(plant_number_after(&plant, row, "mean_then"), 182, 0.5);
	assert_true(plant_number_after(&plant, row, "difference_low") <
		    plant_number_after(&plant, row, "difference"));
	assert_near(plant_number_after(&plant, row, "scatter_ratio"), 1, 0.25);
	assert_near(plant_number_after(&plant, row, "ppk_now"),
	    plant_number_after(&plant, row, "ppk_then"), 0.4);
	/* without limits it is one deviation of the reference */
	row = "\"feature\": \"heat_s\"";
	assert_near(plant_number_after(&plant, row, "margin"),
	    plant_number_after(&plant, row, "sd_then"), 1e-12);
	assert_tells(strstr(plant.out, row), "\"margin_of\": \"reference_scatter\"");
	assert_tells(strstr(plant.out, row), "\"ppk_then\": null");
}

static void
another_mean_and_another_scatter_are_told(void **state)
{
	(void)state;
	freeze_first_run();
	write_run(LATER, RUN, 3, 1);
	run("compare", "--from", LATER_FROM);
	assert_int_equal(plant.code, COMMAND_NO);
	assert_says(plant.out, "features different: exit_top_c");
	compare("--format", "json", "--characteristic", "exit_top_c");
	assert_tells(plant.out, "\"verdict\": \"different\"");
	assert_tells(plant.out, "\"mean_verdict\": \"different\"");
	assert_tells(plant.out, "\"scatter_verdict\": \"same\"");
	assert_near(plant_number_after(&plant, "exit_top_c", "difference"), 3, 0.6);
	write_run(LATER + RUN, RUN, 0, 2);
	run("compare", "--from", "2026-03-03T13:33", "--format", "json",
	    "--characteristic", "exit_top_c");
	assert_int_equal(plant.code, COMMAND_NO);
	assert_tells(plant.out, "\"scatter_verdict\": \"different\"");
	assert_near(plant_number_after(&plant, "exit_top_c", "scatter_ratio"), 2, 0.4);
}

static void
few_shots_leave_it_open(void **state)
{
	(void)state;
	freeze_first_run();
	write_run(LATER, 6, 0, 1);
	run("compare", "--from", LATER_FROM);
	assert_int_equal(plant.code, COMMAND_NO);
	assert_says(plant.out, "open, since the shots are too few to tell, or depend "
			       "on each other too much: about ");
	assert_says(plant.out, "more shots of this kind would settle ");
	assert_tells(plant.out, "  more shots\n");
	compare("--format", "json");
	assert_true(plant_number_after(&plant, "\"answer\"", "open_count") > 1);
	assert_tells_not(plant.out, "inf");
	write_run(LATER + 480, 3, 0, 1);
	run("compare", "--from", "2026-03-04T06:00");
	assert_int_equal(plant.code, COMMAND_NO);
	assert_says(plant.out, "3 complete shots: at least 5 are needed");
}

/* Its circuit 2 has half its flow from the 103rd shot on: that is no matter of more shots. */
static void
what_changed_during_the_time_is_told_first(void **state)
{
	(void)state;
	freeze_first_run();
	haste(true);
	memset(plant.random, 0, sizeof plant.random);
	for (int64_t no = LATER; no < LATER + RUN; no++)
		plant_write(
		    &plant, waterplant_shot(&plant, no, no < LATER + 102 ? 0 : 2));
	haste(false);
	run("compare", "--from", LATER_FROM);
	assert_int_equal(plant.code, COMMAND_NO);
	const char *answer = strstr(plant.out, "not what it was: ");
	assert_non_null(answer);
	assert_says(plant.out, "changed during this time, from shot 583 on");
	assert_says(plant.out, "water_flow_2_l_min from shot 583 on");
	const char *changed = strstr(plant.out, "\nChanged during this time\n");
	assert_non_null(changed);
	assert_true(strstr(changed, "\n  water_flow_2_l_min  a step") <
		    strstr(changed, "\n\n"));
	assert_says(plant.out, "found against the same reference: blocked circuit: "
			       "water circuit 2 (sure, from shot 58");
	compare("--format", "json");
	const char *row = "\"feature\": \"water_flow_2_l_min\"";
	assert_tells(strstr(plant.out, row), "\"verdict\": \"changed\"");
	assert_near(plant_number_after(&plant, row, "change_shot"), LATER + 102, 0);
	assert_true(plant_number_after(&plant, row, "change_before") >
		    1.5 * plant_number_after(&plant, row, "change_after"));
	assert_true(plant_number_after(&plant, row, "change_deviations") < -20);
	assert_true(plant_number_after(&plant, "\"answer\"", "changed_count") >= 1);
}

/* What is different stands before what has limits, and that before the rest. */
static void
people_read_first_what_is_different(void **state)
{
	(void)state;
	freeze_first_run();
	write_run(LATER, RUN, 3, 1);
	run("compare", "--from", LATER_FROM);
	const char *answer = strstr(plant.out, "features different: exit_top_c"),
		   *different = strstr(plant.out, "\nDifferent\n"),
		   *limited = strstr(plant.out, "\nWith limits\n"),
		   *rest = strstr(plant.out, "\nThe rest\n");
	assert_true(answer && different && limited && rest);
	assert_true(answer < different && different < limited && limited < rest);
	assert_says(plant.out, "with limits 1 different");
	assert_non_null(strstr(different, "\n  exit_top_c "));
	assert_null(strstr(limited, "\n  exit_top_c "));
	assert_true(strstr(limited, "\n  sag_s ") < rest);
	assert_tells_not(plant.out, "more shots\n"); /* nothing is open */
	assert_non_null(strstr(rest, "\n  heat_s "));
	assert_tells(different, "exit_top_c  mean different");
	/* each is a row of its table alone in json, in the order of the catalogue */
	compare("--format", "json");
	const char *list = strstr(plant.out, "\"features\": [");
	assert_non_null(list);
	assert_true(strstr(list, "\"heat_s\"") < strstr(list, "\"exit_top_c\""));
	assert_true(strstr(list, "\"exit_top_c\"") < strstr(list, "\"cycle_s\""));
}

static void
means_are_drawn_against_their_margins(void **state)
{
	(void)state;
	freeze_first_run();
	write_run(LATER, RUN, 3, 1);
	run("compare", "--from", LATER_FROM, "--format", "svg");
	assert_int_equal(plant.code, COMMAND_NO);
	assert_tells(plant.out, ">exit_top_c<");
	assert_tells(plant.out, ">+5.40 F<");
	assert_tells(plant.out, ">shown to be different (1)<");
	assert_tells(plant.out, "exit_top_c: difference +5.40 F, margin 3.00, its mean "
				"is different; ");
	/* of what has no limits, what is different alone */
	assert_tells_not(plant.out, ">heat_s<");
	run("compare", "--from", LATER_FROM, "--format", "html");
	assert_tells(plant.out, "<svg");
	assert_tells(plant.out, "features different: exit_top_c");
	run("compare", "--from", LATER_FROM, "--format", "pdf");
	assert_memory_equal(plant.out, "%PDF-", 5);
}

static void
the_margin_can_be_said(void **state)
{
	(void)state;
	freeze_first_run();
	write_run(LATER, RUN, 1, 1);
	compare(
	    "--characteristic", "exit_top_c", "--margin", "5 F", "--format", "json");
	assert_int_equal(plant.code, COMMAND_DONE);
	/* a difference: without the 32 */
	assert_near(plant_number_after(&plant, "exit_top_c", "margin"), 5 / 1.8, 1e-9);
	assert_tells(plant.out, "\"margin_of\": \"asked\"");
	compare("--characteristic", "exit_top_c", "--margin", "0.1 F");
	assert_int_equal(plant.code, COMMAND_NO);
	compare("--margin", "5 F");
	assert_int_equal(plant.code, COMMAND_USAGE);
	assert_tells(plant.err, "'--margin' needs --characteristic NAME");
	compare("--characteristic", "exit_top_c", "--margin", "5 s");
	assert_int_equal(plant.code, COMMAND_USAGE);
	compare("--characteristic", "exit_top_c", "--margin", "-1 F");
	assert_int_equal(plant.code, COMMAND_USAGE);
}

/* --- what cannot be compared ------------------------------------------------------------------- */

static void
a_changed_sensor_is_refused_with_what_changed_and_when(void **state)
{
	(void)state;
	freeze_first_run();
	changed_set_up(&plant,
	    "role = surface_top\ncount = 3                       ; surface_top_1 ... "
	    "surface_top_3, one after another\ntable = input\naddress = 0\ntype = "
	    "int16\nscale = 0.1",
	    "role = surface_top\ncount = 3\ntable = input\naddress = 0\ntype = "
	    "int16\nscale = 0.2",
	    LATER - 1);
	write_run(LATER, RUN, 0, 1);
	compare("--format", "json");
	assert_int_equal(plant.code, COMMAND_DONE); /* all that was compared */
	const char *reason = refused("exit_top_c");
	assert_non_null(reason);
	assert_tells(reason, "surface_top 1 was 'pyrometers.surface_top_1: input 0, "
			     "int16, times 0.1, C', is 'pyrometers.surface_top_1: "
			     "input 0, int16, times 0.2, C', and 2 more, since "
			     "2026-03-03");
	assert_non_null(refused("exit_difference_dc"));
	assert_non_null(refused("core_heat_end_c"));
	assert_null(refused("exit_bottom_c"));
	assert_null(refused("cycle_s"));
	compare("--characteristic", "exit_top_c");
	assert_int_equal(plant.code, COMMAND_NO);
	assert_says(plant.out, "nothing could be compared");
}

static void
a_change_that_was_taken_back_stands_against_nothing(void **state)
{
	(void)state;
	freeze_first_run();
	changed_set_up(&plant, "address = 20\n", "address = 22\n", 200);
	write_run(200, 10, 0, 1);
	changed_set_up(&plant, "name = pond-works", "name = pond-works ", LATER - 1);
	write_run(LATER, RUN, 0, 1);
	compare("--format", "json");
	assert_null(refused("core_heat_end_c"));
	/* of the shots made under it, it does */
	run("compare", "--from", "2026-03-02T15:30", "--to", "2026-03-02T18:00",
	    "--format", "json");
	assert_tells(refused("core_heat_end_c"), "stack");
}

static void
a_calibration_in_between_is_refused(void **state)
{
	(void)state;
	freeze_first_run();
	write_run(LATER, RUN, 0, 1);
	run("calibrate", "enter", "water.tool_3", "--as-left", "0.2 K", "--at",
	    "2026-03-02T20:00", "--by", "A");
	assert_int_equal(plant.code, COMMAND_DONE);
	compare("--format", "json");
	const char *reason = refused("tool_mean_3_c");
	assert_non_null(reason);
	assert_tells(reason, "water.tool_3 was calibrated on 2026-03-02: 0.36 F are "
			     "taken off its readings now, 0 then");
	assert_null(refused("tool_mean_2_c"));
	assert_null(refused("exit_top_c"));
	assert_non_null(refused("tool_spread_of_means_dc"));
}

static void
other_properties_are_refused_for_what_is_computed(void **state)
{
	(void)state;
	freeze_first_run();
	haste(true);
	for (int64_t no = LATER; no < LATER + RUN; no++) {
		struct shot *shot = waterplant_shot(&plant, no, 0);
		snprintf(
		    shot->properties, sizeof shot->properties, "abs demo-2 1234abcd");
		plant_write(&plant, shot);
	}
	haste(false);
	compare("--format", "json");
	const char *reason = refused("core_heat_end_c");
	assert_non_null(reason);
	assert_tells(reason,
	    "computed with the properties abs demo-2 1234abcd now, and "
	    "was with abs demo-1 4c1a09e2");
	assert_null(refused("exit_top_c"));
	assert_null(refused("heat_removed_kwh"));
}

static void
other_set_points_are_told(void **state)
{
	(void)state;
	haste(true);
	for (int64_t no = 1; no <= FROZEN; no++) {
		struct shot *shot = waterplant_shot(&plant, no, 0);
		shot->set_points = 1;
		plant_write(&plant, shot);
	}
	haste(false);
	run("reference", "freeze", "approved", "--to", FROZEN_UNTIL);
	haste(true);
	for (int64_t no = LATER; no < LATER + RUN; no++) {
		struct shot *shot = waterplant_shot(&plant, no, 0);
		shot->set_points = no < LATER + RUN / 2 ? 1 : 2;
		plant_write(&plant, shot);
	}
	haste(false);
	run("compare", "--from", LATER_FROM);
	assert_says(plant.out, "the recipe's set points are not those of then");
	run("compare", "--from", LATER_FROM, "--to", "2026-03-03T09:00");
	assert_tells_not(plant.out, "set points");
}

/* --- which shots, which run ---------------------------------------------------------------------- */

static void
a_run_is_not_held_against_itself(void **state)
{
	(void)state;
	freeze_first_run();
	run("compare");
	assert_int_equal(plant.code, COMMAND_NO);
	assert_says(plant.out, "0 shots beside the reference's own: at least 5 are "
			       "needed; say a later time");
	write_run(LATER, RUN, 0, 1);
	run("compare", "--from", "2026-03-02T06:00", "--format", "json");
	assert_near(plant_number_after(&plant, "kinds", "own_shots"), FROZEN, 0);
	assert_near(plant_number_after(&plant, "kinds", "shots"), RUN, 0);
}

static void
kinds_are_told_apart(void **state)
{
	(void)state;
	freeze_first_run();
	write_run(LATER, 60, 0, 1);
	plant_context(&plant, CONTEXT_TOOL, "T-204", LATER + 30);
	run("compare", "--from", LATER_FROM);
	assert_int_equal(plant.code, COMMAND_NO);
	assert_says(plant.out, "no reference run is frozen for recipe 12, tool T-204");
	compare("--reference", "approved", "--tool", "T-204");
	assert_int_equal(plant.code, COMMAND_NO);
	assert_says(plant.out, "not held against it");
	compare("--tool", "T-999");
	assert_int_equal(plant.code, COMMAND_NO);
	assert_says(plant.out, "no complete shots of what was asked for");
	compare("--reference", "aproved");
	assert_int_equal(plant.code, COMMAND_USAGE);
	assert_tells(plant.err, "there is no reference run 'aproved'; did you mean "
				"'approved'?");
}

static void
a_table_is_written_as_csv(void **state)
{
	(void)state;
	freeze_first_run();
	write_run(LATER, RUN, 0, 1);
	compare("--format", "csv");
	assert_int_equal(plant.code, COMMAND_DONE);
	assert_memory_equal(
	    plant.out, "feature,line,side,recipe,tool,unit,verdict,", 43);
	assert_tells(plant.out, "\ncycle_s,line-3,,12,,s,same,same,150,150,");
}

#define with_plant(test) cmocka_unit_test_setup_teardown(test, open_plant, close_plant)

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    with_plant(a_run_of_the_same_process_is_shown_to_be_the_same),
	    with_plant(another_mean_and_another_scatter_are_told),
	    with_plant(few_shots_leave_it_open),
	    with_plant(what_changed_during_the_time_is_told_first),
	    with_plant(people_read_first_what_is_different),
	    with_plant(means_are_drawn_against_their_margins),
	    with_plant(the_margin_can_be_said),
	    with_plant(a_changed_sensor_is_refused_with_what_changed_and_when),
	    with_plant(a_change_that_was_taken_back_stands_against_nothing),
	    with_plant(a_calibration_in_between_is_refused),
	    with_plant(other_properties_are_refused_for_what_is_computed),
	    with_plant(other_set_points_are_told),
	    with_plant(a_run_is_not_held_against_itself),
	    with_plant(kinds_are_told_apart),
	    with_plant(a_table_is_written_as_csv),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
