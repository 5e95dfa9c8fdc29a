/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "conf/settings.h"
#include "daemon/base/error.h"
#include "daemon/publish/reading_pack.h"
#include "tests/unit/near.h"
#include "tests/unit/seed.h"

enum { MOST = 200 };

struct got {
	char names[MOST][3][SETTINGS_NAME];
	struct reading_channel channels[MOST];
	size_t count, stop_after;
};

static int
take(void *arg, const struct reading_channel *channel)
{
	struct got *got = arg;

	assert_true(got->count < MOST);
	struct reading_channel *to = &got->channels[got->count];
	char(*names)[SETTINGS_NAME] = got->names[got->count++];
	*to = *channel;
	to->device = strcpy(names[0], channel->device);
	to->channel = strcpy(names[1], channel->channel);
	to->role = strcpy(names[2], channel->role);
	return got->stop_after > 0 && got->count >= got->stop_after;
}

static void
assert_like_float(double got, double packed)
{
	if (isnan(packed))
		assert_true(isnan(got));
	else
		assert_true((float)packed == (float)got);
}

static void
what_is_packed_is_unpacked(void **state)
{
	static struct got got;
	const struct reading_channel channels[] = {
	    {"ovens", "zone_top_1", "zone_top", 181.25, 181.5, 1},
	    {"ovens", "zone_top_2", "zone_top", NAN, NAN, 0},
	    {"p", "", "", -1e-7, 1e9, 0.5},
	};
	unsigned char *bytes = NULL;
	size_t length = 0;
	(void)state;

	assert_int_equal(reading_pack(channels, 3, &bytes, &length, NULL), 0);
	assert_int_equal(reading_unpack(bytes, length, take, &got, NULL), 0);
	assert_int_equal(got.count, 3);
	for (size_t i = 0; i < 3; i++) {
		assert_string_equal(got.channels[i].device, channels[i].device);
		assert_string_equal(got.channels[i].channel, channels[i].channel);
		assert_string_equal(got.channels[i].role, channels[i].role);
		assert_like_float(got.channels[i].mean, channels[i].mean);
		assert_like_float(got.channels[i].last, channels[i].last);
		assert_near(got.channels[i].quality, channels[i].quality, 0);
	}
	got.count = 0;
	got.stop_after = 2;
	assert_int_equal(reading_unpack(bytes, length, take, &got, NULL), 0);
	assert_int_equal(got.count, 2);
	free(bytes);
}

static void
no_channels_are_packed_too(void **state)
{
	static struct got got;
	unsigned char *bytes = NULL;
	size_t length = 0;
	(void)state;

	assert_int_equal(reading_pack(NULL, 0, &bytes, &length, NULL), 0);
	assert_int_equal(reading_unpack(bytes, length, take, &got, NULL), 0);
	assert_int_equal(got.count, 0);
	free(bytes);
}

/* What a day of them costs is told in the configuration's notes. */
static void
ninety_channels_are_small(void **state)
{
	static char names[90][SETTINGS_NAME];
	struct reading_channel channels[90];
	unsigned short random[3] = {(unsigned short)seed_take(1), 2, 3};
	unsigned char *bytes = NULL;
	size_t length = 0;
	(void)state;

	for (int i = 0; i < 90; i++) {
		snprintf(names[i], SETTINGS_NAME, "zone_top_%d", i);
		channels[i] = (struct reading_channel){"ovens", names[i], "zone_top",
		    150 + 60 * erand48(random), 150 + 60 * erand48(random), 1};
	}
	assert_int_equal(reading_pack(channels, 90, &bytes, &length, NULL), 0);
	assert_true(length < 1600);
	free(bytes);
}

/* Every cut, and bytes changed at random: refused, or read as something harmless. */
static void
damaged_bytes_are_refused_or_harmless(void **state)
{
	static struct got got;
	const struct reading_channel channels[] = {
	    {"ovens", "zone_top_1", "zone_top", 181.25, 181.5, 1},
	    {"ovens", "zone_top_2", "zone_top", 1, 2, 1},
	};
	unsigned short random[3] = {(unsigned short)seed_take(1), 2, 3};
	unsigned char *bytes = NULL;
	size_t length = 0;
	struct error error;
	(void)state;

	assert_int_equal(reading_pack(channels, 2, &bytes, &length, NULL), 0);
	for (size_t cut = 0; cut < length; cut++)
		assert_int_equal(
		    reading_unpack(bytes, cut, take, &got, &error), ERROR_INVALID);
	for (int i = 0; i < 20000; i++) {
		size_t at = (size_t)nrand48(random) % length;
		unsigned char kept = bytes[at];
		bytes[at] = (unsigned char)nrand48(random);
		got.count = 0;
		(void)reading_unpack(bytes, length, take, &got, &error);
		bytes[at] = kept;
	}
	free(bytes);
}

static void
too_many_channels_are_refused(void **state)
{
	static char name[SETTINGS_NAME];
	static struct reading_channel channels[SETTINGS_CHANNELS + 8];
	unsigned char *bytes = NULL;
	size_t length = 0;
	(void)state;

	memset(name, 'n', sizeof(name) - 1);
	for (int i = 0; i < SETTINGS_CHANNELS + 8; i++)
		channels[i] = (struct reading_channel){name, name, name, 1, 2, 1};
	assert_int_equal(
	    reading_pack(channels, SETTINGS_CHANNELS, &bytes, &length, NULL), 0);
	free(bytes);
	assert_int_equal(
	    reading_pack(channels, SETTINGS_CHANNELS + 8, &bytes, &length, NULL),
	    ERROR_INVALID);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(what_is_packed_is_unpacked),
	    cmocka_unit_test(no_channels_are_packed_too),
	    cmocka_unit_test(ninety_channels_are_small),
	    cmocka_unit_test(damaged_bytes_are_refused_or_harmless),
	    cmocka_unit_test(too_many_channels_are_refused),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
