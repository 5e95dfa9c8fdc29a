/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>

#include "cli/command/calibrate_state.h"
#include "daemon/base/calendar.h"
#include "tests/unit/near.h"

#include "tests/unit/cli/command/one_plant.h"

#define calibrate(...)     \
	plant_run_command( \
	    &plant, "--ledger", plant.ledger_path, "calibrate", __VA_ARGS__)

static void
without_any_the_table_is_empty_and_says_so(void **state)
{
	(void)state;
	plant_run_command(&plant, "--ledger", plant.ledger_path, "calibrate");
	assert_int_equal(plant.code, COMMAND_DONE);
	/* 6 pyrometers, stack, hall, meter, 8 tools, 8 returns, supply, 8 flows */
	assert_says(plant.out, "line-3: calibrated: none of 34 sensors");
}

static void
a_calibration_is_a_difference_in_any_unit(void **state)
{
	(void)state;
	calibrate("enter", "water.tool_2", "--as-found", "1.8 F", "--as-left", "0.09",
	    "F", "--at", "2026-03-02T06:00", "--by", "M. Beispiel");
	assert_int_equal(plant.code, COMMAND_DONE);
	assert_string_equal(plant.err, "");
	assert_tells(plant.out, "as found, F               1.80\n");
	assert_tells(plant.out, "as left, F                0.09\n");
	plant_run_command(
	    &plant, "--ledger", plant.ledger_path, "calibrate", "--format", "json");
	const char *row = "\"channel\": \"water.tool_2\"";
	/* 1.8 F of difference is 1 K: no 32 */
	assert_near(plant_number_after(&plant, row, "as_found"), 1, 1e-12);
	assert_near(plant_number_after(&plant, row, "as_left"), 0.05, 1e-12);
	assert_tells(plant.out, "\"unit\": \"K\"");
	assert_tells(plant.out, "\"at\": \"2026-03-02T05:00:00.000Z\"");
	assert_tells(plant.out, "\"state\": \"holds\"");
	assert_tells(plant.out, "\"due\": null");
	plant_run_command(
	    &plant, "--ledger", plant.ledger_path, "calibrate", "--format", "csv");
	assert_memory_equal(plant.out, "line,channel,at,as_found,as_left,unit,", 38);
}

static void
other_measures_keep_their_own_unit(void **state)
{
	(void)state;
	calibrate("enter", "water.water_flow_1", "--as-found", "0.6", "L/min",
	    "--as-left", "0 L/min", "--by", "M. Beispiel");
	assert_int_equal(plant.code, COMMAND_DONE);
	plant_run_command(
	    &plant, "--ledger", plant.ledger_path, "calibrate", "--format", "json");
	const char *row = "\"channel\": \"water.water_flow_1\"";
	assert_near(plant_number_after(&plant, row, "as_found"), 0.6e-3 / 60, 1e-15);
	assert_tells(plant.out, "\"unit\": \"m3/s\"");
}

static void
an_overdue_one_is_marked_and_exits_one(void **state)
{
	(void)state;
	calibrate("enter", "water.tool_1", "--as-left", "0 K", "--at", "2025-01-02",
	    "--due", "2025-07-01", "--by", "M. Beispiel");
	assert_int_equal(plant.code, COMMAND_DONE);
	plant_run_command(&plant, "--ledger", plant.ledger_path, "calibrate");
	assert_int_equal(plant.code, COMMAND_NO);
	assert_tells(plant.out, "2025-07-01");
	assert_tells(plant.out, "overdue");
	assert_says(plant.out, "1 of 34 sensors; overdue: water.tool_1");
	plant_run_command(&plant, "--ledger", plant.ledger_path, "status");
	assert_says(plant.out,
	    "calibration overdue on line-3: water.tool_1; see 'evensoak calibrate'");
	/* a later one takes its place, and is not due */
	calibrate("enter", "water.tool_1", "--as-left", "0 K", "--at", "2025-08-01",
	    "--due", "2199-07-01", "--by", "M. Beispiel");
	plant_run_command(&plant, "--ledger", plant.ledger_path, "calibrate");
	assert_int_equal(plant.code, COMMAND_DONE);
	assert_tells(plant.out, "replaced");
	assert_says(plant.out, "the next due 2199-07-01 (water.tool_1)");
	plant_run_command(&plant, "--ledger", plant.ledger_path, "status");
	assert_tells_not(plant.out, "calibration overdue");
}

static void
the_day_on_which_it_is_due_is_not_over(void **state)
{
	struct wall due = {PLANT_SHIFT_NS - 6 * 3600 * CLOCK_SECOND_NS}, at = due;

	(void)state;
	calendar_set_zone("Europe/Berlin", NULL);
	/* the due day begins at 00:00 in Berlin, 23:00 UTC */
	assert_false(calibrate_is_overdue(due, at));
	at.ns = due.ns + (24 * 3600 - 1) * CLOCK_SECOND_NS;
	assert_false(calibrate_is_overdue(due, at));
	at.ns += CLOCK_SECOND_NS;
	assert_true(calibrate_is_overdue(due, at));
	/* a day of 23 h: clocks are put forward on 2026-03-29 */
	due.ns += INT64_C(27) * 24 * 3600 * CLOCK_SECOND_NS;
	at.ns = due.ns + (23 * 3600 - 1) * CLOCK_SECOND_NS;
	assert_false(calibrate_is_overdue(due, at));
	at.ns += CLOCK_SECOND_NS;
	assert_true(calibrate_is_overdue(due, at));
	due.ns = 0;
	assert_false(calibrate_is_overdue(due, at));
}

static void
of_two_at_one_time_the_later_entered_holds(void **state)
{
	(void)state;
	calibrate("enter", "water.tool_1", "--as-left", "0.1 K", "--at", "2025-01-02",
	    "--by", "A");
	calibrate("enter", "water.tool_1", "--as-left", "0.2 K", "--at", "2025-01-02",
	    "--by", "B");
	plant_run_command(
	    &plant, "--ledger", plant.ledger_path, "calibrate", "--format", "csv");
	assert_tells(plant.out, ",,0.1,K,,replaced,,A,");
	assert_tells(plant.out, ",,0.2,K,,holds,,B,");
}

static void
what_the_shots_before_may_be_off_by_is_told(void **state)
{
	(void)state;
	plant_run(&plant, 1, 30);
	calibrate("enter", "water.tool_1", "--as-found", "1.2 F", "--as-left", "0.1 F",
	    "--at", "2026-03-02T06:31", "--by", "A");
	assert_says(plant.out,
	    "Shots since logging began and before this may be off by "
	    "up to 1.20 F");
	/* shot 11 is of 06:33 */
	assert_says(plant.out, "20 shots on file are from then on");
	assert_says(plant.out, "recompute --line line-3 --from 2026-03-02T06:31:00");
	/* 0.1 F of it were corrected since then */
	calibrate("enter", "water.tool_1", "--as-found", "0.5 F", "--as-left", "0.5 F",
	    "--at", "2026-03-02T07:00", "--by", "A");
	assert_says(plant.out,
	    "Shots since the calibration of 2026-03-02 06:31:00 and before this may be "
	    "off by up to 0.40 F");
	calibrate("enter", "water.tool_1", "--as-found", "0.5 F", "--as-left", "0 F",
	    "--at", "2026-03-02T07:10", "--by", "A");
	assert_tells_not(plant.out, "may be off");
}

static void
wrong_entries_are_refused(void **state)
{
	static const struct {
		const char *words[12];
		const char *told;
	} rows[] = {
	    {{"entr", "water.tool_1"}, "did you mean 'enter'?"},
	    {{"undo"}, "must be enter, offsets or diffusivity"},
	    {{"enter"}, "'calibrate enter' needs DEVICE.CHANNEL"},
	    {{"enter", "water.tol_1"}, "did you mean 'water.tool_1'?"},
	    {{"enter", "abc"}, "write DEVICE.CHANNEL"},
	    {{"enter", "controller.rotating", "--as-left", "0 K", "--by", "A"},
		"is no measure"},
	    {{"enter", "water.tool_1", "--by", "A"}, "--as-left 0.1 F"},
	    {{"enter", "water.tool_1", "--as-left", "0.1 F"}, "--by NAME"},
	    {{"enter", "water.tool_1", "--as-left", "0.1", "--by", "A"}, "'--as-left'"},
	    {{"enter", "water.tool_1", "--as-left", "0.1 bar", "--by", "A"},
		"'--as-left' is '0.1 bar'"},
	    {{"enter", "water.tool_1", "--as-left", "0 K", "--by", "A", "--at", "soon"},
		"'--at'"},
	    {{"enter", "water.tool_1", "--as-left", "0 K", "--by", "A", "--due",
		 "2026-13-01"},
		"'--due'"},
	    {{"enter", "water.tool_1", "--as-left", "0 K", "--by", "A", "--at",
		 "2026-03-02", "--due", "2026-03-02"},
		"'--due' is not after"},
	    {{"enter", "water.tool_1", "--true", "65 C"},
		"'calibrate enter' takes no '--true'"},
	    {{"--due", "2027-01-01"}, "'calibrate' takes no '--due'"},
	    {{"offsets", "--for", "1m"}, "under 5m"},
	    {{"offsets", "x.csv", "--for", "10m"}, "a file has its own length"},
	    {{"offsets", "--due", "2027-01-01"}, "say --by NAME too"},
	    {{"offsets", "--true", "65"}, "'--true' is '65'"},
	};

	(void)state;
	for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
		const char *words[16] = {"--ledger", plant.ledger_path, "calibrate"};
		memcpy(words + 3, rows[i].words, sizeof rows[i].words);
		plant_call(&plant, words);
		if (plant.code != COMMAND_USAGE)
			fail_msg("row %zu: exit %d\n%s", i, plant.code, plant.err);
		assert_tells(plant.err, rows[i].told);
		assert_string_equal(plant.out, "");
	}
}

/* --- offsets from a file ------------------------------------------------------------------ */

static char csv_path[320];

/* Two sensors and the supply over 600 s, `drift_dc` of all over that; the second in F. */
static void
write_run(double drift_dc)
{
	snprintf(csv_path, sizeof csv_path, "%s/run.csv", plant.folder);
	FILE *file = fopen(csv_path, "w");
	plant_need(file != NULL, "a file");
	fputs("t_s,water.tool_1,water.tool_2 F,water.water_supply,remark\r\n", file);
	for (int t = 0; t < 600; t += 5) {
		double water_c = 65 + drift_dc * t / 600;
		fprintf(file, "%d,%.4f,%.4f,%.4f,x\r\n", t, water_c + 0.3,
		    (water_c - 0.2) * 1.8 + 32, water_c - 0.1);
	}
	fclose(file);
}

static void
offsets_of_a_file_are_shown_and_entered_on_demand(void **state)
{
	(void)state;
	write_run(0);
	calibrate("offsets", csv_path, "--true", "149 F", "--format", "json");
	assert_int_equal(plant.code, COMMAND_DONE);
	assert_near(
	    plant_number_after(&plant, "\"water.tool_1\"", "offset_dc"), 0.3, 1e-6);
	assert_near(
	    plant_number_after(&plant, "\"water.tool_2\"", "offset_dc"), -0.2, 1e-4);
	assert_near(plant_number_after(&plant, "\"water.water_supply\"", "offset_dc"),
	    -0.1, 1e-6);
	assert_near(plant_number_after(&plant, "{", "true_c"), 65, 1e-12);
	assert_tells(plant.out, "\"entered\": false");

	calibrate("offsets", csv_path, "--true", "149 F", "--by", "A", "--dry-run");
	assert_says(plant.out, "nothing is entered");
	calibrate("offsets", csv_path, "--true", "149 F", "--by", "A", "--due",
	    "2199-01-01", "--at", "2026-03-02T06:00");
	assert_int_equal(plant.code, COMMAND_DONE);
	assert_tells(plant.out, "water.tool_1 ");
	assert_tells(plant.out, " 0.54 "); /* 0.3 K in F */
	assert_says(plant.out, "no readings of: water.tool_3, water.tool_4,");
	assert_says(plant.out,
	    "entered: readings from 2026-03-02 06:00:00 on are corrected by them; "
	    "shots "
	    "since then that are on file only by 'evensoak recompute'.");
	plant_run_command(
	    &plant, "--ledger", plant.ledger_path, "calibrate", "--format", "json");
	assert_near(
	    plant_number_after(&plant, "\"water.tool_2\"", "as_left"), -0.2, 1e-4);
	assert_tells(plant.out, "water alone, against a thermometer");
	assert_tells_not(plant.out, "water.tool_3"); /* it was silent */
	calibrate("offsets", csv_path, "--true", "65.1 C", "--format", "json");
	assert_near(
	    plant_number_after(&plant, "\"water.tool_1\"", "offset_dc"), 0.2, 1e-6);
	assert_near(
	    plant_number_after(&plant, "\"water.tool_1\"", "until_now_dc"), 0.3, 1e-6);
	unlink(csv_path);
}

static void
against_each_other_the_common_error_stays_unknown(void **state)
{
	(void)state;
	write_run(0);
	calibrate("offsets", csv_path);
	assert_int_equal(plant.code, COMMAND_DONE);
	assert_says(plant.out, "what is common to all of them stays unknown");
	calibrate("offsets", csv_path, "--format", "json");
	/* 0.3 and -0.2 K off, of two sensors; the supply has no other to be held against */
	assert_near(
	    plant_number_after(&plant, "\"water.tool_1\"", "offset_dc"), 0.25, 1e-4);
	assert_near(
	    plant_number_after(&plant, "\"water.tool_2\"", "offset_dc"), -0.25, 1e-4);
	assert_true(
	    plant_number_after(&plant, "\"water.water_supply\"", "mean_c") > 60);
	assert_tells(plant.out, "\"remark\": \"not compared\"");
	unlink(csv_path);
}

static void
what_is_not_steady_is_not_entered(void **state)
{
	(void)state;
	write_run(0.5);
	calibrate("offsets", csv_path, "--true", "65 C", "--by", "A");
	assert_int_equal(plant.code, COMMAND_NO);
	assert_says(plant.out, "not steady: nothing is entered");
	assert_tells(plant.out, "drifts");
	plant_run_command(
	    &plant, "--ledger", plant.ledger_path, "calibrate", "--format", "csv");
	assert_tells_not(plant.out, "water.tool_1");
	unlink(csv_path);
}

static void
a_file_that_is_none_is_told(void **state)
{
	(void)state;
	calibrate("offsets", "/nowhere/run.csv");
	assert_int_equal(plant.code, COMMAND_CANNOT);
	assert_tells(plant.err, "/nowhere/run.csv");
	snprintf(csv_path, sizeof csv_path, "%s/run.csv", plant.folder);
	FILE *file = fopen(csv_path, "w");
	plant_need(file != NULL, "a file");
	fputs("t_s,tool\n0,1\n", file);
	fclose(file);
	calibrate("offsets", csv_path);
	assert_int_equal(plant.code, COMMAND_CANNOT);
	assert_tells(plant.err, "no column of a tool or water sensor");
	unlink(csv_path);
}

static void
a_run_without_readings_says_nothing(void **state)
{
	(void)state;
	snprintf(csv_path, sizeof csv_path, "%s/run.csv", plant.folder);
	FILE *file = fopen(csv_path, "w");
	plant_need(file != NULL, "a file");
	fputs("t_s,water.tool_1,water.tool_2\n0,65,\n1,65,65\n", file);
	fclose(file);
	calibrate("offsets", csv_path, "--true", "65 C");
	assert_int_equal(plant.code, COMMAND_NO);
	assert_tells(plant.err, "no tool or water sensor gave readings");
	assert_string_equal(plant.out, "");
	unlink(csv_path);
}

static void
one_sensor_has_no_others_to_be_held_against(void **state)
{
	(void)state;
	snprintf(csv_path, sizeof csv_path, "%s/run.csv", plant.folder);
	FILE *file = fopen(csv_path, "w");
	plant_need(file != NULL, "a file");
	fputs("t_s,water.tool_1\n", file);
	for (int t = 0; t < 300; t++)
		fprintf(file, "%d,65.%d\n", t, t % 2);
	fclose(file);
	calibrate("offsets", csv_path, "--by", "A");
	assert_int_equal(plant.code, COMMAND_NO);
	assert_says(
	    plant.out, "no sensor has another that must read the same: say --true");
	assert_tells_not(plant.out, "entered: readings");
	calibrate("offsets", csv_path, "--true", "64.05 C");
	assert_int_equal(plant.code, COMMAND_DONE);
	unlink(csv_path);
}

/* Two sensors a minute long, and water of 149 without a word of F. */
static void
a_run_that_is_short_or_in_another_unit_is_not_entered(void **state)
{
	(void)state;
	snprintf(csv_path, sizeof csv_path, "%s/run.csv", plant.folder);
	FILE *file = fopen(csv_path, "w");
	plant_need(file != NULL, "a file");
	fputs("t_s,water.tool_1,water.tool_2\n", file);
	for (int t = 0; t < 60; t++)
		fprintf(file, "%d,65.0,65.2\n", t);
	fclose(file);
	calibrate("offsets", csv_path, "--by", "A");
	assert_int_equal(plant.code, COMMAND_NO);
	assert_says(plant.out, "the run lasts 59 s: under 5 min");
	assert_tells_not(plant.out, "entered: readings");
	file = fopen(csv_path, "w");
	plant_need(file != NULL, "a file");
	fputs("t_s,water.tool_1,water.tool_2\n", file);
	for (int t = 0; t < 600; t++)
		fprintf(file, "%d,149.0,149.2\n", t);
	fclose(file);
	calibrate("offsets", csv_path, "--by", "A");
	assert_int_equal(plant.code, COMMAND_CANNOT);
	assert_tells(plant.err, "has the title 'water.tool_1 F'");
	calibrate("offsets", csv_path, "--true", "149.1 C");
	assert_int_equal(plant.code, COMMAND_DONE);
	unlink(csv_path);
}

static void
an_impossible_correction_is_refused_and_a_large_one_told(void **state)
{
	(void)state;
	calibrate("enter", "pyrometers.stack", "--as-left", "400 F", "--by", "A");
	assert_int_equal(plant.code, COMMAND_USAGE);
	assert_tells(plant.err, "'--as-left' is 400 F, must be 90 F at most");
	calibrate("enter", "pyrometers.stack", "--as-left", "-20 F", "--by", "A");
	assert_int_equal(plant.code, COMMAND_DONE);
	assert_says(plant.out, "20.0 F is much to correct a sensor by");
	calibrate("enter", "pyrometers.stack", "--as-left", "2 F", "--by", "A");
	assert_tells_not(plant.out, "is much");
}

/* --- in the report ------------------------------------------------------------------------- */

static void
the_report_says_how_the_sensors_stood_then(void **state)
{
	(void)state;
	plant_run(&plant, 1, 30);
	calibrate("enter", "water.tool_1", "--as-left", "0 K", "--at", "2025-01-02",
	    "--due", "2026-03-01", "--by", "A");
	/* later than the shift */
	calibrate("enter", "water.tool_2", "--as-left", "0 K", "--at", "2026-03-05",
	    "--due", "2199-01-01", "--by", "A");
	plant_run_command(&plant, "--ledger", plant.ledger_path, "report");
	assert_int_equal(plant.code, COMMAND_DONE);
	assert_tells(plant.out, "calibrated  1 of 34 sensors; overdue: water.tool_1\n");
	plant_run_command(
	    &plant, "--ledger", plant.ledger_path, "report", "--format", "json");
	assert_tells(
	    plant.out, "\"calibrated\": \"1 of 34 sensors; overdue: water.tool_1\"");
}

#define with_plant(test) cmocka_unit_test_setup_teardown(test, open_plant, close_plant)

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    with_plant(without_any_the_table_is_empty_and_says_so),
	    with_plant(a_calibration_is_a_difference_in_any_unit),
	    with_plant(other_measures_keep_their_own_unit),
	    with_plant(an_overdue_one_is_marked_and_exits_one),
	    with_plant(the_day_on_which_it_is_due_is_not_over),
	    with_plant(of_two_at_one_time_the_later_entered_holds),
	    with_plant(what_the_shots_before_may_be_off_by_is_told),
	    with_plant(wrong_entries_are_refused),
	    with_plant(offsets_of_a_file_are_shown_and_entered_on_demand),
	    with_plant(against_each_other_the_common_error_stays_unknown),
	    with_plant(what_is_not_steady_is_not_entered),
	    with_plant(a_file_that_is_none_is_told),
	    with_plant(a_run_without_readings_says_nothing),
	    with_plant(one_sensor_has_no_others_to_be_held_against),
	    with_plant(a_run_that_is_short_or_in_another_unit_is_not_entered),
	    with_plant(an_impossible_correction_is_refused_and_a_large_one_told),
	    with_plant(the_report_says_how_the_sensors_stood_then),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
