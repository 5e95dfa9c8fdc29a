/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>

#include "tests/unit/cli/command/waterplant.h"
#include "tests/unit/near.h"

#include "tests/unit/cli/command/one_plant.h"

enum { SHOTS = 100 };

#define run(...) plant_run_command(&plant, "--ledger", plant.ledger_path, __VA_ARGS__)

/* Always the same values, so that chance makes none unstable.  Shots 1 to SHOTS without `lost`; what `spoil` does to one of them. */
static void
write_shots(int64_t lost, int64_t spoiled, void (*spoil)(struct shot *shot))
{
	memset(plant.random, 0, sizeof plant.random);
	plant_need(ledger_set_hasty(plant.ledger, true, NULL) == 0, "haste");
	for (int64_t no = 1; no <= SHOTS; no++) {
		struct shot *shot = plant_shot(&plant, no);
		if (no == spoiled)
			spoil(shot);
		if (no == lost)
			shot_free(shot);
		else
			plant_write(&plant, shot);
	}
	plant_need(ledger_set_hasty(plant.ledger, false, NULL) == 0, "no haste");
}

static void
make_hot(struct shot *shot)
{
	shot->value[FEATURE_EXIT_TOP_C] = 195;
}

static void
lose_sag(struct shot *shot)
{
	shot->value[FEATURE_SAG_S] = NAN;
	shot->absent[FEATURE_SAG_S] = ABSENT_COMM_FAULT;
}

static void
nothing_to_hold_is_exit_0(void **state)
{
	(void)state;
	run("hold");
	assert_int_equal(plant.code, COMMAND_NO); /* no shots at all */
	write_shots(0, 0, NULL);
	run("hold", "--characteristic", "transfer_s");
	assert_int_equal(plant.code, COMMAND_DONE);
	assert_says(plant.out, "nothing to hold");
	run("hold", "--from", "2026-03-09", "--to", "2026-03-10");
	assert_int_equal(plant.code, COMMAND_NO);
	assert_says(plant.out, "not known to be good");
}

static void
a_shot_outside_is_bounded_by_good_ones(void **state)
{
	(void)state;
	write_shots(0, 50, make_hot);
	run("hold", "--characteristic", "exit_top_c");
	assert_int_equal(plant.code, COMMAND_NO);
	assert_says(plant.out, "line-3: hold and inspect 1 part");
	assert_says(plant.out, "last known good before  49, of 2026-03-02 08:27:00");
	assert_says(plant.out, "first known good after  51, of 2026-03-02 08:33:00");
	assert_says(plant.out, "exit_top_c above its upper limit  50");
	assert_says(plant.out, "Whether a part is good is for people to decide");
	run("hold", "--characteristic", "exit_top_c", "--format", "json");
	assert_near(plant_number_after(&plant, "holds", "first_bad"), 50, 0);
	assert_near(plant_number_after(&plant, "holds", "last_good"), 49, 0);
	assert_near(plant_number_after(&plant, "holds", "first_good"), 51, 0);
	assert_near(plant_number_after(&plant, "holds", "count"), 1, 0);
	assert_tells(plant.out, "\"first_bad_at\": \"2026-03-02T07:30:00.000Z\"");
	assert_tells(plant.out, "\"kind\": \"outside_limit\"");
	run("hold", "--characteristic", "exit_top_c", "--format", "csv");
	assert_tells(plant.out, "\nline-3,50,2026-03-02T07:30:00.000Z,49,");
}

static void
a_shot_beside_the_time_still_bounds(void **state)
{
	(void)state;
	write_shots(0, 50, make_hot);
	/* shot 50 is of 08:30 */
	run("hold", "--characteristic", "exit_top_c", "--from", "2026-03-02T08:30",
	    "--to", "2026-03-02T08:31", "--format", "json");
	assert_near(plant_number_after(&plant, "holds", "last_good"), 49, 0);
	assert_near(plant_number_after(&plant, "holds", "first_good"), 51, 0);
	run("hold", "--characteristic", "exit_top_c", "--from", "2026-03-02T08:33");
	assert_int_equal(plant.code, COMMAND_DONE);
}

static void
the_answer_stands_first(void **state)
{
	(void)state;
	write_shots(0, 50, make_hot);
	run("hold", "--characteristic", "exit_top_c");
	const char *answer = strstr(plant.out, "hold and inspect 1 part. Whether");
	assert_non_null(answer);
	assert_true(answer < strstr(plant.out, "line-3: hold and inspect 1 part"));
	run("hold", "--characteristic", "exit_top_c", "--format", "html");
	assert_int_equal(plant.code, COMMAND_NO);
	assert_tells(plant.out, "<title>Parts to hold: ");
	assert_tells(plant.out, "above its upper");
	run("hold", "--characteristic", "exit_top_c", "--format", "pdf");
	assert_memory_equal(plant.out, "%PDF-", 5);
}

/* Hot from shot 11 on, for longer than is looked back at first. */
static void
the_last_good_one_is_looked_for_further_back(void **state)
{
	enum { GOOD = 10, HOT = 700 };

	(void)state;
	memset(plant.random, 0, sizeof plant.random);
	plant_need(ledger_set_hasty(plant.ledger, true, NULL) == 0, "haste");
	for (int64_t no = 1; no <= GOOD + HOT; no++) {
		struct shot *shot = plant_shot(&plant, no);
		if (no > GOOD)
			make_hot(shot);
		plant_write(&plant, shot);
	}
	plant_need(ledger_set_hasty(plant.ledger, false, NULL) == 0, "no haste");
	/* shot 701 is of 17:03 on the day after */
	run("hold", "--characteristic", "exit_top_c", "--from", "2026-03-03T17:03");
	assert_int_equal(plant.code, COMMAND_NO);
	assert_says(plant.out,
	    "hold and inspect 700 parts, 690 of them made before that "
	    "time, back to the last known good one");
	assert_says(plant.out, "last known good before  10, of ");
	assert_says(plant.out, "made before this time   690");
	run("hold", "--characteristic", "exit_top_c", "--upper", "300 F", "--from",
	    "2026-03-03T17:03");
	assert_says(
	    plant.out, "last known good before  none: the record begins after it");
}

static void
a_number_that_leaps_is_told_as_one_range(void **state)
{
	(void)state;
	memset(plant.random, 0, sizeof plant.random);
	plant_need(ledger_set_hasty(plant.ledger, true, NULL) == 0, "haste");
	for (int64_t no = 1; no <= SHOTS; no++) {
		struct shot *shot = plant_shot(&plant, no);
		if (no > 50)
			shot->shot_no += 400000123;
		plant_write(&plant, shot);
	}
	plant_need(ledger_set_hasty(plant.ledger, false, NULL) == 0, "no haste");
	run("hold", "--characteristic", "transfer_s");
	assert_int_equal(plant.code, COMMAND_NO);
	assert_says(plant.out, "hold and inspect 400000123 parts");
	assert_says(plant.out, "no record  51-400000173");
}

static void
an_unknown_value_and_a_missing_record_are_held(void **state)
{
	(void)state;
	write_shots(70, 40, lose_sag);
	run("hold", "--characteristic", "sag_s");
	assert_int_equal(plant.code, COMMAND_NO);
	assert_says(plant.out, "sag_s unknown (comm fault)  40");
	assert_says(plant.out, "no record  70");
	assert_says(plant.out, "last known good before  69, of 2026-03-02 09:27:00");
	run("hold", "--characteristic", "transfer_s", "--format", "json");
	assert_tells(plant.out, "\"shots\": \"70\"");
	assert_tells_not(plant.out, "\"shots\": \"40\"");
	assert_near(plant_number_after(&plant, "holds", "without_record"), 1, 0);
}

static void
sheets_that_the_logger_did_not_see_are_told(void **state)
{
	(void)state;
	write_shots(0, 0, NULL);
	struct shot *shot = plant_shot(&plant, SHOTS + 1);
	shot->cycle_count += 2; /* that nobody numbered */
	plant_write(&plant, shot);
	plant_write(&plant, plant_shot(&plant, SHOTS + 2));
	plant_need(ledger_put_event(plant.ledger, "line-3",
		       (struct wall){plant_time(SHOTS).ns + 30 * CLOCK_SECOND_NS},
		       "end", "", NULL) == 0 &&
		       ledger_put_event(plant.ledger, "line-3",
			   (struct wall){plant_time(SHOTS).ns + 90 * CLOCK_SECOND_NS},
			   "start", "", NULL) == 0,
	    "the logger's turns");
	run("hold", "--characteristic", "transfer_s");
	assert_int_equal(plant.code, COMMAND_NO);
	assert_says(
	    plant.out, "hold and inspect what was made while nothing was logged");
	assert_says(plant.out, "not logged 11:00:30 to 11:01:30; 2 cycles by the "
			       "machine's counter");
	assert_says(plant.out, "last known good before  100, of");
	assert_says(plant.out, "first known good after  101, of");
}

static void
limits_can_be_said(void **state)
{
	(void)state;
	write_shots(0, 50, make_hot);
	run("hold", "--characteristic", "exit_top_c", "--upper", "400 F");
	assert_int_equal(plant.code, COMMAND_DONE);
	assert_tells_not(plant.out, "above");
	run("hold", "--characteristic", "cycle_s", "--upper", "200 s");
	assert_int_equal(plant.code, COMMAND_DONE);
	run("hold", "--characteristic", "heat_s");
	assert_int_equal(plant.code, COMMAND_USAGE);
	assert_tells(plant.err, "the set-up has no limits of heat_s: give "
				"--characteristic NAME with --lower or --upper");
	run("hold", "--upper", "400 F");
	assert_int_equal(plant.code, COMMAND_USAGE);
	run("hold", "--characteristic", "exit_top_c", "--upper", "400 s");
	assert_int_equal(plant.code, COMMAND_USAGE);
}

static void
what_moved_within_its_limits_is_told_beside_what_is_held(void **state)
{
	(void)state;
	write_shots(0, 50, make_hot);
	/* far from the others, though within */
	run("hold", "--characteristic", "exit_top_c", "--upper", "400 F");
	assert_int_equal(plant.code, COMMAND_DONE);
	assert_says(plant.out, "1 part moved within the limits");
	assert_says(plant.out, "single values that stand out      1     50    50");
	assert_says(plant.out, "nothing to hold");
	assert_says(plant.out, "something moved within its limits");
	assert_tells_not(plant.out, "nothing was unstable");
	run("hold", "--characteristic", "exit_top_c", "--upper", "400 F", "--format",
	    "json");
	assert_tells(plant.out, "\"class\": \"moved_within_limits\"");
	assert_near(plant_number_after(&plant, "moved_within_limits", "first"), 50, 0);
	assert_near(plant_number_after(&plant, "\"held\"", "moved"), 1, 0);
	run("hold", "--characteristic", "exit_top_c", "--upper", "400 F", "--format",
	    "csv");
	assert_tells_not(plant.out, "hold_and_inspect");
	run("hold", "--characteristic", "exit_top_c", "--upper", "400 F", "--unstable");
	assert_int_equal(plant.code, COMMAND_NO);
	assert_says(
	    plant.out, "exit_top_c unstable (single values that stand out)  50");
	run("hold", "--characteristic", "exit_top_c", "--upper", "400 F", "--unstable",
	    "--format", "csv");
	assert_tells(plant.out, "hold_and_inspect");
}

static void
a_step_within_the_limits_is_told_with_its_range(void **state)
{
	(void)state;
	memset(plant.random, 0, sizeof plant.random);
	plant_need(ledger_set_hasty(plant.ledger, true, NULL) == 0, "haste");
	for (int64_t no = 1; no <= SHOTS; no++) {
		struct shot *shot = plant_shot(&plant, no);
		if (no >= 60)
			shot->value[FEATURE_EXIT_TOP_C] += 4;
		plant_write(&plant, shot);
	}
	plant_need(ledger_set_hasty(plant.ledger, false, NULL) == 0, "no haste");
	run("hold", "--characteristic", "exit_top_c", "--format", "json");
	assert_int_equal(plant.code, COMMAND_DONE);
	const char *row = "moved_within_limits";
	assert_tells(plant.out, "\"words\": \"a step\"");
	assert_near(plant_number_after(&plant, row, "onset"), 60, 4);
	assert_true(plant_number_after(&plant, row, "onset_earliest") <= 60);
	assert_true(plant_number_after(&plant, row, "onset_latest") >= 60);
	assert_near(plant_number_after(&plant, row, "first"),
	    plant_number_after(&plant, row, "onset_earliest"), 0);
	assert_near(plant_number_after(&plant, row, "last"), SHOTS, 0);
	assert_near(plant_number_after(&plant, "{", "held"), 0, 0);
	run("hold", "--characteristic", "exit_top_c", "--unstable", "--format", "json");
	assert_int_equal(plant.code, COMMAND_NO);
	assert_true(plant_number_after(&plant, "{", "held") >= 41);
	assert_near(plant_number_after(&plant, "{", "moved"), 0, 0);
}

static void
what_was_found_against_a_reference_is_suspect_if_wanted(void **state)
{
	(void)state;
	memset(plant.random, 0, sizeof plant.random);
	waterplant_run(&plant, 1, 70, 0);
	waterplant_run(&plant, 71, 30, 2);
	/* shot 41 is of 08:03 */
	run("reference", "freeze", "approved", "--to", "2026-03-02T08:03");
	run("hold", "--characteristic", "transfer_s");
	assert_int_equal(plant.code, COMMAND_DONE);
	run("hold", "--characteristic", "transfer_s", "--findings", "--format", "json");
	assert_int_equal(plant.code, COMMAND_NO);
	assert_tells(plant.out, "blocked circuit: water circuit 2 against reference "
				"approved");
	assert_near(plant_number_after(&plant, "holds", "first_bad"), 71, 5);
	assert_near(plant_number_after(&plant, "holds", "count"), 30, 5);
	run("hold", "--reference", "approved");
	assert_int_equal(plant.code, COMMAND_USAGE);
}

#define with_plant(test) cmocka_unit_test_setup_teardown(test, open_plant, close_plant)

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    with_plant(nothing_to_hold_is_exit_0),
	    with_plant(a_shot_outside_is_bounded_by_good_ones),
	    with_plant(a_shot_beside_the_time_still_bounds),
	    with_plant(the_answer_stands_first),
	    with_plant(the_last_good_one_is_looked_for_further_back),
	    with_plant(a_number_that_leaps_is_told_as_one_range),
	    with_plant(an_unknown_value_and_a_missing_record_are_held),
	    with_plant(sheets_that_the_logger_did_not_see_are_told),
	    with_plant(limits_can_be_said),
	    with_plant(what_moved_within_its_limits_is_told_beside_what_is_held),
	    with_plant(a_step_within_the_limits_is_told_with_its_range),
	    with_plant(what_was_found_against_a_reference_is_suspect_if_wanted),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
