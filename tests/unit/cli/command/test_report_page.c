/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The report as a page: its answer, verdicts and runs. */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>

#include "tests/unit/cli/command/reported.h"
#include "tests/unit/near.h"

/* From shot `from` on sag_s falls by a tenth of its deviation a shot. */
static void
run_with_drift(struct plant *plant, int64_t count, int64_t from)
{
	for (int64_t no = 1; no <= count; no++) {
		struct shot *shot = plant_shot(plant, no);
		if (no >= from)
			shot->value[FEATURE_SAG_S] -= 0.2 * (double)(no - from);
		plant_write(plant, shot);
	}
}

/* --- the answer ------------------------------------------------------------------------- */

static void
the_answer_comes_first_and_names_what_drifted(void **state)
{
	struct plant *plant = *state;
	const char *heading = "line-3: shift early of 2026-03-02\n"
			      "=================================\n";

	run_with_drift(plant, 140, 81);
	report(plant, "text");
	assert_ptr_equal(strstr(plant->out, heading), plant->out);
	const char *answer = plant->out + strlen(heading);
	assert_ptr_equal(
	    strstr(answer, "3 of 4 characteristics shown to be capable; "), answer);
	assert_says(plant->out,
	    "sag_s: its capability is not established: not stable: it "
	    "drifted from shot ");
	double from = number_behind(answer, "sag_s (drifted from shot ");
	assert_true(from >= 66 && from <= 96);

	report(plant, "json");
	assert_tells(
	    plant->out, "\"answer\": \"3 of 4 characteristics shown to be capable; ");
	const char *sag =
	    behind(plant->out, "\"populations\"", "\"characteristic\": \"sag_s\"");
	assert_tells(sag, "\"verdict\": \"not_established\"");
	assert_tells(sag, "\"stability\": \"unstable\", \"onset\": \"drift\"");
	assert_near(number_behind(sag, "\"onset_shot_no\": "), from, 0);
	assert_true(number_behind(sag, "\"onset_least_shot_no\": ") <= from);
	assert_true(number_behind(sag, "\"onset_most_shot_no\": ") >= from);
}

static void
all_capable_is_said_in_one_sentence(void **state)
{
	struct plant *plant = *state;

	plant_run(plant, 1, 140);
	report(plant, "text");
	assert_tells(plant->out, "\n4 of 4 characteristics shown to be capable\n");
	assert_says(plant->out, "What is called capable was stable, and its Ppk is at "
				"least 1.33 with 95 % confidence.");
	assert_says(plant->out, "Tested for stability: 4 series; called unstable: 0. "
				"Chance alone would call 0.2 of so many unstable");
	report(plant, "json");
	assert_tells(plant->out, "\"stability_tests\": 4,");
	assert_near(number_behind(plant->out, "\"unstable_by_chance\": "), 0.2, 1e-12);
}

static void
shots_outside_are_part_of_the_answer(void **state)
{
	struct plant *plant = *state;

	for (int no = 1; no <= 60; no++) {
		struct shot *shot = plant_shot(plant, no);
		/* the limit is 14 s */
		shot->value[FEATURE_TRANSFER_S] = 13.5 + 0.5 * plant_normal(plant);
		plant_write(plant, shot);
	}
	report(plant, "text");
	assert_says(plant->out, "characteristics shown to be capable; not capable: "
				"transfer_s (too many outside, ");
	assert_says(plant->out,
	    "transfer_s is not capable: 11 of 60 shots outside the limit; ");
	/* s is 0.5 s, and so much polling leaves of it */
	assert_tells(plant->out, " (polling)");
	assert_tells(plant->out, "Verdicts, where a Ppk of 1.33 is required\n");
	assert_tells_not(plant->out, "  required");
	report(plant, "json");
	assert_tells(
	    behind(plant->out, "\"populations\"", "\"characteristic\": \"transfer_s\""),
	    "\"verdict\": \"not_capable\", \"reasons\": ");
}

static void
a_spread_is_judged_by_percentiles_and_has_no_cpk(void **state)
{
	struct plant *plant = *state;

	for (int no = 1; no <= 120; no++) {
		struct shot *shot = plant_shot(plant, no);
		shot->value[FEATURE_TOOL_SPREAD_OF_MEANS_DC] =
		    fabs(0.2 * plant_normal(plant));
		plant_write(plant, shot);
	}
	report(plant, "json");
	const char *row = behind(plant->out, "\"populations\"",
	    "\"characteristic\": \"tool_spread_of_means_dc\"");
	/* the limit is 2 F; a half-normal of 0.2 K has 3.205 times that at 99.865 % */
	double upper = 2 / 1.8, median = 0.67449 * 0.2, high = 3.20513 * 0.2;
	assert_near(number_behind(row, "\"performance\": "),
	    (upper - median) / (high - median), 0.45);
	assert_tells(row, "\"ppk_quotable\": false, \"ppk_withheld\": \"it cannot fall "
			  "below zero");
	assert_tells(row, "\"cpk_quotable\": false");
	/* what the normal distribution says flatters it */
	assert_true(
	    number_behind(row, "\"ppk\": ") > number_behind(row, "\"performance\": "));
}

static void
what_is_not_stable_has_a_performance(void **state)
{
	struct plant *plant = *state;

	for (int no = 1; no <= 80; no++) {
		struct shot *shot = plant_shot(plant, no);
		shot->value[FEATURE_SAG_S] += no > 40 ? 2 : -2;
		if (no == 20) /* the highest limit is 14 s */
			shot->value[FEATURE_TRANSFER_S] = 12.5;
		plant_write(plant, shot);
	}
	report(plant, "text");
	assert_says(plant->out, "single shots stand out, first shot 20");
	assert_says(
	    plant->out, "sag_s: its capability is not established: not stable: ");
	assert_says(plant->out, "its performance over these shots, without a claim of "
				"stability: Ppk at least ");
	assert_says(plant->out, "Not capable: with that confidence Ppk is below it");
}

static void
each_bound_of_too_few_is_told_with_what_it_is_for(void **state)
{
	struct plant *plant = *state;

	for (int no = 1; no <= 22; no++)
		plant_write(plant, plant_shot(plant, no));
	report(plant, "text");
	assert_says(plant->out, "4 of these series have too few values: an index needs "
				"at least 25, a word on stability 20.");
	assert_tells(plant->out, "too few");
}

/* --- lots, and what moved together -------------------------------------------------------- */

static void
the_scatter_between_lots_is_told(void **state)
{
	struct plant *plant = *state;

	for (int no = 1; no <= 120; no++) {
		struct shot *shot = plant_shot(plant, no);
		if (no > 60)
			shot->value[FEATURE_EXIT_TOP_C] += 3;
		plant_write(plant, shot);
	}
	plant_context(plant, CONTEXT_LOT, "A-1", 0);
	plant_context(plant, CONTEXT_LOT, "A-2", 61);
	report(plant, "json");
	const char *row = behind(
	    plant->out, "\"between_lots\"", "\"characteristic\": \"exit_top_c\"");
	assert_near(number_behind(row, "\"lots\": "), 2, 0);
	assert_near(number_behind(row, "\"n\": "), 120, 0);
	/* means 3 apart: variance 4.5 between, 1.5 squared within */
	assert_near(number_behind(row, "\"sd_within\": "), 1.5, 0.3);
	assert_near(number_behind(row, "\"sd_between\": "), 3 / sqrt(2), 0.5);
	assert_near(number_behind(row, "\"share_between\": "), 4.5 / 6.75, 0.12);
	/* within each lot it is stable, and nothing is pooled */
	row =
	    behind(plant->out, "\"populations\"", "\"characteristic\": \"exit_top_c\"");
	assert_tells(row, "\"stability\": \"stable\"");
	report(plant, "text");
	assert_tells(plant->out, "characteristics shown to be capable in every lot");
	assert_tells(plant->out, "\nBetween lots and within them\n");
}

static void
the_lots_of_a_run_stand_side_by_side_for_people(void **state)
{
	struct plant *plant = *state;
	static const int absent[] = {
	    FEATURE_EXIT_TOP_C, FEATURE_TOOL_SPREAD_OF_MEANS_DC, FEATURE_HEAT_S};

	for (int no = 1; no <= 80; no++) {
		struct shot *shot = plant_shot(plant, no);
		for (size_t i = 0; i < 3 && no == 50; i++) {
			shot->value[absent[i]] = NAN;
			shot->absent[absent[i]] = ABSENT_STALE;
		}
		plant_write(plant, shot);
	}
	plant_context(plant, CONTEXT_LOT, "A-1", 0);
	plant_context(plant, CONTEXT_LOT, "A-2", 41);
	report(plant, "text");
	assert_int_equal(count_of(plant->out, "\nAgainst limits\n"), 1);
	assert_tells(plant->out, "A-1: mean (s)  A-2: mean (s)\n");
	/* one row of both; of heat_s, which has no limits, one is spared */
	assert_tells(plant->out, "\n  A-2  stale       1  50       exit_top_c, "
				 "tool_spread_of_means_dc\n");
	assert_tells_not(plant->out, "exit_top_c, tool_spread_of_means_dc, heat_s");
	report(plant, "json");
	assert_int_equal(count_of(plant->out, "\"characteristics\": ["), 2);
	assert_tells(plant->out, "{\"feature\": \"heat_s\", \"reason\": \"stale\", "
				 "\"shots\": 1, \"shot_nos\": \"50\"}");
}

static void
what_moved_with_a_characteristic_is_ranked_and_no_cause(void **state)
{
	struct plant *plant = *state;

	for (int no = 1; no <= 140; no++) {
		struct shot *shot = plant_shot(plant, no);
		double hall =
		    22 + (no > 70 ? (no - 70) * 0.1 : 0) + 0.5 * plant_normal(plant);
		shot->value[FEATURE_AMBIENT_C] = hall;
		shot->absent[FEATURE_AMBIENT_C] = ABSENT_NOT;
		shot->value[FEATURE_SAG_S] = 170 - hall + 0.2 * plant_normal(plant);
		/* the same time, measured elsewhere: no news */
		shot->value[FEATURE_HEAT_S] = shot->value[FEATURE_SAG_S] + 0.5;
		plant_write(plant, shot);
	}
	report(plant, "json");
	const char *row =
	    behind(plant->out, "\"moved_with\"", "\"characteristic\": \"sag_s\"");
	assert_tells(row, "\"characteristic\": \"sag_s\", \"input\": \"ambient_c\", "
			  "\"explained\": 0.");
	/* changes of the hall: variance 0.5, of the rest 0.08 */
	assert_near(number_behind(row, "\"explained\": "), 0.5 / 0.58, 0.12);
	assert_near(number_behind(row, "\"slope\": "), -1, 0.2);
	assert_tells_not(row, "\"input\": \"heat_s\"");
	report(plant, "text");
	assert_says(plant->out, "Moved together is no cause");
	assert_tells(plant->out, "against it");
}

static void
times_that_were_not_logged_are_told(void **state)
{
	struct plant *plant = *state;

	plant_run(plant, 1, 30);
	ledger_put_event(
	    plant->ledger, "line-3", plant_time(10), "end", "logging ends", NULL);
	ledger_put_event(
	    plant->ledger, "line-3", plant_time(12), "start", "logging begins", NULL);
	report(plant, "text");
	assert_tells(plant->out, "\nNot logged\n"
				 "  from                 to\n"
				 "  2026-03-02 06:30:00  2026-03-02 06:36:00\n");
	report(plant, "json");
	assert_tells(plant->out, "\"not_logged\": [\n");
	assert_tells(plant->out, "{\"from\": \"2026-03-02T05:30:00.000Z\", \"to\": "
				 "\"2026-03-02T05:36:00.000Z\"}");
}

static void
of_one_that_began_before_the_time_asked_for_its_beginning_is_told(void **state)
{
	struct plant *plant = *state;

	plant_run(plant, 1, 2);
	ledger_put_event(
	    plant->ledger, "line-3", plant_time(2), "end", "logging ends", NULL);
	ledger_put_event(
	    plant->ledger, "line-3", plant_time(12), "start", "logging begins", NULL);
	plant_run(plant, 13, 17);
	plant_run_command(plant, "report", "--ledger", plant->ledger_path, "--from",
	    "2026-03-02T06:15", "--format", "text");
	assert_tells(plant->out, "\nNot logged\n"
				 "  from                 to\n"
				 "  2026-03-02 06:06:00  2026-03-02 06:36:00\n");
	plant_run_command(plant, "report", "--ledger", plant->ledger_path, "--from",
	    "2026-03-02T06:40", "--format", "text");
	assert_tells_not(plant->out, "Not logged");
}

/* --- several recipes, odd values, long periods ------------------------------------------- */

static void
each_recipe_has_its_answer_and_its_pictures(void **state)
{
	struct plant *plant = *state;

	for (int no = 1; no <= 80; no++) {
		struct shot *shot = plant_shot(plant, no);
		shot->recipe = no <= 40 ? 12 : 31; /* of 31 two have limits */
		plant_write(plant, shot);
	}
	report(plant, "text");
	assert_says(plant->out, "recipe 12, tool unknown: ");
	assert_says(plant->out, " of 4 characteristics shown to be capable");
	assert_says(plant->out,
	    ". recipe 31, tool unknown: 2 of 2 characteristics shown "
	    "to be capable");
	plant_run_command(plant, "report", "--ledger", plant->ledger_path, "--format",
	    "svg", "--picture", "transfer_s-line-3-31-unknown");
	assert_int_equal(plant->code, COMMAND_DONE);
	assert_tells(plant->out, "of the complete shots 41 to 80");
	plant_run_command(plant, "report", "--ledger", plant->ledger_path, "--format",
	    "svg", "--picture", "transfer_s");
	assert_tells(plant->out, "of the complete shots 1 to 40");
}

static void
few_shots_absent_and_equal_values_are_no_trouble(void **state)
{
	struct plant *plant = *state;
	static const char *const formats[] = {"text", "json", "csv", "html", "pdf"};

	for (int no = 1; no <= 30; no++) {
		struct shot *shot = plant_shot(plant, no);
		shot->value[FEATURE_SAG_S] = NAN;
		shot->absent[FEATURE_SAG_S] = ABSENT_STALE;
		shot->value[FEATURE_TRANSFER_S] = 9;
		shot->value[FEATURE_TOOL_SPREAD_OF_MEANS_DC] = 0;
		plant_write(plant, shot);
		for (size_t i = 0; i < 5 && (no <= 3 || no == 30); i++) {
			report(plant, formats[i]);
			assert_true(plant->out_length > 100);
			assert_null(i < 4 ? strstr(plant->out, "nan") : NULL);
			assert_null(i < 4 ? strstr(plant->out, " inf") : NULL);
		}
	}
}

static void
a_long_period_is_bounded_for_people_alone(void **state)
{
	struct plant *plant = *state;

	for (int no = 1; no <= 60; no++)
		plant_write(plant, plant_shot(plant, no));
	for (int lot = 0; lot < 30; lot++) {
		char name[16];
		snprintf(name, sizeof name, "L-%d", lot);
		plant_context(plant, CONTEXT_LOT, name, 1 + 2 * lot);
	}
	report(plant, "text");
	assert_says(plant->out, "The figures of 6 more lots are left out here");
	assert_tells(plant->out, "L-23");
	report(plant, "json");
	assert_tells(plant->out, "\"lot\": \"L-29\"");
	assert_int_equal(count_of(plant->out, "\"characteristics\": ["), 30);
	report(plant, "html"); /* of 30 lots twelve are marked */
	assert_says(plant->out, "18 more changes and notes are not marked.");
}

#define with_plant(test) cmocka_unit_test_setup_teardown(test, open_plant, close_plant)

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    with_plant(the_answer_comes_first_and_names_what_drifted),
	    with_plant(all_capable_is_said_in_one_sentence),
	    with_plant(shots_outside_are_part_of_the_answer),
	    with_plant(what_is_not_stable_has_a_performance),
	    with_plant(each_bound_of_too_few_is_told_with_what_it_is_for),
	    with_plant(a_spread_is_judged_by_percentiles_and_has_no_cpk),
	    with_plant(the_scatter_between_lots_is_told),
	    with_plant(the_lots_of_a_run_stand_side_by_side_for_people),
	    with_plant(what_moved_with_a_characteristic_is_ranked_and_no_cause),
	    with_plant(times_that_were_not_logged_are_told),
	    with_plant(
		of_one_that_began_before_the_time_asked_for_its_beginning_is_told),
	    with_plant(each_recipe_has_its_answer_and_its_pictures),
	    with_plant(few_shots_absent_and_equal_values_are_no_trouble),
	    with_plant(a_long_period_is_bounded_for_people_alone),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
