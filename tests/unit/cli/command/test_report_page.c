/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The report as a page: its answer, verdicts, runs and pictures. */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>

#include "tests/unit/cli/command/plant.h"
#include "tests/unit/near.h"

static int
open_plant(void **state)
{
	static struct plant plant;

	plant_open(&plant);
	plant.random[0] = 3; /* verdicts of chance: one in twenty is false */
	*state = &plant;
	return 0;
}

static int
close_plant(void **state)
{
	plant_close(*state);
	return 0;
}

static void
report(struct plant *plant, const char *format)
{
	plant_run_command(
	    plant, "report", "--ledger", plant->ledger_path, "--format", format);
	assert_int_equal(plant->code, COMMAND_DONE);
}

/* The part of the JSON behind a key and a word. */
static const char *
behind(const char *json, const char *part, const char *word)
{
	const char *at = strstr(json, part);

	at = at ? strstr(at, word) : NULL;
	if (!at)
		fail_msg("no '%s' behind '%s' in:\n%s", word, part, json);
	return at;
}

static double
number_behind(const char *at, const char *key)
{
	const char *found = strstr(at, key);

	if (!found)
		fail_msg("no '%s' in:\n%s", key, at);
	return strtod(found + strlen(key), NULL);
}

static size_t
count_of(const char *text, const char *part)
{
	size_t count = 0;

	for (; (text = strstr(text, part)); text += strlen(part))
		count++;
	return count;
}

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
	    strstr(answer, "3 of 4 characteristics are capable; not "), answer);
	assert_says(plant->out, "sag_s is not established: not stable: it drifted from "
				"shot ");
	double from = number_behind(answer, "sag_s (drifted from shot ");
	assert_true(from >= 66 && from <= 96);

	report(plant, "json");
	assert_tells(plant->out, "\"answer\": \"3 of 4 characteristics are capable; ");
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
	assert_tells(plant->out, "\n4 of 4 characteristics are capable\n");
	assert_says(plant->out, "What is called capable was stable, and its Ppk is at "
				"least 1.33 with 95 % confidence.");
	assert_says(plant->out, "Of 4 series that were tested for stability 0 were "
				"called unstable. Of so many that are perfectly stable "
				"chance alone would call 0.2 unstable");
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
	assert_tells(plant->out, "characteristics are capable; not capable: transfer_s "
				 "(Ppk is below what is");
	assert_says(plant->out, "of 60 shots outside the limit; Ppk is 0.");
	report(plant, "json");
	assert_tells(
	    behind(plant->out, "\"populations\"", "\"characteristic\": \"transfer_s\""),
	    "\"verdict\": \"not_capable\", \"reasons\": \"index_below\"");
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
	assert_tells(plant->out, "characteristics are capable in every lot");
	assert_tells(plant->out, "\nBetween lots and within them\n");
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

/* --- pictures -------------------------------------------------------------------------------- */

static void
a_page_has_a_picture_of_each_characteristic(void **state)
{
	struct plant *plant = *state;
	static const char *const names[] = {
	    "sag_s", "exit_top_c", "transfer_s", "tool_spread_of_means_dc"};

	plant_run(plant, 1, 40);
	plant_context(plant, CONTEXT_NOTE, "window cleaned", 20);
	report(plant, "html");
	assert_int_equal(count_of(plant->out, "<svg "), 4);
	assert_tells_not(plant->out, "<script");
	assert_int_equal(
	    count_of(plant->out, "http"), count_of(plant->out, "http://www.w3.org/"));
	for (size_t i = 0; i < 4; i++) {
		plant_run_command(plant, "report", "--ledger", plant->ledger_path,
		    "--format", "svg", "--picture", names[i]);
		assert_int_equal(plant->code, COMMAND_DONE);
		assert_int_equal(count_of(plant->out, "<svg "), 1);
		assert_tells(plant->out, names[i]);
		assert_tells(plant->out, "window cleaned");
	}
	report(plant, "pdf");
	assert_memory_equal(plant->out, "%PDF-", 5);
	report(plant, "png");
	assert_memory_equal(plant->out, "\x89PNG", 4);
}

static void
a_picture_is_told_in_sentences_with_its_figures(void **state)
{
	struct plant *plant = *state;

	for (int no = 1; no <= 30; no++) {
		struct shot *shot = plant_shot(plant, no);
		shot->value[FEATURE_EXIT_TOP_C] =
		    no % 2 ? 180 : 182; /* 356.0, 359.6 F */
		if (no == 7)
			shot->value[FEATURE_EXIT_TOP_C] =
			    193; /* limit 375 F: 190.6 C */
		plant_write(plant, shot);
	}
	plant_run_command(plant, "report", "--ledger", plant->ledger_path, "--format",
	    "svg", "--picture", "exit_top_c");
	assert_tells(plant->out,
	    "exit_top_c of the complete shots 1 to 30 in the order of time, 30 values: "
	    "mean 358.6 F, standard deviation ");
	assert_tells(plant->out, "from 356.0 F to 379.4 F. The limits are 345.0 F and "
				 "375.0 F; 1 of the values is outside.");
}

/* Every zone of the demo's oven at a quarter of its power, the fifth of the top at half. */
static void
write_with_zones(struct plant *plant, int64_t no, double fifth)
{
	const struct settings *settings = plant->settings;
	struct shot *bare = plant_shot(plant, no),
		    *shot = shot_new(settings->channel_count);

	plant_need(shot != NULL, "a shot");
	struct shot_channel *channels = shot->channels;
	size_t count = settings->channel_count;
	free(bare->channels);
	*shot = *bare;
	shot->channels = channels;
	shot->channel_count = count;
	free(bare);
	for (size_t i = 0; i < count; i++) {
		const struct channel_settings *channel = &settings->channels[i];
		double output = channel->role == ROLE_ZONE_TOP && channel->position == 5
		                    ? fifth
		                    : 0.25;
		channels[i] = (struct shot_channel){
		    (uint32_t)i, output, output, output, 0, output, 1, ABSENT_NOT};
	}
	plant_write(plant, shot);
}

static void
zones_are_held_against_the_reference_run(void **state)
{
	struct plant *plant = *state;

	for (int no = 1; no <= 30; no++)
		write_with_zones(plant, no, 0.25);
	plant_run_command(plant, "reference", "freeze", "spring", "--ledger",
	    plant->ledger_path, "--from", "2026-03-02T06:00", "--to",
	    "2026-03-02T07:31");
	assert_int_equal(plant->code, COMMAND_DONE);
	for (int no = 31; no <= 60; no++)
		write_with_zones(plant, no, 0.5);
	plant_run_command(plant, "report", "--ledger", plant->ledger_path, "--from",
	    "2026-03-02T07:32", "--format", "json");
	assert_int_equal(plant->code, COMMAND_DONE);
	assert_int_equal(count_of(plant->out, "\"face\": "), 48);
	const char *zone =
	    behind(plant->out, "\"zones\"", "\"channel\": \"ovens.zone_top_5\"");
	assert_near(number_behind(zone, "\"output\": "), 0.5, 1e-9);
	assert_near(number_behind(zone, "\"reference_output\": "), 0.25, 1e-9);
	assert_near(number_behind(zone, "\"difference\": "), 0.25, 1e-9);
	plant_run_command(plant, "report", "--ledger", plant->ledger_path, "--from",
	    "2026-03-02T07:32", "--format", "svg", "--picture", "oven");
	assert_int_equal(plant->code, COMMAND_DONE);
	assert_tells(plant->out, "from 25 % (zone 1) to 50 % (zone 5)");
	assert_tells(plant->out, "The largest difference from reference run spring is "
				 "+25.0 points, at top, zone 5.");
}

static void
the_tool_s_sensors_are_a_picture(void **state)
{
	struct plant *plant = *state;

	for (int no = 1; no <= 30; no++) {
		struct shot *shot = plant_shot(plant, no);
		for (int i = 0; i < 3; i++) { /* 140, 149, 158 F */
			shot->value[FEATURE_TOOL_MEAN_FIRST + i] = 60 + 5 * i;
			shot->absent[FEATURE_TOOL_MEAN_FIRST + i] = ABSENT_NOT;
		}
		plant_write(plant, shot);
	}
	plant_run_command(plant, "report", "--ledger", plant->ledger_path, "--format",
	    "svg", "--picture", "tool");
	assert_int_equal(plant->code, COMMAND_DONE);
	assert_tells(plant->out, "The 3 sensors of the tool over 30 shots");
	assert_tells(plant->out, "between 140.0 and 158.0 F, their mean is 149.0 F");
}

#define with_plant(test) cmocka_unit_test_setup_teardown(test, open_plant, close_plant)

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    with_plant(the_answer_comes_first_and_names_what_drifted),
	    with_plant(all_capable_is_said_in_one_sentence),
	    with_plant(shots_outside_are_part_of_the_answer),
	    with_plant(a_spread_is_judged_by_percentiles_and_has_no_cpk),
	    with_plant(the_scatter_between_lots_is_told),
	    with_plant(what_moved_with_a_characteristic_is_ranked_and_no_cause),
	    with_plant(times_that_were_not_logged_are_told),
	    with_plant(a_page_has_a_picture_of_each_characteristic),
	    with_plant(a_picture_is_told_in_sentences_with_its_figures),
	    with_plant(zones_are_held_against_the_reference_run),
	    with_plant(the_tool_s_sensors_are_a_picture),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
