/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "conf/groups.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>
#include <cmocka.h>

#include "conf/settings.h"
#include "tests/unit/near.h"
#include "tests/unit/seed.h"

enum { CHANNELS = 40, BEFORE = 3 };

/* A device whose channels stand behind those of another. */
struct bench {
	struct device_settings device;
	struct channel_settings channels[CHANNELS + BEFORE];
};

/* Channels named by their place, with periods of `periods` whole seconds at most, 0 being
 * the device's, and some read as a heat begins. */
static void
draw(struct bench *bench, uint32_t count, unsigned periods, unsigned *seed)
{
	memset(bench, 0, sizeof *bench);
	bench->device.period_s = 2;
	bench->device.first_channel = BEFORE;
	bench->device.channel_count = count;
	for (uint32_t i = 0; i < count; i++) {
		struct channel_settings *channel = &bench->channels[BEFORE + i];

		snprintf(channel->name, sizeof channel->name, "%u", i);
		channel->period_s = (double)((unsigned)rand_r(seed) % (periods + 1));
		channel->at_heat = rand_r(seed) % 4 == 0;
	}
}

static void
each_channel_is_in_the_group_of_its_period(void **state)
{
	unsigned seed = seed_take((unsigned)getpid());
	struct bench bench;

	(void)state;
	for (int round = 0; round < 1000; round++) {
		uint32_t next = 0;

		draw(&bench, (uint32_t)rand_r(&seed) % (CHANNELS + 1), 4, &seed);
		assert_true(groups_make(&bench.device, bench.channels));
		for (int g = 0; g < bench.device.group_count; g++) {
			const struct group_settings *group = &bench.device.groups[g];
			const struct channel_settings *own =
			    &bench.channels[BEFORE + group->first];

			assert_int_equal(group->first, next);
			assert_true(group->count > 0);
			next += group->count;
			for (uint32_t i = 0; i < group->count; i++) {
				assert_near(own[i].period_s, group->period_s, 0);
				assert_int_equal(own[i].at_heat, group->at_heat);
				/* in order otherwise */
				assert_true(i == 0 ||
					    atoi(own[i - 1].name) < atoi(own[i].name));
			}
			if (g == 0)
				continue;
			assert_true(group[-1].at_heat == group->at_heat
					? group[-1].period_s < group->period_s
					: group->at_heat);
		}
		assert_int_equal(next, bench.device.channel_count);
		assert_string_equal(bench.channels[0].name, "");
	}
}

static void
a_channel_that_tells_no_period_has_the_devices(void **state)
{
	struct bench bench;
	unsigned seed = 1;

	(void)state;
	draw(&bench, 1, 0, &seed);
	assert_true(groups_make(&bench.device, bench.channels));
	assert_near(bench.channels[BEFORE].period_s, 2, 0);
	assert_int_equal(bench.device.group_count, 1);
	assert_near(bench.device.groups[0].period_s, 2, 0);
}

static void
more_periods_than_there_is_room_for_are_told(void **state)
{
	struct bench bench;
	unsigned seed = 1;

	(void)state;
	for (uint32_t count = 1; count <= SETTINGS_GROUPS + 1; count++) {
		draw(&bench, count, 0, &seed);
		for (uint32_t i = 0; i < count; i++) {
			bench.channels[BEFORE + i].period_s = 100 - i;
			bench.channels[BEFORE + i].at_heat = false;
		}
		assert_int_equal(groups_make(&bench.device, bench.channels),
		    count <= SETTINGS_GROUPS);
		assert_int_equal(bench.device.group_count,
		    count <= SETTINGS_GROUPS ? count : SETTINGS_GROUPS);
	}
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(each_channel_is_in_the_group_of_its_period),
	    cmocka_unit_test(a_channel_that_tells_no_period_has_the_devices),
	    cmocka_unit_test(more_periods_than_there_is_room_for_are_told),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
