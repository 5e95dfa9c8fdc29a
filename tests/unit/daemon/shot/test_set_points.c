/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "conf/groups.h"
#include "conf/settings.h"
#include "daemon/base/scan.h"
#include "daemon/shot/edge.h"
#include "daemon/shot/freeze.h"
#include "daemon/shot/roles.h"
#include "daemon/shot/set_points.h"

enum { ZONES = 24, CHANNELS = ZONES + 2 };

/* One device: 24 zone set points in tenths of a percent, one as a float, one a bit. */
struct bench {
	struct settings settings;
	struct line_settings line;
	struct device_settings device;
	struct channel_settings channels[CHANNELS];
	struct roles roles;
	struct set_points *points;
	double values[CHANNELS];
	enum quality quality[CHANNELS];
	char text[SET_POINTS_TEXT];
};

static void
bench_start(struct bench *bench)
{
	bench->points = set_points_new(&bench->settings, &bench->roles);
	assert_non_null(bench->points);
}

static void
bench_init(struct bench *bench)
{
	memset(bench, 0, sizeof(*bench));
	bench->line.side_count = 1;
	bench->line.oven_count = 1;
	bench->device.period_s = 2.0;
	bench->device.channel_count = CHANNELS;
	for (int i = 0; i < CHANNELS; i++) {
		struct channel_settings *channel = &bench->channels[i];

		snprintf(channel->name, sizeof(channel->name), "zone_set_%d", i + 1);
		channel->role = ROLE_SET_POINT;
		channel->side = -1;
		channel->encoding = ENCODING_UINT16;
		channel->scale = 0.1;
		channel->unit = UNIT_PERCENT;
		channel->dimension = DIMENSION_RATIO;
		bench->values[i] = 0.45;
	}
	bench->channels[ZONES].encoding = ENCODING_FLOAT32;
	bench->channels[ZONES].scale = 1.0;
	bench->channels[ZONES].unit = UNIT_CELSIUS;
	bench->channels[ZONES].dimension = DIMENSION_TEMPERATURE;
	bench->values[ZONES] = 390.25;
	bench->channels[ZONES + 1].encoding = ENCODING_BIT;
	bench->channels[ZONES + 1].scale = 1.0;
	bench->channels[ZONES + 1].unit = UNIT_ONE;
	bench->channels[ZONES + 1].dimension = DIMENSION_NONE;
	bench->values[ZONES + 1] = 0.0;
	bench->settings.lines = &bench->line;
	bench->settings.line_count = 1;
	bench->settings.devices = &bench->device;
	bench->settings.device_count = 1;
	bench->settings.channels = bench->channels;
	bench->settings.channel_count = CHANNELS;
	assert_true(groups_make(&bench->device, bench->channels));
	assert_int_equal(roles_init(&bench->roles, &bench->settings, 0, 0), 0);
	bench_start(bench);
}

static void
bench_release(struct bench *bench)
{
	set_points_free(bench->points);
	roles_release(&bench->roles);
}

static struct mono
at(double seconds)
{
	return (struct mono){(int64_t)(seconds * 1e9)};
}

static void
scan_slowly(struct bench *bench, double sent_s, double at_s)
{
	struct scan *taken = calloc(1, scan_bytes(CHANNELS));

	taken->sent = at(sent_s);
	taken->at = at(at_s);
	taken->count = CHANNELS;
	for (int i = 0; i < CHANNELS; i++) {
		taken->readings[i].quality = bench->quality[i];
		taken->readings[i].value =
		    bench->quality[i] == QUALITY_GOOD ? bench->values[i] : NAN;
	}
	set_points_scan(bench->points, taken);
	free(taken);
}

static void
scan(struct bench *bench, double seconds)
{
	scan_slowly(bench, seconds, seconds);
}

/* A poll, and a heat that begins a second later; the event's text is in bench->text. */
static uint64_t
begin(struct bench *bench, double seconds, int recipe)
{
	struct edge edge = {
	    .known = true, .before = at(seconds - 0.5), .at = at(seconds)};
	struct set_points_told told;

	assert_true(set_points_begin(bench->points, &edge, recipe, &told));
	assert_true(told.began.ns == edge.at.ns);
	memcpy(bench->text, told.text, sizeof(bench->text));
	return told.hash;
}

static uint64_t
heat(struct bench *bench, double seconds, int recipe)
{
	scan(bench, seconds);
	return begin(bench, seconds + 1.0, recipe);
}

static void
the_same_values_have_the_same_hash(void **state)
{
	struct bench bench;
	uint64_t first, second;

	(void)state;
	bench_init(&bench);
	first = heat(&bench, 0.0, 7);
	assert_int_not_equal(first, 0);
	assert_string_equal(bench.text, "");
	assert_true(heat(&bench, 100.0, 7) == first);
	assert_string_equal(bench.text, "");
	bench.values[3] = 0.46;
	bench.values[4] = 0.44;
	second = heat(&bench, 200.0, 7);
	assert_true(second != first);
	bench.values[3] = 0.44;
	bench.values[4] = 0.46; /* the other way round is something else */
	assert_true(heat(&bench, 300.0, 7) != second);
	bench.values[3] = bench.values[4] = 0.45;
	assert_true(heat(&bench, 400.0, 7) == first);
	bench_release(&bench);
}

static void
a_change_is_told_in_the_units_of_the_machine(void **state)
{
	struct bench bench;

	(void)state;
	bench_init(&bench);
	heat(&bench, 0.0, 7);
	bench.values[2] = 0.47;
	bench.values[ZONES] = 391.5;
	bench.values[ZONES + 1] = 1.0;
	heat(&bench, 100.0, 7);
	assert_string_equal(bench.text,
	    "zone_set_3 45.0 -> 47.0 %, zone_set_25 390.25 -> 391.5 C, "
	    "zone_set_26 0 -> 1");
	bench_release(&bench);
}

static void
what_does_not_fit_is_counted(void **state)
{
	struct bench bench;

	(void)state;
	bench_init(&bench);
	heat(&bench, 0.0, 7);
	for (int i = 0; i < ZONES; i++)
		bench.values[i] = 0.5;
	heat(&bench, 100.0, 7);
	assert_string_equal(bench.text,
	    "zone_set_1 45.0 -> 50.0 %, zone_set_2 45.0 -> 50.0 %, "
	    "zone_set_3 45.0 -> 50.0 %, zone_set_4 45.0 -> 50.0 %, "
	    "zone_set_5 45.0 -> 50.0 %, and 19 more");
	assert_true(strlen(bench.text) < SET_POINTS_TEXT);
	bench_release(&bench);
}

static void
names_that_are_long_are_counted_and_not_cut(void **state)
{
	struct bench bench;

	(void)state;
	bench_init(&bench);
	for (int i = 0; i < ZONES; i++)
		memset(bench.channels[i].name, 'z', SETTINGS_NAME - 1);
	heat(&bench, 0.0, 7);
	for (int i = 0; i < ZONES; i++)
		bench.values[i] = 0.5;
	heat(&bench, 100.0, 7);
	assert_non_null(strstr(bench.text, " %, and 22 more"));
	bench_release(&bench);
}

static void
another_recipe_brings_its_own_set_points(void **state)
{
	struct bench bench;

	(void)state;
	bench_init(&bench);
	heat(&bench, 0.0, 7);
	bench.values[2] = 0.6;
	heat(&bench, 100.0, 8);
	assert_string_equal(bench.text, "");
	bench.values[2] = 0.61;
	heat(&bench, 200.0, 8);
	assert_string_equal(bench.text, "zone_set_3 60.0 -> 61.0 %");
	bench_release(&bench);
}

static void
one_that_is_not_known_leaves_no_hash(void **state)
{
	struct bench bench;
	uint64_t first;

	(void)state;
	bench_init(&bench);
	bench.quality[5] = QUALITY_SENSOR_FAULT;
	assert_int_equal(heat(&bench, 0.0, 7), 0);
	bench.quality[5] = QUALITY_GOOD;
	first = heat(&bench, 100.0, 7);
	assert_int_not_equal(first, 0);
	/* Unread for longer than 8 s, four polls. */
	assert_true(begin(&bench, 107.9, 7) == first);
	assert_int_equal(begin(&bench, 108.1, 7), 0);
	/* A change meanwhile is seen at the next heat whose values are known. */
	bench.values[2] = 0.47;
	heat(&bench, 300.0, 7);
	assert_string_equal(bench.text, "zone_set_3 45.0 -> 47.0 %");
	bench_release(&bench);
}

static void
a_line_without_set_points_has_no_hash(void **state)
{
	struct bench bench;

	(void)state;
	bench_init(&bench);
	set_points_free(bench.points);
	bench.roles.set_point_count = 0;
	bench_start(&bench);
	assert_int_equal(heat(&bench, 0.0, 7), 0);
	assert_string_equal(bench.text, "");
	bench_release(&bench);
}

static void
a_change_over_a_restart_is_told(void **state)
{
	unsigned char bytes[1024];
	struct freeze freeze = freeze_into(bytes, sizeof(bytes));
	struct bench bench;

	(void)state;
	bench_init(&bench);
	heat(&bench, 0.0, 7);
	set_points_freeze(bench.points, &freeze);
	assert_false(freeze.failed);
	set_points_free(bench.points);
	bench_start(&bench);
	freeze = freeze_from(bytes, freeze.length);
	set_points_freeze(bench.points, &freeze);
	assert_false(freeze.failed);
	assert_int_equal(freeze.length, freeze.room);
	bench.values[2] = 0.47;
	heat(&bench, 50.0, 7);
	assert_string_equal(bench.text, "zone_set_3 45.0 -> 47.0 %");
	bench_release(&bench);
}

static void
set_points_of_other_channels_are_not_taken_up(void **state)
{
	unsigned char bytes[1024];
	struct freeze freeze = freeze_into(bytes, sizeof(bytes));
	struct bench bench;
	size_t length;

	(void)state;
	bench_init(&bench);
	heat(&bench, 0.0, 7);
	set_points_freeze(bench.points, &freeze);
	length = freeze.length;
	set_points_free(bench.points);
	bench.channels[4].name[0] = 'x';
	bench_start(&bench);
	freeze = freeze_from(bytes, length);
	set_points_freeze(bench.points, &freeze);
	assert_false(freeze.failed);
	assert_int_equal(freeze.length, length); /* what follows is read all the same */
	bench.values[2] = 0.47;
	heat(&bench, 50.0, 7);
	assert_string_equal(bench.text, "");
	/* Cut off anywhere it fails and tells nothing. */
	for (size_t cut = 0; cut < length; cut += 5) {
		set_points_free(bench.points);
		bench_start(&bench);
		freeze = freeze_from(bytes, cut);
		set_points_freeze(bench.points, &freeze);
		assert_true(freeze.failed);
		heat(&bench, 50.0, 7);
		assert_string_equal(bench.text, "");
	}
	bench_release(&bench);
}

/* --- those that are read as a heat begins --------------------------------------------- */

/* All but the last, which is polled every 2 s; the others every 60 s besides. */
static void
read_at_heat(struct bench *bench)
{
	for (int i = 0; i < CHANNELS - 1; i++) {
		bench->channels[i].at_heat = true;
		bench->channels[i].period_s = 60.0;
	}
}

/* False: awaited. */
static bool
begins(struct bench *bench, double seconds, struct set_points_told *told)
{
	struct edge edge = {
	    .known = true, .before = at(seconds - 0.5), .at = at(seconds)};

	return set_points_begin(bench->points, &edge, 7, told);
}

/* The answer to what was asked as the heat began at `seconds` comes at once. */
static struct set_points_told
told_of(struct bench *bench, double seconds)
{
	struct set_points_told told;

	scan(bench, seconds - 1.0);
	assert_false(begins(bench, seconds, &told));
	assert_false(set_points_look(bench->points, at(seconds), &told));
	scan(bench, seconds + 0.5);
	assert_true(set_points_look(bench->points, at(seconds + 0.5), &told));
	assert_true(told.began.ns == at(seconds).ns);
	return told;
}

static void
what_was_asked_before_the_heat_says_nothing_of_it(void **state)
{
	struct set_points_told told;
	struct bench bench;
	uint64_t first;

	(void)state;
	bench_init(&bench);
	read_at_heat(&bench);
	first = told_of(&bench, 10.0).hash;
	assert_int_not_equal(first, 0);
	/* Asked before the next heat and answered within it; changed between. */
	scan(&bench, 99.0);
	assert_false(begins(&bench, 100.0, &told));
	scan_slowly(&bench, 99.9, 100.4);
	assert_false(set_points_look(bench.points, at(100.4), &told));
	bench.values[2] = 0.47;
	scan_slowly(&bench, 100.0, 100.5);
	assert_true(set_points_look(bench.points, at(100.5), &told));
	assert_true(told.hash != first);
	assert_string_equal(told.text, "zone_set_3 45.0 -> 47.0 %");
	bench_release(&bench);
}

/* The edge was debounced, and the answer came meanwhile. */
static void
what_was_asked_while_the_edge_was_debounced_counts(void **state)
{
	struct set_points_told told;
	struct bench bench;

	(void)state;
	bench_init(&bench);
	read_at_heat(&bench);
	scan_slowly(&bench, 99.9, 100.4);
	assert_false(begins(&bench, 100.0, &told));
	scan_slowly(&bench, 200.0, 200.4);
	assert_true(begins(&bench, 200.0, &told));
	assert_int_not_equal(told.hash, 0);
	bench_release(&bench);
}

/* Whatever had been read before may have been changed: by the heat's end nobody knows. */
static void
one_that_does_not_answer_as_a_heat_begins_is_not_known(void **state)
{
	struct set_points_told told;
	struct bench bench;
	uint64_t first;

	(void)state;
	bench_init(&bench);
	read_at_heat(&bench);
	first = told_of(&bench, 10.0).hash;
	scan(&bench, 99.0);
	bench.values[2] = 0.47;
	bench.quality[2] = QUALITY_COMM_FAULT;
	assert_false(begins(&bench, 100.0, &told));
	scan(&bench, 100.5);
	assert_false(set_points_look(bench.points, at(100.5), &told));
	assert_false(set_points_look(bench.points, at(105.5), &told));
	assert_true(set_points_look(bench.points, at(105.6), &told));
	assert_int_equal(told.hash, 0);
	assert_string_equal(told.text, "");
	/* The next heat that knows tells the change. */
	bench.quality[2] = QUALITY_GOOD;
	told = told_of(&bench, 200.0);
	assert_true(told.hash != 0 && told.hash != first);
	assert_string_equal(told.text, "zone_set_3 45.0 -> 47.0 %");
	/* The one that is polled keeps its rule: read up to four polls ago it counts. */
	scan(&bench, 293.0);
	bench.quality[CHANNELS - 1] = QUALITY_STALE;
	assert_false(begins(&bench, 300.0, &told));
	scan(&bench, 300.5);
	assert_true(set_points_look(bench.points, at(300.5), &told));
	assert_int_not_equal(told.hash, 0);
	assert_false(begins(&bench, 400.0, &told));
	scan(&bench, 400.5);
	assert_true(set_points_look(bench.points, at(400.5), &told));
	assert_int_equal(told.hash, 0);
	bench_release(&bench);
}

/* What is awaited of one heat is given up with the next. */
static void
the_next_heat_ends_the_waiting(void **state)
{
	struct set_points_told told;
	struct bench bench;

	(void)state;
	bench_init(&bench);
	read_at_heat(&bench);
	bench.quality[2] = QUALITY_COMM_FAULT;
	assert_false(begins(&bench, 100.0, &told));
	assert_false(set_points_look(bench.points, at(100.0), &told));
	scan(&bench, 103.0);
	bench.quality[2] = QUALITY_GOOD;
	assert_false(begins(&bench, 104.0, &told));
	assert_false(set_points_look(bench.points, at(106.0), &told));
	scan(&bench, 106.5);
	assert_true(set_points_look(bench.points, at(106.5), &told));
	assert_true(told.began.ns == at(104.0).ns);
	assert_int_not_equal(told.hash, 0);
	bench_release(&bench);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(the_same_values_have_the_same_hash),
	    cmocka_unit_test(a_change_is_told_in_the_units_of_the_machine),
	    cmocka_unit_test(what_does_not_fit_is_counted),
	    cmocka_unit_test(names_that_are_long_are_counted_and_not_cut),
	    cmocka_unit_test(another_recipe_brings_its_own_set_points),
	    cmocka_unit_test(one_that_is_not_known_leaves_no_hash),
	    cmocka_unit_test(a_line_without_set_points_has_no_hash),
	    cmocka_unit_test(a_change_over_a_restart_is_told),
	    cmocka_unit_test(set_points_of_other_channels_are_not_taken_up),
	    cmocka_unit_test(what_was_asked_before_the_heat_says_nothing_of_it),
	    cmocka_unit_test(what_was_asked_while_the_edge_was_debounced_counts),
	    cmocka_unit_test(one_that_does_not_answer_as_a_heat_begins_is_not_known),
	    cmocka_unit_test(the_next_heat_ends_the_waiting),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
