/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The windows of a sheet's way, and from when on readings are kept for them. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "tests/unit/daemon/shot/way.h"
#include "tests/unit/near.h"
#include "conf/settings.h"
#include "daemon/shot/closing.h"
#include "daemon/shot/stations.h"

static void
assert_window(struct window window, double from_s, double to_s)
{
	assert_true(window.known);
	assert_true(window.from.ns == way_at(from_s).ns);
	assert_true(window.to.ns == way_at(to_s).ns);
}

static void
a_sheet_is_on_its_way_out_until_it_is_somewhere(void **state)
{
	struct sheet sheet = way_usual();

	(void)state;
	assert_window(sheet_exit(&sheet, 0), 250.25, 258.25);
	/* A shuttle's is at the form as it leaves the oven. */
	sheet.arrived = sheet.stays[0].out;
	assert_window(sheet_exit(&sheet, 0), 250.25, 262.25);
	sheet.form_start.known = false;
	assert_false(sheet_exit(&sheet, 0).known);
	/* The next oven. */
	way_stay(&sheet, 1, 256.0, 300.0);
	assert_window(sheet_exit(&sheet, 0), 250.25, 256.25);
	sheet.stays[0].out.known = false;
	assert_false(sheet_exit(&sheet, 0).known);
}

static void
the_tools_cycle_begins_as_the_platens_open_on_the_sheet_before(void **state)
{
	struct sheet sheet = way_usual();

	(void)state;
	assert_false(sheet_tool_cycle(&sheet, 900.0).known);
	assert_true(sheet_need(&sheet, 900.0).ns == sheet.placed.ns);
	sheet.last_form_end = way_edge(40.0);
	assert_window(sheet_tool_cycle(&sheet, 900.0), 40.0, 362.0);
	assert_window(sheet_tool_open(&sheet, 900.0), 40.0, 262.0);
	assert_true(sheet_need(&sheet, 900.0).ns == way_at(39.75).ns);
	/* They stood open for 222 s. */
	assert_true(sheet_tool_cycle(&sheet, 222.0).known);
	assert_false(sheet_tool_cycle(&sheet, 221.0).known);
	assert_false(sheet_tool_open(&sheet, 221.0).known);
	assert_true(sheet_need(&sheet, 221.0).ns == sheet.placed.ns);
	sheet.form_end.known = false;
	assert_false(sheet_tool_cycle(&sheet, 900.0).known);
	assert_true(sheet_tool_open(&sheet, 900.0).known);
	sheet.form_start.known = false;
	assert_false(sheet_tool_open(&sheet, 900.0).known);
}

/* A shuttle: the sheet that is loaded next needs the tool from its last opening on. */
static void
readings_are_kept_from_the_last_opening_of_the_platens(void **state)
{
	static const struct line_settings line = {.machine = MACHINE_SHUTTLE,
	    .station_count = 3,
	    .stations = {{"load", STATION_LOAD}, {"oven", STATION_OVEN},
		{"form", STATION_FORM}},
	    .startup_after_s = 900.0};
	struct stations stations;
	struct closing closing = {0};
	struct closed closed = {.sheet = way_usual()};

	(void)state;
	stations_init(&stations, &line);
	assert_true(stations_need(&stations, way_at(500.0)).ns == way_at(500.0).ns);
	stations.last_form_end = way_edge(362.0);
	assert_true(stations_need(&stations, way_at(500.0)).ns == way_at(361.75).ns);
	/* Longer open than that is a stop. */
	assert_true(stations_need(&stations, way_at(1263.0)).ns == way_at(1263.0).ns);
	stations_find(&stations, stations.form, way_at(400.0), 0);
	stations.at[stations.form].last_form_end = way_edge(300.0);
	stations.at[stations.form].form_start = way_edge(410.0);
	assert_true(stations_need(&stations, way_at(500.0)).ns == way_at(299.75).ns);
	closed.sheet.last_form_end = way_edge(40.0);
	closing_add(&closing, &closed);
	assert_true(
	    closing_need(&closing, 900.0, way_at(500.0)).ns == way_at(39.75).ns);
	assert_true(
	    closing_need(&closing, 100.0, way_at(500.0)).ns == way_at(100.0).ns);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(a_sheet_is_on_its_way_out_until_it_is_somewhere),
	    cmocka_unit_test(
		the_tools_cycle_begins_as_the_platens_open_on_the_sheet_before),
	    cmocka_unit_test(readings_are_kept_from_the_last_opening_of_the_platens),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
