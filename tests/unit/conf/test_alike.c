/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "conf/alike.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "conf/settings.h"

enum { CHANNELS = 3 };

/* Two pyrometers of one device, and one of another. */
struct pair {
	struct settings settings;
	struct device_settings devices[2];
	struct channel_settings channels[CHANNELS];
};

static void
pair_init(struct pair *pair)
{
	*pair =
	    (struct pair){.settings = {.device_count = 2, .channel_count = CHANNELS}};
	pair->settings.devices = pair->devices;
	pair->settings.channels = pair->channels;
	pair->devices[0].channel_count = 2;
	pair->devices[1].first_channel = 2;
	pair->devices[1].channel_count = 1;
	for (uint32_t i = 0; i < CHANNELS; i++)
		pair->channels[i] = (struct channel_settings){.device = i / 2,
		    .role = ROLE_SURFACE_TOP,
		    .position = (int)i + 1,
		    .side = -1,
		    .encoding = ENCODING_INT16,
		    .dimension = DIMENSION_TEMPERATURE};
}

static void
expect(const struct pair *pair, bool alike)
{
	const struct channel_settings *channels = pair->channels;

	assert_int_equal(alike_are(&channels[0], &channels[1]), alike);
	assert_int_equal(alike_are(&channels[1], &channels[0]), alike);
	assert_int_equal(alike_has_any(&pair->settings, &channels[0]), alike);
	assert_int_equal(alike_has_any(&pair->settings, &channels[1]), alike);
}

static void
those_of_a_role_oven_side_and_quantity_are_alike(void **state)
{
	struct pair pair;

	(void)state;
	pair_init(&pair);
	expect(&pair, true);
	pair.channels[1].role = ROLE_SURFACE_BOTTOM;
	expect(&pair, false);
	pair_init(&pair);
	pair.channels[1].oven = 1;
	expect(&pair, false);
	pair_init(&pair);
	pair.channels[1].side = 0;
	expect(&pair, false);
	pair_init(&pair);
	pair.channels[1].dimension = DIMENSION_NONE;
	expect(&pair, false);
}

static void
a_bit_is_like_nothing(void **state)
{
	struct pair pair;

	(void)state;
	pair_init(&pair);
	pair.channels[0].role = pair.channels[1].role = ROLE_OTHER;
	expect(&pair, true);
	pair.channels[0].encoding = ENCODING_BIT;
	expect(&pair, false);
	pair.channels[1].encoding = ENCODING_BIT;
	expect(&pair, false);
}

static void
nothing_is_like_itself_or_what_another_device_reads(void **state)
{
	struct pair pair;

	(void)state;
	pair_init(&pair);
	assert_false(alike_are(&pair.channels[0], &pair.channels[0]));
	assert_false(alike_are(&pair.channels[0], &pair.channels[2]));
	assert_false(alike_has_any(&pair.settings, &pair.channels[2]));
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(those_of_a_role_oven_side_and_quantity_are_alike),
	    cmocka_unit_test(a_bit_is_like_nothing),
	    cmocka_unit_test(nothing_is_like_itself_or_what_another_device_reads),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
