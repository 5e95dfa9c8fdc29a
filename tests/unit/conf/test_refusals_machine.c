/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Every class of mistake about how the sheets of a line move, with its exact sentence
 * and line. */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>

#include "tests/unit/conf/machines.h"
#include "tests/unit/conf/refusal.h"

/* --- machine and stations --------------------------------------------------------- */

static void
unknown_machines_and_stations_are_refused(void **state)
{
	CHECK({"machine = rotary", "machine = rotery",
		  "x.ini:8: 'machine' is 'rotery': did you mean 'rotary'?\n"},
	    {"machine = rotary", "machine = carousel",
		"x.ini:8: 'machine' is 'carousel': write rotary, shuttle or "
		"single-station\n"},
	    {"load, oven, form", "load, ofen, form",
		"x.ini:9: 'stations' is 'load, ofen, form': 'ofen' is no station, did "
		"you mean 'oven'?\n"},
	    {"load, oven, form", "load, heat, form",
		"x.ini:9: 'stations' is 'load, heat, form': 'heat' is no station, "
		"write load, oven, form or unload, or such a word with a label, as in "
		"oven-a\n"},
	    {"load, oven, form", "load, oven-, form",
		"x.ini:9: 'stations' is 'load, oven-, form': 'oven-' is no "
		"station, write load, oven, form or unload, or such a word "
		"with a label, as in oven-a\n"},
	    {"load, oven, form", "load, oven a, form",
		"x.ini:9: 'stations' is 'load, oven a, form': 'oven a' is no "
		"station, did you mean 'oven'?\n"},
	    {"load, oven, form", "load, oven,, form",
		"x.ini:9: 'stations' is 'load, oven,, form': '' is no "
		"station, write load, oven, form or unload, or such a word "
		"with a label, as in oven-a\n"},
	    {"load, oven, form",
		"load, oven-1, oven-2, oven-3, oven-4, oven-5, oven-6, oven-7, form",
		"x.ini:9: 'stations' is 'load, oven-1, oven-2, oven-3, "
		"oven-4, oven-5, oven-6, oven-7, form': write 8 of them at "
		"most\n"});
}

#define TWINS                                                                         \
	"two sheets in one part are not followed, and such a line cannot be logged: " \
	"remove its whole [line ...] section, with its devices and their channels\n"

static void
two_sheets_in_one_part_are_refused(void **state)
{
	CHECK({"machine = rotary", "machine = twin-sheet",
		  "x.ini:8: 'machine' is 'twin-sheet': " TWINS},
	    {"load, oven, form", "load-a, load-b, oven, form",
		"x.ini:9: 'stations' is 'load-a, load-b, oven, form', more "
		"than one to load or form: " TWINS},
	    {"load, oven, form", "load, load, oven, form",
		"x.ini:9: 'stations' is 'load, load, oven, form', more than "
		"one to load or form: " TWINS},
	    {"load, oven, form", "load, oven, form-upper, form-lower",
		"x.ini:9: 'stations' is 'load, oven, form-upper, "
		"form-lower', more than one to load or form: " TWINS});
	CHECK_IN(
	    single, {"load, oven, form", "load, load, oven, form",
			"x.ini:9: 'stations' is 'load, load, oven, form', more than "
			"one to load or form: " TWINS});
	/* of a shuttle it may be meant otherwise */
	CHECK_IN(
	    shuttle, {"load, oven, form", "load, oven, form-left, form-right",
			 "x.ini:9: 'stations' is 'load, oven, form-left, form-right', "
			 "more than one to load or form: write load, oven, form, and "
			 "sides = left, right when there are two frames\n"});
}

static void
stations_that_the_machine_has_not_are_refused(void **state)
{
	CHECK({"load, oven, form", "load, form",
		  "x.ini:9: 'stations' is 'load, form', but a machine that is "
		  "'rotary' has load, one oven or more, form and perhaps "
		  "unload: write them in this order\n"},
	    {"load, oven, form", "oven, load, form",
		"x.ini:9: 'stations' is 'oven, load, form', but a machine "
		"that is 'rotary' has load, one oven or more, form and "
		"perhaps unload: write them in this order\n"},
	    {"load, oven, form", "load, oven, form, oven",
		"x.ini:9: 'stations' is 'load, oven, form, oven', but a "
		"machine that is 'rotary' has load, one oven or more, form "
		"and perhaps unload: write them in this order\n"},
	    {"load, oven, form", "load, oven, form, unload-a, unload-b",
		"x.ini:9: 'stations' is 'load, oven, form, unload-a, "
		"unload-b', but a machine that is 'rotary' has load, one "
		"oven or more, form and perhaps unload: write them in this "
		"order\n"},
	    {"load, oven, form", "load, oven, oven, form",
		"x.ini:9: 'stations' is 'load, oven, oven, form': write "
		"'oven' once, and tell others apart by a label, as in "
		"oven-a, oven-b\n"});
	CHECK_IN(shuttle,
	    {"load, oven, form", "load, oven, form, unload",
		"x.ini:9: 'stations' is 'load, oven, form, unload', but a "
		"machine that is 'shuttle' has load, oven, form: write them "
		"in this order\n"},
	    {"load, oven, form", "load, oven-a, oven-b, form",
		"x.ini:9: 'stations' is 'load, oven-a, oven-b, form', but a "
		"machine that is 'shuttle' has load, oven, form: write them "
		"in this order\n"});
	CHECK_IN(
	    single, {"load, oven, form", "load, oven, unload",
			"x.ini:9: 'stations' is 'load, oven, unload', but a machine "
			"that is 'single-station' has load, oven, form: write them "
			"in this order\n"});
}

static void
sides_are_a_shuttles_alone(void **state)
{
	CHECK({"machine = rotary", "machine = rotary\nsides = left, right",
	    "x.ini:9: 'sides' is for a shuttle with two frames, but "
	    "'machine' is 'rotary': leave it out\n"});
	CHECK_IN(single, {"stations =", "sides = a, b\nstations =",
			     "x.ini:9: 'sides' is for a shuttle with two frames, but "
			     "'machine' is 'single-station': leave it out\n"});
	CHECK_IN(shuttle,
	    {"left, right", "left",
		"x.ini:10: 'sides' is 'left': write two different names, "
		"such as left, right\n"},
	    {"left, right", "left, left",
		"x.ini:10: 'sides' is 'left, left': write two different "
		"names, such as left, right\n"},
	    {"left, right", "left, middle, right",
		"x.ini:10: 'sides' is 'left, middle, right': write two "
		"different names, such as left, right\n"},
	    {"left, right", "left, the other",
		"x.ini:10: 'sides' is 'left, the other': write two different "
		"names, such as left, right\n"});
}

/* --- what each machine needs ------------------------------------------------------ */

static void
roles_that_a_machine_needs_are_missed(void **state)
{
	CHECK_IN(ring,
	    {"role = rotating", "role = other",
		"x.ini:6: [line a] has no channel of role rotating or "
		"cycle_count: write a [channel DEVICE.rotating] for the bit "
		"that is 1 while the frames move on, or a [channel "
		"DEVICE.cycle_count] for the counter that goes up by 1 as "
		"the frames move on\n"},
	    {"role = form_closed", "role = other",
		"x.ini:6: [line a] has no channel of role form_closed: write "
		"a [channel DEVICE.form_closed] for the bit that is 1 while "
		"the platens are closed\n"});
	CHECK_IN(shuttle,
	    {"role = oven_in\nside = right", "role = clamp_closed\nside = right",
		"x.ini:6: [line a] has no channel of role oven_in for side "
		"right: write a [channel DEVICE.oven_in] for the bit that is "
		"1 while the sheet is in the oven\n"},
	    {"role = form_closed", "role = form_closed\nside = left",
		"x.ini:6: [line a] has no channel of role form_closed for "
		"side right: write a [channel DEVICE.form_closed] for the "
		"bit that is 1 while the platens are closed\n"},
	    {"role = form_closed", "role = other",
		"x.ini:6: [line a] has no channel of role form_closed for "
		"side left: write a [channel DEVICE.form_closed] for the bit "
		"that is 1 while the platens are closed\n"
		"x.ini:6: [line a] has no channel of role form_closed for "
		"side right: write a [channel DEVICE.form_closed] for the "
		"bit that is 1 while the platens are closed\n"});
	CHECK_IN(
	    single, {"role = oven_in", "role = other",
			"x.ini:6: [line a] has no channel of role oven_in: write a "
			"[channel DEVICE.oven_in] for the bit that is 1 while the "
			"sheet is in the oven\n"});
}

static void
roles_of_another_machine_are_refused(void **state)
{
	CHECK({"role = tool\ncount = 4", "role = oven_in",
		  "x.ini:27: 'role' is 'oven_in', which a machine that is "
		  "'rotary' does not have: write rotating, the bit that is 1 "
		  "while the frames move on, or leave it out\n"
		  "x.ini:30: 'type' is 'float32', but role oven_in is a bit: "
		  "write type = bit, or 'on_at' and 'off_at' as well\n"},
	    {"role = form_closed", "role = clamp_closed",
		"x.ini:21: 'role' is 'clamp_closed', which a machine that is "
		"'rotary' does not have: write sheet_at_load, the bit that "
		"is 1 while the frame at the load station holds a sheet, or "
		"leave it out\n"},
	    {"role = form_closed", "role = sheet_in_frame",
		"x.ini:21: 'role' is 'sheet_in_frame', which a machine that "
		"is 'rotary' does not have: write sheet_at_load, the bit "
		"that is 1 while the frame at the load station holds a "
		"sheet, or leave it out\n"});
	CHECK_IN(single,
	    {"role = clamp_closed", "role = rotating",
		"x.ini:24: 'role' is 'rotating', which a machine that is "
		"'single-station' does not have: write oven_in, the bit that "
		"is 1 while the sheet is in the oven, or leave it out\n"},
	    {"role = clamp_closed", "role = sheet_at_load",
		"x.ini:24: 'role' is 'sheet_at_load', which a machine that "
		"is 'single-station' does not have: write sheet_in_frame, "
		"the bit that is 1 while a sheet is in the frame, or leave "
		"it out\n"},
	    {"role = clamp_closed", "role = sheet_at_form",
		"x.ini:24: 'role' is 'sheet_at_form', which a machine that "
		"is 'single-station' does not have: write sheet_in_frame, "
		"the bit that is 1 while a sheet is in the frame, or leave "
		"it out\n"});
	CHECK_IN(
	    shuttle, {"role = form_closed", "role = rotating",
			 "x.ini:27: 'role' is 'rotating', which a machine that is "
			 "'shuttle' does not have: write oven_in, the bit that is 1 "
			 "while the sheet is in the oven, or leave it out\n"});
}

/* --- ovens and sides of channels -------------------------------------------------- */

static void
surfaces_and_zones_name_their_oven(void **state)
{
	CHECK_IN(ring,
	    {"station = oven-b\n", "",
		"x.ini:31: 'station' is missing in [channel plc.top_b]: "
		"[line a] has 2 ovens, write station = oven-a or oven-b\n"},
	    {"station = oven-b", "station = oven-bb",
		"x.ini:33: 'station' is 'oven-bb': did you mean 'oven-b'?\n"},
	    {"station = oven-b", "station = form",
		"x.ini:33: 'station' is 'form': write oven-a or oven-b\n"},
	    {"role = form_closed", "role = form_closed\nstation = form",
		"x.ini:20: 'station' means nothing to a channel of role "
		"form_closed: leave it out\n"},
	    {"station = oven-b", "station = oven-a",
		"x.ini:32: [channel plc.top_b] is surface_top 1 in oven-a of "
		"[line a], as [channel plc.top_a] in line 23 is: mend the "
		"role, station or position of one of them\n"},
	    {"station = oven-b", "station = oven-b\nposition = 2",
		"x.ini:34: [line a] has surface_top 2 in oven-b but none at "
		"1: number the positions from 1 without a gap\n"});
	CHECK_IN(shuttle, {"role = surface_top", "role = surface_top\nstation = load",
			      "x.ini:33: 'station' is 'load': write oven\n"});
}

static void
sides_of_channels_are_checked(void **state)
{
	CHECK({"role = tool\n", "role = tool\nside = left\n",
	    "x.ini:28: 'side' is 'left', but [line a] has no sides: "
	    "leave it out\n"});
	CHECK_IN(shuttle,
	    {"role = tool\nside = left", "role = tool\nside = lfet",
		"x.ini:40: 'side' is 'lfet': did you mean 'left'?\n"},
	    {"role = tool\nside = left", "role = tool\nside = top",
		"x.ini:40: 'side' is 'top': write left or right\n"},
	    {"role = oven_in\nside = left\n", "role = oven_in\n",
		"x.ini:14: 'side' is missing in [channel plc.oven_left]: "
		"each side of [line a] has its own oven_in, write side = "
		"left or right\n"},
	    {"role = form_closed", "role = sheet_in_frame",
		"x.ini:26: 'side' is missing in [channel plc.form_closed]: "
		"each side of [line a] has its own sheet_in_frame, write "
		"side = left or right\n"});
}

static void
places_on_a_side_are_taken_once(void **state)
{
	CHECK_IN(shuttle,
	    {"role = oven_in\nside = left", "role = oven_in\nside = right",
		"x.ini:6: [line a] has no channel of role oven_in for side "
		"left: write a [channel DEVICE.oven_in] for the bit that is "
		"1 while the sheet is in the oven\n"
		"x.ini:21: [channel plc.oven_right] is oven_in on side right "
		"of [line a], as [channel plc.oven_left] in line 14 is: mend "
		"the role or side of one of them\n"},
	    /* its own and one in common */
	    {"role = tool\nside = right", "role = tool",
		"x.ini:47: [channel plc.tool_right] is tool 1 of [line a], "
		"as [channel plc.tool_left] in line 38 is: mend the role, "
		"side or position of one of them\n"},
	    {"[channel plc.top]",
		"[channel plc.form_left]\nrole = form_closed\nside = left\ntable = "
		"discrete\naddress = 9\ntype = bit\n[channel plc.top]",
		"x.ini:32: [channel plc.form_left] is form_closed on side "
		"left of [line a], as [channel plc.form_closed] in line 26 "
		"is: mend the role or side of one of them\n"},
	    {"side = right\ncount = 6", "side = right\nposition = 2\ncount = 6",
		"x.ini:49: [line a] has tool 2 on side right but none at 1: "
		"number the positions from 1 without a gap\n"});
}

/* --- bits that are read as numbers ------------------------------------------------ */

#define AS_NUMBER(levels) \
	"table = input\naddress = 0\ntype = int16\nunit = bar\n" levels

static void
levels_are_checked(void **state)
{
	CHECK_IN(single,
	    {"table = discrete\naddress = 0\ntype = bit\n", AS_NUMBER(""),
		"x.ini:17: 'type' is 'int16', but role oven_in is a bit: "
		"write type = bit, or 'on_at' and 'off_at' as well\n"},
	    {"table = discrete\naddress = 0\ntype = bit\n", AS_NUMBER("on_at = 3\n"),
		"x.ini:19: 'on_at' stands without 'off_at': write both\n"},
	    {"table = discrete\naddress = 0\ntype = bit\n", AS_NUMBER("off_at = 3\n"),
		"x.ini:19: 'off_at' stands without 'on_at': write both\n"},
	    {"table = discrete\naddress = 0\ntype = bit\n",
		AS_NUMBER("on_at = 3\noff_at = 3.0\n"),
		"x.ini:20: 'off_at' is what 'on_at' is: write one that is "
		"lower, or higher for a bit that is on when low\n"},
	    {"table = discrete\naddress = 0\ntype = bit\n",
		AS_NUMBER("on_at = 3\noff_at = low\n"),
		"x.ini:20: 'off_at' is 'low': write a number, with a point "
		"for decimals\n"},
	    {"table = discrete\naddress = 0\ntype = bit\n",
		AS_NUMBER("on_at = 3\noff_at = 2\ninverted = yes\n"),
		"x.ini:21: 'inverted' means nothing to a channel of role "
		"oven_in and this type: leave it out\n"},
	    {"table = discrete\naddress = 0\ntype = bit\n",
		AS_NUMBER("on_at = 3\noff_at = 2\nminimum = 0\nmaximum = 2.5\n"),
		"x.ini:19: 'on_at' is '3', outside 'minimum' to 'maximum', "
		"where no value can be: mend one of them\n"},
	    {"table = discrete\naddress = 0\ntype = bit\n",
		AS_NUMBER("on_at = 3\noff_at = -2\nminimum = 0\n"),
		"x.ini:20: 'off_at' is '-2', outside 'minimum' to 'maximum', "
		"where no value can be: mend one of them\n"},
	    {"type = bit\n", "type = bit\non_at = 3\noff_at = 2\n",
		"x.ini:18: 'on_at' means nothing to a channel of role "
		"oven_in and this type: leave it out\n"
		"x.ini:19: 'off_at' means nothing to a channel of role "
		"oven_in and this type: leave it out\n"});
	CHECK({"type = float32", "type = float32\non_at = 3\noff_at = 2",
	    "x.ini:32: 'on_at' means nothing to a channel of role tool: "
	    "leave it out\n"
	    "x.ini:33: 'off_at' means nothing to a channel of role tool: "
	    "leave it out\n"});
}

/* --- figures ---------------------------------------------------------------------- */

static void
figures_have_ranges(void **state)
{
	CHECK({"heat_timer_s = 230", "heat_timer_s = 230\nform_min_s = 3601",
		  "x.ini:11: 'form_min_s' is '3601': write a number from 0 to "
		  "3600\n"},
	    {"path = ledger.db", "path = ledger.db\nkeep_traces_days = -1",
		"x.ini:7: 'keep_traces_days' is '-1': write a whole number "
		"from 0 to 3650\n"},
	    {"path = ledger.db", "path = ledger.db\nkeep_traces_days = 3651",
		"x.ini:7: 'keep_traces_days' is '3651': write a whole number "
		"from 0 to 3650\n"},
	    {"role = tool\n", "role = set_point\nposition = 255\n",
		"x.ini:28: [channel plc.tool] reaches position 258: a "
		"set_point goes up to 256\n"});
}

/* --- how often it is polled --------------------------------------------------------- */

#define SELDOM(line, period, channel, heat, most)                                \
	"x.ini:" line ": 'period_ms' is '" period "', but [channel " channel     \
	"] tells "                                                               \
	"how the sheets of [line a] move, where a stay of " heat " s is a heat " \
	"('heat_min_s') and would go by unseen: write " most                     \
	" or less, 500 as a rule\n"

static void
a_poll_that_no_heat_is_seen_by_is_refused(void **state)
{
	CHECK({"[device plc]\n", "[device plc]\nperiod_ms = 60000\n",
		  SELDOM("12", "60000", "plc.rotating", "30", "7500")},
	    {"[device plc]\n", "[device plc]\nperiod_ms = 7501\n",
		SELDOM("12", "7501", "plc.rotating", "30", "7500")},
	    {"[device plc]\n", "heat_min_s = 60\n[device plc]\nperiod_ms = 20000\n",
		SELDOM("13", "20000", "plc.rotating", "60", "15000")},
	    {"[device plc]\n", "heat_min_s = 0\n[device plc]\nperiod_ms = 2500\n",
		SELDOM("13", "2500", "plc.rotating", "0", "2000")},
	    {"[device plc]\nline = a\naddress = 127.0.0.1:1502\n"
	     "holes = holding 14-19\n[channel plc.rotating]\nrole = rotating\n"
	     "table = discrete\naddress = 0\ntype = bit\n",
		"[device plc]\nline = a\naddress = 127.0.0.1:1502\n"
		"period_ms = 20000\n[channel plc.count]\nrole = cycle_count\n"
		"table = input\naddress = 0\ntype = uint16\n",
		SELDOM("14", "20000", "plc.count", "30", "7500")});
	/* once a device */
	CHECK_IN(shuttle, {"[device plc]\n", "[device plc]\nperiod_ms = 20000\n",
			      SELDOM("12", "20000", "plc.oven_left", "30", "7500")});
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(unknown_machines_and_stations_are_refused),
	    cmocka_unit_test(two_sheets_in_one_part_are_refused),
	    cmocka_unit_test(stations_that_the_machine_has_not_are_refused),
	    cmocka_unit_test(sides_are_a_shuttles_alone),
	    cmocka_unit_test(roles_that_a_machine_needs_are_missed),
	    cmocka_unit_test(roles_of_another_machine_are_refused),
	    cmocka_unit_test(surfaces_and_zones_name_their_oven),
	    cmocka_unit_test(sides_of_channels_are_checked),
	    cmocka_unit_test(places_on_a_side_are_taken_once),
	    cmocka_unit_test(levels_are_checked),
	    cmocka_unit_test(figures_have_ranges),
	    cmocka_unit_test(a_poll_that_no_heat_is_seen_by_is_refused),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
