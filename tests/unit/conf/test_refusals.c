/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Every class of mistake in a configuration, with its exact sentence and line:
 * sections, names and single values. */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>

#include "tests/unit/conf/refusal.h"

static void
lines_that_are_no_settings_are_refused(void **state)
{
	CHECK({"name = works", "name works",
		  "x.ini:1: 'name' is missing in [site]: write 'name = ...' (name of "
		  "the plant in reports and in the store)\n"
		  "x.ini:2: 'name works' is no setting: write 'name = value'\n"},
	    {"name = works", "name: works",
		"x.ini:1: 'name' is missing in [site]: write 'name = ...' (name of the "
		"plant in reports and in the store)\n"
		"x.ini:2: 'name: works' is no setting: write 'name = value'\n"},
	    {"name = works", "= works",
		"x.ini:1: 'name' is missing in [site]: write 'name = ...' (name of the "
		"plant in reports and in the store)\n"
		"x.ini:2: '= works' is no setting: write 'name = value'\n"},
	    {"[device plc]", "[device plc",
		"x.ini:11: '[device plc' is no section: write '[', its name and ']' "
		"alone in a line\n"},
	    {"[material abs]", "[material abs] part = x",
		"x.ini:36: '[material abs] part = x' is no section: write '[', its "
		"name and ']' alone in a line\n"},
	    {"[material abs]", "[]",
		"x.ini:36: '[]' is no section: write '[', its name and ']' alone in a "
		"line\n"
		"x.ini:38: 'material' is 'abs', but there is no [material abs]: write "
		"that section, or mend the name\n"},
	    {"[site]",
		"x = 1\n"
		"y = 2\n"
		"[site]",
		"x.ini:1: 'x' stands before the first section: write a line such as "
		"[site] above it\n"},
	    {"name = works", "name = w\001rks",
		"x.ini:1: 'name' is missing in [site]: write 'name = ...' (name of the "
		"plant in reports and in the store)\n"
		"x.ini:2: control character 0x01: take it out\n"},
	    {"part = basin",
		"part = b\xc2\x9b"
		"31m",
		"x.ini:40: control character U+009B: take it out\n"},
	    {"part = basin",
		"part = a\xe2\x80\xae"
		"b",
		"x.ini:40: control character U+202E: take it out\n"},
	    {"part = basin", "part = b\344sin",
		"x.ini:40: bytes that are not UTF-8: save the file as UTF-8\n"},
	    {"part = basin", "part =",
		"x.ini:40: 'part' is empty: write a value, or leave the line out\n"},
	    {"part = basin", "part = basin;big",
		"x.ini:40: 'part' is 'basin;big': put a blank before the ';' of a "
		"comment\n"},
	    {"part = basin", "part = \"basin\"",
		"x.ini:40: 'part' is \"basin\": write it without quotes\n"});
}

static void
unknown_and_repeated_names_are_refused(void **state)
{
	CHECK(
	    {"[device plc]", "[devise plc]",
		"x.ini:11: unknown section [devise plc]; did you mean [device plc]?\n"},
	    {"[store plant]", "[warehouse plant]",
		"x.ini:54: unknown section [warehouse plant]; there are site, ledger, "
		"store, line, bus, device, channel, recipe, material, tool, shift, "
		"limits, notify\n"},
	    {"timezone =", "timezon =",
		"x.ini:1: 'timezone' is missing in [site]: write 'timezone = ...' "
		"(time zone of the shifts, as the zone data base names it)\n"
		"x.ini:3: unknown setting 'timezon' in [site]; did you mean "
		"'timezone'?\n"},
	    {"heat_timer_s = 230",
		"heat_timer_s = 230\n"
		"colour = red",
		"x.ini:11: unknown setting 'colour' in [line a]; there are machine, "
		"stations, sides, heat_min_s, heat_timer_s, form_limit_s, form_min_s, "
		"startup_shots, startup_after_s, rate_from_s, rate_to_s, "
		"coverage_min_percent, pyrometers, pyrometer_lag_s, "
		"pyrometer_lag_tolerance_s, pyrometer_tolerance, "
		"pyrometer_gain_tolerance_percent, start_tolerance, "
		"start_temperature, transfer_w_per_m2k, "
		"transfer_tolerance_percent, ambient_tolerance, "
		"oven_air_w_per_m2k, oven_exchange_tolerance_percent, "
		"oven_air_tolerance, "
		"coolant_heat_percent, coolant_viscosity_ratio\n"},
	    {"[material abs]",
		"[material abs]\n"
		"density = 1",
		"x.ini:37: unknown setting 'density' in [material abs]; did you mean "
		"'density_kg_per_m3'?\n"},
	    {"[ledger]",
		"[site]\n"
		"name = works\n"
		"[ledger]",
		"x.ini:5: [site] stands twice, first in line 1: keep one of them\n"},
	    {"[shift night]", "[shift early]",
		"x.ini:44: [shift early] stands twice, first in line 41: keep one of "
		"them\n"},
	    {"[tool T-1]",
		"[recipe 012]\n"
		"[tool T-1]",
		"x.ini:39: [recipe 012] stands twice, first in line 37: keep one of "
		"them\n"},
	    {"line = a",
		"line = a\n"
		"line = b",
		"x.ini:13: 'line' stands twice in [device plc], first in line 12: keep "
		"one of them\n"});
}

static void
names_of_sections_are_checked(void **state)
{
	CHECK({"[site]", "[site works]",
		  "x.ini:1: [site works] takes no name: write [site]\n"},
	    {"[line a]", "[line]",
		"x.ini:7: [line] needs a name: write [line NAME]\n"
		"x.ini:12: 'line' is 'a', but there is no [line a]: write that "
		"section, or mend the name\n"},
	    {"[line a]", "[line a b]",
		"x.ini:7: 'a b' is no name: a name has no blanks, write letters, "
		"digits, '-', '.' and '_' alone, 47 bytes at most\n"
		"x.ini:12: 'line' is 'a', but there is no [line a]: write that "
		"section, or mend the name\n"},
	    {"[device plc]", "[device p.lc]",
		"x.ini:11: 'p.lc' is no name: write letters, digits, '-' and '_' "
		"alone, 47 bytes at most\n"
		"x.ini:15: there is no [device plc] for [channel plc.rotating]; did "
		"you mean 'p.lc'?\n"
		"x.ini:20: there is no [device plc] for [channel plc.closed]; did you "
		"mean 'p.lc'?\n"
		"x.ini:26: there is no [device plc] for [channel plc.tool]; did you "
		"mean 'p.lc'?\n"},
	    {"[recipe 12]", "[recipe twelve]",
		"x.ini:37: 'twelve' is no recipe number: write [recipe NUMBER], 0 to "
		"65535\n"
		"x.ini:50: 'recipe' is '12', but there is no [recipe 12]: write that "
		"section, or mend the number\n"},
	    {"[channel plc.tool]", "[channel tool]",
		"x.ini:26: [channel tool] names no device: write [channel "
		"DEVICE.tool]\n"},
	    {"[channel plc.tool]", "[channel plc.to ol]",
		"x.ini:26: 'to ol' is no name of a channel: a name has no blanks, "
		"write letters, digits, '-' and '_' alone, 40 bytes at most\n"},
	    {"[limits exit_top_c]", "[limits]",
		"x.ini:47: [limits] needs a name: write [limits FEATURE [LABEL]]\n"},
	    {"[tool T-1]",
		"[tool T-1]\n"
		"[tool a-name-that-is-much-longer-than-any-name-ought-to-be-anywhere]",
		"x.ini:40: "
		"'a-name-that-is-much-longer-than-any-name-ought-to-be-anywhere' is no "
		"name: write letters, digits, '-', '.' and '_' alone, 47 bytes at "
		"most\n"});
}

static void
what_is_required_and_missing_is_named(void **state)
{
	CHECK({"name = works\n", "",
		  "x.ini:1: 'name' is missing in [site]: write 'name = ...' (name of "
		  "the plant in reports and in the store)\n"},
	    {"[ledger]\npath = ledger.db\n", "",
		"x.ini:1: there is no [ledger], where the shots are kept: write that "
		"section\n"},
	    {"heat_timer_s = 230\n", "",
		"x.ini:7: 'heat_timer_s' is missing in [line a]: write 'heat_timer_s = "
		"...' (the machine lets a sheet go after this, sagged or not)\n"},
	    {"address = 127.0.0.1:1502\n", "",
		"x.ini:11: [device plc] hangs on nothing: write address = HOST:PORT "
		"for a device or a gateway in the network, or bus = NAME of the [bus "
		"NAME] that is its serial line\n"},
	    {"role = tool\n", "",
		"x.ini:26: 'role' is missing in [channel plc.tool]: write 'role = ...' "
		"(what it is to the line)\n"},
	    {"\nunit = F", "",
		"x.ini:26: 'unit' is missing in [channel plc.tool]: write unit = C or "
		"F\n"},
	    {"word_order = cdab\n", "",
		"x.ini:26: 'word_order' is missing in [channel plc.tool]: write abcd, "
		"badc, cdab or dcba\n"},
	    {"bit = 1\n", "",
		"x.ini:20: 'bit' is missing in [channel plc.closed]: write bit = 0 to "
		"15, 0 the least significant\n"},
	    {"upper = 2.0 F\n", "",
		"x.ini:51: [limits tool_spread_of_means_dc thin] has no limit: write "
		"'lower', 'upper' or both, with a unit\n"},
	    {"role = rotating", "role = automatic",
		"x.ini:7: [line a] has no channel of role rotating or cycle_count: "
		"write a [channel DEVICE.rotating] for the bit that is 1 while the "
		"frames move on, or a [channel DEVICE.cycle_count] for the counter "
		"that goes up by 1 as the frames move on\n"},
	    {"end = 14:00\n", "",
		"x.ini:41: 'end' is missing in [shift early]: write 'end = ...' (when "
		"it ends; not after the start: on the next day)\n"});
}

static void
values_are_strict(void **state)
{
	CHECK({"timezone = Europe/Berlin", "timezone = Europe/Berln",
		  "x.ini:3: 'timezone' is 'Europe/Berln': the zone data base has none "
		  "of that name, write one such as Europe/Berlin, or UTC\n"},
	    {"temperature_unit = F", "temperature_unit = K",
		"x.ini:4: 'temperature_unit' is 'K': write C or F\n"},
	    {"path = ledger.db",
		"path = ledger.db\n"
		"memory_shots = 1e3",
		"x.ini:7: 'memory_shots' is '1e3': write a whole number from 1 to "
		"100000\n"},
	    {"heat_timer_s = 230", "heat_timer_s = 230 s",
		"x.ini:10: 'heat_timer_s' is '230 s': write a number from 1 to 7200\n"},
	    {"heat_timer_s = 230", "heat_timer_s = 0",
		"x.ini:10: 'heat_timer_s' is '0': write a number from 1 to 7200\n"},
	    {"heat_timer_s = 230",
		"heat_timer_s = 230\n"
		"startup_shots = 2.5",
		"x.ini:11: 'startup_shots' is '2.5': write a whole number from 0 to "
		"1000\n"},
	    {"line = a",
		"line = a\n"
		"period_ms = 5",
		"x.ini:13: 'period_ms' is '5': write a number from 20 to 60000\n"},
	    {"line = a",
		"line = a\n"
		"unit_id = 256",
		"x.ini:13: 'unit_id' is '256': write a whole number from 0 to 255\n"},
	    {"line = a",
		"line = a\n"
		"unit_id = 1 # x",
		"x.ini:13: 'unit_id' is '1 # x': write a whole number from 0 to 255; a "
		"comment behind a value begins with ';'\n"},
	    {"line = a",
		"line = a\n"
		"max_registers = 126",
		"x.ini:13: 'max_registers' is '126': write a whole number from 1 to "
		"125\n"},
	    {"type = float32", "type = flaot32",
		"x.ini:31: 'type' is 'flaot32': did you mean 'float32'?\n"},
	    {"role = tool", "role = mould",
		"x.ini:27: 'role' is 'mould': write rotating, form_closed, oven_in, "
		"clamp_closed, sheet_in_frame, sag_eye, sheet_at_load, sheet_at_form, "
		"automatic, fault, cycle_count, recipe, surface_top, surface_bottom, "
		"zone_top, zone_bottom, oven_air, tool, water_supply, water_return, "
		"water_flow, "
		"energy_meter, stack, ambient, set_point or other\n"},
	    {"\nunit = F",
		"\n"
		"unit = degrees",
		"x.ini:33: 'unit' is 'degrees': write C, F, C/s, F/s, K, K/s, s, %, "
		"kW, kWh, L/min, gal/min, bar, psi, mm, in or K/kW\n"},
	    {"line = a",
		"line = Werk S\xc3\xbc"
		"d",
		"x.ini:12: 'line' is 'Werk S\xc3\xbc"
		"d': a name has no blanks, write "
		"letters, digits, '-', '_' and '.' alone, 47 bytes at most\n"},
	    {"minimum = 32", "minimum = 32,5",
		"x.ini:34: 'minimum' is '32,5': write a number, with a point for "
		"decimals\n"},
	    {"count = 4", "count = 0",
		"x.ini:28: 'count' is '0': write a whole number from 1 to 256\n"},
	    {"address = 20", "address = 40021x",
		"x.ini:30: 'address' is '40021x': write a whole number from 0 to "
		"65535\n"},
	    {"address = 20", "address = 70000",
		"x.ini:30: 'address' is '70000': write a whole number from 0 to "
		"65535\n"},
	    {"bit = 1", "bit = 16",
		"x.ini:25: 'bit' is '16': write a whole number from 0 to 15\n"},
	    {"bit = 1",
		"bit = 1\n"
		"inverted = true",
		"x.ini:26: 'inverted' is 'true': write yes or no\n"},
	    {"start = 06:00", "start = 6:00",
		"x.ini:42: 'start' is '6:00': write a time from 00:00 to 23:59 as "
		"HH:MM\n"},
	    {"end = 14:00", "end = 24:00",
		"x.ini:43: 'end' is '24:00': write a time from 00:00 to 23:59 as "
		"HH:MM\n"},
	    {"end = 14:00",
		"end = 14:00\n"
		"days = mon-frx",
		"x.ini:44: 'days' is 'mon-frx': write days and ranges of days, such as "
		"mon-fri, sun\n"},
	    {"part = basin", "part = bbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbb",
		"x.ini:40: 'part' is "
		"'bbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbb': write less, 47 "
		"bytes at most\n"});
}

static void
addresses_of_devices_are_checked(void **state)
{
	CHECK({"127.0.0.1:1502", ":1502",
		  "x.ini:13: 'address' is ':1502': write HOST or HOST:PORT, such as "
		  "192.168.1.20:502\n"},
	    {"127.0.0.1:1502", "127.0.0.1:",
		"x.ini:13: 'address' is '127.0.0.1:': write a port from 1 to 65535 "
		"behind the ':'\n"},
	    {"127.0.0.1:1502", "plc:0",
		"x.ini:13: 'address' is 'plc:0': write a port from 1 to 65535 behind "
		"the ':'\n"},
	    {"127.0.0.1:1502", "plc:65536",
		"x.ini:13: 'address' is 'plc:65536': write a port from 1 to 65535 "
		"behind the ':'\n"},
	    {"127.0.0.1:1502", "fd00::20",
		"x.ini:13: 'address' is 'fd00::20': write an IPv6 address in brackets, "
		"such as [fd00::20]:502\n"},
	    {"127.0.0.1:1502", "[fd00::20",
		"x.ini:13: 'address' is '[fd00::20': write HOST or HOST:PORT, such as "
		"192.168.1.20:502\n"},
	    {"127.0.0.1:1502", "tcp://plc",
		"x.ini:13: 'address' is 'tcp://plc': write HOST or HOST:PORT, such as "
		"192.168.1.20:502\n"},
	    {"holding 14-19", "holding 19-14",
		"x.ini:14: 'holes' is 'holding 19-14': write a table and its "
		"addresses, lowest first, such as holding 14-19, input 6\n"},
	    {"holding 14-19", "register 3",
		"x.ini:14: 'holes' is 'register 3': write a table and its addresses, "
		"lowest first, such as holding 14-19, input 6\n"},
	    {"holding 14-19", "holding 14-65536",
		"x.ini:14: 'holes' is 'holding 14-65536': write a table and its "
		"addresses, lowest first, such as holding 14-19, input 6\n"},
	    {"holding 14-19",
		"input 0, input 1, input 2, input 3, input 4, input 5, input 6, input "
		"7, input 8, input 9, input 10, input 11, input 12, input 13, input "
		"14, input 15, input 16",
		"x.ini:14: 'holes' is 'input 0, input 1, input 2, input 3, input 4, "
		"input 5, input 6, input 7, input 8, input 9, input 10, input 11, "
		"input 12, input 13, input 14, input 15, input 16': write 16 of them "
		"at most\n"});
}

static void
names_that_lead_nowhere_are_refused(void **state)
{
	CHECK({"line = a", "line = b1x",
		  "x.ini:12: 'line' is 'b1x', but there is no [line b1x]: write that "
		  "section, or mend the name\n"},
	    {"line = a", "line = line-a",
		"x.ini:12: 'line' is 'line-a', but there is no [line line-a]: write "
		"that section, or mend the name\n"},
	    {"[channel plc.tool]", "[channel pcl.tool]",
		"x.ini:26: there is no [device pcl] for [channel pcl.tool]; did you "
		"mean 'plc'?\n"},
	    {"[channel plc.tool]", "[channel furnace.tool]",
		"x.ini:26: there is no [device furnace] for [channel furnace.tool]: "
		"write that section, or mend the name\n"},
	    {"material = abs", "material = asb",
		"x.ini:38: 'material' is 'asb', but there is no [material asb]; did "
		"you mean 'abs'?\n"},
	    {"material = abs", "material = polystyrene",
		"x.ini:38: 'material' is 'polystyrene', but there is no [material "
		"polystyrene]: write that section, or mend the name\n"},
	    {"recipe = 12", "recipe = 13",
		"x.ini:50: 'recipe' is '13', but there is no [recipe 13]: write that "
		"section, or mend the number\n"},
	    {"tool = T-1", "tool = T-2",
		"x.ini:53: 'tool' is 'T-2', but there is no [tool T-2]; did you mean "
		"'T-1'?\n"},
	    {"[limits exit_top_c]", "[limits exit_tpo_c]",
		"x.ini:47: unknown feature 'exit_tpo_c' in [limits exit_tpo_c]; did "
		"you mean 'exit_top_c'?\n"},
	    {"[limits exit_top_c]", "[limits warp]",
		"x.ini:47: unknown feature 'warp' in [limits warp]: write one such as "
		"exit_top_c or cycle_s\n"});
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(lines_that_are_no_settings_are_refused),
	    cmocka_unit_test(unknown_and_repeated_names_are_refused),
	    cmocka_unit_test(names_of_sections_are_checked),
	    cmocka_unit_test(what_is_required_and_missing_is_named),
	    cmocka_unit_test(values_are_strict),
	    cmocka_unit_test(addresses_of_devices_are_checked),
	    cmocka_unit_test(names_that_lead_nowhere_are_refused),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
