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

/* --- groups ----------------------------------------------------------------------- */

#define ZONE "type = uint16\nunit = %"
#define WANTED "role = set_point\n"

static const struct channel_settings *
named(const struct settings *settings, const char *name)
{
	size_t i = 0;

	while (i < settings->channel_count &&
	       strcmp(settings->channels[i].name, name) != 0)
		i++;
	assert_true(i < settings->channel_count);
	return &settings->channels[i];
}

static int32_t
index_of(const struct settings *settings, const char *name)
{
	return (int32_t)(named(settings, name) - settings->channels);
}

static void
a_device_without_periods_is_one_group_in_the_files_order(void **state)
{
	struct settings *settings = parsed(serial);
	const struct device_settings *top = &settings->devices[1];

	(void)state;
	assert_int_equal(top->channel_count, 13);
	assert_int_equal(top->group_count, 1);
	assert_int_equal(top->groups[0].first, 0);
	assert_int_equal(top->groups[0].count, 13);
	assert_near(top->groups[0].period_s, 1, 1e-15);
	assert_false(top->groups[0].at_heat);
	assert_string_equal(settings->channels[top->first_channel].name, "zone_1");
	assert_string_equal(
	    settings->channels[top->first_channel + 4].name, "broken_1");
	assert_string_equal(settings->channels[top->first_channel + 8].name, "alarm");
	assert_string_equal(
	    settings->channels[top->first_channel + 9].name, "wanted_1");
	for (uint32_t i = 0; i < settings->channel_count; i++) {
		assert_near(settings->channels[i].period_s, 1, 1e-15);
		assert_int_equal(settings->channels[i].fault_channel, -1);
		assert_near(settings->channels[i].frozen_after_s, 0, 0);
		assert_false(settings->channels[i].at_heat);
	}
	assert_int_equal(settings->devices[3].group_count, 0); /* no channels */
	settings_free(settings);
}

static void
channels_of_one_period_are_a_group_and_the_fastest_comes_first(void **state)
{
	struct settings *settings =
	    parsed_from(serial, ZONE, ZONE "\nperiod_ms = 2000\nfrozen_after_s = 120");
	const struct device_settings *top = &settings->devices[1];

	(void)state;
	assert_int_equal(top->group_count, 2);
	assert_int_equal(top->groups[0].count, 9);
	assert_near(top->groups[0].period_s, 1, 1e-15);
	assert_int_equal(top->groups[1].first, 9);
	assert_int_equal(top->groups[1].count, 4);
	assert_near(top->groups[1].period_s, 2, 1e-15);
	assert_int_equal(index_of(settings, "zone_1"), top->first_channel + 9);
	assert_near(named(settings, "zone_4")->period_s, 2, 1e-15);
	assert_near(named(settings, "zone_4")->frozen_after_s, 120, 0);
	settings_free(settings);
}

static void
what_is_read_as_a_heat_begins_is_seldom_read_else(void **state)
{
	struct settings *settings =
	    parsed_from(serial, WANTED, WANTED "at_heat = yes\n");
	const struct device_settings *top = &settings->devices[1];

	(void)state;
	assert_int_equal(top->group_count, 2);
	assert_int_equal(top->groups[1].first, 9);
	assert_int_equal(top->groups[1].count, 4);
	assert_true(top->groups[1].at_heat);
	assert_near(top->groups[1].period_s, 60, 1e-12);
	assert_true(named(settings, "wanted_1")->at_heat);
	settings_free(settings);
	settings =
	    parsed_from(serial, WANTED, WANTED "at_heat = yes\nperiod_ms = 3600000\n");
	assert_near(settings->devices[1].groups[1].period_s, 3600, 1e-9);
	settings_free(settings);
}

/* --- fault bits -------------------------------------------------------------------- */

static void
each_of_a_row_has_its_own_bit(void **state)
{
	struct settings *settings =
	    parsed_from(serial, ZONE, ZONE "\nfault_bit = broken");

	(void)state;
	assert_int_equal(
	    named(settings, "zone_1")->fault_channel, index_of(settings, "broken_1"));
	assert_int_equal(
	    named(settings, "zone_4")->fault_channel, index_of(settings, "broken_4"));
	assert_int_equal(named(settings, "broken_1")->fault_channel, -1);
	assert_int_equal(named(settings, "wanted_1")->fault_channel, -1);
	settings_free(settings);
}

static void
one_bit_speaks_for_a_whole_row(void **state)
{
	static const char *const names[] = {"alarm", "broken_2"};

	(void)state;
	for (size_t i = 0; i < sizeof names / sizeof names[0]; i++) {
		char to[96] = ZONE "\nfault_bit = ";
		struct settings *settings;

		strcat(to, names[i]);
		settings = parsed_from(serial, ZONE, to);
		assert_int_equal(named(settings, "zone_1")->fault_channel,
		    index_of(settings, names[i]));
		assert_int_equal(named(settings, "zone_4")->fault_channel,
		    index_of(settings, names[i]));
		settings_free(settings);
	}
}

/* The bits stand before the zones in the file, behind them once in their groups. */
static void
bits_are_found_again_where_the_groups_put_them(void **state)
{
	struct settings *settings = parsed_from(serial, "[channel top.zone]",
	    "[channel top.state]\nrole = other\ntable = coil\naddress = 0\n"
	    "type = bit\nperiod_ms = 5000\n"
	    "[channel top.heat]\nrole = other\ntable = input\naddress = 20\n"
	    "type = int16\nperiod_ms = 5000\nfault_bit = state\n"
	    "[channel top.zone]");
	const struct device_settings *top = &settings->devices[1];
	uint32_t group = top->first_channel + top->groups[1].first;

	(void)state;
	assert_int_equal(index_of(settings, "state"), group);
	assert_int_equal(index_of(settings, "heat"), group + 1);
	assert_int_equal(named(settings, "heat")->fault_channel, group);
	settings_free(settings);
}

/* --- the shipped example ----------------------------------------------------------- */

static void
the_example_has_what_is_written_in_it(void **state)
{
	struct settings *settings = settings_load("conf/serial-line.ini", &problems);
	const struct device_settings *pyrometers, *heaters, *tool;

	(void)state;
	if (!settings)
		print_message("%s\n", problems.list[0].text);
	assert_non_null(settings);
	assert_int_equal(settings->device_count, 7);
	assert_int_equal(settings->bus_count, 3); /* network, serial line, gateway */
	assert_int_equal(settings->buses[1].kind, BUS_SERIAL);
	assert_int_equal(settings->buses[1].stop_bits, 1);
	assert_int_equal(settings->devices[5].bus, 2);
	assert_int_equal(settings->devices[6].bus, 2);
	pyrometers = &settings->devices[1];
	assert_int_equal(pyrometers->group_count, 2);
	assert_int_equal(pyrometers->groups[0].count, 12);
	assert_near(pyrometers->groups[1].period_s, 10, 1e-12);
	assert_int_equal(named(settings, "surface_bottom_3")->fault_channel,
	    index_of(settings, "broken_bottom_3"));
	assert_int_equal(named(settings, "broken_bottom_3")->bit, 5);
	heaters = &settings->devices[3];
	assert_int_equal(heaters->group_count, 2);
	assert_false(heaters->groups[0].at_heat);
	assert_true(heaters->groups[1].at_heat);
	assert_near(heaters->gap_s, 0.02, 1e-12);
	tool = &settings->devices[4];
	assert_int_equal(tool->group_count, 1);
	assert_int_equal(
	    named(settings, "tool_8")->fault_channel, index_of(settings, "trouble"));
	assert_near(named(settings, "tool_1")->frozen_after_s, 600, 0);
	settings_free(settings);
}

/* --- the same machine ------------------------------------------------------------- */

static bool
is_same_after(const char *from, const char *to)
{
	struct settings *a = parsed(serial), *b = parsed_from(serial, from, to);
	bool same = settings_same_machine(a, b);

	assert_true(same == settings_same_machine(b, a));
	settings_free(a);
	settings_free(b);
	return same;
}

static void
another_way_of_reading_is_another_machine(void **state)
{
	(void)state;
	assert_false(is_same_after("/dev/ttyUSB0", "/dev/ttyUSB2"));
	assert_false(is_same_after("baud = 19200", "baud = 9600"));
	assert_false(is_same_after("baud = 19200", "baud = 19200\nparity = odd"));
	assert_false(is_same_after("baud = 19200", "baud = 19200\nstop_bits = 2"));
	assert_false(is_same_after("baud = 19200", "baud = 19200\nrs485 = yes"));
	assert_false(is_same_after("bus = tools", "bus = ovens"));
	assert_false(is_same_after("unit_id = 4", "unit_id = 5"));
	assert_false(is_same_after("gap_ms = 10", "gap_ms = 20"));
	assert_false(is_same_after("gap_ms = 10", "timeout_ms = 200\ngap_ms = 10"));
	assert_false(is_same_after(ZONE, ZONE "\nperiod_ms = 2000"));
	assert_false(is_same_after(ZONE, ZONE "\nfrozen_after_s = 60"));
	assert_false(is_same_after(ZONE, ZONE "\nfault_bit = alarm"));
	assert_false(is_same_after(WANTED, WANTED "at_heat = yes\n"));
	assert_false(
	    is_same_after(WANTED, WANTED "period_ms = 60000\nat_heat = yes\n"));
}

static void
what_says_the_same_otherwise_is_the_same_machine(void **state)
{
	(void)state;
	assert_true(is_same_after("baud = 19200", "baud = 19200\nparity = even"));
	assert_true(is_same_after("baud = 19200", "baud = 19200\nstop_bits = 1"));
	assert_true(is_same_after(ZONE, ZONE "\nperiod_ms = 1000"));
	/* a line that nothing is on */
	assert_true(is_same_after(
	    "[bus tools]", "[bus spare]\nport = /dev/ttyS0\nbaud = 9600\n[bus tools]"));
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(buses_stand_in_the_order_of_their_first_devices),
	    cmocka_unit_test(devices_on_one_address_share_a_bus),
	    cmocka_unit_test(a_character_is_as_the_standard_has_it_unless_told),
	    cmocka_unit_test(the_port_may_have_to_switch_direction),
	    cmocka_unit_test(a_device_without_periods_is_one_group_in_the_files_order),
	    cmocka_unit_test(
		channels_of_one_period_are_a_group_and_the_fastest_comes_first),
	    cmocka_unit_test(what_is_read_as_a_heat_begins_is_seldom_read_else),
	    cmocka_unit_test(each_of_a_row_has_its_own_bit),
	    cmocka_unit_test(one_bit_speaks_for_a_whole_row),
	    cmocka_unit_test(bits_are_found_again_where_the_groups_put_them),
	    cmocka_unit_test(the_example_has_what_is_written_in_it),
	    cmocka_unit_test(another_way_of_reading_is_another_machine),
	    cmocka_unit_test(what_says_the_same_otherwise_is_the_same_machine),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
