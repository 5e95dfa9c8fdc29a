/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Every kind of machine that can be followed, as settings. */
#include "conf/settings.h"

#include <math.h>
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <cmocka.h>

#include "tests/unit/conf/machines.h"
#include "tests/unit/conf/parsed.h"
#include "tests/unit/near.h"

static struct channel_settings
channel_named(const struct settings *settings, const char *name)
{
	size_t i = 0;

	while (i < settings->channel_count &&
	       strcmp(settings->channels[i].name, name) != 0)
		i++;
	assert_true(i < settings->channel_count);
	return settings->channels[i];
}

/* --- stations, ovens and sides ---------------------------------------------------- */

static void
a_rotary_of_three_stations_has_one_oven_and_one_side(void **state)
{
	struct settings *settings = parsed(plant);
	const struct line_settings *line = settings->lines;

	(void)state;
	assert_int_equal(line->machine, MACHINE_ROTARY);
	assert_int_equal(line->station_count, 3);
	assert_string_equal(line->stations[1].name, "oven");
	assert_int_equal(line->stations[2].kind, STATION_FORM);
	assert_int_equal(line->oven_count, 1);
	assert_int_equal(line->side_count, 1);
	assert_string_equal(line->sides[0], "");
	for (size_t i = 0; i < settings->channel_count; i++) {
		assert_int_equal(settings->channels[i].oven, 0);
		assert_int_equal(settings->channels[i].side, -1);
	}
	settings_free(settings);
}

static void
a_ring_may_have_several_ovens_and_an_unload_station(void **state)
{
	struct settings *settings = parsed(ring);
	const struct line_settings *line = settings->lines;

	(void)state;
	assert_int_equal(line->station_count, 5);
	assert_string_equal(line->stations[2].name, "oven-b");
	assert_int_equal(line->stations[2].kind, STATION_OVEN);
	assert_int_equal(line->stations[4].kind, STATION_UNLOAD);
	assert_int_equal(line->oven_count, 2);
	assert_int_equal(channel_named(settings, "top_a_4").oven, 0);
	assert_int_equal(channel_named(settings, "top_b_1").oven, 1);
	assert_int_equal(channel_named(settings, "top_b_1").position, 1);
	/* exits are those of the last oven */
	assert_int_equal(line->surfaces_top, 3);
	assert_int_equal(line->zones_bottom, 0);
	settings_free(settings);
}

static void
a_ring_may_be_as_long_as_there_is_room(void **state)
{
	struct settings *settings =
	    parsed_from(ring, "load, oven-a, oven-b, form, unload",
		"load,oven-a,oven-b,oven-c,oven,oven-4,oven-5_6,form");

	(void)state;
	settings_free(settings);
}

static void
a_counter_may_stand_for_the_rotating_bit(void **state)
{
	struct settings *settings = parsed_from(ring,
	    "role = rotating\ntable = discrete\naddress = 0\ntype = bit",
	    "role = cycle_count\ntable = input\naddress = 90\ntype = uint16");

	(void)state;
	settings_free(settings);
}

static void
a_shuttle_of_two_sides_shares_what_names_no_side(void **state)
{
	struct settings *settings = parsed(shuttle);
	const struct line_settings *line = settings->lines;

	(void)state;
	assert_int_equal(line->machine, MACHINE_SHUTTLE);
	assert_int_equal(line->side_count, 2);
	assert_string_equal(line->sides[0], "left");
	assert_string_equal(line->sides[1], "right");
	assert_int_equal(channel_named(settings, "oven_left").side, 0);
	assert_int_equal(channel_named(settings, "oven_right").side, 1);
	assert_int_equal(channel_named(settings, "form_closed").side, -1);
	assert_int_equal(channel_named(settings, "top_3").side, -1);
	assert_int_equal(channel_named(settings, "tool_right_1").side, 1);
	assert_int_equal(channel_named(settings, "tool_right_1").position, 1);
	/* the most of any side */
	assert_int_equal(line->tools, 6);
	assert_int_equal(line->surfaces_top, 3);
	settings_free(settings);
}

static void
positions_of_a_side_go_on_after_those_in_common(void **state)
{
	char *left = text_with(
	    shuttle, "side = left\ncount", "side = left\nposition = 3\ncount");
	char *both =
	    text_with(left, "side = right\ncount", "side = right\nposition = 3\ncount");
	struct settings *settings = parsed_from(both, "[channel plc.tool_left]",
	    "[channel plc.tool]\nrole = tool\ncount = 2\ntable = input\naddress = 80\n"
	    "type = int16\nunit = C\n[channel plc.tool_left]");

	(void)state;
	assert_int_equal(settings->lines[0].tools, 8);
	settings_free(settings);
	free(both);
	free(left);
}

static void
a_shuttle_of_one_frame_and_a_single_station_have_no_sides(void **state)
{
	struct settings *settings = parsed(single);

	(void)state;
	assert_int_equal(settings->lines[0].machine, MACHINE_SINGLE);
	assert_int_equal(settings->lines[0].side_count, 1);
	settings_free(settings);
	settings = parsed_from(single, "single-station", "shuttle");
	assert_int_equal(settings->lines[0].machine, MACHINE_SHUTTLE);
	assert_int_equal(settings->lines[0].side_count, 1);
	assert_int_equal(settings->lines[0].oven_count, 1);
	settings_free(settings);
}

static void
the_only_oven_may_be_named(void **state)
{
	struct settings *settings = parsed_from(
	    shuttle, "role = surface_top", "role = surface_top\nstation = oven");

	(void)state;
	assert_int_equal(channel_named(settings, "top_1").oven, 0);
	settings_free(settings);
}

static void
the_examples_are_of_each_kind(void **state)
{
	static const struct {
		const char *path;
		enum machine machine;
		int stations, ovens, sides;
	} examples[] = {
	    {"conf/demo.ini", MACHINE_ROTARY, 3, 1, 1},
	    {"conf/rotary-two-ovens.ini", MACHINE_ROTARY, 4, 2, 1},
	    {"conf/rotary-unload.ini", MACHINE_ROTARY, 4, 1, 1},
	    {"conf/shuttle.ini", MACHINE_SHUTTLE, 3, 1, 1},
	    {"conf/shuttle-two-sides.ini", MACHINE_SHUTTLE, 3, 1, 2},
	    {"conf/single-station.ini", MACHINE_SINGLE, 3, 1, 1},
	    {"conf/serial-line.ini", MACHINE_SINGLE, 3, 1, 1},
	};

	(void)state;
	for (size_t i = 0; i < sizeof examples / sizeof examples[0]; i++) {
		struct settings *settings = settings_load(examples[i].path, &problems);

		if (!settings)
			print_message("%s\n", problems.list[0].text);
		assert_non_null(settings);
		assert_int_equal(settings->lines[0].machine, examples[i].machine);
		assert_int_equal(
		    settings->lines[0].station_count, examples[i].stations);
		assert_int_equal(settings->lines[0].oven_count, examples[i].ovens);
		assert_int_equal(settings->lines[0].side_count, examples[i].sides);
		settings_free(settings);
	}
}

/* --- bits that are read as numbers ------------------------------------------------ */

static void
a_bit_may_be_a_number_with_two_levels(void **state)
{
	struct settings *settings = parsed_from(single,
	    "table = discrete\naddress = 0\ntype = bit",
	    "table = input\naddress = 0\ntype = int16\nscale = 0.1\nunit = F\n"
	    "on_at = 212\noff_at = 122\nminimum = 0\nmaximum = 212\ndebounce_ms = 300\n"
	    "sentinels = 0x7fff");
	struct channel_settings channel = channel_named(settings, "oven_in");

	(void)state;
	assert_int_equal(channel.dimension, DIMENSION_TEMPERATURE);
	assert_near(channel.on_si, 100, 1e-12);
	assert_near(channel.off_si, 50, 1e-12);
	assert_near(channel.debounce_s, 0.3, 1e-15);
	assert_true(isnan(channel_named(settings, "form_closed").on_si));
	assert_true(isnan(channel_named(settings, "form_closed").off_si));
	settings_free(settings);
	/* without a unit, and on when low */
	settings = parsed_from(single, "table = discrete\naddress = 0\ntype = bit",
	    "table = input\naddress = 0\ntype = uint16\non_at = 10\noff_at = 4000");
	channel = channel_named(settings, "oven_in");
	assert_int_equal(channel.dimension, DIMENSION_NONE);
	assert_near(channel.on_si, 10, 0);
	assert_near(channel.off_si, 4000, 0);
	settings_free(settings);
}

/* --- set points ------------------------------------------------------------------- */

static void
set_points_are_of_anything(void **state)
{
	struct settings *settings = parsed_from(single, "[channel plc.clamp",
	    "[channel plc.temperature]\nrole = set_point\ncount = 24\ntable = input\n"
	    "address = 100\ntype = int16\nunit = C\n"
	    "[channel plc.seconds]\nrole = set_point\nposition = 25\ntable = input\n"
	    "address = 150\ntype = uint16\n"
	    "[channel plc.mode]\nrole = set_point\nposition = 30\ntable = input\n"
	    "address = 151\ntype = bit\nbit = 3\n[channel plc.clamp");

	(void)state;
	assert_int_equal(channel_named(settings, "temperature_24").position, 24);
	assert_int_equal(
	    channel_named(settings, "temperature_24").dimension, DIMENSION_TEMPERATURE);
	assert_int_equal(channel_named(settings, "seconds").dimension, DIMENSION_NONE);
	assert_int_equal(channel_named(settings, "mode").position, 30);
	assert_int_equal(channel_named(settings, "mode").role, ROLE_SET_POINT);
	settings_free(settings);
}

/* --- what else is told ------------------------------------------------------------ */

static void
times_of_forming_and_keeping_have_defaults(void **state)
{
	struct settings *settings = parsed(plant);

	(void)state;
	assert_near(settings->lines[0].form_min_s, 5, 0);
	assert_int_equal(settings->keep_traces_days, 30);
	settings_free(settings);
	settings =
	    parsed_with("path = ledger.db", "path = ledger.db\nkeep_traces_days = 0");
	assert_int_equal(settings->keep_traces_days, 0);
	settings_free(settings);
	settings =
	    parsed_with("machine = rotary", "machine = rotary\nform_min_s = 2.5");
	assert_near(settings->lines[0].form_min_s, 2.5, 0);
	settings_free(settings);
}

/* --- the same machine ------------------------------------------------------------- */

static bool
is_same_after(const char *sound, const char *from, const char *to)
{
	struct settings *a = parsed(sound), *b = parsed_from(sound, from, to);
	bool same = settings_same_machine(a, b);

	assert_true(same == settings_same_machine(b, a));
	settings_free(a);
	settings_free(b);
	return same;
}

#define LEVELS                                                                \
	"table = input\naddress = 0\ntype = uint16\non_at = 10\noff_at = 4\n" \
	"[channel plc.form_closed]"

static void
how_sheets_move_makes_the_machine(void **state)
{
	(void)state;
	assert_true(is_same_after(shuttle, "[ledger]", "; a remark\n[ledger]"));
	assert_true(is_same_after(
	    ring, "path = ledger.db", "path = ledger.db\nkeep_traces_days = 1"));
	assert_false(is_same_after(ring, "form, unload", "form"));
	assert_false(is_same_after(ring, "form, unload", "form, unload-x"));
	assert_false(is_same_after(single, "single-station", "shuttle"));
	assert_false(
	    is_same_after(shuttle, "sides = left, right", "sides = right, left"));
	assert_false(is_same_after(
	    shuttle, "role = surface_top", "role = surface_top\nside = left"));
	assert_false(is_same_after(
	    ring, "station = oven-a\ncount = 24", "station = oven-b\ncount = 24"));
	assert_false(is_same_after(
	    single, "heat_timer_s = 230", "heat_timer_s = 230\nform_min_s = 6"));
}

static void
levels_make_the_machine(void **state)
{
	char *text = text_with(single,
	    "table = discrete\naddress = 0\ntype = bit\n[channel plc.form_closed]",
	    LEVELS);

	(void)state;
	assert_true(is_same_after(text, "[ledger]", "; a remark\n[ledger]"));
	assert_false(is_same_after(text, "on_at = 10", "on_at = 11"));
	assert_false(is_same_after(text, "off_at = 4", "off_at = 5"));
	free(text);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(a_rotary_of_three_stations_has_one_oven_and_one_side),
	    cmocka_unit_test(a_ring_may_have_several_ovens_and_an_unload_station),
	    cmocka_unit_test(a_ring_may_be_as_long_as_there_is_room),
	    cmocka_unit_test(a_counter_may_stand_for_the_rotating_bit),
	    cmocka_unit_test(a_shuttle_of_two_sides_shares_what_names_no_side),
	    cmocka_unit_test(positions_of_a_side_go_on_after_those_in_common),
	    cmocka_unit_test(a_shuttle_of_one_frame_and_a_single_station_have_no_sides),
	    cmocka_unit_test(the_only_oven_may_be_named),
	    cmocka_unit_test(the_examples_are_of_each_kind),
	    cmocka_unit_test(a_bit_may_be_a_number_with_two_levels),
	    cmocka_unit_test(set_points_are_of_anything),
	    cmocka_unit_test(times_of_forming_and_keeping_have_defaults),
	    cmocka_unit_test(how_sheets_move_makes_the_machine),
	    cmocka_unit_test(levels_make_the_machine),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
