/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What findings rest on, which reference is used, and how they are shown. */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>

#include "daemon/base/calendar.h"
#include "daemon/base/error.h"
#include "tests/unit/cli/command/waterplant.h"
#include "tests/unit/near.h"

#include "tests/unit/cli/command/one_plant.h"

#define run(...) plant_run_command(&plant, "--ledger", plant.ledger_path, __VA_ARGS__)
#define with_plant(test) cmocka_unit_test_setup_teardown(test, open_plant, close_plant)

enum { BLOCKED = 2, FIRST_BAD = 71 };

/* 40 shots are frozen, then 30 of the same and `bad` with a circuit at half flow. */
static void
play(int bad)
{
	waterplant_run(&plant, 1, FIRST_BAD - 1, 0);
	waterplant_run(&plant, FIRST_BAD, bad, BLOCKED);
	/* shot 41 is of 08:03 */
	run("reference", "freeze", "approved", "--to", "2026-03-02T08:03");
	assert_int_equal(plant.code, COMMAND_DONE);
}

/* The number after "key": behind the first finding. */
static double
number_of_finding(const char *key)
{
	char quoted[64];
	const char *at = strstr(plant.out, "\"cause\": ");

	snprintf(quoted, sizeof quoted, "\"%s\": ", key);
	at = at ? strstr(at, quoted) : NULL;
	if (!at)
		fail_msg("no '%s' of a finding in:\n%s", key, plant.out);
	return strtod(at + strlen(quoted), NULL);
}

/* --- references -------------------------------------------------------------------------------- */

static void
a_withdrawn_reference_is_kept_and_not_used(void **state)
{
	(void)state;
	play(30);
	run("reference", "freeze", "wrong", "--from", "2026-03-02T09:33");
	run("shot", "95");
	assert_says(plant.out, "against reference wrong (");
	run("reference", "withdraw", "wrong");
	assert_int_equal(plant.code, COMMAND_DONE);
	assert_tells(plant.out, "  withdrawn   wrong\n");
	assert_tells(plant.out, "  newest now  approved\n");
	run("shot", "95");
	assert_says(plant.out, "against reference approved (");
	assert_tells(plant.out, "blocked circuit: water circuit 2");
	run("report", "--reference", "wrong");
	assert_int_equal(plant.code, COMMAND_USAGE);
	assert_tells(plant.err, "reference run 'wrong' was withdrawn on ");
	run("reference", "--format", "json");
	assert_tells(plant.out, "\"name\": \"wrong\"");
	run("reference", "show", "wrong");
	assert_tells(plant.out, "  withdrawn ");
	run("reference", "withdraw", "wrong");
	assert_int_equal(plant.code, COMMAND_NO);
	assert_tells(plant.err, "withdrawn before");
	run("reference", "withdraw", "nothing");
	assert_int_equal(plant.code, COMMAND_NO);
	run("reference", "withdraw");
	assert_int_equal(plant.code, COMMAND_USAGE);
	run("reference", "freeze", "wrong");
	assert_int_equal(plant.code, COMMAND_USAGE);
}

static void
names_that_mislead_are_refused(void **state)
{
	static const char *const names[] = {"a\nb", "a\tb", " a", "a ", "APPROVED",
	    "a name that is longer than any that the ledger has room for, by far"};

	(void)state;
	play(5);
	for (size_t i = 0; i < sizeof names / sizeof names[0]; i++) {
		run("reference", "freeze", names[i]);
		assert_int_equal(plant.code, COMMAND_USAGE);
		/* the first two are no argument at all */
		assert_tells(plant.err, i < 2 ? "control character" : "reference run");
	}
	run("reference", "--format", "csv");
	const char *second = strchr(strchr(plant.out, '\n') + 1, '\n');
	assert_string_equal(second, "\n"); /* behind the head and the one */
}

static void
a_run_in_which_something_shows_is_remarked(void **state)
{
	(void)state;
	play(30);
	run("reference", "freeze", "all");
	assert_int_equal(plant.code, COMMAND_DONE);
	assert_says(plant.out, "held against reference approved, these shots are not "
			       "alike: blocked circuit water circuit 2 from shot ");
	run("reference", "withdraw", "approved");
	run("reference", "withdraw", "all");
	run("reference", "freeze", "halves", "--from", "2026-03-02T08:15");
	assert_says(plant.out, "held against their first half");
	run("reference", "withdraw", "halves");
	run("reference", "freeze", "good", "--to", "2026-03-02T09:30");
	assert_tells_not(plant.out, "not alike");
}

static void
what_is_not_there_is_said_with_what_is(void **state)
{
	(void)state;
	waterplant_run(&plant, 1, 30, 0);
	run("reference", "freeze", "x", "--recipe", "99");
	assert_int_equal(plant.code, COMMAND_NO);
	assert_tells(plant.err, "no complete shots of recipe '99': there are of 12");
	run("reference", "freeze", "x", "--tool", "T-999");
	assert_tells(plant.err, "no complete shots of tool 'T-999': there are of "
				"unknown");
	run("reference", "freeze", "x", "--side", "left");
	assert_int_equal(plant.code, COMMAND_USAGE);
	assert_tells(plant.err, "line 'line-3' has no sides");
}

/* --- computed otherwise ------------------------------------------------------------------------ */

static void
other_properties_are_named_and_not_compared(void **state)
{
	(void)state;
	waterplant_run(&plant, 1, 40, 0);
	run("reference", "freeze", "approved");
	for (int no = 41; no <= 80; no++) {
		struct shot *shot = waterplant_shot(&plant, no, 0);
		shot->value[FEATURE_CORE_HEAT_END_C] += 20;
		snprintf(
		    shot->properties, sizeof shot->properties, "abs demo-2 77aa00bb");
		plant_write(&plant, shot);
	}
	run("report");
	assert_says(plant.out,
	    "core figures of 40 shots are not compared: the reference was computed "
	    "with abs demo-1 4c1a09e2, 6.35 mm; these with abs demo-1 4c1a09e2, abs "
	    "demo-2 77aa00bb, 6.35 mm");
	assert_tells_not(plant.out, "disagrees: core");
	run("shot", "60", "--format", "json");
	assert_tells(plant.out, "\"properties_then\": \"abs demo-1 4c1a09e2\"");
	assert_tells(plant.out, "\"core_not_compared\": ");
}

/* Makes shots again with these properties. */
static void
make_again(int first, int last, const char *properties, double core_dc)
{
	struct error error;
	bool changed;

	for (int no = first; no <= last; no++) {
		struct shot *shot = waterplant_shot(&plant, no, 0);
		shot->value[FEATURE_CORE_HEAT_END_C] += core_dc;
		snprintf(shot->properties, sizeof shot->properties, "%s", properties);
		/* the first of a new ledger have the numbers that they are filed by */
		assert_int_equal(ledger_put_recomputed(plant.ledger, plant.settings, no,
				     shot, &changed, &error),
		    0);
		assert_true(changed);
		shot_free(shot);
	}
}

/* The reference stays what it was when its own shots are made again. */
static void
a_reference_keeps_the_properties_it_was_frozen_with(void **state)
{
	(void)state;
	waterplant_run(&plant, 1, 80, 0);
	run("reference", "freeze", "approved", "--to", "2026-03-02T08:03");
	make_again(1, 80, "abs demo-2 77aa00bb", 20);
	run("report");
	assert_says(plant.out,
	    "core figures of 80 shots are not compared: the reference was computed "
	    "with abs demo-1 4c1a09e2, 6.35 mm; these with abs demo-2 77aa00bb, 6.35 "
	    "mm");
	assert_tells_not(plant.out, "disagrees: core");
	/* back, and once more for something else: they are as they were */
	make_again(1, 80, "abs demo-1 4c1a09e2", 0);
	run("report");
	assert_tells_not(plant.out, "not compared");
}

static void
another_thickness_of_the_same_lot_is_not_compared(void **state)
{
	(void)state;
	waterplant_run(&plant, 1, 80, 0);
	plant_context(&plant, CONTEXT_LOT, "A-0412", 0);
	run("reference", "freeze", "approved", "--to", "2026-03-02T08:03");
	for (int no = 81; no <= 100; no++) {
		struct shot *shot = waterplant_shot(&plant, no, 0);
		shot->value[FEATURE_SHEET_THICKNESS_MM] = 0.0066;
		plant_write(&plant, shot);
	}
	run("report");
	assert_says(plant.out, "core figures of 20 shots are not compared");
	assert_says(plant.out, "these with abs demo-1 4c1a09e2, 6.35 mm, 6.60 mm");
	/* of another lot it is what is measured */
	plant_context(&plant, CONTEXT_LOT, "A-0413", 81);
	run("report");
	assert_tells_not(plant.out, "not compared");
	assert_says(plant.out, "sheets computed as 6.35 mm, 6.60 mm thick; the "
			       "reference's as 6.35 mm");
}

/* What a calibration cannot have moved stays as sure as it is. */
static void
a_calibration_takes_back_only_what_rests_on_it(void **state)
{
	(void)state;
	play(30);
	run("calibrate", "enter", "pyrometers.surface_top_1", "--as-left", "0.5 K",
	    "--at", "2026-03-02T08:30", "--by", "A");
	assert_int_equal(plant.code, COMMAND_DONE);
	run("report");
	assert_says(plant.out, "calibrated since the reference was made: "
			       "pyrometers.surface_top_1: ");
	assert_tells(plant.out, "blocked circuit: water circuit 2");
	assert_tells_not(plant.out, "Possible at most");
	run("calibrate", "enter", "water.tool_2", "--as-left", "0.5 K", "--at",
	    "2026-03-02T08:30", "--by", "A");
	run("report");
	assert_says(plant.out, "Possible at most: its figures rest on water.tool_2, "
			       "calibrated otherwise");
}

/* --- which shots -------------------------------------------------------------------------------- */

static void
the_first_shot_does_not_depend_on_the_window(void **state)
{
	static const char *const from[] = {"2026-03-02T06:00", "2026-03-02T08:30",
	    "2026-03-02T09:30", "2026-03-02T09:40", "2026-03-02T10:00"};
	double first = 0, good = 0;

	(void)state;
	play(30);
	for (size_t i = 0; i < sizeof from / sizeof from[0]; i++) {
		run("report", "--format", "json", "--from", from[i]);
		double first_here = number_of_finding("first_shot");
		double good_here = number_of_finding("last_good_shot");
		assert_true(good_here < FIRST_BAD && first_here <= FIRST_BAD);
		if (i > 0) {
			assert_near(first_here, first, 0);
			assert_near(good_here, good, 0);
		}
		first = first_here;
		good = good_here;
	}
	for (int no = FIRST_BAD; no < FIRST_BAD + 30; no += 7) {
		char number[16];
		snprintf(number, sizeof number, "%d", no);
		run("shot", number, "--format", "json");
		assert_near(number_of_finding("first_shot"), first, 0);
		assert_near(number_of_finding("last_good_shot"), good, 0);
	}
}

static void
what_began_long_ago_is_followed_back(void **state)
{
	(void)state;
	play(150);
	run("shot", "215", "--format", "json");
	assert_near(number_of_finding("first_shot"), FIRST_BAD, 3);
	assert_true(number_of_finding("last_good_shot") < FIRST_BAD);
	/* shot 201 is of 16:03 */
	run("report", "--from", "2026-03-02T16:03", "--format", "json");
	assert_near(number_of_finding("first_shot"), FIRST_BAD, 3);
	assert_tells(plant.out, "\"may_be_older\": false");
	/* from the first shot on file */
	run("reference", "freeze", "bad", "--from", "2026-03-02T09:33");
	run("shot", "50", "--reference", "bad");
	assert_says(plant.out, "from shot 1 (2026-03-02 06:03:00) on or before");
}

static void
a_shot_too_recent_is_not_told_yet(void **state)
{
	(void)state;
	play(2); /* 71 and 72 */
	run("shot", "72");
	assert_says(plant.out, "not told yet: what begins with this shot shows when 4 "
			       "more shots of its kind are made");
	run("shot", "72", "--format", "json");
	assert_tells(plant.out, "\"shots_missing\": 4");
	run("shot", "69");
	assert_says(plant.out, "shows when 1 more shot of its kind is made");
	waterplant_run(&plant, FIRST_BAD + 2, 6, BLOCKED);
	run("shot", "71");
	assert_tells(plant.out, "blocked circuit: water circuit 2");
	assert_tells_not(plant.out, "not told yet");
}

/* --- how they are shown ---------------------------------------------------------------------------- */

static void
findings_stand_near_the_top_of_a_shot(void **state)
{
	(void)state;
	play(30);
	run("shot", "95");
	const char *found = strstr(plant.out, "blocked circuit: water circuit 2");
	const char *features = strstr(plant.out, "\nFeatures");
	assert_non_null(found);
	assert_non_null(features);
	assert_true(found < features);
	assert_says(plant.out, "Times scatter: found less expected, as a multiple of "
			       "the standard deviation");
	run("report");
	assert_says(plant.out, "Findings: sure: all that a cause moves has moved");
}

static void
findings_are_offered_as_csv(void **state)
{
	(void)state;
	play(30);
	run("report", "--findings", "--format", "csv");
	assert_int_equal(plant.code, COMMAND_DONE);
	assert_memory_equal(plant.out, "machine_side,recipe,tool,reference,cause,", 41);
	assert_tells(plant.out, "blocked_circuit");
	assert_tells(plant.out, ",water circuit 2,water.");
	run("shot", "95", "--findings", "--format", "csv");
	assert_tells(plant.out, "blocked_circuit");
	run("report", "--format", "csv");
	assert_tells_not(plant.out, "blocked_circuit");
}

/* A lot that nobody entered shows in the sag: a figure that disagrees says so, and has
 * no cause to be sure of. */
static void
a_disagreeing_sag_points_to_a_lot(void **state)
{
	(void)state;
	for (int no = 1; no <= 90; no++) {
		struct shot *shot = waterplant_shot(&plant, no, 0);
		waterplant_set(&plant, shot, FEATURE_RATE_TOP, 1.15, 0.004);
		waterplant_set(&plant, shot, FEATURE_RATE_BOTTOM, 1.13, 0.004);
		waterplant_set(&plant, shot, FEATURE_METER_RATIO, 1, 0.004);
		waterplant_set(&plant, shot, FEATURE_STACK_C, 23, 0.1);
		for (int k = 0; k < 3; k++) {
			waterplant_set(
			    &plant, shot, FEATURE_EXIT_TOP_FIRST + k, 182, 0.3);
			waterplant_set(
			    &plant, shot, FEATURE_EXIT_BOTTOM_FIRST + k, 176, 0.3);
		}
		shot->value[FEATURE_SAG_S] += no > 60 ? 15 : 0;
		plant_write(&plant, shot);
	}
	plant_context(&plant, CONTEXT_LOT, "A-0412", 0);
	run("reference", "freeze", "approved", "--to", "2026-03-02T08:03");
	run("report");
	const char *at = strstr(plant.out, "disagrees: sag_s");
	if (!at)
		fail_msg("no sag in:\n%s", plant.out);
	assert_memory_equal(at + strlen("disagrees: sag_s"), "\n", 1);
	assert_says(at, "A lot that was changed and not entered looks like this too");
	run("report", "--format", "json");
	assert_tells(plant.out, "\"sure\": null");
}

static void
the_side_and_the_channel_are_named(void **state)
{
	struct plant own;
	char told[128];

	(void)state;
	plant_open_under(&own, "conf/shuttle-two-sides.ini");
	const char *side = own.settings->lines[0].sides[1];
	for (int no = 1; no <= 120; no++) {
		bool second = no % 2 == 1;
		struct shot *shot =
		    waterplant_shot(&own, no, second && no > 80 ? BLOCKED : 0);
		shot->side = second;
		plant_write(&own, shot);
	}
	plant_run_command(&own, "--ledger", own.ledger_path, "reference", "freeze",
	    "approved", "--side", side, "--to", "2026-03-02T09:33");
	assert_int_equal(own.code, COMMAND_DONE);
	plant_run_command(&own, "--ledger", own.ledger_path, "report");
	snprintf(
	    told, sizeof told, "blocked circuit: water circuit 2 of side %s, ", side);
	assert_says(own.out, told);
	plant_run_command(&own, "--ledger", own.ledger_path, "reference", "freeze", "x",
	    "--side", "nowhere");
	assert_int_equal(own.code, COMMAND_USAGE);
	assert_tells(own.err, "has no side 'nowhere', it has ");
	plant_close(&own);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    with_plant(a_withdrawn_reference_is_kept_and_not_used),
	    with_plant(names_that_mislead_are_refused),
	    with_plant(a_run_in_which_something_shows_is_remarked),
	    with_plant(what_is_not_there_is_said_with_what_is),
	    with_plant(other_properties_are_named_and_not_compared),
	    with_plant(a_reference_keeps_the_properties_it_was_frozen_with),
	    with_plant(another_thickness_of_the_same_lot_is_not_compared),
	    with_plant(a_calibration_takes_back_only_what_rests_on_it),
	    with_plant(the_first_shot_does_not_depend_on_the_window),
	    with_plant(what_began_long_ago_is_followed_back),
	    with_plant(a_shot_too_recent_is_not_told_yet),
	    with_plant(findings_stand_near_the_top_of_a_shot),
	    with_plant(findings_are_offered_as_csv),
	    with_plant(a_disagreeing_sag_points_to_a_lot),
	    with_plant(the_side_and_the_channel_are_named),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
