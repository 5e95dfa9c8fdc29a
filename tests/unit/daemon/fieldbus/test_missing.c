/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/fieldbus/missing.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <cmocka.h>

#include "conf/settings.h"
#include "daemon/base/scan.h"

enum { FIRST = 3, CHANNELS = 5 };

/* One device whose channels are not the first. */
struct plant {
	struct settings settings;
	struct device_settings device;
	struct channel_settings channels[FIRST + CHANNELS];
	struct missing *missing;
	struct scan *scan;
};

static int
open_plant(void **state)
{
	static struct plant plant;

	memset(&plant, 0, sizeof plant);
	plant.settings.devices = &plant.device;
	plant.settings.channels = plant.channels;
	plant.device.first_channel = FIRST;
	plant.device.channel_count = CHANNELS;
	for (int i = 0; i < CHANNELS; i++)
		snprintf(
		    plant.channels[FIRST + i].name, SETTINGS_NAME, "surface_%d", i + 1);
	plant.missing = missing_new(&plant.settings, 0);
	plant.scan = calloc(1, scan_bytes(CHANNELS));
	*state = &plant;
	return plant.missing && plant.scan ? 0 : -1;
}

static int
close_plant(void **state)
{
	struct plant *plant = *state;

	missing_free(plant->missing);
	free(plant->scan);
	return 0;
}

/* A scan at `s` of so many channels from `first` on. */
static void
note(struct plant *plant, int s, uint32_t first, uint32_t count,
    const enum quality *qualities)
{
	plant->scan->wall.ns = s * CLOCK_SECOND_NS;
	plant->scan->first = first;
	plant->scan->count = count;
	for (uint32_t i = 0; i < count; i++)
		plant->scan->readings[i].quality = qualities[i];
	missing_note(plant->missing, plant->scan);
}

static void
assert_missing(
    const struct plant *plant, uint32_t count, int since_s, const char *expected)
{
	struct wall since;
	char text[160];

	assert_int_equal(missing_count(plant->missing, &since), count);
	assert_int_equal(since.ns, since_s * CLOCK_SECOND_NS);
	missing_text(plant->missing, text, sizeof text);
	assert_string_equal(text, expected);
}

static void
channels_without_a_value_are_named_with_their_reason(void **state)
{
	struct plant *plant = *state;
	const enum quality qualities[] = {QUALITY_GOOD, QUALITY_FROZEN,
	    QUALITY_SENSOR_FAULT, QUALITY_GOOD, QUALITY_OUT_OF_RANGE};

	assert_missing(plant, 0, 0, "");
	note(plant, 7, 0, CHANNELS, qualities);
	assert_missing(plant, 3, 7,
	    "surface_2 frozen, surface_3 reports a fault, surface_5 out of range");
}

/* An empty oven shows the pyrometers its other heaters. */
static void
what_is_out_of_range_is_not_at_fault(void **state)
{
	struct plant *plant = *state;
	const enum quality idle[] = {QUALITY_GOOD, QUALITY_OUT_OF_RANGE,
	    QUALITY_OUT_OF_RANGE, QUALITY_GOOD, QUALITY_GOOD};
	const enum quality broken[] = {QUALITY_GOOD, QUALITY_OUT_OF_RANGE,
	    QUALITY_OUT_OF_RANGE, QUALITY_GOOD, QUALITY_SENSOR_FAULT};

	note(plant, 7, 0, CHANNELS, idle);
	assert_missing(plant, 2, 0, "surface_2 out of range, surface_3 out of range");
	note(plant, 9, 0, CHANNELS, broken);
	assert_missing(plant, 3, 9,
	    "surface_2 out of range, surface_3 out of range, "
	    "surface_5 reports a fault");
}

static void
of_many_the_first_are_named(void **state)
{
	struct plant *plant = *state;
	const enum quality qualities[] = {QUALITY_COMM_FAULT, QUALITY_COMM_FAULT,
	    QUALITY_FROZEN, QUALITY_FROZEN, QUALITY_FROZEN};
	char text[40];

	note(plant, 7, 0, CHANNELS, qualities);
	assert_missing(
	    plant, 5, 7, "surface_1 refused, surface_2 refused, surface_3 frozen, ...");
	missing_text(plant->missing, text, sizeof text);
	assert_string_equal(text, "surface_1 refused, ...");
}

/* Whatever the room, what is told is whole. */
static void
no_room_is_overrun(void **state)
{
	struct plant *plant = *state;
	const enum quality qualities[CHANNELS] = {
	    QUALITY_FROZEN, QUALITY_FROZEN, QUALITY_FROZEN, QUALITY_FROZEN};

	note(plant, 7, 0, CHANNELS, qualities);
	for (size_t room = 1; room < 80; room++) {
		char text[80];

		memset(text, 'x', sizeof text);
		missing_text(plant->missing, text, room);
		assert_true(strlen(text) < room);
		assert_int_equal(text[room], 'x');
	}
}

static void
a_channel_is_missing_since_it_was_until_it_is_good_again(void **state)
{
	struct plant *plant = *state;
	const enum quality bad = QUALITY_FROZEN, good = QUALITY_GOOD;

	note(plant, 5, 1, 1, &bad);
	note(plant, 9, 4, 1, &bad);
	note(plant, 20, 1, 1, &bad);
	assert_missing(plant, 2, 5, "surface_2 frozen, surface_5 frozen");
	note(plant, 30, 1, 1, &good);
	assert_missing(plant, 1, 9, "surface_5 frozen");
	note(plant, 31, 4, 1, &good);
	assert_missing(plant, 0, 0, "");
	note(plant, 40, 1, 1, &bad);
	assert_missing(plant, 1, 40, "surface_2 frozen");
}

int
main(void)
{
#define TEST(name) cmocka_unit_test_setup_teardown(name, open_plant, close_plant)
	const struct CMUnitTest tests[] = {
	    TEST(channels_without_a_value_are_named_with_their_reason),
	    TEST(what_is_out_of_range_is_not_at_fault),
	    TEST(of_many_the_first_are_named),
	    TEST(no_room_is_overrun),
	    TEST(a_channel_is_missing_since_it_was_until_it_is_good_again),
	};
	return cmocka_run_group_tests_name("missing", tests, NULL, NULL);
}
