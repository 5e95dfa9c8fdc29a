/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "tests/unit/cli/command/plant.h"

static struct plant plant;

static int
open_plant(void **state)
{
	(void)state;
	unsetenv("COLUMNS"); /* of whoever runs the test */
	plant_open(&plant);
	plant_run(&plant, 1, 40);
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
shots_say_what_is_odd_at_one_glance(void **state)
{
	(void)state;
	plant_run_command(&plant, "shots", "--ledger", plant.ledger_path);
	assert_int_equal(plant.code, COMMAND_DONE);
	assert_null(strstr(plant.out, "startup")); /* the last 20 alone */
	plant_run_command(&plant, "shots", "--ledger", plant.ledger_path, "--outcome",
	    "startup", "--format", "csv");
	assert_tells(plant.out, "line-3,3,2026-03-02T05:09:00.000Z,startup,12,");
	assert_tells(plant.out, "startup,among the first 3 after a stop,\r\n");
	plant_run_command(&plant, "shots", "--ledger", plant.ledger_path, "--from",
	    "2026-03-02T06:06", "--to", "2026-03-02T06:12");
	assert_tells(plant.out, "  startup: among the first 3\n");
	assert_null(strstr(plant.out, "06:12:00")); /* not included */
	plant_run_command(
	    &plant, "shots", "--ledger", plant.ledger_path, "--date", "2026-03-09");
	assert_int_equal(plant.code, COMMAND_NO);
}

static void
note_logger(struct plant *own, const char *kind, int64_t at_ns)
{
	assert_int_equal(ledger_put_event(own->ledger, "line-3", (struct wall){at_ns},
			     kind, "as a test has it", NULL),
	    0);
}

static void
a_hole_in_the_log_stands_between_its_shots(void **state)
{
	const int64_t minute_ns = 60 * CLOCK_SECOND_NS;
	struct plant own;

	(void)state;
	plant_open(&own);
	for (int no = 1; no <= 8; no++) {
		struct shot *shot = plant_shot(&own, no);
		if (no == 3) /* never formed: the machine counted on, and it is a row */
			shot->cycle_count = -1;
		if (no >= 6)
			shot->cycle_count += 2;
		if (no == 6)
			shot->flags = SHOT_FLAG_GAP;
		if (no == 8) /* a sheet went round twice: nothing is missing */
			shot->cycle_count++;
		plant_write(&own, shot);
	}
	note_logger(&own, "start", PLANT_SHIFT_NS);
	note_logger(&own, "end", plant_time(4).ns + minute_ns / 2);
	note_logger(&own, "start", plant_time(4).ns + minute_ns);
	note_logger(&own, "missed_index", plant_time(7).ns + minute_ns);
	note_logger(&own, "end", plant_time(9).ns);
	plant_run_command(&own, "shots", "--ledger", own.ledger_path);
	assert_tells(own.out, "\n  -- not logged 06:12:30 to 06:13:00 --\n");
	assert_tells(own.out, "\n  -- not logged 06:15:00 to 06:18:00; 2 cycles by the "
			      "machine's counter --\n");
	const char *first = strstr(own.out, "-- not");
	assert_true(first > strstr(own.out, "  06:12:00  "));
	assert_true(first < strstr(own.out, "  06:15:00  "));
	assert_null(strstr(strstr(first + 1, "-- not") + 1, "-- not"));

	plant_run_command(
	    &own, "shots", "--ledger", own.ledger_path, "--format", "csv");
	assert_tells_not(own.out, "not logged");
	int lines = 0;
	for (const char *at = own.out; *at; at++)
		lines += *at == '\n';
	assert_int_equal(lines, 1 + 8);
	plant_run_command(
	    &own, "shots", "--ledger", own.ledger_path, "--format", "json");
	assert_tells_not(own.out, "not logged");
	assert_tells(own.out,
	    "{\"line\": \"line-3\", \"after_shot_no\": 5, \"before_shot_no\": 6, "
	    "\"from\": \"2026-03-02T05:15:00.000Z\", "
	    "\"to\": \"2026-03-02T05:18:00.000Z\", \"cycles\": 2}");
	assert_tells(
	    own.out, "\"to\": \"2026-03-02T05:13:00.000Z\", \"cycles\": null}");
	plant_run_command(
	    &own, "shots", "--ledger", own.ledger_path, "--outcome", "complete");
	assert_tells_not(own.out, "not logged");
	plant_close(&own);
}

/* Every sheet of `first` to `last` but those from `gone` on, of which there are `many`. */
static void
run_without(struct plant *own, int first, int last, int gone, int many)
{
	for (int no = first; no <= last; no++)
		if (no < gone || no >= gone + many)
			plant_write(own, plant_shot(own, no));
}

static void
numbers_that_are_missing_stand_where_they_would_be(void **state)
{
	struct plant own;

	(void)state;
	plant_open(&own);
	run_without(&own, 1, 20, 5, 3);
	run_without(&own, 21, 40, 30, 1);
	plant_run_command(&own, "shots", "--ledger", own.ledger_path, "--last", "100");
	const char *first =
	    strstr(own.out, "\n  -- shots 5-7 are not in this ledger --\n");
	assert_non_null(first);
	assert_true(first > strstr(own.out, "  06:12:00  "));
	assert_true(first < strstr(own.out, "  06:24:00  "));
	assert_tells(own.out, "\n  -- shot 30 is not in this ledger --\n");
	plant_run_command(&own, "shots", "--ledger", own.ledger_path, "--last", "100",
	    "--format", "csv");
	assert_tells_not(own.out, "not in");
	plant_run_command(&own, "shots", "--ledger", own.ledger_path, "--last", "100",
	    "--format", "json");
	assert_tells(own.out, "{\"line\": \"line-3\", \"first_shot_no\": 5, "
			      "\"last_shot_no\": 7, \"shots\": 3},");
	assert_tells(own.out, "{\"line\": \"line-3\", \"first_shot_no\": 30, "
			      "\"last_shot_no\": 30, \"shots\": 1}");
	plant_run_command(&own, "shots", "--ledger", own.ledger_path, "--last", "10");
	assert_tells_not(own.out, "not in"); /* 31 to 40 */
	plant_run_command(&own, "shots", "--ledger", own.ledger_path, "--outcome",
	    "complete", "--format", "json");
	assert_tells_not(own.out, "first_shot_no\":"); /* a filter's holes */
	assert_tells(own.out, "\"missing\": []");
	plant_close(&own);
}

static void
numbers_of_another_time_are_not_missing(void **state)
{
	static const char *const asked[][4] = {{"--from", "2026-03-02T06:05"},
	    {"--last", "7"},
	    {"--to", "2026-03-02T08:00", "--from", "2026-03-02T06:05"}};
	struct plant own;

	(void)state;
	plant_open(&own);
	/* 3 and 4 were formed long before 1 and 2 were given up, 9 stood for a day */
	for (int no = 1; no <= 10; no++) {
		struct shot *shot = plant_shot(&own, no);
		if (no == 3 || no == 4)
			shot->form_start_at.ns = PLANT_SHIFT_NS - no;
		if (no == 9)
			shot->form_start_at.ns += 86400 * CLOCK_SECOND_NS;
		plant_write(&own, shot);
	}
	for (size_t i = 0; i < 3; i++) {
		plant_run_command(&own, "shots", "--ledger", own.ledger_path,
		    asked[i][0], asked[i][1], asked[i][2], asked[i][3]);
		assert_int_equal(own.code, COMMAND_DONE);
		assert_tells_not(own.out, "not in");
	}
	plant_close(&own);
}

static void
numbers_that_go_on_after_a_restore_are_not_missing(void **state)
{
	struct plant own;

	(void)state;
	plant_open(&own);
	run_without(&own, 1, 5, 0, 0);
	run_without(&own, 1001, 1003, 0, 0);
	plant_run_command(&own, "shots", "--ledger", own.ledger_path);
	assert_tells(own.out, "-- shots 6-1000 are not in this ledger --");
	assert_int_equal(
	    ledger_put_event(own.ledger, "line-3", plant_time(7), "restored",
		"a copy of the ledger was put in its place; its last shot is 5, "
		"numbers go on from 1001",
		NULL),
	    0);
	plant_run_command(&own, "shots", "--ledger", own.ledger_path);
	assert_tells_not(own.out, "not in");
	assert_tells(own.out,
	    "\n  -- numbers go on from 1001 (a copy of the ledger was "
	    "put back) --\n");
	plant_run_command(
	    &own, "shots", "--ledger", own.ledger_path, "--format", "json");
	assert_tells(own.out, "\"missing\": []");
	plant_run_command(&own, "report", "--ledger", own.ledger_path, "--from",
	    "2026-03-02", "--format", "text");
	assert_tells(own.out, "numbers go on from 1001 after 5 (a copy of");
	plant_close(&own);
}

/* The part where a narrow window has what is odd. */
static void
what_is_odd_stands_beside_its_number(void **state)
{
	static const char *const widths[] = {"80", "90", "100"};
	struct plant own;

	(void)state;
	plant_open(&own);
	for (int no = 1; no <= 6; no++) {
		struct shot *shot = plant_shot(&own, no);
		shot->value[FEATURE_CORE_FORM_START_C] = 160;
		shot->absent[FEATURE_CORE_FORM_START_C] = ABSENT_NOT;
		if (no == 4) {
			shot->outcome = SHOT_ABORTED;
			snprintf(shot->reason, sizeof shot->reason,
			    "the sheet was taken off while the heater was swung in");
		}
		plant_write(&own, shot);
	}
	for (size_t i = 0; i < 3; i++) {
		setenv("COLUMNS", widths[i], 1);
		plant_run_command(&own, "shots", "--ledger", own.ledger_path);
		const char *part = strstr(own.out, "what is odd\n");
		assert_non_null(part);
		while (part[-1] != '\n')
			part--;
		assert_memory_equal(part, "  shot  ", 8);
		assert_tells(part, "\n     4  ");
		if (i == 0)
			assert_string_equal(part,
			    "  shot  what is odd\n"
			    "     4  aborted: the sheet was taken off while the heater "
			    "was swung in\n");
	}
	unsetenv("COLUMNS");
	plant_close(&own);
}

static void
shots_stand_by_their_numbers(void **state)
{
	struct plant own;

	(void)state;
	plant_open(&own);
	/* 2 and 3 were given up at one moment, after 4 was formed */
	for (int no = 1; no <= 4; no++) {
		struct shot *shot = plant_shot(&own, no);
		if (no == 2 || no == 3) {
			shot->outcome = SHOT_PARTIAL;
			shot->form_start_at = (struct wall){0};
			shot->closed_at.ns = plant_time(5).ns - no;
		}
		plant_write(&own, shot);
	}
	plant_run_command(
	    &own, "shots", "--ledger", own.ledger_path, "--format", "csv");
	const char *at = own.out;
	for (int no = 1; no <= 4; no++) {
		char row[32];
		snprintf(row, sizeof row, "\nline-3,%d,", no);
		at = strstr(at, row);
		assert_non_null(at);
	}
	plant_close(&own);
}

static void
a_machine_with_sides_says_which(void **state)
{
	static const char header[] =
	    "line,shot_no,filed_at,outcome,recipe,tool,lot,heat_s,sag_s,exit_top_c,"
	    "exit_bottom_c,core_form_start_c,tool_spread_of_means_dc,energy_kwh,cycle_"
	    "s,flags,reason,"
	    "side\r\n";
	struct plant own;

	(void)state;
	plant_open_under(&own, "conf/shuttle-two-sides.ini");
	for (int no = 1; no <= 6; no++) {
		struct shot *shot = plant_shot(&own, no);
		shot->side = no % 2;
		if (no == 4) {
			shot->outcome = SHOT_PARTIAL;
			shot->flags = SHOT_FLAG_GAP | SHOT_FLAG_FAULT;
			snprintf(shot->reason, sizeof shot->reason,
			    "the machine's signals were missing while it was due to be "
			    "formed");
		}
		plant_write(&own, shot);
	}
	plant_run_command(&own, "shots", "--ledger", own.ledger_path);
	assert_int_equal(own.code, COMMAND_DONE);
	assert_memory_equal(own.out, "line-7, 2026-03-02, recipe 12 (", 31);
	assert_tells(own.out, "  shot  side   at        heat s ");
	assert_tells(own.out, "     1  right  06:03:00  ");
	assert_tells(own.out, "     2  left   06:06:00  ");
	assert_tells(own.out, "  partial: the machine's\n");
	for (const char *line = own.out; *line; line = strchr(line, '\n') + 1)
		assert_true(strcspn(line, "\n") <= PAGE_WIDTH);
	plant_run_command(
	    &own, "shots", "--ledger", own.ledger_path, "--format", "csv");
	assert_memory_equal(own.out, header, sizeof header - 1);
	assert_tells(own.out,
	    ",\"gap, fault\",the machine's signals were missing while "
	    "it was due to be formed,left\r\n");
	plant_run_command(
	    &own, "shot", "3", "--ledger", own.ledger_path, "--format", "json");
	assert_tells(own.out, "\"side\": \"right\"");
	plant_close(&own);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(shots_say_what_is_odd_at_one_glance),
	    cmocka_unit_test(a_hole_in_the_log_stands_between_its_shots),
	    cmocka_unit_test(numbers_that_are_missing_stand_where_they_would_be),
	    cmocka_unit_test(numbers_of_another_time_are_not_missing),
	    cmocka_unit_test(numbers_that_go_on_after_a_restore_are_not_missing),
	    cmocka_unit_test(what_is_odd_stands_beside_its_number),
	    cmocka_unit_test(shots_stand_by_their_numbers),
	    cmocka_unit_test(a_machine_with_sides_says_which),
	};
	return cmocka_run_group_tests(tests, open_plant, close_plant);
}
