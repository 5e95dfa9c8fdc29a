/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Every reading gets into one interval of its line, and no interval is given out twice. */
#include "daemon/run/curves.h"

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
#include "daemon/publish/reading_pack.h"
#include "tests/unit/near.h"
#include "tests/unit/seed.h"

enum { LINES = 2, DEVICES = 3, CHANNELS = 6, GIVEN = 4096, PERIOD_S = 10 };

/* A whole multiple of the period. */
#define START_S INT64_C(1772427600)

/* What was given out. */
struct given {
	uint32_t line;
	int64_t end_s;
	size_t count;
	struct reading_channel channels[CHANNELS];
};

static struct line_settings lines[LINES];
static struct device_settings devices[DEVICES];
static struct channel_settings channels[CHANNELS];
static struct settings settings;
static struct curves *curves;
static struct given given[GIVEN];
static size_t given_count;

static void
take(void *arg, uint32_t line, struct wall end, const struct reading_channel *list,
    size_t count)
{
	struct given *one = &given[given_count++];

	assert_ptr_equal(arg, &settings);
	assert_true(given_count < GIVEN && count > 0 && count <= CHANNELS);
	assert_int_equal(end.ns % CLOCK_SECOND_NS, 0);
	*one = (struct given){line, end.ns / CLOCK_SECOND_NS, count, {{0}}};
	memcpy(one->channels, list, count * sizeof(*list));
}

/* Line 0 has the devices 0 and 1, line 1 device 2; each device two channels. */
static int
begin(void **state)
{
	(void)state;
	given_count = 0;
	for (uint32_t i = 0; i < DEVICES; i++) {
		devices[i] = (struct device_settings){
		    .line = i / 2, .first_channel = 2 * i, .channel_count = 2};
		snprintf(devices[i].name, SETTINGS_NAME, "device-%u", i);
	}
	for (uint32_t i = 0; i < CHANNELS; i++) {
		channels[i] = (struct channel_settings){
		    .device = i / 2, .role = i == 0 ? ROLE_ROTATING : ROLE_TOOL};
		snprintf(channels[i].name, SETTINGS_NAME, "channel_%u", i);
	}
	settings = (struct settings){.lines = lines,
	    .line_count = LINES,
	    .devices = devices,
	    .device_count = DEVICES,
	    .channels = channels,
	    .channel_count = CHANNELS};
	curves = curves_new(&settings, PERIOD_S, (struct curves_sink){take, &settings});
	return curves != NULL ? 0 : -1;
}

static int
end(void **state)
{
	(void)state;
	curves_free(curves);
	return 0;
}

/* One channel, NAN: without a value. */
static void
poll_one(uint32_t channel, double at_s, double value)
{
	struct scan *scan = calloc(1, scan_bytes(1));

	assert_non_null(scan);
	scan->device = channel / 2;
	scan->first = channel % 2;
	scan->count = 1;
	scan->wall.ns = START_S * CLOCK_SECOND_NS + (int64_t)(at_s * 1e9);
	scan->readings[0] = (struct reading){.value = value,
	    .quality = isnan(value) ? QUALITY_COMM_FAULT : QUALITY_GOOD};
	curves_scan(curves, scan);
	free(scan);
}

static void
pass(double at_s)
{
	curves_pass(
	    curves, (struct wall){START_S * CLOCK_SECOND_NS + (int64_t)(at_s * 1e9)});
}

static void
an_interval_has_mean_last_and_quality_of_each_channel(void **state)
{
	const struct reading_channel *bit = &given[0].channels[0],
				     *tool = &given[0].channels[1];

	(void)state;
	for (int i = 0; i < 10; i++) {
		poll_one(0, i, i < 3);
		poll_one(1, i, i % 5 == 4 ? (double)NAN : 20.0 + i);
		poll_one(2, i, NAN);
	}
	pass(10.9);
	assert_int_equal(given_count, 0);
	pass(11);
	assert_int_equal(given_count, 1);
	assert_int_equal(given[0].line, 0);
	assert_int_equal(given[0].end_s, START_S + PERIOD_S);
	assert_int_equal(given[0].count, 3); /* channel 3 was not polled */
	assert_string_equal(bit->device, "device-0");
	assert_string_equal(bit->channel, "channel_0");
	assert_string_equal(bit->role, "rotating");
	assert_near(bit->mean, 0.3, 1e-12); /* share of the time */
	assert_near(bit->last, 0, 0);
	assert_near(bit->quality, 1, 0);
	assert_near(tool->mean, 20 + (0 + 1 + 2 + 3 + 5 + 6 + 7 + 8) / 8.0, 1e-12);
	assert_near(tool->last, 28, 0); /* the last good one */
	assert_near(tool->quality, 0.8, 1e-12);
	assert_string_equal(given[0].channels[2].device, "device-1");
	assert_near(given[0].channels[2].quality, 0, 0);
	assert_true(isnan(given[0].channels[2].mean));
	assert_true(isnan(given[0].channels[2].last));
}

static void
what_was_not_read_is_no_poll(void **state)
{
	struct scan *scan = calloc(1, scan_bytes(2));

	(void)state;
	assert_non_null(scan);
	scan->wall.ns = START_S * CLOCK_SECOND_NS;
	scan->count = 2;
	scan->readings[0] = (struct reading){7, QUALITY_GOOD, 0};
	scan->readings[1] = (struct reading){NAN, QUALITY_STALE, 0};
	curves_scan(curves, scan);
	free(scan);
	pass(11);
	assert_int_equal(given[0].count, 1);
}

static void
intervals_lie_at_whole_multiples_of_their_length(void **state)
{
	(void)state;
	poll_one(0, 7.5, 1); /* begins in the midst of one */
	poll_one(0, 12, 2);
	poll_one(0, 19.999, 3);
	poll_one(0, 20, 4);
	pass(100);
	assert_int_equal(given_count, 3);
	for (size_t i = 0; i < given_count; i++)
		assert_int_equal(given[i].end_s, START_S + PERIOD_S * (int64_t)(i + 1));
	assert_near(given[1].channels[0].mean, 2.5, 1e-12);
	assert_near(given[2].channels[0].mean, 4, 0);
	/* an interval in which nobody was asked has no point */
	poll_one(0, 141, 5);
	pass(200);
	assert_int_equal(given_count, 4);
	assert_int_equal(given[3].end_s, START_S + 150);
}

static void
lines_have_intervals_of_their_own(void **state)
{
	(void)state;
	poll_one(0, 1, 1);
	poll_one(4, 1, 2);
	poll_one(0, 25, 1); /* of line 0 alone */
	assert_int_equal(given_count, 1);
	assert_int_equal(given[0].line, 0);
	pass(25);
	assert_int_equal(given_count, 2);
	assert_int_equal(given[1].line, 1);
	assert_string_equal(given[1].channels[0].channel, "channel_4");
}

/* Buses overtake each other by a little. */
static void
a_scan_that_is_overtaken_at_the_edge_still_counts(void **state)
{
	(void)state;
	poll_one(0, 9.9, 1);
	poll_one(2, 10.01, 5);
	pass(10.01);
	poll_one(0, 9.95, 2);
	pass(11.1);
	assert_int_equal(given_count, 1);
	assert_near(given[0].channels[0].mean, 1.5, 1e-12);
	assert_int_equal(curves_late(curves), 0);
	poll_one(0, 9.99, 3); /* too late */
	assert_int_equal(curves_late(curves), 1);
	pass(30);
	assert_int_equal(given_count, 2);
	assert_int_equal(given[1].count, 1);
}

static void
assert_no_interval_twice(void)
{
	for (size_t i = 0; i < given_count; i++)
		for (size_t k = 0; k < i; k++)
			assert_false(given[i].line == given[k].line &&
				     given[i].end_s == given[k].end_s);
}

static void
a_clock_set_back_a_little_gives_out_nothing_twice(void **state)
{
	(void)state;
	for (int i = 0; i < 35; i++) {
		poll_one(0, i, i);
		pass(i);
	}
	for (int i = 5; i < 60; i++) { /* by half a minute */
		poll_one(0, i, i);
		pass(i);
	}
	pass(70);
	assert_no_interval_twice();
	assert_int_equal(given_count, 6);
	assert_int_equal(curves_late(curves), 25);
}

static void
a_clock_set_back_far_begins_anew(void **state)
{
	(void)state;
	poll_one(0, 86400, 1);
	poll_one(0, 86401, 2);
	poll_one(0, 0, 3);
	assert_int_equal(given_count, 1); /* what was begun */
	assert_int_equal(given[0].end_s, START_S + 86410);
	assert_near(given[0].channels[0].mean, 1.5, 1e-12);
	poll_one(0, 1, 4);
	pass(11);
	assert_int_equal(given_count, 2);
	assert_int_equal(given[1].end_s, START_S + 10);
	assert_near(given[1].channels[0].mean, 3.5, 1e-12);
}

static void
a_clock_set_forward_leaves_a_hole(void **state)
{
	(void)state;
	poll_one(0, 1, 1);
	poll_one(0, 1e6, 2); /* no interval for each that was skipped */
	pass(1e6 + 11);
	assert_int_equal(given_count, 2);
	assert_int_equal(given[1].end_s, START_S + 1000010);
	/* and one set forward while nothing is polled */
	pass(2e6);
	poll_one(0, 2e6 - 300, 3);
	assert_int_equal(curves_late(curves), 1);
	assert_int_equal(given_count, 2);
}

static void
a_length_is_whole_seconds_and_one_at_least(void **state)
{
	static const struct {
		double told_s;
		int64_t s;
	} rows[] = {{0.2, 1}, {1, 1}, {9.6, 10}, {3600, 3600}};

	(void)state;
	for (size_t i = 0; i < sizeof(rows) / sizeof(rows[0]); i++) {
		struct curves *one = curves_new(
		    &settings, rows[i].told_s, (struct curves_sink){take, &settings});

		assert_non_null(one);
		assert_int_equal(curves_period_s(one), rows[i].s);
		curves_free(one);
	}
}

/* What the given intervals should hold, reckoned otherwise. */
static struct {
	double sum;
	long polls;
} wanted[CHANNELS][GIVEN];

static void
assert_wanted(const struct given *one)
{
	for (size_t k = 0; k < one->count; k++) {
		const struct reading_channel *channel = &one->channels[k];
		int number = atoi(strrchr(channel->channel, '_') + 1);
		int64_t interval = (one->end_s - START_S) / PERIOD_S - 1;

		assert_true(interval >= 0 && wanted[number][interval].polls > 0);
		assert_near(channel->mean,
		    wanted[number][interval].sum /
			(double)wanted[number][interval].polls,
		    1e-9);
		wanted[number][interval].polls = 0; /* not again */
	}
}

/* Any polls of any devices, each up to a second behind the others. */
static void
every_reading_is_in_one_interval(void **state)
{
	unsigned seed = seed_take(20260302);
	double time_s = 0;

	(void)state;
	for (int i = 0; i < 20000; i++) {
		uint32_t channel = (uint32_t)(rand_r(&seed) % CHANNELS);
		double at_s = time_s + 1e-3 * (rand_r(&seed) % 1000);
		double value = rand_r(&seed) % 100;

		wanted[channel][(int)(at_s / PERIOD_S)].sum += value;
		wanted[channel][(int)(at_s / PERIOD_S)].polls++;
		poll_one(channel, at_s, value);
		pass(time_s + 1);
		time_s += rand_r(&seed) % 100 == 0 ? rand_r(&seed) % 40 : 0.05;
	}
	pass(time_s + 20);
	assert_int_equal(curves_late(curves), 0);
	for (size_t i = 0; i < given_count; i++)
		assert_wanted(&given[i]);
	for (int k = 0; k < CHANNELS; k++)
		for (int i = 0; i < GIVEN; i++)
			assert_int_equal(wanted[k][i].polls, 0);
}

#define CURVES(f) cmocka_unit_test_setup_teardown(f, begin, end)

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    CURVES(an_interval_has_mean_last_and_quality_of_each_channel),
	    CURVES(what_was_not_read_is_no_poll),
	    CURVES(intervals_lie_at_whole_multiples_of_their_length),
	    CURVES(lines_have_intervals_of_their_own),
	    CURVES(a_scan_that_is_overtaken_at_the_edge_still_counts),
	    CURVES(a_clock_set_back_a_little_gives_out_nothing_twice),
	    CURVES(a_clock_set_back_far_begins_anew),
	    CURVES(a_clock_set_forward_leaves_a_hole),
	    CURVES(a_length_is_whole_seconds_and_one_at_least),
	    CURVES(every_reading_is_in_one_interval),
	};

	return cmocka_run_group_tests_name("curves", tests, NULL, NULL);
}
