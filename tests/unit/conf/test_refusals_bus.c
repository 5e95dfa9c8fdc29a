/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Mistakes about buses, and about when a device's channels are read, each with its exact
 * sentence and line. */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>

#include "tests/unit/conf/refusal.h"
#include "tests/unit/conf/serial.h"

#define CHECK_SERIAL(...) CHECK_IN(serial, __VA_ARGS__)

static void
a_serial_line_needs_its_port_and_rate(void **state)
{
	CHECK_SERIAL({"port = /dev/ttyUSB0\n", "",
			 "x.ini:10: 'port' is missing in [bus ovens]: write 'port = "
			 "...' (the serial device, such as /dev/ttyUSB0)\n"},
	    {"baud = 19200\n", "",
		"x.ini:10: 'baud' is missing in [bus ovens]: write 'baud = ...' (bits "
		"a second, as set in every device on it)\n"},
	    {"[bus ovens]", "[bus]",
		"x.ini:10: [bus] needs a name: write [bus NAME]\n"
		"x.ini:21: 'bus' is 'ovens', but there is no [bus ovens]: write that "
		"section, or mend the name\n"
		"x.ini:30: 'bus' is 'ovens', but there is no [bus ovens]: write that "
		"section, or mend the name\n"});
}

static void
a_port_is_a_path_of_one_bus(void **state)
{
	CHECK_SERIAL(
	    {"/dev/ttyUSB0", "COM3",
		"x.ini:11: 'port' is 'COM3': write the whole path of the serial "
		"device, such as /dev/ttyUSB0, or better its name in "
		"/dev/serial/by-id, which stays\n"},
	    {"/dev/ttyUSB0", "/dev/",
		"x.ini:11: 'port' is '/dev/': write the whole path of the serial "
		"device, such as /dev/ttyUSB0, or better its name in "
		"/dev/serial/by-id, which stays\n"},
	    {"/dev/ttyUSB1", "/dev/ttyUSB0",
		"x.ini:14: [bus tools] has the port of [bus ovens] in line 10: put "
		"their devices on one of them, and leave the other out\n"});
}

static void
only_rates_and_frames_that_ports_have_are_taken(void **state)
{
	CHECK_SERIAL({"baud = 19200", "baud = 14400",
			 "x.ini:12: 'baud' is '14400', which no port has: write 1200, "
			 "2400, 4800, 9600, 19200, 38400, 57600, 115200 or 230400\n"},
	    {"baud = 19200", "baud = 300",
		"x.ini:12: 'baud' is '300': write a whole number from 1200 to "
		"230400\n"},
	    {"baud = 19200", "baud = 19.2k",
		"x.ini:12: 'baud' is '19.2k': write a whole number from 1200 to "
		"230400\n"},
	    {"baud = 19200", "baud = 19200\nparity = mark",
		"x.ini:13: 'parity' is 'mark': write none, even or odd\n"},
	    {"baud = 19200", "baud = 19200\nparity = oddd",
		"x.ini:13: 'parity' is 'oddd': did you mean 'odd'?\n"},
	    {"baud = 19200", "baud = 19200\nstop_bits = 1.5",
		"x.ini:13: 'stop_bits' is '1.5': write a whole number from 1 to 2\n"},
	    {"baud = 19200", "baud = 19200\nrs485 = 1",
		"x.ini:13: 'rs485' is '1': write yes or no\n"},
	    {"baud = 19200", "baud = 19200\ndata_bits = 7",
		"x.ini:13: unknown setting 'data_bits' in [bus ovens]; there are port, "
		"baud, parity, stop_bits, rs485\n"});
}

static void
a_device_hangs_on_one_thing(void **state)
{
	CHECK_SERIAL(
	    {"bus = tools\n", "",
		"x.ini:24: [device water] hangs on nothing: write address = HOST:PORT "
		"for a device or a gateway in the network, or bus = NAME of the [bus "
		"NAME] that is its serial line\n"},
	    {"bus = tools", "bus = tools\naddress = 10.0.0.5",
		"x.ini:26: 'bus' and 'address' stand both in [device water]: keep "
		"'bus' for a serial line, 'address' for a device or a gateway in the "
		"network\n"},
	    {"bus = tools", "bus = tolos",
		"x.ini:26: 'bus' is 'tolos', but there is no [bus tolos]; did you mean "
		"'tools'?\n"},
	    {"bus = tools", "bus = presses",
		"x.ini:26: 'bus' is 'presses', but there is no [bus presses]: write "
		"that section, or mend the name\n"},
	    {"bus = tools", "bus = 10.0.0.5:502",
		"x.ini:26: 'bus' is '10.0.0.5:502': write letters, digits, '-', '_' "
		"and '.' alone, 47 bytes at most\n"});
}

static void
a_unit_of_a_serial_line_has_a_number_of_its_own(void **state)
{
	CHECK_SERIAL(
	    {"bus = tools\nunit_id = 3\n", "bus = tools\n",
		"x.ini:24: 'unit_id' is missing in [device water]: each device of a "
		"serial line has its own, write unit_id = 1 to 247 as it is set "
		"there\n"},
	    {"unit_id = 4", "unit_id = 0",
		"x.ini:31: 'unit_id' is '0', but devices of a serial line have 1 to "
		"247: write what is set there\n"},
	    {"unit_id = 4", "unit_id = 248",
		"x.ini:31: 'unit_id' is '248', but devices of a serial line have 1 to "
		"247: write what is set there\n"},
	    {"unit_id = 4", "unit_id = 256",
		"x.ini:31: 'unit_id' is '256': write a whole number from 0 to 255\n"},
	    {"gap_ms = 10", "gap_ms = 1001",
		"x.ini:23: 'gap_ms' is '1001': write a number from 0 to 1000\n"});
}

/* --- when channels are read --------------------------------------------------------- */

static void
a_channel_has_a_period_within_reason(void **state)
{
	CHECK_SERIAL(
	    {"type = uint16\nunit = %", "type = uint16\nunit = %\nperiod_ms = 10",
		"x.ini:54: 'period_ms' is '10': write a number from 20 to "
		"3600000\n"},
	    {"type = uint16\nunit = %", "type = uint16\nunit = %\nperiod_ms = 3600001",
		"x.ini:54: 'period_ms' is '3600001': write a number from 20 to "
		"3600000\n"});
}

static void
only_what_stands_still_is_read_as_a_heat_begins(void **state)
{
	CHECK_SERIAL(
	    {"type = uint16\nunit = %", "type = uint16\nunit = %\nat_heat = yes",
		"x.ini:54: 'at_heat' is for set points and what no figure is made of, "
		"but a channel of role zone_top is followed all the time: leave it "
		"out, and write 'period_ms' where the device's is too short\n"},
	    {"role = oven_in\n", "role = oven_in\nat_heat = yes\n",
		"x.ini:34: 'at_heat' is for set points and what no figure is made of, "
		"but a channel of role oven_in is followed all the time: leave it out, "
		"and write 'period_ms' where the device's is too short\n"},
	    {"role = set_point\n", "role = set_point\nat_heat = 1\n",
		"x.ini:67: 'at_heat' is '1': write yes or no\n"});
}

/* The channel's own period counts, not that of its device. */
static void
what_tells_of_moves_is_read_often_enough(void **state)
{
	CHECK_SERIAL({"role = oven_in\n", "role = oven_in\nperiod_ms = 8000\n",
	    "x.ini:34: 'period_ms' is '8000', but [channel plc.oven_in] tells how "
	    "the sheets of [line a] move, where a stay of 30 s is a heat "
	    "('heat_min_s') and would go by unseen: write 7500 or less, 500 as a "
	    "rule\n"});
}

static void
a_device_has_so_many_periods_at_most(void **state)
{
#define MORE(name, address, period)                                               \
	"[channel top." name "]\nrole = other\ntable = input\naddress = " address \
	"\ntype = int16\nperiod_ms = " period "\n"
#define SEVEN                   \
	MORE("a", "11", "2000") \
	MORE("b", "12", "3000") \
	MORE("c", "13", "4000") \
	MORE("d", "14", "5000") \
	MORE("e", "15", "6000") MORE("f", "16", "7000") MORE("g", "17", "8000")

	CHECK_SERIAL(
	    {"[channel top.alarm]", SEVEN MORE("h", "18", "9000") "[channel top.alarm]",
		"x.ini:107: [channel top.h] is read every 9 s, which makes more than "
		"8 different periods of [device top]: let some of its channels have "
		"the same\n"},
	    {"[channel top.alarm]\nrole = other\ntable = discrete\naddress = 9\n"
	     "type = bit\n",
		SEVEN "[channel top.alarm]\nrole = other\ntable = discrete\n"
		      "address = 9\ntype = bit\nat_heat = yes\n",
		"x.ini:102: [channel top.alarm] is read every 60 s and as a heat "
		"begins, which makes more than 8 different periods of [device top]: "
		"let some of its channels have the same\n"});
}

/* --- what cannot be believed --------------------------------------------------------- */

static void
only_what_moves_by_itself_can_freeze(void **state)
{
#define STILL(line, title)                                                           \
	"x.ini:" line ": 'frozen_after_s' is for measures, which never stand still " \
	"for long, but " title " is none: leave it out\n"

	CHECK_SERIAL({"role = oven_in\n", "role = oven_in\nfrozen_after_s = 60\n",
			 STILL("34", "[channel plc.oven_in]")},
	    {"role = set_point\n", "role = set_point\nfrozen_after_s = 60\n",
		STILL("67", "[channel top.wanted]")},
	    {"role = other\n", "role = other\nfrozen_after_s = 60\n",
		STILL("56", "[channel top.broken]")},
	    {"type = uint16\nunit = %",
		"type = uint16\nunit = %\nfrozen_after_s = 86401",
		"x.ini:54: 'frozen_after_s' is '86401': write a number from 0 to "
		"86400\n"},
	    {"type = uint16\nunit = %",
		"type = uint16\nunit = %\nfrozen_after_s = 5\nperiod_ms = 2000",
		"x.ini:54: 'frozen_after_s' is '5', but [channel top.zone] is read "
		"every 2 s: write 6 or more\n"});
}

#define ZONE "type = uint16\nunit = %"

static void
a_fault_bit_is_a_bit_of_the_device(void **state)
{
	CHECK_SERIAL(
	    {ZONE, ZONE "\nfault_bit = borken",
		"x.ini:54: 'fault_bit' is 'borken', but [device top] has no such "
		"channel; did you mean 'broken'?\n"},
	    {ZONE, ZONE "\nfault_bit = oven_in",
		"x.ini:54: 'fault_bit' is 'oven_in', which is of [device plc]: the bit "
		"must be of the same device, [device top], so that both are read "
		"together\n"},
	    {ZONE, ZONE "\nfault_bit = plc.oven_in",
		"x.ini:54: 'fault_bit' is 'plc.oven_in', which is of [device plc]: the "
		"bit must be of the same device, [device top], so that both are read "
		"together\n"},
	    {ZONE, ZONE "\nfault_bit = top.broken_2",
		"x.ini:54: 'fault_bit' is 'top.broken_2': write it without the device, "
		"'broken_2'\n"},
	    {ZONE, ZONE "\nfault_bit = torn",
		"x.ini:54: 'fault_bit' is 'torn', but [device top] has no such "
		"channel: write a [channel top.torn] of type bit\n"},
	    {ZONE, ZONE "\nfault_bit = broken_5",
		"x.ini:54: 'fault_bit' is 'broken_5', but [device top] has no such "
		"channel; did you mean 'broken'?\n"},
	    {ZONE, ZONE "\nfault_bit = zone",
		"x.ini:54: 'fault_bit' is 'zone', the channel itself: name the bit "
		"that tells when it is broken, or leave it out\n"},
	    {ZONE, ZONE "\nfault_bit = wanted",
		"x.ini:54: 'fault_bit' is 'wanted', whose type is 'uint16': name a "
		"channel of type bit\n"},
	    {ZONE, ZONE "\nfault_bit = top.broken.1 x",
		"x.ini:54: 'fault_bit' is 'top.broken.1 x': a name has no blanks, "
		"write letters, digits, '-', '_' and '.' alone, 47 bytes at most\n"});
}

/* Another bit, or a row of them. */
#define WIDE(more)                                                               \
	"\n[channel top.wide]\nrole = other\ntable = coil\naddress = 0\ntype = " \
	"bit\n" more

static void
a_fault_bit_is_one_for_all_or_a_row_of_as_many(void **state)
{
	CHECK_SERIAL(
	    {ZONE, ZONE "\nfault_bit = wide" WIDE("count = 3"),
		"x.ini:54: 'fault_bit' is 'wide', a row of 3, but [channel top.zone] "
		"is "
		"a row of 4: name a row of as many, or one bit, such as wide_1\n"},
	    {"[channel top.zone]",
		"[channel top.heat]\nrole = other\ntable = input\naddress = 20\n"
		"type = int16\nfault_bit = broken\n[channel top.zone]",
		"x.ini:52: 'fault_bit' is 'broken', a row of 4, but [channel top.heat] "
		"is 1: name a row of as many, or one bit, such as broken_1\n"});
}

static void
a_fault_bit_is_read_with_its_channel_and_has_none(void **state)
{
	CHECK_SERIAL(
	    {ZONE, ZONE "\nfault_bit = wide" WIDE("period_ms = 5000"),
		"x.ini:54: 'fault_bit' is 'wide', which is read every 5 s, but "
		"[channel "
		"top.zone] every 1 s: give both the same 'period_ms' and 'at_heat', so "
		"that they are read together\n"},
	    {"role = set_point\n",
		"role = set_point\nat_heat = yes\nfault_bit = alarm\n",
		"x.ini:68: 'fault_bit' is 'alarm', which is read every 1 s, but "
		"[channel top.wanted] every 60 s and as a heat begins: give both the "
		"same 'period_ms' and 'at_heat', so that they are read together\n"},
	    {ZONE, ZONE "\nfault_bit = wide" WIDE("fault_bit = alarm"),
		"x.ini:54: 'fault_bit' is 'wide', which has a 'fault_bit' itself: "
		"leave "
		"it out in one of them\n"});
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(a_serial_line_needs_its_port_and_rate),
	    cmocka_unit_test(a_port_is_a_path_of_one_bus),
	    cmocka_unit_test(only_rates_and_frames_that_ports_have_are_taken),
	    cmocka_unit_test(a_device_hangs_on_one_thing),
	    cmocka_unit_test(a_unit_of_a_serial_line_has_a_number_of_its_own),
	    cmocka_unit_test(a_channel_has_a_period_within_reason),
	    cmocka_unit_test(only_what_stands_still_is_read_as_a_heat_begins),
	    cmocka_unit_test(what_tells_of_moves_is_read_often_enough),
	    cmocka_unit_test(a_device_has_so_many_periods_at_most),
	    cmocka_unit_test(only_what_moves_by_itself_can_freeze),
	    cmocka_unit_test(a_fault_bit_is_a_bit_of_the_device),
	    cmocka_unit_test(a_fault_bit_is_one_for_all_or_a_row_of_as_many),
	    cmocka_unit_test(a_fault_bit_is_read_with_its_channel_and_has_none),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
