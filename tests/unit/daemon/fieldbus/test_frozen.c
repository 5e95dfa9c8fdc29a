/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/fieldbus/frozen.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <cmocka.h>

#include "conf/settings.h"
#include "daemon/base/scan.h"
#include "tests/unit/near.h"

enum { FIRST = 2, CHANNELS = 4 };

/* Of one device whose channels are not the first: tools 0 and 1, a zone of the first oven
 * and one of the second. */
struct plant {
	struct settings settings;
	struct device_settings device;
	struct channel_settings channels[FIRST + CHANNELS];
	struct frozen *frozen;
	struct scan *scan;
	bool broken; /* tool 1 shows a sentinel */
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
		plant.channels[FIRST + i] =
		    (struct channel_settings){.role = i < 2 ? ROLE_TOOL : ROLE_ZONE_TOP,
			.oven = i == 3,
			.side = -1,
			.encoding = ENCODING_INT16,
			.frozen_after_s = 60};
	plant.frozen = frozen_new(&plant.settings, 0);
	plant.scan = calloc(1, scan_bytes(CHANNELS));
	*state = &plant;
	return plant.frozen && plant.scan ? 0 : -1;
}

static int
close_plant(void **state)
{
	struct plant *plant = *state;

	frozen_free(plant->frozen);
	free(plant->scan);
	return 0;
}

/* A scan of all channels but the last at `s`: good ones, with these raw bits. */
static void
scan(struct plant *plant, double s, uint32_t a, uint32_t b, uint32_t zone)
{
	const uint32_t raw[] = {a, b, zone};

	plant->scan->at.ns = (int64_t)(s * 1e9);
	plant->scan->first = 0;
	plant->scan->count = 3;
	for (int i = 0; i < 3; i++)
		plant->scan->readings[i] = (struct reading){
		    .value = 21.5, .quality = QUALITY_GOOD, .raw = raw[i]};
	if (plant->broken) {
		plant->scan->readings[1].value = NAN;
		plant->scan->readings[1].quality = QUALITY_SENSOR_FAULT;
	}
	frozen_judge(plant->frozen, plant->scan);
}

/* The last channel's group is of it alone. */
static void
move_the_other_zone(struct plant *plant, int s)
{
	plant->scan->first = 3;
	plant->scan->count = 1;
	plant->scan->readings[0] = (struct reading){
	    .value = 21.5, .quality = QUALITY_GOOD, .raw = (uint32_t)s};
	frozen_judge(plant->frozen, plant->scan);
}

static void
lose(struct plant *plant, double s)
{
	plant->scan->at.ns = (int64_t)(s * 1e9);
	for (int i = 0; i < 3; i++)
		plant->scan->readings[i] =
		    (struct reading){.value = NAN, .quality = QUALITY_COMM_FAULT};
	frozen_judge(plant->frozen, plant->scan);
}

static enum quality
quality(const struct plant *plant, int channel)
{
	const struct reading *reading = &plant->scan->readings[channel];

	if (reading->quality == QUALITY_GOOD)
		assert_near(reading->value, 21.5, 0);
	else
		assert_true(isnan(reading->value));
	return reading->quality;
}

static void
one_that_stays_while_its_like_moves_is_frozen(void **state)
{
	struct plant *plant = *state;

	for (int s = 0; s <= 60; s++) {
		scan(plant, 1000 + s, 500, 400 + (uint32_t)s, (uint32_t)s);
		assert_int_equal(quality(plant, 0), QUALITY_GOOD);
	}
	scan(plant, 1061, 500, 461, 61);
	assert_int_equal(quality(plant, 0), QUALITY_FROZEN);
	assert_int_equal(plant->scan->readings[0].raw, 500);
	assert_int_equal(quality(plant, 1), QUALITY_GOOD);
	/* Good again with the first bits that differ. */
	scan(plant, 1062, 501, 462, 62);
	assert_int_equal(quality(plant, 0), QUALITY_GOOD);
}

/* A tool at rest is no fault: nothing of its kind moves. */
static void
those_that_rest_together_are_good(void **state)
{
	struct plant *plant = *state;

	for (int s = 0; s <= 600; s++) {
		scan(plant, 1000 + s, 500, 400, (uint32_t)s);
		assert_int_equal(quality(plant, 0), QUALITY_GOOD);
		assert_int_equal(quality(plant, 1), QUALITY_GOOD);
	}
	/* The other moves, the first time for ten minutes. */
	scan(plant, 1601, 500, 401, 601);
	assert_int_equal(quality(plant, 0), QUALITY_FROZEN);
}

static void
it_stays_frozen_when_the_others_come_to_rest(void **state)
{
	struct plant *plant = *state;

	for (int s = 0; s <= 600; s++)
		scan(plant, 1000 + s, 500, s < 100 ? (uint32_t)s : 7, (uint32_t)s);
	assert_int_equal(quality(plant, 0), QUALITY_FROZEN);
}

/* The zone of the other oven says nothing of this one's; a machine that rests shows the same
 * for hours, and is not broken. */
static void
one_without_its_like_is_never_frozen(void **state)
{
	struct plant *plant = *state;

	for (int s = 0; s <= 3600; s++) {
		scan(plant, 1000 + s, 500, 400, 9);
		assert_int_equal(quality(plant, 2), QUALITY_GOOD);
		move_the_other_zone(plant, 1000 + s);
	}
}

/* A sensor breaks, and is mended, while the machine rests. */
static void
one_that_breaks_has_not_moved(void **state)
{
	struct plant *plant = *state;

	for (int s = 0; s <= 600; s++) {
		bool broken = s >= 200 && s < 400;

		plant->broken = broken;
		scan(plant, 1000 + s, 500, broken ? 32767 : 400, 9);
		assert_int_equal(quality(plant, 0), QUALITY_GOOD);
	}
	scan(plant, 1601, 500, 401, 9);
	assert_int_equal(quality(plant, 0), QUALITY_FROZEN);
}

static void
a_pause_starts_the_time_anew(void **state)
{
	struct plant *plant = *state;

	scan(plant, 1000, 500, 400, 9);
	scan(plant, 1050, 500, 401, 9);
	lose(plant, 1055);
	assert_int_equal(quality(plant, 0), QUALITY_COMM_FAULT);
	for (int s = 1056; s <= 1116; s += 5) {
		scan(plant, s, 500, (uint32_t)s, 9);
		assert_int_equal(quality(plant, 0), QUALITY_GOOD);
	}
	scan(plant, 1117, 500, 1, 9);
	assert_int_equal(quality(plant, 0), QUALITY_FROZEN);
	/* The same bits after a pause have not changed. */
	lose(plant, 1118);
	scan(plant, 1119, 500, 2, 9);
	assert_int_equal(quality(plant, 0), QUALITY_FROZEN);
	lose(plant, 1120);
	scan(plant, 1121, 502, 3, 9);
	assert_int_equal(quality(plant, 0), QUALITY_GOOD);
}

static void
what_is_absent_already_keeps_its_reason(void **state)
{
	struct plant *plant = *state;

	for (int s = 0; s < 100; s++) {
		plant->scan->readings[0] = (struct reading){
		    .value = NAN, .quality = QUALITY_SENSOR_FAULT, .raw = 32767};
		plant->scan->at.ns = (int64_t)(1000 + s) * 1000000000;
		plant->scan->first = 0;
		plant->scan->count = 1;
		frozen_judge(plant->frozen, plant->scan);
		assert_int_equal(quality(plant, 0), QUALITY_SENSOR_FAULT);
	}
}

/* A group's scan is of some channels, counted from its first. */
static void
groups_are_judged_together(void **state)
{
	struct plant *plant = *state;

	plant->channels[FIRST + 3].oven = 0; /* now the zones are alike */
	for (int s = 0; s <= 61; s++) {
		scan(plant, 1000 + s, 500, 400, 9);
		if (s < 61)
			assert_int_equal(quality(plant, 2), QUALITY_GOOD);
		move_the_other_zone(plant, s);
		assert_int_equal(quality(plant, 0), QUALITY_GOOD);
	}
	scan(plant, 1062, 500, 400, 9);
	assert_int_equal(quality(plant, 2), QUALITY_FROZEN);
}

static void
one_that_is_not_checked_never_freezes(void **state)
{
	struct plant *plant = *state;

	plant->channels[FIRST].frozen_after_s = 0;
	for (int s = 0; s <= 600; s++)
		scan(plant, 1000 + s, 500, (uint32_t)s, (uint32_t)s);
	assert_int_equal(quality(plant, 0), QUALITY_GOOD);
}

int
main(void)
{
#define TEST(name) cmocka_unit_test_setup_teardown(name, open_plant, close_plant)
	const struct CMUnitTest tests[] = {
	    TEST(one_that_stays_while_its_like_moves_is_frozen),
	    TEST(those_that_rest_together_are_good),
	    TEST(it_stays_frozen_when_the_others_come_to_rest),
	    TEST(one_without_its_like_is_never_frozen),
	    TEST(one_that_breaks_has_not_moved),
	    TEST(a_pause_starts_the_time_anew),
	    TEST(what_is_absent_already_keeps_its_reason),
	    TEST(groups_are_judged_together),
	    TEST(one_that_is_not_checked_never_freezes),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
