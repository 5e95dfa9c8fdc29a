/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "tests/unit/cli/command/traced.h"

#include "cli/command/course.h"
#include "daemon/shot/trace.h"
#include "tests/unit/near.h"

enum { CYCLES = 8, WHOLE = 6 };

static struct traced traced;

static int
open_traced(void **state)
{
	(void)state;
	traced_open(&traced, player_ini, CYCLES);
	return 0;
}

static int
close_traced(void **state)
{
	(void)state;
	traced_close(&traced);
	return 0;
}

/* Of sheet n the surfaces are 150 + n / 10 and 4 more on top, 10 less below; the tool is
 * 60 + n / 10, 1 more and 0.5 less; zones 0.5 and 1; water 1 and 2 K warmer than it came:
 * tests/unit/daemon/shot/player.h.  A stay lasts 140 s, the platens close 3 s after an
 * index for 100 s; an index takes 8 s. */
static void
the_course_shows_sheet_oven_and_tool(void **state)
{
	const struct shot *shot = traced.player.shots[WHOLE - 1];
	int sheet = WHOLE - 2; /* two unseen frames left first */
	struct kept kept = {
	    .bytes = shot->trace,
	    .byte_count = shot->trace_bytes,
	    .taken = traced.player.settings,
	    .made = traced.player.settings,
	};
	struct course course;
	int heated = 0, formed = 0;

	(void)state;
	assert_int_equal(
	    trace_sheet(shot->trace, shot->trace_bytes, &kept.sheet, NULL), 0);
	assert_int_equal(course_read(&course, &kept, 0, -1, NULL), 0);
	assert_string_equal(course.zero, "heat start");
	assert_in_range(course.count, 15, COURSE_ROWS);
	for (size_t i = 0; i < course.count; i++) {
		const struct course_row *row = &course.rows[i];
		/* away from the edges, which lie between polls */
		if (row->after_s > 2 && row->after_s < 138) {
			assert_near(row->top_c, 152 + sheet / 10.0, 0.06);
			assert_near(row->bottom_c, 140 + sheet / 10.0, 0.06);
			assert_near(row->output, 0.75, 1e-9);
			heated++;
		}
		if (row->after_s < -1 || row->after_s > 141)
			assert_true(isnan(row->top_c) && isnan(row->output));
		if (row->after_s > 155 && row->after_s < 250) {
			assert_near(row->tool_c, 60 + 0.5 / 3 + sheet / 10.0, 0.06);
			assert_near(row->spread_dc, 1.5, 1e-9);
			assert_near(row->rise_dc, 1.5, 1e-9);
			formed++;
		}
	}
	assert_true(heated >= 5 && formed >= 4);
}

static void
people_read_way_and_course(void **state)
{
	(void)state;
	traced_command(&traced, "shot", "6");
	assert_int_equal(traced.plant.code, COMMAND_DONE);
	assert_string_equal(traced.plant.err, "");
	assert_tells(traced.plant.out, "Its way (after s: after the heat began)\n");
	assert_tells(traced.plant.out, "  heat      ");
	assert_tells(traced.plant.out, "  transfer  ");
	assert_tells(traced.plant.out, "Its course (after s: after the heat start)\n");
	assert_tells(traced.plant.out, " readings are kept of it; --trace gives them");
	/* nothing passes the width that a page has */
	for (const char *line = traced.plant.out; *line; line = strchr(line, '\n') + 1)
		assert_true(strcspn(line, "\n") <= PAGE_WIDTH);
}

static void
machines_get_every_reading(void **state)
{
	(void)state;
	traced_command(&traced, "shot", "6", "--trace", "--format", "csv");
	assert_int_equal(traced.plant.code, COMMAND_DONE);
	assert_memory_equal(
	    traced.plant.out, "at,after_s,device,channel,value,unit,quality\r\n", 46);
	assert_tells(traced.plant.out, ",plc,rotating,1,1,good\r\n");
	assert_tells(traced.plant.out, ",io,top_1,150.4,C,good\r\n");
	assert_tells(traced.plant.out, ",io,zone_2,1,1,good\r\n");
	assert_tells_not(traced.plant.out, "stale");
	traced_command(&traced, "shot", "6", "--trace", "--format", "json");
	assert_tells(traced.plant.out, "  \"trace\": [\n");
	traced_command(&traced, "shot", "6", "--format", "json");
	assert_tells_not(traced.plant.out, "\"trace\": [");
	traced_command(&traced, "shot", "6", "--format", "csv");
	assert_memory_equal(traced.plant.out, "feature,value,", 14);
	traced_command(&traced, "shot", "6", "--trace");
	assert_tells(traced.plant.out, "say --format csv or json");
}

static void
calibrations_entered_since_are_not_in_it_until_recomputed(void **state)
{
	(void)state;
	traced_command(&traced, "shot", "6");
	assert_tells_not(traced.plant.out, "Calibrations that hold");
	assert_tells_not(traced.plant.out, "corrected by");
	traced_command(&traced, "calibrate", "enter", "io.top_1", "--as-left", "-2 K",
	    "--at", "2020-01-01", "--by", "M. Beispiel", "--reference", "black body");
	assert_int_equal(traced.plant.code, COMMAND_DONE);
	traced_command(&traced, "shot", "6");
	assert_tells(traced.plant.out, "Calibrations that hold for it");
	assert_tells(traced.plant.out, "not yet: recompute");
	assert_tells(traced.plant.out, "black body");
	assert_says(traced.plant.out, "entered after the record was made: to have it");
	traced_command(&traced, "shot", "6", "--format", "json");
	assert_tells(traced.plant.out, "\"correction\": 2,");
	assert_tells(traced.plant.out, "\"in_it\": false");
	traced_command(&traced, "recompute", "--shot", "6");
	assert_int_equal(traced.plant.code, COMMAND_DONE);
	traced_command(&traced, "shot", "6", "--format", "json");
	assert_tells(traced.plant.out, "\"in_it\": true");
	/* in the channel's row too */
	assert_tells(traced.plant.out, "\"correction\": 2,");
	traced_command(&traced, "shot", "6");
	assert_tells(traced.plant.out, "corrected by");
	assert_tells_not(traced.plant.out, "not yet");
	for (const char *line = traced.plant.out; *line; line = strchr(line, '\n') + 1)
		assert_true(strcspn(line, "\n") <= PAGE_WIDTH);
}

static void
without_a_trace_the_rest_is_shown(void **state)
{
	bool more;

	(void)state;
	assert_int_equal(ledger_forget_traces(traced.plant.ledger,
			     (struct wall){INT64_MAX}, &more, NULL),
	    0);
	traced_command(&traced, "shot", "6");
	assert_int_equal(traced.plant.code, COMMAND_DONE);
	assert_tells(traced.plant.out, "  form  ");
	assert_tells(traced.plant.out, "no trace is kept of it\n");
	assert_tells_not(traced.plant.out, "Its course");
	assert_tells(traced.plant.out, "exit_top_c");
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(the_course_shows_sheet_oven_and_tool),
	    cmocka_unit_test(people_read_way_and_course),
	    cmocka_unit_test(machines_get_every_reading),
	    cmocka_unit_test(calibrations_entered_since_are_not_in_it_until_recomputed),
	    cmocka_unit_test(without_a_trace_the_rest_is_shown),
	};
	return cmocka_run_group_tests(tests, open_traced, close_traced);
}
