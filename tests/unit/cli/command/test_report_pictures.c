/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The report's pictures, and the words that go with them. */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>

#include "tests/unit/cli/command/reported.h"
#include "tests/unit/near.h"

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
	plant_run_command(
	    plant, "report", "--ledger", plant->ledger_path, "--format", "png");
	assert_int_equal(plant->code, COMMAND_USAGE);
	assert_int_equal(plant->out_length, 0);
	assert_tells(plant->err, "say '--picture' with one of 'sag_s', 'exit_top_c', ");
	plant_run_command(plant, "report", "--ledger", plant->ledger_path, "--format",
	    "png", "--characteristic", "sag_s");
	assert_int_equal(plant->code, COMMAND_DONE);
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

static void
lots_in_a_picture_keep_their_own_verdicts(void **state)
{
	struct plant *plant = *state;

	for (int no = 1; no <= 60; no++) {
		struct shot *shot = plant_shot(plant, no);
		if (no > 30) /* another level, and stable */
			shot->value[FEATURE_EXIT_TOP_C] += 4;
		if (no == 7) {
			shot->value[FEATURE_EXIT_TOP_C] = NAN;
			shot->absent[FEATURE_EXIT_TOP_C] = ABSENT_STALE;
		}
		plant_write(plant, shot);
	}
	plant_context(plant, CONTEXT_LOT, "A-1", 0);
	plant_context(plant, CONTEXT_LOT, "A-2", 31);
	plant_run_command(plant, "report", "--ledger", plant->ledger_path, "--format",
	    "svg", "--picture", "exit_top_c");
	assert_int_equal(plant->code, COMMAND_DONE);
	assert_tells(plant->out, " 1 more is absent.");
	assert_tells(plant->out, " The target is 360.0 F.");
	assert_tells(plant->out, "lot A-2, before shot 31");
	assert_tells(plant->out, " Verdict: A-1 ");
	assert_tells(plant->out, "; A-2 ");
	assert_tells_not(plant->out, "drifted");
	assert_tells_not(plant->out, "stepped");
	assert_tells_not(plant->out, "control limits");
	plant_run_command(plant, "report", "--ledger", plant->ledger_path, "--format",
	    "svg", "--picture", "exit_top_c", "--lot", "A-2");
	assert_tells(plant->out, "The control limits, from the spread");
}

static void
too_few_values_have_no_control_limits_and_no_curve(void **state)
{
	struct plant *plant = *state;

	for (int no = 1; no <= 19; no++)
		plant_write(plant, plant_shot(plant, no));
	plant_run_command(plant, "report", "--ledger", plant->ledger_path, "--format",
	    "svg", "--picture", "sag_s");
	assert_int_equal(plant->code, COMMAND_DONE);
	assert_tells_not(plant->out, "control");
	assert_tells(plant->out, "of too few values for a curve");
	for (int no = 20; no <= 24; no++)
		plant_write(plant, plant_shot(plant, no));
	plant_run_command(plant, "report", "--ledger", plant->ledger_path, "--format",
	    "svg", "--picture", "sag_s");
	assert_tells(plant->out, "The control limits, from the spread");
	assert_tells(plant->out, "of too few values for a curve");
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
	assert_tells(plant->out, "The spread of the means is ");
	assert_tells(plant->out, " at last; its limit is 2.00 F.");
	assert_tells(plant->out, "between 140.0 and 158.0 F, their mean is 149.0 F");
}

#define with_plant(test) cmocka_unit_test_setup_teardown(test, open_plant, close_plant)

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    with_plant(a_page_has_a_picture_of_each_characteristic),
	    with_plant(a_picture_is_told_in_sentences_with_its_figures),
	    with_plant(lots_in_a_picture_keep_their_own_verdicts),
	    with_plant(too_few_values_have_no_control_limits_and_no_curve),
	    with_plant(zones_are_held_against_the_reference_run),
	    with_plant(the_tool_s_sensors_are_a_picture),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
