/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "cli/population/sensors.h"

static struct settings *then, *now;

static struct settings *
load(const char *path)
{
	static struct problems problems;
	struct settings *settings = settings_load(path, &problems);

	assert_non_null(settings);
	return settings;
}

static int
load_both(void **state)
{
	(void)state;
	then = load("conf/demo.ini");
	now = load("conf/demo.ini");
	return 0;
}

static int
free_both(void **state)
{
	(void)state;
	settings_free(then);
	settings_free(now);
	return 0;
}

static struct channel_settings *
find(struct settings *settings, enum role role, int position)
{
	for (size_t i = 0; i < settings->channel_count; i++)
		if (settings->channels[i].role == role &&
		    settings->channels[i].position == position)
			return &settings->channels[i];
	fail_msg("no channel of role %s", role_text(role));
	return NULL;
}

static char words[SENSORS_WORDS];

static bool
same(int feature)
{
	const struct sensors_of a = {then, 0, ""}, b = {now, 0, ""};

	return sensors_same(&a, &b, feature, words);
}

static void
the_same_set_up_has_the_same_sensors(void **state)
{
	(void)state;
	for (int id = 0; id < FEATURE_COUNT; id++) {
		assert_true(same(id));
		assert_string_equal(words, "");
	}
}

static void
another_register_changes_what_rests_on_it_alone(void **state)
{
	struct channel_settings *channel = find(now, ROLE_SURFACE_TOP, 2);
	uint16_t was = channel->address;
	char wanted[80];

	(void)state;
	channel->address = 77;
	assert_false(same(FEATURE_EXIT_TOP_C));
	assert_false(same(FEATURE_EXIT_TOP_FIRST + 1));
	assert_false(same(FEATURE_RATE_TOP));
	assert_false(same(FEATURE_CORE_HEAT_END_C));
	snprintf(wanted, sizeof wanted, " %u, ", was);
	assert_non_null(strstr(words, wanted));
	assert_non_null(strstr(words, "surface_top 2 was '"));
	assert_non_null(strstr(words, " 77, "));
	assert_true(same(FEATURE_EXIT_TOP_FIRST));
	assert_true(same(FEATURE_EXIT_BOTTOM_C));
	assert_true(same(FEATURE_CYCLE_S));
	assert_true(same(FEATURE_TOOL_MEAN_C));
}

static void
a_scale_and_an_offset_are_part_of_a_sensor(void **state)
{
	(void)state;
	find(now, ROLE_TOOL, 3)->offset += 0.5;
	assert_false(same(FEATURE_TOOL_MEAN_FIRST + 2));
	assert_non_null(strstr(words, "plus 0.5"));
	assert_false(same(FEATURE_TOOL_SPREAD_MEAN_DC));
	assert_true(same(FEATURE_TOOL_MEAN_FIRST + 1));
}

static void
a_sensor_more_and_one_less_are_told(void **state)
{
	(void)state;
	find(now, ROLE_SURFACE_BOTTOM, 1)->role = ROLE_OTHER;
	assert_false(same(FEATURE_EXIT_BOTTOM_C));
	assert_non_null(strstr(words, "is 'not there'"));
	find(then, ROLE_SURFACE_BOTTOM, 1)->role = ROLE_OTHER;
	assert_true(same(FEATURE_EXIT_BOTTOM_C));
	find(then, ROLE_SURFACE_BOTTOM, 2)->role = ROLE_OTHER;
	assert_false(same(FEATURE_EXIT_BOTTOM_C));
	assert_non_null(strstr(words, "was 'not there'"));
}

static void
several_changes_are_counted(void **state)
{
	(void)state;
	find(now, ROLE_ZONE_TOP, 1)->rated_w = 999;
	find(now, ROLE_ZONE_TOP, 2)->rated_w = 999;
	find(now, ROLE_ZONE_BOTTOM, 1)->rated_w = 999;
	assert_false(same(FEATURE_ENERGY_KWH));
	assert_non_null(strstr(words, ", and 2 more"));
	assert_true(same(FEATURE_METER_KWH));
}

static void
an_edge_counts_for_times_alone(void **state)
{
	(void)state;
	find(now, ROLE_FORM_CLOSED, 0)->inverted = true;
	assert_false(same(FEATURE_CYCLE_S));
	assert_false(same(FEATURE_TRANSFER_S));
	assert_non_null(strstr(words, "inverted"));
	assert_true(same(FEATURE_TOOL_MEAN_C));
	assert_true(same(FEATURE_HEAT_S));
}

static void
settings_of_the_line_count_where_they_are_used(void **state)
{
	(void)state;
	now->lines[0].rate_to_s += 5;
	assert_false(same(FEATURE_RATE_TOP));
	assert_non_null(strstr(words, "rate_to_s"));
	assert_true(same(FEATURE_EXIT_TOP_C));
	now->lines[0].pyrometer_lag_s += 1;
	assert_false(same(FEATURE_CORE_HEAT_END_C));
	assert_true(same(FEATURE_EXIT_TOP_C));
}

static void
a_device_may_have_moved_in_the_network(void **state)
{
	(void)state;
	snprintf(now->buses[0].host, sizeof now->buses[0].host, "10.1.2.3");
	for (int id = 0; id < FEATURE_COUNT; id++)
		assert_true(same(id));
}

#define with_both(test) cmocka_unit_test_setup_teardown(test, load_both, free_both)

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    with_both(the_same_set_up_has_the_same_sensors),
	    with_both(another_register_changes_what_rests_on_it_alone),
	    with_both(a_scale_and_an_offset_are_part_of_a_sensor),
	    with_both(a_sensor_more_and_one_less_are_told),
	    with_both(several_changes_are_counted),
	    with_both(an_edge_counts_for_times_alone),
	    with_both(settings_of_the_line_count_where_they_are_used),
	    with_both(a_device_may_have_moved_in_the_network),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
