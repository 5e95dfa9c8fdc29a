/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What devices hang on, and at which periods their channels are read. */
#include "conf/settings.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <cmocka.h>

#include "tests/unit/conf/parsed.h"
#include "tests/unit/conf/serial.h"
#include "tests/unit/near.h"

/* --- buses ------------------------------------------------------------------------ */

static void
buses_stand_in_the_order_of_their_first_devices(void **state)
{
	struct settings *settings = parsed(serial);
	const struct bus_settings *buses = settings->buses;

	(void)state;
	assert_int_equal(settings->bus_count, 3);
	assert_int_equal(settings->idle_bus_count, 0);
	assert_int_equal(buses[0].kind, BUS_TCP);
	assert_string_equal(buses[0].name, "127.0.0.1:1502");
	assert_string_equal(buses[0].host, "127.0.0.1");
	assert_int_equal(buses[0].port, 1502);
	assert_int_equal(buses[1].kind, BUS_SERIAL);
	assert_string_equal(buses[1].name, "ovens");
	assert_string_equal(buses[1].path, "/dev/ttyUSB0");
	assert_int_equal(buses[1].baud, 19200);
	assert_string_equal(buses[2].name, "tools");
	assert_int_equal(buses[2].baud, 9600);
	assert_int_equal(settings->devices[0].bus, 0);
	assert_int_equal(settings->devices[1].bus, 1);
	assert_int_equal(settings->devices[2].bus, 2);
	assert_int_equal(settings->devices[3].bus, 1);
	assert_near(settings->devices[1].gap_s, 0.01, 1e-15);
	assert_near(settings->devices[2].gap_s, 0, 0);
	settings_free(settings);
}

static void
devices_on_one_address_share_a_bus(void **state)
{
	struct settings *settings =
	    parsed_from(serial, "bus = tools", "address = 127.0.0.1:1502");

	(void)state;
	assert_int_equal(settings->bus_count, 2);
	assert_int_equal(settings->devices[0].bus, 0);
	assert_int_equal(settings->devices[2].bus, 0);
	assert_int_equal(settings->idle_bus_count, 1);
	assert_string_equal(settings->buses[2].name, "tools");
	settings_free(settings);
}

/* Modbus over Serial Line V1.02, 2.5.1: even parity, and 11 bits a character. */
static void
a_character_is_as_the_standard_has_it_unless_told(void **state)
{
	static const struct {
		const char *told;
		enum parity parity;
		int stop_bits;
	} cases[] = {
	    {"", PARITY_EVEN, 1},
	    {"parity = odd\n", PARITY_ODD, 1},
	    {"parity = none\n", PARITY_NONE, 2},
	    {"parity = none\nstop_bits = 1\n", PARITY_NONE, 1},
	    {"stop_bits = 2\nparity = even\n", PARITY_EVEN, 2},
	};

	(void)state;
	for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
		char to[96] = "baud = 19200\n";
		struct settings *settings;

		strcat(to, cases[i].told);
		settings = parsed_from(serial, "baud = 19200\n", to);
		assert_int_equal(settings->buses[1].parity, cases[i].parity);
		assert_int_equal(settings->buses[1].stop_bits, cases[i].stop_bits);
		assert_false(settings->buses[1].rs485);
		settings_free(settings);
	}
}

static void
the_port_may_have_to_switch_direction(void **state)
{
	struct settings *settings =
	    parsed_from(serial, "baud = 19200\n", "baud = 230400\nrs485 = yes\n");

	(void)state;
	assert_true(settings->buses[1].rs485);
	assert_int_equal(settings->buses[1].baud, 230400);
	assert_false(settings->buses[2].rs485);
	settings_free(settings);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(buses_stand_in_the_order_of_their_first_devices),
	    cmocka_unit_test(devices_on_one_address_share_a_bus),
	    cmocka_unit_test(a_character_is_as_the_standard_has_it_unless_told),
	    cmocka_unit_test(the_port_may_have_to_switch_direction),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
