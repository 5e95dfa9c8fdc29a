/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "conf/settings.h"

#include <math.h>
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <cmocka.h>

#include "tests/unit/conf/parsed.h"
#include "tests/unit/near.h"

static const struct channel_settings *
channel_named(const struct settings *settings, const char *device, const char *name)
{
	for (size_t i = 0; i < settings->channel_count; i++) {
		const struct channel_settings *channel = settings->channels + i;

		if (strcmp(settings->devices[channel->device].name, device) == 0 &&
		    strcmp(channel->name, name) == 0)
			return channel;
	}
	fail_msg("no channel %s.%s", device, name);
	return NULL;
}

/* --- the shipped example ---------------------------------------------------------- */

static struct settings *
demo(void)
{
	struct settings *settings = settings_load("conf/demo.ini", &problems);

	if (!settings)
		print_message("%s\n", problems.list[0].text);
	assert_non_null(settings);
	return settings;
}

static void
the_demo_has_what_is_written_in_it(void **state)
{
	struct settings *settings = demo();

	(void)state;
	assert_int_equal(problems.count, 0);
	assert_string_equal(settings->path, "conf/demo.ini");
	assert_string_equal(settings->site, "pond-works");
	assert_string_equal(settings->zone, "Europe/Berlin");
	assert_int_equal(settings->temperature, UNIT_FAHRENHEIT);
	assert_string_equal(settings->ledger, "conf/ledger.db");
	assert_int_equal(settings->memory_shots, 1000);
	assert_int_equal(settings->line_count, 1);
	assert_int_equal(settings->device_count, 4);
	assert_int_equal(settings->bus_count, 4);
	assert_int_equal(settings->channel_count, 9 + 8 + 97 + 25);
	assert_int_equal(settings->recipe_count, 2);
	assert_int_equal(settings->tool_count, 2);
	assert_int_equal(settings->material_count, 1 + 10);
	assert_string_equal(settings->materials_path, "conf/materials.ini");
	assert_int_equal(settings->shift_count, 3);
	assert_int_equal(settings->limit_count, 4);
	assert_int_equal(settings->store_count, 0);
	settings_free(settings);
}

static void
the_demo_line_and_devices_are_right(void **state)
{
	struct settings *settings = demo();
	const struct line_settings *line = settings->lines;
	const struct device_settings *ovens = settings->devices + 2;

	(void)state;
	assert_int_equal(settings_find_line(settings, "line-3"), 0);
	assert_int_equal(settings_find_line(settings, "line-4"), -1);
	assert_int_equal(line->surfaces_top, 3);
	assert_int_equal(line->surfaces_bottom, 3);
	assert_int_equal(line->zones_top, 24);
	assert_int_equal(line->zones_bottom, 24);
	assert_int_equal(line->tools, 8);
	assert_int_equal(line->circuits, 8);
	assert_near(line->heat_max_s, 230, 0);
	assert_near(line->coverage_min, 0.8, 1e-15);
	assert_int_equal(settings->devices[0].hole_count, 1);
	assert_int_equal(settings->devices[0].holes[0].table, TABLE_HOLDING);
	assert_int_equal(settings->devices[0].holes[0].first, 14);
	assert_int_equal(settings->devices[0].holes[0].last, 19);
	assert_string_equal(ovens->name, "ovens");
	assert_string_equal(settings->buses[ovens->bus].host, "127.0.0.1");
	assert_int_equal(settings->buses[ovens->bus].port, 1504);
	assert_int_equal(ovens->unit_id, 5);
	assert_near(ovens->period_s, 2, 1e-15);
	assert_int_equal(ovens->max_registers, 125);
	assert_int_equal(ovens->first_channel, 17);
	assert_int_equal(ovens->channel_count, 97);
	settings_free(settings);
}

static void
the_demo_channels_are_right(void **state)
{
	struct settings *settings = demo();
	const struct channel_settings *channel;

	(void)state;
	channel = channel_named(settings, "controller", "fault");
	assert_int_equal(channel->address, 10);
	assert_int_equal(channel->bit, 3);
	channel = channel_named(settings, "controller", "sag_eye");
	assert_int_equal(channel->bit, -1);
	assert_near(channel->debounce_s, 0.4, 1e-15);
	channel = channel_named(settings, "pyrometers", "surface_bottom_3");
	assert_int_equal(channel->role, ROLE_SURFACE_BOTTOM);
	assert_int_equal(channel->position, 3);
	assert_int_equal(channel->address, 5);
	assert_int_equal(channel->sentinel_count, 2);
	assert_int_equal(channel->sentinels[1], 0x8000);
	assert_near(channel->min_si, -20, 0);
	channel = channel_named(settings, "ovens", "zone_bottom_24");
	assert_int_equal(channel->address, 123);
	assert_int_equal(channel->dimension, DIMENSION_RATIO);
	assert_near(channel->max_si, 1, 1e-15);
	assert_near(channel->rated_w, 3000, 0);
	channel = channel_named(settings, "ovens", "energy");
	assert_int_equal(channel->order, WORD_ORDER_CDAB);
	assert_int_equal(channel->position, 0);
	assert_true(isinf(channel->min_si) && channel->min_si < 0);
	channel = channel_named(settings, "water", "tool_8");
	assert_int_equal(channel->address, 14);
	assert_int_equal(channel->encoding, ENCODING_FLOAT32);
	channel = channel_named(settings, "water", "water_supply");
	assert_int_equal(channel->position, 0);
	assert_int_equal(channel->order, WORD_ORDER_BADC);
	settings_free(settings);
}

static void
the_demo_shifts_and_recipes_are_right(void **state)
{
	struct settings *settings = demo();

	(void)state;
	assert_string_equal(settings->shifts[2].name, "night");
	assert_int_equal(settings->shifts[2].start_minute, 22 * 60);
	assert_int_equal(settings->shifts[2].end_minute, 6 * 60);
	assert_int_equal(settings->shifts[2].days, 0x7f);
	assert_string_equal(settings_recipe(settings, 31)->name, "bin-lid");
	assert_string_equal(settings_recipe(settings, 31)->material, "hdpe");
	assert_true(isnan(settings_recipe(settings, 31)->heat_max_s));
	assert_null(settings_recipe(settings, 13));
	assert_string_equal(settings->tools[0].part, "garden pond basin");
	settings_free(settings);
}

/* --- units ------------------------------------------------------------------------ */

static void
limits_in_fahrenheit_convert_by_what_they_limit(void **state)
{
	struct settings *settings = demo();
	const struct limit_settings *limit;

	(void)state;
	/* 2 F of difference are 2 / 1.8 K; 345 F are (345 - 32) / 1.8 C. */
	limit = settings_limit(settings, FEATURE_TOOL_SPREAD_OF_MEANS_DC, 12, "T-117");
	assert_near(limit->upper_si, 1.1111111111, 1e-9);
	assert_true(isnan(limit->lower_si));
	limit = settings_limit(settings, FEATURE_EXIT_TOP_C, 12, "");
	assert_near(limit->lower_si, 173.8888888889, 1e-9);
	assert_near(limit->upper_si, 190.5555555556, 1e-9);
	assert_null(settings_limit(settings, FEATURE_EXIT_TOP_C, 31, ""));
	settings_free(settings);
}

static void
limits_in_kelvin_are_differences_and_rates(void **state)
{
	struct settings *settings =
	    parsed_with("upper = 2.0 F", "upper = 1.5 K\n[limits rate_top_c_per_s]\n"
					 "upper = 0.9 K/s");

	(void)state;
	assert_near(settings->limits[1].upper_si, 1.5, 0);
	assert_near(settings->limits[2].upper_si, 0.9, 0);
	settings_free(settings);
}

static void
limits_of_other_kinds_become_si(void **state)
{
	struct settings *settings =
	    parsed_with("[store plant]", "[channel plc.return]\nrole = water_return\n"
					 "count = 3\ntable = input\naddress = 40\n"
					 "type = int16\nunit = C\n"
					 "[limits energy_kwh]\nupper = 3.5 kWh\n"
					 "[limits rate_top_c_per_s]\nlower = 0.9F/s\n"
					 "[limits heat_coverage]\nlower = 95 %\n"
					 "[limits saturated_zones]\nupper = 2\n"
					 "[limits water_rise_3_dc]\nlower = -1.5 C\n"
					 "[store plant]");

	(void)state;
	assert_near(settings_limit(settings, FEATURE_ENERGY_KWH, -1, "")->upper_si,
	    12.6e6, 1e-6);
	assert_near(
	    settings_limit(settings, FEATURE_RATE_TOP, -1, "")->lower_si, 0.5, 1e-12);
	assert_near(settings_limit(settings, FEATURE_HEAT_COVERAGE, -1, "")->lower_si,
	    0.95, 1e-12);
	assert_near(
	    settings_limit(settings, FEATURE_SATURATED_ZONES, -1, "")->upper_si, 2, 0);
	assert_near(
	    settings_limit(settings, FEATURE_WATER_RISE_FIRST + 2, -1, "")->lower_si,
	    -1.5, 0);
	settings_free(settings);
}

static void
the_range_of_a_channel_in_fahrenheit_becomes_celsius(void **state)
{
	struct settings *settings = parsed(plant);
	const struct channel_settings *channel =
	    channel_named(settings, "plc", "tool_4");

	(void)state;
	assert_near(channel->min_si, 0, 1e-12);
	assert_near(channel->max_si, 200, 1e-12);
	assert_int_equal(channel->unit, UNIT_FAHRENHEIT);
	assert_int_equal(channel->address, 26);
	settings_free(settings);
}

static void
the_most_particular_limit_is_taken(void **state)
{
	struct settings *settings = parsed_with("[store plant]",
	    "[limits form_s]\nupper = 1 s\n"
	    "[limits form_s tool]\nupper = 2 s\ntool = T-1\n"
	    "[limits form_s recipe]\nupper = 3 s\nrecipe = 12\n"
	    "[limits form_s both]\nupper = 4 s\nrecipe = 12\ntool = T-1\n[store "
	    "plant]");

	(void)state;
	assert_near(settings_limit(settings, FEATURE_FORM_S, 1, "")->upper_si, 1, 0);
	assert_near(settings_limit(settings, FEATURE_FORM_S, 1, "T-1")->upper_si, 2, 0);
	assert_near(
	    settings_limit(settings, FEATURE_FORM_S, 12, "T-9")->upper_si, 3, 0);
	assert_near(
	    settings_limit(settings, FEATURE_FORM_S, 12, "T-1")->upper_si, 4, 0);
	settings_free(settings);
}

static void
sentinels_are_kept_as_the_bits_of_the_registers(void **state)
{
	struct settings *settings = parsed_with("[material abs]",
	    "[channel plc.x]\nrole = other\ntable = input\naddress = 0\ntype = int16\n"
	    "sentinels = -9999, 0x7FFF, -32768, 32767\n"
	    "[channel plc.y]\nrole = other\ntable = input\naddress = 1\ntype = "
	    "float32\n"
	    "word_order = abcd\nsentinels = -9999, 0x7fc00000\n[material abs]");
	const struct channel_settings *x = channel_named(settings, "plc", "x");
	const struct channel_settings *y = channel_named(settings, "plc", "y");

	(void)state;
	assert_int_equal(x->sentinel_count, 4);
	assert_int_equal(x->sentinels[0], 0xd8f1);
	assert_int_equal(x->sentinels[1], 0x7fff);
	assert_int_equal(x->sentinels[2], 0x8000);
	assert_int_equal(x->sentinels[3], 0x7fff);
	assert_int_equal(y->sentinel_count, 2);
	assert_int_equal(y->sentinels[0], 0xc61c3c00); /* -9999 as IEEE 754 binary32 */
	assert_int_equal(y->sentinels[1], 0x7fc00000);
	settings_free(settings);
}

/* --- channels and devices --------------------------------------------------------- */

static void
a_row_goes_on_at_its_position(void **state)
{
	struct settings *settings = parsed_with("[material abs]",
	    "[device more]\nline = a\naddress = PLC.local\n"
	    "[device again]\nline = a\naddress = plc.LOCAL:502\nunit_id = 2\n"
	    "[channel more.tool]\nrole = tool\ncount = 2\nposition = 5\ntable = input\n"
	    "address = 7\ntype = int16\nscale = 0.1\nunit = C\n"
	    "[channel more.flags]\nrole = other\ncount = 3\ntable = input\naddress = "
	    "3\n"
	    "type = bit\nbit = 13\n"
	    "[channel more.wet]\nrole = other\ncount = 2\ntable = coil\naddress = 8\n"
	    "type = bit\ninverted = yes\n[material abs]");
	const struct channel_settings *channel =
	    channel_named(settings, "more", "tool_6");

	(void)state;
	assert_int_equal(channel->position, 6);
	assert_int_equal(channel->address, 8);
	assert_int_equal(settings->lines[0].tools, 6);
	channel = channel_named(settings, "more", "flags_3");
	assert_int_equal(channel->address, 3);
	assert_int_equal(channel->bit, 15);
	assert_int_equal(channel->position, 0);
	channel = channel_named(settings, "more", "wet_2");
	assert_int_equal(channel->address, 9);
	assert_true(channel->inverted);
	/* host names mean the same in any letters; the port is 502 when left out */
	assert_int_equal(settings->bus_count, 2);
	assert_int_equal(settings->devices[1].bus, settings->devices[2].bus);
	assert_int_equal(settings->buses[settings->devices[1].bus].port, 502);
	settings_free(settings);
}

static void
an_ipv6_address_stands_in_brackets(void **state)
{
	struct settings *settings = parsed_with("127.0.0.1:1502", "[fd00::20]:1502");

	(void)state;
	assert_string_equal(settings->buses[settings->devices[0].bus].host, "fd00::20");
	assert_int_equal(settings->buses[settings->devices[0].bus].port, 1502);
	settings_free(settings);
}

static void
days_of_a_shift_are_ranges_and_single_ones(void **state)
{
	struct settings *settings =
	    parsed_with("end = 14:00", "end = 14:00\ndays = sat-mon, wed");

	(void)state;
	assert_int_equal(settings->shifts[0].days, 1 << 5 | 1 << 6 | 1 << 0 | 1 << 2);
	settings_free(settings);
}

static void
a_store_with_a_password_has_its_path_beside_the_configuration(void **state)
{
	char *text = plant_with("database = plant",
	    "database = plant\nuser = me\npassword_file = pw ; mode 0600");
	struct settings *settings =
	    settings_parse(text, "/etc/evensoak/x.ini", &problems);

	(void)state;
	assert_non_null(settings);
	assert_string_equal(settings->stores[0].name, "plant");
	assert_string_equal(settings->stores[0].url, "http://127.0.0.1:8086");
	assert_string_equal(settings->stores[0].password_file, "/etc/evensoak/pw");
	assert_string_equal(settings->ledger, "/etc/evensoak/ledger.db");
	assert_near(settings->stores[0].timeout_s, 10, 0);
	settings_free(settings);
	free(text);
}

/* --- the same machine ------------------------------------------------------------- */

static bool
is_same_after(const char *from, const char *to)
{
	struct settings *a = parsed(plant), *b = parsed_with(from, to);
	bool same = settings_same_machine(a, b);

	assert_true(same == settings_same_machine(b, a));
	settings_free(a);
	settings_free(b);
	return same;
}

static void
what_does_not_touch_the_machine_leaves_it_the_same(void **state)
{
	(void)state;
	assert_true(is_same_after("[site]", "; a remark\n[site]"));
	assert_true(is_same_after("upper = 375 F", "upper = 380 F"));
	assert_true(is_same_after("end = 14:00", "end = 13:00"));
	assert_true(is_same_after("[tool T-1]", "[tool T-2]\n[tool T-1]"));
	assert_true(is_same_after("[store plant]", "[store other]"));
	assert_true(is_same_after("temperature_unit = F", "temperature_unit = C"));
	/* what a shot is computed with as it is made */
	assert_true(is_same_after(
	    "heat_timer_s = 230", "heat_timer_s = 230\npyrometer_tolerance = 3 C"));
	assert_true(is_same_after(
	    "heat_timer_s = 230", "heat_timer_s = 230\npyrometer_lag_s = 1"));
}

static void
what_touches_the_machine_makes_it_another(void **state)
{
	(void)state;
	assert_false(is_same_after("name = works", "name = plant"));
	assert_false(is_same_after("heat_timer_s = 230", "heat_timer_s = 231"));
	assert_false(is_same_after("holding 14-19", "holding 15-19"));
	assert_false(is_same_after("holes = holding 14-19", "period_ms = 500"));
	assert_false(is_same_after("127.0.0.1:1502", "127.0.0.2:1502"));
	assert_false(is_same_after("cdab", "abcd"));
	assert_false(is_same_after("count = 4", "count = 3"));
	assert_false(is_same_after("maximum = 392", "maximum = 393"));
	assert_false(is_same_after("maximum = 392", "maximum = 392\nsentinels = 0"));
	assert_false(is_same_after("bit = 1", "bit = 2"));
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(the_demo_has_what_is_written_in_it),
	    cmocka_unit_test(the_demo_line_and_devices_are_right),
	    cmocka_unit_test(the_demo_channels_are_right),
	    cmocka_unit_test(the_demo_shifts_and_recipes_are_right),
	    cmocka_unit_test(limits_in_fahrenheit_convert_by_what_they_limit),
	    cmocka_unit_test(limits_in_kelvin_are_differences_and_rates),
	    cmocka_unit_test(limits_of_other_kinds_become_si),
	    cmocka_unit_test(the_range_of_a_channel_in_fahrenheit_becomes_celsius),
	    cmocka_unit_test(the_most_particular_limit_is_taken),
	    cmocka_unit_test(sentinels_are_kept_as_the_bits_of_the_registers),
	    cmocka_unit_test(a_row_goes_on_at_its_position),
	    cmocka_unit_test(an_ipv6_address_stands_in_brackets),
	    cmocka_unit_test(days_of_a_shift_are_ranges_and_single_ones),
	    cmocka_unit_test(
		a_store_with_a_password_has_its_path_beside_the_configuration),
	    cmocka_unit_test(what_does_not_touch_the_machine_leaves_it_the_same),
	    cmocka_unit_test(what_touches_the_machine_makes_it_another),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
