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

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(a_serial_line_needs_its_port_and_rate),
	    cmocka_unit_test(a_port_is_a_path_of_one_bus),
	    cmocka_unit_test(only_rates_and_frames_that_ports_have_are_taken),
	    cmocka_unit_test(a_device_hangs_on_one_thing),
	    cmocka_unit_test(a_unit_of_a_serial_line_has_a_number_of_its_own),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
