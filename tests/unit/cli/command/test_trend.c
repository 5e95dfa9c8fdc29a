/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>

#include <math.h>

#include "tests/unit/cli/command/plant.h"
#include "tests/unit/near.h"

static struct plant plant;

enum { A_SHIFT = 160 };

/* Everything of a test is written at once, without waiting for the disk. */
static int
open_plant(void **state)
{
	(void)state;
	unsetenv("COLUMNS"); /* of whoever runs the test */
	plant_open(&plant);
	plant_need(ledger_set_hasty(plant.ledger, true, NULL) == 0, "haste");
	return 0;
}

static int
close_plant(void **state)
{
	(void)state;
	plant_close(&plant);
	return 0;
}

static void
written(void)
{
	plant_need(ledger_set_hasty(plant.ledger, false, NULL) == 0, "no haste");
}

#define run(...) plant_run_command(&plant, "--ledger", plant.ledger_path, __VA_ARGS__)

static size_t
count_of(const char *part)
{
	size_t count = 0;

	for (const char *at = plant.out; (at = strstr(at, part)); at++)
		count++;
	return count;
}

/* Always the same values, so that chance moves nothing.  `shifts` of them, the mean of exit_top_c falling by `fall_dc` from each to the next. */
static void
write_shifts(int shifts, double fall_dc)
{
	memset(plant.random, 0, sizeof plant.random);
	for (int64_t no = 0; no < (int64_t)shifts * A_SHIFT; no++) {
		struct shot *shot = plant_shot(&plant, no + 1);
		shot->form_start_at =
		    plant_time(no); /* the first as the shift begins */
		shot->value[FEATURE_EXIT_TOP_C] -= fall_dc * (double)(no / A_SHIFT);
		plant_write(&plant, shot);
	}
}

/* --- shifts ------------------------------------------------------------------------------- */

static void
a_shot_belongs_to_the_shift_in_which_it_was_formed_once(void **state)
{
	(void)state;
	write_shifts(3, 0);
	written();
	run("trend", "--characteristic", "sag_s", "--format", "json");
	assert_int_equal(plant.code, COMMAND_DONE);
	assert_int_equal(count_of("\"shift\": "), 3);
	assert_near(
	    plant_number_after(&plant, "\"shift\": \"early\"", "n"), A_SHIFT, 0);
	assert_near(plant_number_after(&plant, "\"shift\": \"late\"", "n"), A_SHIFT, 0);
	assert_near(
	    plant_number_after(&plant, "\"shift\": \"night\"", "n"), A_SHIFT, 0);
	assert_tells(plant.out, "\"from\": \"2026-03-02T05:00:00.000Z\"");
	assert_tells(plant.out, "\"first_at\": \"2026-03-02T13:00:00.000Z\"");
	assert_tells(plant.out, "\"date\": \"2026-03-02\"");
}

/* The clocks go forward on 2026-03-29: that night has seven hours, and all that is written
 * ends an hour into the early shift of 04-01. */
static void
the_four_weeks_begin_with_a_whole_shift(void **state)
{
	(void)state;
	write_shifts(3 * 30, 0);
	written();
	run("trend", "--characteristic", "sag_s", "--format", "json");
	assert_tells(plant.out, "four weeks up to shift early of 2026-04-01");
	assert_int_equal(count_of("\"n\": "), 27 * 3 + 1);
	assert_int_equal(count_of("\"n\": 160"), 27 * 3 - 1);
	assert_int_equal(count_of("\"n\": 140"), 1);
	assert_int_equal(count_of("\"n\": 20"), 1);
	run("trend", "--characteristic", "sag_s", "--format", "json", "--from",
	    "2026-03-03", "--to", "2026-03-04");
	assert_int_equal(count_of("\"n\": "), 4); /* half a night first and last */
	run("trend", "--from", "2025-01-01", "--to", "2025-02-01");
	assert_int_equal(plant.code, COMMAND_NO);
	assert_says(plant.out, "no complete shots of what was asked for");
}

static void
lots_are_not_pooled_and_changes_stand_between(void **state)
{
	const struct ledger_calibration calibration = {.line = "line-3",
	    .device = "pyrometers",
	    .channel = "surface_top_1",
	    .at = plant_time(2 * A_SHIFT - 1),
	    .as_found = NAN,
	    .as_left = 0.4,
	    .reference = "black body",
	    .by = "A",
	    .entered = plant_time(2 * A_SHIFT)};

	(void)state;
	write_shifts(5, 0);
	plant_context(&plant, CONTEXT_TOOL, "T-117", 0);
	plant_context(&plant, CONTEXT_TOOL, "T-204", 3 * A_SHIFT);
	plant_context(&plant, CONTEXT_TOOL, "T-117", 4 * A_SHIFT);
	plant_context(&plant, CONTEXT_LOT, "A-0412", 0);
	plant_context(&plant, CONTEXT_LOT, "A-0413", A_SHIFT + 60);
	plant_need(
	    ledger_put_calibration(plant.ledger, &calibration, NULL) == 0, "a row");
	written();
	run("trend", "--characteristic", "exit_top_c", "--tool", "T-117");
	assert_int_equal(plant.code, COMMAND_DONE);
	assert_tells(plant.out, "2026-03-02 late   A-0412     0/60  ");
	assert_tells(
	    plant.out, "-- lot A-0413 --\n  2026-03-02 late   A-0413    0/100");
	assert_tells(
	    plant.out, "-- calibrated pyrometers.surface_top_1 --\n  2026-03-02 night");
	assert_tells(plant.out, "-- again in the machine, after T-204 --\n  2026-03-03 "
				"late");
	assert_tells_not(plant.out, "T-204:");
	/* which its own sensors' calibration does not concern */
	run("trend", "--characteristic", "sag_s", "--tool", "T-117");
	assert_tells_not(plant.out, "calibrated");
	run("trend", "--characteristic", "sag_s", "--lot", "A-0412", "--format",
	    "json");
	assert_int_equal(count_of("\"lot\": \"A-0412\""), 2);
	assert_int_equal(count_of("\"lot\": "), 2);
}

static void
a_long_lot_does_not_widen_the_table(void **state)
{
	(void)state;
	write_shifts(2, 0);
	plant_context(&plant, CONTEXT_LOT, "A-0412", 0);
	plant_context(&plant, CONTEXT_LOT,
	    "of-the-first-\u00e9-truck-on-a-wet-monday-in-march", A_SHIFT);
	written();
	setenv("COLUMNS", "80", 1);
	run("trend", "--characteristic", "sag_s");
	unsetenv("COLUMNS");
	assert_tells(plant.out, "2026-03-02 late   of-the-first-\u00e9\u2026    0/160");
	assert_tells(
	    plant.out, "-- lot of-the-first-\u00e9-truck-on-a-wet-monday-in-march --");
	/* what follows below has its shift and lot again */
	assert_int_equal(count_of("  2026-03-02 early  A-0412 "), 2);
	assert_says(plant.out, "Capable in both shifts; ");
	run("trend", "--characteristic", "sag_s", "--format", "csv");
	assert_tells(plant.out, ",of-the-first-\u00e9-truck-on-a-wet-monday-in-march,");
}

/* --- moved, or not ---------------------------------------------------------------------------- */

static void
a_mean_that_falls_is_told_with_its_slope_and_interval(void **state)
{
	const double week = 7 * 3; /* shifts */
	const double fall_dc = 0.05;

	(void)state;
	write_shifts(42, fall_dc);
	written();
	run("trend", "--characteristic", "exit_top_c", "--format", "json");
	assert_tells(strstr(plant.out, "mean_slope"), "\"verdict\": \"falls\"");
	assert_near(plant_number_after(&plant, "mean_slope", "per_week"),
	    -fall_dc * week, 0.15);
	assert_true(
	    plant_number_after(&plant, "mean_slope", "per_week_low") < -fall_dc * week);
	assert_true(plant_number_after(&plant, "mean_slope", "per_week_high") >
		    -fall_dc * week);
	assert_near(plant_number_after(&plant, "mean_slope", "points"), 42, 0);
	assert_near(plant_number_after(&plant, "mean_slope", "first"), 182, 0.3);
	assert_near(
	    plant_number_after(&plant, "mean_slope", "last"), 182 - 41 * fall_dc, 0.3);
	run("trend", "--characteristic", "exit_top_c");
	assert_says(plant.out, "Its mean falls by 1."); /* 1.89 F a week */
	assert_tells(plant.out, " F a week (95 %: ");
}

static void
a_mean_that_stays_shows_no_trend(void **state)
{
	(void)state;
	write_shifts(21, 0);
	written();
	run("trend", "--characteristic", "transfer_s", "--format", "json");
	assert_tells(strstr(plant.out, "mean_slope"), "\"verdict\": \"none_shown\"");
	assert_tells(strstr(plant.out, "mean_step"), "\"verdict\": \"none_shown\"");
	assert_tells(plant.out, "No straight line of its mean is shown: a change of -");
	assert_tells(plant.out, "Nor is a step from one shift to the next.");
	assert_tells(plant.out, "No straight line of its Ppk is shown");
	assert_tells(plant.out,
	    "its mean is not shown to have moved; no shot outside a "
	    "limit.");
	/* under a week: what it comes to over the days there were */
	assert_tells(plant.out, " over the 6.7 days shown fits these 21 points");
	assert_tells_not(plant.out, "a week");
	assert_near(plant_number_after(&plant, "mean_slope", "days"), 20.0 / 3, 0.01);
	assert_near(plant_number_after(&plant, "mean_slope", "change"),
	    plant_number_after(&plant, "mean_slope", "per_week") * 20 / 21, 1e-3);
}

/* As a line that was not changed back: from a shift on nearly every shot is outside. */
static void
a_mean_that_steps_is_told_first(void **state)
{
	static const double means[] = {
	    0.2, 0.95, 1.9, 1.94, 1.89, 1.94}; /* limit 2 F */
	enum { SIX = sizeof means / sizeof means[0] };

	(void)state;
	memset(plant.random, 0, sizeof plant.random); /* chance moves nothing */
	for (int64_t no = 0; no < (int64_t)SIX * A_SHIFT; no++) {
		struct shot *shot = plant_shot(&plant, no + 1);
		shot->form_start_at = plant_time(no);
		shot->value[FEATURE_TOOL_SPREAD_OF_MEANS_DC] +=
		    means[no / A_SHIFT] - 0.4;
		plant_write(&plant, shot);
	}
	written();
	run("trend", "--characteristic", "tool_spread_of_means_dc");
	assert_says(plant.out, "Outside a limit: tool_spread_of_means_dc (");
	assert_says(plant.out,
	    "(640 of 960 shots). Moved: tool_spread_of_means_dc (up after "
	    "2026-03-02 late). No characteristic is capable in every shift. Not "
	    "capable in some: tool_spread_of_means_dc (");
	assert_says(plant.out, "Capable in 1 of 6 shifts, not capable in ");
	assert_says(plant.out,
	    "; its mean stepped up between 2026-03-02 late and night; all "
	    "640 shots outside a limit since, none of 320 before.");
	assert_tells(plant.out, "  160/160  ");
	assert_tells_not(plant.out, "a week");
	run("trend", "--characteristic", "tool_spread_of_means_dc", "--format", "json");
	const char *step = "mean_step";
	assert_tells(strstr(plant.out, step), "\"verdict\": \"up\"");
	assert_tells(strstr(plant.out, step), "\"after\": \"2026-03-02 late\"");
	assert_tells(strstr(plant.out, step), "\"from\": \"2026-03-02 night\"");
	assert_true(plant_number_after(&plant, step, "p") < 0.05);
	assert_near(plant_number_after(&plant, step, "mean_before"), 0.575, 0.02);
	assert_near(plant_number_after(&plant, step, "mean_since"), 1.9175, 0.02);
	assert_near(
	    plant_number_after(&plant, "\"shift\": \"night\"", "outside"), A_SHIFT, 0);
	assert_tells(plant.out, "\"verdict\": \"not_capable\"");
}

static void
shifts_of_one_name_are_held_against_each_other(void **state)
{
	(void)state;
	write_shifts(18, 0);
	plant_context(&plant, CONTEXT_TOOL, "T-117", 0);
	plant_context(&plant, CONTEXT_TOOL, "T-204", 4 * A_SHIFT);
	plant_context(&plant, CONTEXT_TOOL, "T-117", 5 * A_SHIFT);
	written();
	run("trend", "--characteristic", "sag_s", "--tool", "T-117", "--shift", "early",
	    "--format", "json");
	assert_int_equal(plant.code, COMMAND_DONE);
	assert_int_equal(count_of("\"shift\": \"early\""), 6);
	assert_int_equal(count_of("\"shift\": "), 6);
	assert_tells(plant.out, "'early' shifts alone");
	assert_tells(plant.out, "\"shift_name\": \"early\"");
	assert_near(plant_number_after(&plant, "mean_slope", "points"), 6, 0);
	/* a tool that was in the machine in other shifts alone is told of */
	assert_tells(plant.out, "again in the machine, after T-204");
	run("trend", "--characteristic", "sag_s", "--tool", "T-204", "--shift",
	    "early");
	assert_int_equal(plant.code, COMMAND_NO);
	run("trend", "--shift", "erly");
	assert_int_equal(plant.code, COMMAND_USAGE);
	assert_tells(
	    plant.err, "there is no shift 'erly'; there are early, late, night");
}

/* That shift's own mean is then the least certain of all. */
static void
a_step_within_a_shift_is_told_too(void **state)
{
	(void)state;
	memset(plant.random, 0, sizeof plant.random);
	for (int64_t no = 0; no < 5 * A_SHIFT; no++) {
		struct shot *shot = plant_shot(&plant, no + 1);
		shot->form_start_at = plant_time(no);
		if (no >= A_SHIFT * 3 / 4)
			shot->value[FEATURE_TOOL_SPREAD_OF_MEANS_DC] += 1.5;
		plant_write(&plant, shot);
	}
	written();
	run("trend", "--characteristic", "tool_spread_of_means_dc");
	assert_says(plant.out,
	    "stepped up between 2026-03-02 early and late; all 640 shots "
	    "outside a limit since, 40 of 160 before.");
	assert_says(plant.out, "p below 0.001.");
}

/* Shifts that take after the one before, without a step. */
static void
a_mean_that_wanders_is_told_with_doubt(void **state)
{
	double level = 0;

	(void)state;
	memset(plant.random, 0, sizeof plant.random);
	for (int64_t no = 0; no < 20 * A_SHIFT; no++) {
		struct shot *shot = plant_shot(&plant, no + 1);
		shot->form_start_at = plant_time(no);
		if (no % A_SHIFT == 0)
			level += sin((double)(no / A_SHIFT) / 6.4);
		shot->value[FEATURE_SAG_S] += level;
		plant_write(&plant, shot);
	}
	written();
	run("trend", "--characteristic", "sag_s");
	assert_says(plant.out, ", or wanders");
	assert_says(plant.out, "Neighbouring points are alike (r1 0.");
}

/* A mean that stays, with a scatter that grows. */
static void
a_ppk_that_moved_alone_is_told_at_a_glance(void **state)
{
	(void)state;
	memset(plant.random, 0, sizeof plant.random);
	for (int64_t no = 0; no < 12 * A_SHIFT; no++) {
		struct shot *shot = plant_shot(&plant, no + 1);
		double more = 1 + 0.1 * (double)(no / A_SHIFT);
		shot->form_start_at = plant_time(no);
		shot->value[FEATURE_SAG_S] = 150 + 2 * more * plant_normal(&plant);
		plant_write(&plant, shot);
	}
	written();
	run("trend");
	assert_says(plant.out, "Moved: sag_s (its Ppk)");
	const char *glance = strstr(plant.out, "At a glance");
	assert_non_null(glance);
	assert_tells(glance, "  Ppk falls  ");
	assert_tells(glance, "  no move shown  ");
	run("trend", "--format", "json");
	assert_tells(
	    plant.out, "\"mean_moved\": \"none_shown\", \"ppk_moved\": \"falls\"");
}

static void
several_recipes_and_tools_have_a_headline_of_all(void **state)
{
	(void)state;
	write_shifts(12, 0.5);
	plant_context(&plant, CONTEXT_TOOL, "T-117", 0);
	plant_context(&plant, CONTEXT_TOOL, "T-204", 6 * A_SHIFT);
	written();
	run("trend", "--characteristic", "exit_top_c");
	assert_says(plant.out, "2 recipes and tools. With shots outside a limit: ");
	assert_says(plant.out, "Not capable in some shift: ");
	assert_tells(plant.out, "At a glance: counted by shift and lot");
	assert_tells(plant.out, "  mean falls");
	assert_says(plant.out, "Not established is not bad: ");
	assert_says(plant.out,
	    "With something that moved: line-3 recipe 12 tool T-117, "
	    "line-3 recipe 12 tool T-204.");
	assert_says(plant.out, "Moved: exit_top_c (falling).");
	run("trend", "--characteristic", "exit_top_c", "--format", "json");
	const char *overview = strstr(plant.out, "\"overview\"");
	assert_non_null(overview);
	assert_tells(overview, "\"tool\": \"T-204\"");
	assert_tells(overview, "\"mean_moved\": \"falls\"");
	assert_tells(overview, "\"ppk_moved\": \"");
	run("trend", "--characteristic", "exit_top_c", "--tool", "T-204");
	assert_tells_not(plant.out, "recipes and tools.");
	assert_tells_not(plant.out, "At a glance");
}

static void
pictures_say_in_figures_what_they_show(void **state)
{
	(void)state;
	write_shifts(6, 0);
	written();
	run("trend", "--characteristic", "tool_spread_of_means_dc", "--format", "html");
	assert_tells(
	    plant.out, ">tool_spread_of_means_dc, its Ppk shift by shift</title>");
	assert_tells(
	    plant.out, ">tool_spread_of_means_dc, its mean shift by shift</title>");
	assert_tells(plant.out, "Required: 1.33.");
	assert_tells(plant.out,
	    "Upper limit: 2.00. In brackets 95 % intervals; mean, F: "
	    "2026-03-02 early: 0.7");
	assert_tells(plant.out, ">upper 2<");
	assert_tells(plant.out, ">night<");
}

/* Lognormal, so that the normal Ppk is withheld in each shift. */
static void
skewed_values_keep_their_index(void **state)
{
	(void)state;
	memset(plant.random, 0, sizeof plant.random);
	for (int64_t no = 0; no < 6 * A_SHIFT; no++) {
		struct shot *shot = plant_shot(&plant, no + 1);
		shot->form_start_at = plant_time(no);
		shot->value[FEATURE_TRANSFER_S] = 2 * exp(0.4 * plant_normal(&plant));
		plant_write(&plant, shot);
	}
	written();
	run("trend", "--characteristic", "transfer_s", "--format", "json");
	const char *row = "\"first_at\"";
	assert_tells(strstr(plant.out, row), "\"ppk_quotable\": false");
	assert_tells(strstr(plant.out, row), "\"index_quotable\": true");
	assert_tells(strstr(plant.out, row), "\"index_by_percentiles\": true");
	double index = plant_number_after(&plant, row, "index");
	assert_true(plant_number_after(&plant, row, "index_low") < index &&
		    index < plant_number_after(&plant, row, "index_high"));
	assert_near(plant_number_after(&plant, "\"ppk_slope\"", "points"), 6, 0);
	char shown[16];
	snprintf(shown, sizeof shown, "%.2f (", index);
	run("trend", "--characteristic", "transfer_s");
	assert_tells(plant.out, shown);
	assert_tells_not(plant.out, "withheld: not normal");
	assert_says(plant.out, "that by percentiles of the distribution that fits");
	run("trend", "--characteristic", "transfer_s", "--format", "html");
	assert_tells(plant.out, "In brackets 95 % intervals; Ppk: 2026-03-02 early: ");
	assert_tells(plant.out, shown);
}

static void
few_shifts_tell_nothing_and_few_values_are_withheld(void **state)
{
	(void)state;
	write_shifts(2, 0);
	for (int64_t no = 2 * A_SHIFT + 1; no <= 2 * A_SHIFT + 12; no++)
		plant_write(&plant, plant_shot(&plant, no));
	written();
	run("trend", "--characteristic", "sag_s", "--format", "json");
	assert_tells(strstr(plant.out, "mean_slope"), "\"verdict\": \"too_few\"");
	assert_tells(plant.out, "\"per_week\": null");
	assert_tells(plant.out, "Whether its mean moved cannot be told: 3 points");
	const char *night = strstr(plant.out, "\"shift\": \"night\"");
	assert_non_null(night);
	assert_tells(night, "\"ppk_quotable\": false");
	assert_tells(night, "\"ppk_withheld\": \"too_few");
	assert_true(plant_number_after(&plant, "\"shift\": \"night\"", "ppk") > 1);
	run("trend", "--characteristic", "sag_s");
	assert_tells(plant.out, "withheld");
}

static void
without_limits_a_characteristic_has_a_mean_alone(void **state)
{
	(void)state;
	write_shifts(6, 0);
	written();
	run("trend", "--characteristic", "heat_s", "--format", "json");
	assert_int_equal(plant.code, COMMAND_DONE);
	assert_tells(plant.out, "\"mean_slope\"");
	assert_tells_not(plant.out, "\"ppk_slope\"");
	assert_tells(plant.out, "\"ppk\": null");
	run("trend", "--format", "json");
	assert_tells_not(plant.out, "\"characteristic\": \"heat_s\"");
	assert_tells(plant.out, "\"characteristic\": \"exit_top_c\"");
	assert_tells(plant.out, "\"characteristic\": \"tool_spread_of_means_dc\"");
}

/* --- formats, and what cannot be meant ------------------------------------------------------- */

static void
every_format_is_written(void **state)
{
	(void)state;
	write_shifts(6, 0);
	written();
	run("trend", "--format", "csv");
	assert_int_equal(plant.code, COMMAND_DONE);
	assert_memory_equal(
	    plant.out, "characteristic,line,recipe,tool,shift,date,", 43);
	run("trend", "--format", "html");
	assert_int_equal(plant.code, COMMAND_DONE);
	assert_tells(plant.out, "<svg");
	const char *heading = strstr(plant.out, ", shift by shift: four weeks up to ");
	assert_non_null(heading);
	assert_true(heading < strstr(plant.out, "At a glance"));
	assert_tells(heading, "</title>");
	assert_tells(plant.out, "what it is</th>");
	assert_tells_not(plant.out, ">open<");
	run("trend", "--format", "pdf");
	assert_memory_equal(plant.out, "%PDF-", 5);
	run("trend", "--format", "svg", "--picture", "sag_s-mean");
	assert_int_equal(plant.code, COMMAND_DONE);
	assert_tells(plant.out, "sag_s");
	run("trend", "--format", "png", "--picture", "exit_top_c-ppk");
	assert_memory_equal(plant.out, "\x89PNG", 4);
	run("trend", "--format", "png", "--picture", "exit_top_c");
	assert_int_equal(plant.code, COMMAND_USAGE);
	assert_tells(plant.err, "'exit_top_c-ppk'");
}

static void
wrong_usage_is_refused(void **state)
{
	static const struct {
		const char *words[4];
		const char *told;
	} rows[] = {
	    {{"--characteristic", "exit_topc"}, "did you mean 'exit_top_c'?"},
	    {{"--characteristic", "nothing"}, "there is no characteristic 'nothing'"},
	    {{"--line", "line-4"}, "there is no line 'line-4'"},
	    {{"--since", "7w"}, "'--since'"},
	    {{"--date", "2026-03-02"}, "unknown option '--date'"},
	};

	(void)state;
	write_shifts(1, 0);
	written();
	for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
		const char *words[12] = {"--ledger", plant.ledger_path, "trend"};
		memcpy(words + 3, rows[i].words, sizeof rows[i].words);
		plant_call(&plant, words);
		assert_int_equal(plant.code, COMMAND_USAGE);
		assert_tells(plant.err, rows[i].told);
		assert_string_equal(plant.out, "");
	}
}

#define with_plant(test) cmocka_unit_test_setup_teardown(test, open_plant, close_plant)

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    with_plant(a_shot_belongs_to_the_shift_in_which_it_was_formed_once),
	    with_plant(the_four_weeks_begin_with_a_whole_shift),
	    with_plant(lots_are_not_pooled_and_changes_stand_between),
	    with_plant(a_long_lot_does_not_widen_the_table),
	    with_plant(a_mean_that_falls_is_told_with_its_slope_and_interval),
	    with_plant(a_mean_that_stays_shows_no_trend),
	    with_plant(a_mean_that_steps_is_told_first),
	    with_plant(shifts_of_one_name_are_held_against_each_other),
	    with_plant(a_step_within_a_shift_is_told_too),
	    with_plant(a_mean_that_wanders_is_told_with_doubt),
	    with_plant(a_ppk_that_moved_alone_is_told_at_a_glance),
	    with_plant(several_recipes_and_tools_have_a_headline_of_all),
	    with_plant(pictures_say_in_figures_what_they_show),
	    with_plant(skewed_values_keep_their_index),
	    with_plant(few_shifts_tell_nothing_and_few_values_are_withheld),
	    with_plant(without_limits_a_characteristic_has_a_mean_alone),
	    with_plant(every_format_is_written),
	    with_plant(wrong_usage_is_refused),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
