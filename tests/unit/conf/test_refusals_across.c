/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Every class of mistake in a configuration, with its exact sentence and line:
 * what does not go together. */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>

#include "tests/unit/conf/refusal.h"

static void
settings_that_do_not_go_together_are_refused(void **state)
{
	CHECK({"type = float32", "type = bit",
		  "x.ini:31: 'type' is 'bit', but role tool is a measure: write int16, "
		  "uint16, int32, uint32 or float32\n"},
	    {"unit = F\nminimum", "unit = K\nminimum",
		"x.ini:33: 'unit' is 'K': a temperature is in C or F, write unit = C "
		"and offset = -273.15 for K\n"},
	    {"unit = F\nminimum", "unit = mbar\nminimum",
		"x.ini:33: 'unit' is 'mbar': write unit = bar and scale = 0.001 for "
		"mbar; a 'scale' that is there is multiplied by that, and offset, "
		"minimum and maximum are in bar then\n"},
	    {"[material abs]",
		"[channel plc.x]\n"
		"role = recipe\n"
		"table = input\n"
		"address = 0\n"
		"type = float32\n"
		"word_order = abcd\n"
		"[material abs]",
		"x.ini:40: 'type' is 'float32', but role recipe is a whole number: "
		"write int16, uint16, int32 or uint32\n"},
	    {"[material abs]",
		"[channel plc.x]\n"
		"role = other\n"
		"table = coil\n"
		"address = 0\n"
		"type = int16\n"
		"[material abs]",
		"x.ini:38: 'table' is 'coil', which holds bits, but 'type' is 'int16': "
		"write holding or input, or type = bit\n"},
	    {"[material abs]",
		"[channel plc.x]\n"
		"role = other\n"
		"table = input\n"
		"address = 0\n"
		"type = int16\n"
		"bit = 3\n"
		"[material abs]",
		"x.ini:41: 'bit' is for a bit of a register, which [channel plc.x] is "
		"not: leave it out\n"},
	    {"[material abs]",
		"[channel plc.x]\n"
		"role = other\n"
		"table = input\n"
		"address = 0\n"
		"type = int16\n"
		"word_order = abcd\n"
		"[material abs]",
		"x.ini:41: 'word_order' is for 32 bits, but 'type' is 'int16': leave "
		"it out\n"},
	    {"[material abs]",
		"[channel plc.x]\n"
		"role = sag_eye\n"
		"table = discrete\n"
		"address = 1\n"
		"type = bit\n"
		"scale = 2\n"
		"[material abs]",
		"x.ini:41: 'scale' means nothing to a channel of role sag_eye and "
		"this type: leave it out\n"},
	    {"[material abs]",
		"[channel plc.x]\n"
		"role = recipe\n"
		"table = input\n"
		"address = 0\n"
		"type = int16\n"
		"unit = C\n"
		"[material abs]",
		"x.ini:41: 'unit' means nothing to a channel of role recipe: leave it "
		"out\n"},
	    {"[material abs]",
		"[channel plc.x]\n"
		"role = other\n"
		"table = input\n"
		"address = 0\n"
		"type = int16\n"
		"rated_kw = 3\n"
		"[material abs]",
		"x.ini:41: 'rated_kw' means nothing to a channel of role other: leave "
		"it out\n"},
	    {"[material abs]",
		"[channel plc.x]\n"
		"role = other\n"
		"table = input\n"
		"address = 0\n"
		"type = int16\n"
		"position = 2\n"
		"[material abs]",
		"x.ini:41: 'position' means nothing to a channel of role other: leave "
		"it out\n"},
	    {"[material abs]",
		"[channel plc.x]\n"
		"role = stack\n"
		"table = input\n"
		"address = 0\n"
		"type = int16\n"
		"unit = C\n"
		"count = 2\n"
		"[material abs]",
		"x.ini:42: 'count' means nothing to a channel of role stack: leave it "
		"out\n"},
	    {"\nunit = F",
		"\n"
		"unit = L/min",
		"x.ini:33: 'unit' is 'L/min', which cannot measure a tool: write C or "
		"F\n"},
	    {"[material abs]",
		"[channel plc.x]\n"
		"role = water_flow\n"
		"table = input\n"
		"address = 0\n"
		"type = int16\n"
		"unit = C\n"
		"[material abs]",
		"x.ini:41: 'unit' is 'C', which cannot measure a water_flow: write "
		"L/min or gal/min\n"},
	    {"[material abs]",
		"[channel plc.x]\n"
		"role = other\n"
		"table = input\n"
		"address = 0\n"
		"type = int16\n"
		"scale = 0\n"
		"[material abs]",
		"x.ini:41: 'scale' is 0, which makes every reading the same: write "
		"another\n"},
	    {"maximum = 392", "maximum = 32",
		"x.ini:35: 'maximum' must be above 'minimum', which is '32': exchange "
		"or mend them\n"},
	    {"[material abs]",
		"[channel plc.x]\n"
		"role = other\n"
		"table = input\n"
		"address = 0\n"
		"type = int16\n"
		"sentinels = 32768\n"
		"[material abs]",
		"x.ini:41: 'sentinels' is '32768': '32768' is no int16, write a number "
		"from -32768 to 32767, or the bits as 0x0000 to 0xffff\n"},
	    {"[material abs]",
		"[channel plc.x]\n"
		"role = other\n"
		"table = input\n"
		"address = 0\n"
		"type = int16\n"
		"sentinels = 0x10000\n"
		"[material abs]",
		"x.ini:41: 'sentinels' is '0x10000': '0x10000' is no int16, write a "
		"number from -32768 to 32767, or the bits as 0x0000 to 0xffff\n"},
	    {"[material abs]",
		"[channel plc.x]\n"
		"role = other\n"
		"table = input\n"
		"address = 0\n"
		"type = uint16\n"
		"sentinels = -1\n"
		"[material abs]",
		"x.ini:41: 'sentinels' is '-1': '-1' is no uint16, write a number from "
		"0 to 65535, or the bits as 0x0000 to 0xffff\n"},
	    {"[material abs]",
		"[channel plc.x]\n"
		"role = other\n"
		"table = input\n"
		"address = 0\n"
		"type = int16\n"
		"sentinels = 1, 2, 3, 4, 5\n"
		"[material abs]",
		"x.ini:41: 'sentinels' is '1, 2, 3, 4, 5': write 4 of them at most\n"},
	    {"[material abs]",
		"[channel plc.x]\n"
		"role = other\n"
		"table = input\n"
		"address = 0\n"
		"type = float32\n"
		"word_order = abcd\n"
		"sentinels = none\n"
		"[material abs]",
		"x.ini:42: 'sentinels' is 'none': 'none' is no float32, write a "
		"number, or the bits as 0x00000000 to 0xffffffff\n"},
	    {"[material abs]",
		"[channel plc.x]\n"
		"role = surface_top\n"
		"table = input\n"
		"address = 0\n"
		"type = int16\n"
		"unit = C\n"
		"count = 9\n"
		"[material abs]",
		"x.ini:42: [channel plc.x] reaches position 9: a surface_top goes up "
		"to 8\n"},
	    {"[material abs]",
		"[channel plc.x]\n"
		"role = surface_top\n"
		"table = input\n"
		"address = 0\n"
		"type = int16\n"
		"unit = C\n"
		"position = 9\n"
		"[material abs]",
		"x.ini:42: [channel plc.x] reaches position 9: a surface_top goes up "
		"to 8\n"},
	    {"line = a",
		"line = a\n"
		"max_registers = 1",
		"x.ini:32: 'type' is 'float32', two registers, but 'max_registers' of "
		"[device plc] is 1: write 2 or more there\n"});
}

static void
registers_that_collide_are_refused(void **state)
{
	CHECK(
	    /* and the role of the one that lost is not called missing */
	    {"table = holding\naddress = 10\ntype = bit\nbit = 1\n",
		"table = discrete\naddress = 0\ntype = bit\n",
		"x.ini:23: [channel plc.closed] takes discrete 0, where [channel "
		"plc.rotating] in line 15 lies: give one of them another 'address'\n"},
	    {"address = 20", "address = 9",
		"x.ini:30: [channel plc.tool] takes holding 9 to 16, but [device plc] "
		"has a hole from 14 to 19: mend 'address' here, or 'holes' there\n"},
	    {"address = 20", "address = 14",
		"x.ini:30: [channel plc.tool] takes holding 14 to 21, but [device plc] "
		"has a hole from 14 to 19: mend 'address' here, or 'holes' there\n"},
	    {"address = 20", "address = 65530",
		"x.ini:30: 'address' leads to holding 65537, but the last there can be "
		"is 65535: write a lower one\n"},
	    {"[material abs]",
		"[channel plc.x]\n"
		"role = other\n"
		"table = holding\n"
		"address = 27\n"
		"type = int16\n"
		"[material abs]",
		"x.ini:39: [channel plc.x] takes holding 27, where [channel plc.tool] "
		"in line 26 lies: give one of them another 'address'\n"},
	    {"[material abs]",
		"[channel plc.x]\n"
		"role = other\n"
		"table = holding\n"
		"address = 10\n"
		"type = int16\n"
		"[material abs]",
		"x.ini:39: [channel plc.x] takes holding 10, where [channel "
		"plc.closed] in line 20 lies: give one of them another 'address'\n"},
	    {"[material abs]",
		"[channel plc.x]\n"
		"role = other\n"
		"table = holding\n"
		"address = 10\n"
		"type = bit\n"
		"bit = 1\n"
		"[material abs]",
		"x.ini:39: [channel plc.x] takes holding 10, where [channel "
		"plc.closed] in line 20 lies: give one of them another 'address' or "
		"'bit'\n"},
	    {"[material abs]",
		"[channel plc.x]\n"
		"role = other\n"
		"table = holding\n"
		"address = 10\n"
		"type = bit\n"
		"bit = 12\n"
		"count = 5\n"
		"[material abs]",
		"x.ini:42: 'count' leads to bit 16, but a register's last is 15: write "
		"a section for each register\n"},
	    {"[material abs]",
		"[channel plc.x]\n"
		"role = other\n"
		"table = discrete\n"
		"address = 0\n"
		"type = bit\n"
		"[material abs]",
		"x.ini:39: [channel plc.x] takes discrete 0, where [channel "
		"plc.rotating] in line 15 lies: give one of them another 'address'\n"},
	    {"[material abs]",
		"[channel plc.x]\n"
		"role = other\n"
		"table = input\n"
		"address = 65535\n"
		"type = uint32\n"
		"word_order = abcd\n"
		"[material abs]",
		"x.ini:39: 'address' leads to input 65536, but the last there can be "
		"is 65535: write a lower one\n"});
}

static void
channels_that_collide_are_refused(void **state)
{
	CHECK(
	    {"[material abs]",
		"[channel plc.tool_2]\n"
		"role = other\n"
		"table = input\n"
		"address = 0\n"
		"type = int16\n"
		"[material abs]",
		"x.ini:36: [channel plc.tool_2] makes a channel 'tool_2', as [channel "
		"plc.tool] in line 26 does: give one of them another name\n"},
	    {"[material abs]",
		"[channel plc.x]\n"
		"role = rotating\n"
		"table = discrete\n"
		"address = 1\n"
		"type = bit\n"
		"[material abs]",
		"x.ini:37: [channel plc.x] is rotating of [line a], as [channel "
		"plc.rotating] in line 15 is: mend the role of one of them\n"},
	    {"[material abs]",
		"[channel plc.x]\n"
		"role = tool\n"
		"table = input\n"
		"address = 0\n"
		"type = int16\n"
		"unit = C\n"
		"position = 4\n"
		"[material abs]",
		"x.ini:42: [channel plc.x] is tool 4 of [line a], as [channel "
		"plc.tool] in line 26 is: mend the role or position of one of them\n"},
	    {"[material abs]",
		"[channel plc.x]\n"
		"role = tool\n"
		"table = input\n"
		"address = 0\n"
		"type = int16\n"
		"unit = C\n"
		"position = 6\n"
		"[material abs]",
		"x.ini:42: [line a] has tool 6 but none at 5: number the positions "
		"from 1 without a gap\n"},
	    {"[material abs]",
		"[channel plc.rotating]\n"
		"role = other\n"
		"table = input\n"
		"address = 0\n"
		"type = int16\n"
		"[material abs]",
		"x.ini:36: [channel plc.rotating] stands twice, first in line 15: keep "
		"one of them\n"});
}

static void
orders_and_overlaps_are_checked(void **state)
{
	CHECK({"heat_timer_s = 230", "heat_timer_s = 30",
		  "x.ini:10: 'heat_timer_s' must be above 'heat_min_s', which is '30': "
		  "exchange or mend them\n"},
	    {"heat_timer_s = 230",
		"heat_timer_s = 230\n"
		"rate_from_s = 50",
		"x.ini:11: 'rate_to_s' must be above 'rate_from_s', which is '50': "
		"exchange or mend them\n"},
	    {"material = abs",
		"material = abs\n"
		"heat_timer_s = 20",
		"x.ini:39: 'heat_timer_s' must be above 'heat_min_s' of [line a]: mend "
		"one of them\n"},
	    {"end = 14:00", "end = 23:00",
		"x.ini:44: [shift night] and [shift early] in line 41 both have Monday "
		"22:00: let one end before the other starts\n"},
	    {"end = 06:00", "end = 06:01",
		"x.ini:44: [shift night] and [shift early] in line 41 both have "
		"Tuesday 06:00: let one end before the other starts\n"},
	    {"end = 06:00",
		"end = 06:00\n"
		"days = sun\n"
		"[shift odd]\n"
		"start = 05:00\n"
		"end = 05:30\n"
		"days = mon",
		"x.ini:48: [shift odd] and [shift night] in line 44 both have Monday "
		"05:00: let one end before the other starts\n"});
}

static void
hours_on_other_days_and_dates_are_checked(void **state)
{
	CHECK({"end = 14:00",
		  "end = 14:00\n"
		  "days = mon-fri\n"
		  "[shift early sat]\n"
		  "start = 06:00\n"
		  "end = 23:00\n"
		  "days = sat",
		  "x.ini:49: [shift night] and [shift early sat] in line 45 both have "
		  "Saturday 22:00: let one end before the other starts\n"},
	    {"end = 14:00",
		"end = 14:00\n"
		"[shift early eve]\n"
		"start = 15:00\n"
		"end = 16:00\n"
		"days = fri",
		"x.ini:44: [shift early eve] and [shift early] in line 41 both have "
		"the "
		"hours of shift early on Friday: leave the day out of 'days' in one of "
		"them\n"},
	    {"end = 14:00",
		"end = 14:00\n"
		"[shift early eve]\n"
		"start = 06:00\n"
		"end = 23:00\n"
		"dates = 2026-12-24",
		"x.ini:47: [shift early eve] and [shift night] in line 48 have hours "
		"in "
		"common around 2026-12-24: let one end before the other starts\n"},
	    {"end = 14:00",
		"end = 14:00\n"
		"[shift early eve]\n"
		"start = 06:00\n"
		"end = 10:00\n"
		"dates = 2026-12-24\n"
		"days = mon",
		"x.ini:48: [shift early eve] has 'days' and 'dates': leave one out, or "
		"write the dates in a section of their own, such as [shift early "
		"holiday-eve]\n"},
	    {"end = 14:00",
		"end = 14:00\n"
		"[shift early eve]\n"
		"start = 06:00\n"
		"end = 10:00\n"
		"dates = 24.12.2026",
		"x.ini:47: 'dates' is '24.12.2026': write dates with commas, such as "
		"2026-12-24, 2026-12-31\n"},
	    {"end = 14:00",
		"end = 14:00\n"
		"[shift early eve]\n"
		"start = 06:00\n"
		"end = 10:00\n"
		"dates = 2026-12-24, 2026-12-24",
		"x.ini:47: 'dates' is '2026-12-24, 2026-12-24': 2026-12-24 stands "
		"twice "
		"in it\n"},
	    {"end = 14:00",
		"end = 14:00\n"
		"[shift early eve]\n"
		"start = 06:00\n"
		"end = 10:00\n"
		"dates = 2026-12-24\n"
		"[shift early stock-taking]\n"
		"start = 06:00\n"
		"end = 11:00\n"
		"dates = 2026-12-24",
		"x.ini:51: shift early has the hours of another section on 2026-12-24: "
		"name the date in one of them\n"},
	    {"[shift early]", "[shift ear:ly]",
		"x.ini:41: 'ear:ly' is no name: write letters, digits, '-', '.' and "
		"'_' alone, 47 bytes at most\n"});
}

static void
limits_are_checked(void **state)
{
	CHECK({"upper = 2.0 F", "upper = 2.0 F\ntarget = 2.5 F",
		  "x.ini:53: 'target' is '2.5 F', which is outside the limits: mend "
		  "it\n"},
	    {"upper = 2.0 F", "upper = 2.0",
		"x.ini:52: 'upper' is '2.0': the unit is missing, write 2.0 C, 2.0 "
		"F or 2.0 K\n"},
	    {"upper = 2.0 F", "upper = 2.0 s",
		"x.ini:52: 'upper' is '2.0 s': 's' cannot measure that, write a number "
		"in C, F or K\n"},
	    {"upper = 2.0 F", "upper = two F",
		"x.ini:52: 'upper' is 'two F': write a number and C, F or K\n"},
	    {"upper = 2.0 F", "upper = 2.0 f",
		"x.ini:52: 'upper' is '2.0 f': 'f' cannot measure that, write a number "
		"in C, F or K\n"},
	    {"upper = 375 F", "upper = 463 K",
		"x.ini:49: 'upper' is '463 K': a temperature is in C or F, not in "
		"K\n"},
	    {"upper = 375 F", "upper = 345 F",
		"x.ini:49: 'upper' must be above 'lower', which is '345 F': exchange "
		"or mend them\n"},
	    {"upper = 375 F", "upper = 170 C",
		"x.ini:49: 'upper' must be above 'lower', which is '345 F': exchange "
		"or mend them\n"},
	    {"[store plant]",
		"[limits saturated_zones]\n"
		"upper = 2 %\n"
		"[limits saturation_max]\n"
		"upper = 0.5\n"
		"[limits form_s]\n"
		"lower = 5 min\n"
		"[store plant]",
		"x.ini:55: 'upper' is '2 %': write '2' alone\n"
		"x.ini:57: 'upper' is '0.5': the unit is missing, write 0.5 %\n"
		"x.ini:59: 'lower' is '5 min': 'min' cannot measure that, write a "
		"number in s\n"},
	    {"[store plant]",
		"[limits exit_top_c again]\n"
		"upper = 180 C\n"
		"recipe = 12\n"
		"[store plant]",
		"x.ini:54: [limits exit_top_c again] has the feature, recipe and tool "
		"of [limits exit_top_c] in line 47: leave one out\n"});
}

#define PYROMETERS(count)             \
	"[channel plc.surface_top]\n" \
	"role = surface_top\n"        \
	"count = " count "\n"         \
	"table = input\n"             \
	"address = 40\n"              \
	"type = int16\n"              \
	"unit = C\n"

static void
limits_of_a_position_that_no_line_has_are_refused(void **state)
{
	CHECK({"[store plant]",
		  PYROMETERS("3") "[limits exit_top_3_c]\n"
				  "upper = 190 C\n"
				  "[limits exit_top_7_c]\n"
				  "upper = 190 C\n"
				  "[store plant]",
		  "x.ini:63: [limits exit_top_7_c] is about position 7, but a line has "
		  "3 at most: write exit_top_1_c to exit_top_3_c\n"},
	    {"[store plant]",
		PYROMETERS("1") "[limits exit_top_2_c]\n"
				"upper = 190 C\n"
				"[store plant]",
		"x.ini:61: [limits exit_top_2_c] is about position 2, but a line has "
		"1 at most: write exit_top_1_c\n"},
	    {"[store plant]",
		"[limits water_rise_4_dc]\n"
		"upper = 3 C\n"
		"[store plant]",
		"x.ini:54: [limits water_rise_4_dc] is about position 4, but no line "
		"has any: leave the section out, or write their channels\n"},
	    /* where a channel is not understood, nobody knows what there is */
	    {"[store plant]",
		PYROMETERS("many") "[limits exit_top_7_c]\n"
				   "upper = 190 C\n"
				   "[store plant]",
		"x.ini:56: 'count' is 'many': write a whole number from 1 to 256\n"});
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(settings_that_do_not_go_together_are_refused),
	    cmocka_unit_test(registers_that_collide_are_refused),
	    cmocka_unit_test(channels_that_collide_are_refused),
	    cmocka_unit_test(orders_and_overlaps_are_checked),
	    cmocka_unit_test(hours_on_other_days_and_dates_are_checked),
	    cmocka_unit_test(limits_are_checked),
	    cmocka_unit_test(limits_of_a_position_that_no_line_has_are_refused),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
