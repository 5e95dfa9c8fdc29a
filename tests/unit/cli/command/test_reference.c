/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>

#include "daemon/base/calendar.h"
#include "tests/unit/cli/command/waterplant.h"
#include "tests/unit/near.h"

#include "tests/unit/cli/command/one_plant.h"

#define run(...) plant_run_command(&plant, "--ledger", plant.ledger_path, __VA_ARGS__)

/* --- freezing ------------------------------------------------------------------------------ */

static void
the_complete_shots_are_frozen_and_listed(void **state)
{
	(void)state;
	run("reference");
	assert_int_equal(plant.code, COMMAND_DONE);
	assert_says(plant.out, "no reference run is frozen");
	waterplant_run(&plant, 1, 30, 0);
	struct shot *aborted = waterplant_shot(&plant, 31, 0);
	aborted->outcome = SHOT_ABORTED;
	plant_write(&plant, aborted);
	plant_context(&plant, CONTEXT_TOOL, "T-117", 0);
	plant_context(&plant, CONTEXT_LOT, "A-0412", 0);
	plant_context(&plant, CONTEXT_LOT, "A-0413", 20);
	run("reference", "freeze", "approved", "--note", "first article");
	assert_int_equal(plant.code, COMMAND_DONE);
	assert_string_equal(plant.err, "");
	assert_tells(plant.out, "  shots       30\n");
	assert_tells(plant.out, "  recipe      12\n");
	assert_tells(plant.out, "  tool        T-117\n");
	assert_tells(plant.out, "  lots        A-0412, A-0413\n");
	assert_tells(plant.out, "  properties  abs demo-1 4c1a09e2\n");
	assert_tells(plant.out, "  calibrated  none of 34 sensors\n");
	assert_tells(plant.out, "  note        first article\n");
	run("reference", "--format", "json");
	assert_tells(plant.out, "\"name\": \"approved\"");
	assert_near(plant_number_after(&plant, "approved", "shots"), 30, 0);
	run("reference", "--format", "csv");
	assert_memory_equal(plant.out, "name,line,side,recipe,tool,shots,", 33);
}

static void
a_name_is_given_once(void **state)
{
	(void)state;
	waterplant_run(&plant, 1, 30, 0);
	run("reference", "freeze", "approved");
	assert_int_equal(plant.code, COMMAND_DONE);
	run("reference", "freeze", "approved");
	assert_int_equal(plant.code, COMMAND_USAGE);
	assert_tells(plant.err, "approved");
}

static void
too_few_are_not_frozen(void **state)
{
	(void)state;
	run("reference", "freeze", "approved");
	assert_int_equal(plant.code, COMMAND_NO);
	waterplant_run(&plant, 1, 19, 0);
	run("reference", "freeze", "approved");
	assert_int_equal(plant.code, COMMAND_NO);
	assert_tells(plant.err, "19 complete shots of what was asked for");
	assert_tells(plant.err, "needs 20; nothing is frozen");
	run("reference");
	assert_says(plant.out, "no reference run is frozen");
}

static void
shots_of_two_kinds_are_told_apart(void **state)
{
	(void)state;
	waterplant_run(&plant, 1, 60, 0);
	plant_context(&plant, CONTEXT_TOOL, "T-117", 0);
	plant_context(&plant, CONTEXT_TOOL, "T-204", 31);
	run("reference", "freeze", "approved");
	assert_int_equal(plant.code, COMMAND_USAGE);
	assert_tells(plant.err, "recipe 12, tool T-117 (30 shots); recipe 12, tool "
				"T-204 (30 shots): choose by --recipe, --tool");
	run("reference", "freeze", "approved", "--tool", "T-204");
	assert_int_equal(plant.code, COMMAND_DONE);
	assert_tells(plant.out, "  tool        T-204\n");
	run("reference", "freeze", "other", "--recipe", "31");
	assert_int_equal(plant.code, COMMAND_NO);
	/* 06:03 is the first shot's, 07:33 the 31st's */
	run("reference", "freeze", "early", "--to", "2026-03-02T07:33");
	assert_int_equal(plant.code, COMMAND_DONE);
	assert_tells(plant.out, "  shots       30\n");
}

static void
its_features_are_shown_in_the_site_s_unit(void **state)
{
	(void)state;
	double sum = 0, squares = 0;

	for (int no = 1; no <= 20; no++) {
		struct shot *shot = plant_shot(&plant, no);
		double value = no % 2 ? 180 : 190;
		shot->value[FEATURE_EXIT_TOP_C] = value;
		sum += value;
		squares += (value - 185) * (value - 185);
		plant_write(&plant, shot);
	}
	run("reference", "freeze", "approved");
	run("reference", "show", "approved", "--format", "json");
	assert_int_equal(plant.code, COMMAND_DONE);
	const char *row = "\"feature\": \"exit_top_c\"";
	assert_near(plant_number_after(&plant, row, "n"), 20, 0);
	assert_near(plant_number_after(&plant, row, "mean"), sum / 20, 1e-9);
	assert_near(plant_number_after(&plant, row, "sd"), sqrt(squares / 19), 1e-9);
	run("reference", "show", "approved");
	assert_tells(plant.out, "365.0"); /* 185 C */
	assert_tells(plant.out, "9.23");  /* 5.13 K */
	run("reference", "show", "nothing");
	assert_int_equal(plant.code, COMMAND_NO);
	assert_tells(plant.err, "there is no reference run 'nothing'");
}

static void
wrong_usage_is_refused(void **state)
{
	static const struct {
		const char *words[6];
		const char *told;
	} rows[] = {
	    {{"freze", "x"}, "did you mean 'freeze'?"},
	    {{"drop", "x"}, "must be freeze, show or withdraw"},
	    {{"freeze"}, "'reference freeze' needs NAME"},
	    {{"show"}, "'reference show' needs NAME"},
	    {{"show", "x", "--tool", "T-117"}, "'reference show' takes no '--tool'"},
	    {{"--since", "7d"}, "'reference' takes no '--since'"},
	    {{"freeze", "x", "--since", "7w"}, "'--since'"},
	    {{"freeze", "", "--since", "20000d"}, ""},
	};

	(void)state;
	waterplant_run(&plant, 1, 30, 0);
	for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
		const char *words[12] = {"--ledger", plant.ledger_path, "reference"};
		memcpy(words + 3, rows[i].words, sizeof rows[i].words);
		plant_call(&plant, words);
		assert_int_equal(plant.code, COMMAND_USAGE);
		assert_tells(plant.err, rows[i].told);
		assert_string_equal(plant.out, "");
	}
}

/* --- findings against it --------------------------------------------------------------------- */

/* How near the first shot is told is for the tests of the findings themselves. */
enum { BLOCKED = 2, FIRST_BAD = 71, AROUND = 4 };

/* 40 shots are frozen, then 30 of the same and 30 with a circuit at half flow. */
static void
play_a_blocked_circuit(void)
{
	waterplant_run(&plant, 1, FIRST_BAD - 1, 0);
	waterplant_run(&plant, FIRST_BAD, 30, BLOCKED);
	/* shot 41 is of 08:03 */
	run("reference", "freeze", "approved", "--to", "2026-03-02T08:03");
	assert_int_equal(plant.code, COMMAND_DONE);
}

static void
without_a_reference_it_says_how_to_get_one(void **state)
{
	(void)state;
	waterplant_run(&plant, 1, 30, 0);
	run("report");
	assert_int_equal(plant.code, COMMAND_DONE);
	assert_says(
	    plant.out, "no reference run is frozen for recipe 12, tool unknown");
	assert_says(plant.out, "evensoak reference freeze NAME --line line-3");
	run("shot", "5");
	assert_says(plant.out, "no reference run is frozen for recipe 12");
	run("report", "--format", "json");
	assert_tells(plant.out, "\"findings\": []");
}

static void
the_report_tells_a_blocked_circuit_and_its_first_shot(void **state)
{
	(void)state;
	play_a_blocked_circuit();
	run("report");
	assert_int_equal(plant.code, COMMAND_DONE);
	assert_says(plant.out, "against reference approved (40 shots from 2026-03-02 "
			       "06:03:00 on; the newest of this kind), recipe 12");
	assert_says(plant.out, "blocked circuit: water circuit 2, water.");
	assert_says(plant.out, ", still so at the end");
	run("report", "--format", "json");
	const char *row = "\"cause\": \"blocked_circuit\"";
	assert_near(plant_number_after(&plant, row, "position"), BLOCKED, 0);
	double first = plant_number_after(&plant, row, "first_shot");
	assert_near(first, FIRST_BAD, AROUND);
	double good = plant_number_after(&plant, row, "last_good_shot");
	assert_true(good < first && good > first - 6);
	const char *at = strstr(plant.out, row);
	assert_tells(at, "\"subject\": \"water circuit 2\"");
	assert_tells(at, "\"side\": null");
	assert_tells(at, "\"lasting\": true");
	char stamp[CALENDAR_TEXT], member[64];
	calendar_utc_text(plant_time((int64_t)first), 3, stamp);
	snprintf(member, sizeof member, "\"first_at\": \"%.24s\"", stamp);
	assert_tells(at, member);
	assert_tells(at, "\"reference\": \"approved\"");
	/* evidence in the units of the features' names */
	row = "\"feature\": \"water_rise_2_dc\"";
	assert_near(plant_number_after(&plant, row, "expected"), 1.6, 0.1);
	assert_near(plant_number_after(&plant, row, "found"), 2.9, 0.1);
	assert_true(plant_number_after(&plant, row, "deviations") > 5);
	/* no other cause is named */
	assert_null(strstr(at + 10, "\"cause\""));
}

static void
people_read_evidence_in_the_site_s_unit(void **state)
{
	(void)state;
	play_a_blocked_circuit();
	run("report");
	const char *at = strstr(plant.out, "blocked circuit: water circuit 2");
	assert_non_null(at);
	at = strstr(at, "water_rise_2_dc");
	assert_non_null(at);
	double expected, found;
	assert_int_equal(sscanf(at, "water_rise_2_dc %lf %lf F", &expected, &found), 2);
	assert_near(expected, 1.6 * 1.8, 0.2);
	assert_near(found, 2.9 * 1.8, 0.2);
}

static void
a_shot_shows_what_holds_at_it_alone(void **state)
{
	(void)state;
	play_a_blocked_circuit();
	run("shot", "65");
	assert_int_equal(plant.code, COMMAND_DONE);
	assert_says(plant.out, "nothing disagrees at this one");
	assert_tells_not(plant.out, "blocked circuit");
	run("shot", "85");
	assert_says(plant.out, "blocked circuit: water circuit 2");
	run("shot", "85", "--format", "json");
	assert_near(
	    plant_number_after(&plant, "\"cause\"", "first_shot"), FIRST_BAD, AROUND);
}

static void
what_is_over_is_told_in_the_report_alone(void **state)
{
	(void)state;
	waterplant_run(&plant, 1, 70, 0);
	waterplant_run(&plant, FIRST_BAD, 20, BLOCKED);
	waterplant_run(&plant, FIRST_BAD + 20, 30, 0);
	run("reference", "freeze", "approved", "--to", "2026-03-02T08:03");
	run("report");
	assert_tells(plant.out, "blocked circuit: water circuit 2, water.");
	assert_says(plant.out, ", over by the end");
	run("shot", "85");
	assert_tells(plant.out, "blocked circuit: water circuit 2, water.");
	run("shot", "118");
	assert_tells_not(plant.out, "blocked circuit");
}

static void
the_sides_of_a_machine_have_references_of_their_own(void **state)
{
	struct plant own;

	(void)state;
	plant_open_under(&own, "conf/shuttle-two-sides.ini");
	const char *line = own.settings->lines[0].name;
	const char *left = own.settings->lines[0].sides[0];
	char told[128];
	for (int no = 1; no <= 50; no++) {
		struct shot *shot = plant_shot(&own, no);
		shot->side = no % 2;
		plant_write(&own, shot);
	}
	plant_run_command(
	    &own, "--ledger", own.ledger_path, "reference", "freeze", "approved");
	assert_int_equal(own.code, COMMAND_USAGE);
	assert_tells(own.err, "choose by --recipe, --tool, --side");
	plant_run_command(&own, "--ledger", own.ledger_path, "reference", "freeze",
	    "approved", "--side", left, "--line", line);
	assert_int_equal(own.code, COMMAND_DONE);
	plant_run_command(&own, "--ledger", own.ledger_path, "report");
	snprintf(told, sizeof told, "tool unknown, side %s: 25 shots looked at", left);
	assert_says(own.out, told);
	snprintf(told, sizeof told,
	    "no reference run is frozen for recipe 12, tool "
	    "unknown, side %s,",
	    own.settings->lines[0].sides[1]);
	assert_says(own.out, told);
	plant_close(&own);
}

static void
a_reference_that_is_named_is_taken(void **state)
{
	(void)state;
	play_a_blocked_circuit();
	/* of the bad shots: nothing is odd about them then, and the good ones are */
	run("reference", "freeze", "bad", "--from", "2026-03-02T09:33");
	assert_int_equal(plant.code, COMMAND_DONE);
	assert_says(plant.out, "look before you rely on it: held against reference "
			       "approved");
	assert_says(plant.out, "It now replaces approved; 'evensoak reference withdraw "
			       "bad' takes it back.");
	run("shot", "95");
	assert_says(plant.out, "against reference bad");
	assert_tells_not(plant.out, "blocked circuit");
	run("shot", "95", "--reference", "approved");
	assert_says(plant.out, "against reference approved");
	assert_tells(plant.out, "blocked circuit");
	run("report", "--reference", "aproved");
	assert_int_equal(plant.code, COMMAND_USAGE);
	assert_tells(plant.err, "there is no reference run 'aproved'");
	assert_string_equal(plant.out, "");
}

static void
a_reference_of_another_kind_is_not_held_against(void **state)
{
	(void)state;
	waterplant_run(&plant, 1, 60, 0);
	plant_context(&plant, CONTEXT_TOOL, "T-117", 0);
	plant_context(&plant, CONTEXT_TOOL, "T-204", 31);
	run("reference", "freeze", "approved", "--tool", "T-117");
	run("shot", "50");
	assert_says(plant.out, "no reference run is frozen for recipe 12, tool T-204");
	run("shot", "50", "--reference", "approved");
	assert_says(plant.out, "not held against it");
	run("report");
	assert_says(plant.out, "the newest of this kind), recipe 12, tool T-117: 30 "
			       "shots looked at; nothing disagrees");
	assert_says(plant.out, "no reference run is frozen for recipe 12, tool T-204");
}

static void
a_shot_that_is_not_usual_is_not_judged(void **state)
{
	(void)state;
	play_a_blocked_circuit();
	struct shot *shot = waterplant_shot(&plant, 101, BLOCKED);
	shot->outcome = SHOT_ABORTED;
	plant_write(&plant, shot);
	run("shot", "101");
	assert_says(plant.out, "not heated and formed in the usual way");
	run("report");
	assert_says(plant.out, "recipe 12, tool unknown: 100 shots looked at");
}

static void
sensors_calibrated_since_are_told(void **state)
{
	(void)state;
	play_a_blocked_circuit();
	run("calibrate", "enter", "water.tool_3", "--as-left", "0.2 K", "--at",
	    "2026-03-02T08:30", "--by", "A");
	/* that changes nothing */
	run("calibrate", "enter", "water.tool_4", "--as-left", "0 K", "--at",
	    "2026-03-02T08:30", "--by", "A");
	run("report");
	assert_says(
	    plant.out, "calibrated since the reference was made: water.tool_3: ");
	run("shot", "45"); /* 08:15 */
	assert_tells_not(plant.out, "calibrated since");
	/* told for a time before the reference's own shots, which were made without it */
	run("calibrate", "enter", "water.tool_5", "--as-left", "0.3 K", "--at",
	    "2026-03-01T08:30", "--by", "A");
	run("shot", "45");
	assert_says(
	    plant.out, "calibrated since the reference was made: water.tool_5: ");
	run("report");
	assert_tells(plant.out, "(possible)");
	assert_tells_not(plant.out, "(sure)");
}

static void
a_few_shots_say_nothing(void **state)
{
	(void)state;
	play_a_blocked_circuit();
	/* shot 97 is of 10:51; those before it are looked at too */
	run("report", "--from", "2026-03-02T10:50");
	assert_says(plant.out, "4 shots looked at");
	assert_tells(plant.out, "blocked circuit: water circuit 2, water.");
	/* of a kind of its own */
	plant_context(&plant, CONTEXT_TOOL, "T-117", 97);
	run("report", "--from", "2026-03-02T10:50", "--reference", "approved");
	assert_says(plant.out, "not held against it");
	/* shot 3 is of 06:09, with none but two before it */
	run("report", "--to", "2026-03-02T06:10");
	assert_says(plant.out, "3 shots to hold against reference run approved: fewer "
			       "than 5 say nothing");
}

#define with_plant(test) cmocka_unit_test_setup_teardown(test, open_plant, close_plant)

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    with_plant(the_complete_shots_are_frozen_and_listed),
	    with_plant(a_name_is_given_once),
	    with_plant(too_few_are_not_frozen),
	    with_plant(shots_of_two_kinds_are_told_apart),
	    with_plant(its_features_are_shown_in_the_site_s_unit),
	    with_plant(wrong_usage_is_refused),
	    with_plant(without_a_reference_it_says_how_to_get_one),
	    with_plant(the_report_tells_a_blocked_circuit_and_its_first_shot),
	    with_plant(people_read_evidence_in_the_site_s_unit),
	    with_plant(a_shot_shows_what_holds_at_it_alone),
	    with_plant(what_is_over_is_told_in_the_report_alone),
	    with_plant(the_sides_of_a_machine_have_references_of_their_own),
	    with_plant(a_reference_that_is_named_is_taken),
	    with_plant(a_reference_of_another_kind_is_not_held_against),
	    with_plant(a_shot_that_is_not_usual_is_not_judged),
	    with_plant(sensors_calibrated_since_are_told),
	    with_plant(a_few_shots_say_nothing),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
