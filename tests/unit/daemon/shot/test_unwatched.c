/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Bits that nobody heard of for a while, each by itself: what they would have told is in
 * doubt, whatever the others say.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "conf/settings.h"
#include "daemon/base/scan.h"
#include "daemon/shot/shot.h"
#include "daemon/shot/tracker.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define HEAD "[site]\nname = t\ntimezone = UTC\n[ledger]\npath = /tmp/none.db\n"
#define BIT(device, role, address)                                           \
	"[channel " device "." role "]\nrole = " role "\ntable = discrete\n" \
	"type = bit\naddress = " address "\n"
#define SIDED(device, role, side, address)                                      \
	"[channel " device "." role "_" side "]\nrole = " role "\nside = " side \
	"\ntable = discrete\ntype = bit\naddress = " address "\n"

/* The oven on one device, clamp and platens on another. */
static const char shuttle_ini[] = HEAD
    "[line s]\nmachine = shuttle\nstations = load, oven, form\nheat_timer_s = 600\n"
    "startup_shots = 0\n"
    "[device oven]\nline = s\naddress = 127.0.0.1:1502\nperiod_ms = 500\n"
    "[device press]\nline = s\naddress = 127.0.0.1:1503\nperiod_ms = 500\n" BIT(
	"oven", "oven_in", "0") BIT("press", "clamp_closed", "0")
	BIT("press", "form_closed", "1");
/* Two sides that share oven and platens. */
static const char sides_ini[] = HEAD
    "[line s]\nmachine = shuttle\nstations = load, oven, form\nsides = left, right\n"
    "heat_timer_s = 600\nstartup_shots = 0\nform_limit_s = 600\n"
    "[device plc]\nline = s\naddress = 127.0.0.1:1502\nperiod_ms = 500\n" SIDED(
	"plc", "oven_in", "left", "0") SIDED("plc", "oven_in", "right", "1")
	SIDED("plc", "clamp_closed", "left", "2")
	    SIDED("plc", "clamp_closed", "right", "3") BIT("plc", "form_closed", "4");

enum { OVEN, PRESS, DEVICES, LEVELS = 5, SHOTS = 32 };
enum { OVEN_IN = 0, CLAMP = 0, FORM = 1 }; /* on their devices */
enum { LEFT_IN, RIGHT_IN, LEFT_CLAMP, RIGHT_CLAMP, COMMON_FORM };

struct machine_played {
	struct settings *settings;
	struct tracker *tracker;
	int64_t now_ms;
	bool level[DEVICES][LEVELS], silent[DEVICES];
	size_t count;
	struct shot *shots[SHOTS];
};

static void
take(void *arg, struct shot *shot)
{
	struct machine_played *played = arg;

	assert_true(played->count < SHOTS);
	played->shots[played->count++] = shot;
}

static void
end(struct machine_played *played)
{
	for (size_t i = 0; i < played->count; i++)
		shot_free(played->shots[i]);
	tracker_free(played->tracker);
	settings_free(played->settings);
}

static void
poll_device(struct machine_played *played, uint32_t device)
{
	uint32_t count = played->settings->devices[device].channel_count;
	struct scan *scan = calloc(1, scan_bytes(count));

	scan->device = device;
	scan->count = count;
	scan->sent.ns = scan->at.ns = played->now_ms * 1000000;
	scan->wall.ns = scan->at.ns + INT64_C(1700000000000000000);
	for (uint32_t i = 0; i < count; i++)
		scan->readings[i] =
		    played->silent[device]
			? (struct reading){NAN, QUALITY_COMM_FAULT, 0}
			: (struct reading){played->level[device][i], QUALITY_GOOD, 0};
	tracker_scan(played->tracker, scan);
	free(scan);
}

static void
run(struct machine_played *played, int seconds)
{
	for (int i = 0; i < 2 * seconds; i++) {
		played->now_ms += 500;
		for (uint32_t d = 0; d < played->settings->device_count; d++)
			poll_device(played, d);
	}
}

static void
begin(struct machine_played *played, const char *ini)
{
	static struct problems problems;

	*played = (struct machine_played){.now_ms = 1000000};
	played->settings = settings_parse(ini, "played.ini", &problems);
	if (played->settings == NULL)
		fprintf(stderr, "%s\n", problems.list[0].text);
	assert_non_null(played->settings);
	played->tracker = tracker_new(played->settings, 0, (struct tracker_start){0},
	    (struct tracker_sink){.shot = take, .arg = played});
	run(played, 2); /* nothing stands in the machine */
}

/* Sets a level, and lets time pass. */
static void
set(struct machine_played *played, int device, int bit, bool level, int seconds)
{
	played->level[device][bit] = level;
	run(played, seconds);
}

static void
shuttle_heats(struct machine_played *played)
{
	set(played, PRESS, CLAMP, true, 10);
	set(played, OVEN, OVEN_IN, true, 100);
	set(played, OVEN, OVEN_IN, false, 6);
}

static void
shuttle_forms(struct machine_played *played)
{
	set(played, PRESS, FORM, true, 60);
	set(played, PRESS, FORM, false, 10);
	set(played, PRESS, CLAMP, false, 10);
}

static const struct shot *
last_shot(struct machine_played *played)
{
	run(played, 10);
	assert_true(played->count > 0);
	return played->shots[played->count - 1];
}

static void
a_sheet_swapped_while_the_clamp_was_not_watched_is_not_one_heated_twice(void **state)
{
	struct machine_played played;

	(void)state;
	begin(&played, shuttle_ini);
	shuttle_heats(&played);
	shuttle_forms(&played);
	assert_int_equal(last_shot(&played)->outcome, SHOT_COMPLETE);
	shuttle_heats(&played);
	played.silent[PRESS] = true;
	shuttle_forms(&played);
	set(&played, PRESS, CLAMP, true, 10);
	played.silent[PRESS] = false;
	set(&played, OVEN, OVEN_IN, true, 100);
	set(&played, OVEN, OVEN_IN, false, 6);
	shuttle_forms(&played);
	assert_int_equal(last_shot(&played)->outcome, SHOT_PARTIAL);
	assert_true(last_shot(&played)->flags & SHOT_FLAG_GAP);
	end(&played);
}

static void
a_sheet_that_was_formed_while_nobody_watched_the_platens_is_not_aborted(void **state)
{
	struct machine_played played;

	(void)state;
	begin(&played, shuttle_ini);
	shuttle_heats(&played);
	shuttle_forms(&played);
	shuttle_heats(&played);
	played.silent[PRESS] = true;
	set(&played, PRESS, FORM, true, 60);
	set(&played, PRESS, FORM, false, 10);
	played.silent[PRESS] = false;
	run(&played, 5);
	set(&played, PRESS, CLAMP, false, 10);
	assert_int_equal(last_shot(&played)->outcome, SHOT_PARTIAL);
	end(&played);
}

static void
a_formed_sheet_whose_unclamping_was_not_seen_is_not_lost(void **state)
{
	struct machine_played played;

	(void)state;
	begin(&played, shuttle_ini);
	shuttle_heats(&played);
	set(&played, PRESS, FORM, true, 60);
	set(&played, PRESS, FORM, false, 10);
	played.silent[PRESS] = played.silent[OVEN] = true;
	set(&played, PRESS, CLAMP, false, 40);
	played.silent[PRESS] = played.silent[OVEN] = false;
	assert_int_equal(last_shot(&played)->outcome, SHOT_COMPLETE);
	assert_true(last_shot(&played)->flags & SHOT_FLAG_GAP);
	shuttle_heats(&played);
	shuttle_forms(&played);
	last_shot(&played);
	assert_int_equal(played.count, 2);
	assert_int_equal(played.shots[1]->flags, 0);
	end(&played);
}

static void
shared_platens_with_a_sheet_on_either_side_are_in_doubt(void **state)
{
	struct machine_played played;

	(void)state;
	begin(&played, sides_ini);
	for (int side = 0; side < 2; side++) {
		set(&played, 0, LEFT_CLAMP + side, true, 5);
		set(&played, 0, LEFT_IN + side, true, 60);
		set(&played, 0, LEFT_IN + side, false, 4);
	}
	set(&played, 0, COMMON_FORM, true, 50);
	set(&played, 0, COMMON_FORM, false, 4);
	set(&played, 0, LEFT_CLAMP, false, 5);
	set(&played, 0, RIGHT_CLAMP, false, 5);
	last_shot(&played);
	assert_int_equal(played.count, 2);
	for (int side = 0; side < 2; side++) {
		assert_int_equal(played.shots[side]->outcome, SHOT_PARTIAL);
		assert_true(played.shots[side]->flags & SHOT_FLAG_SEQUENCE);
	}
	end(&played);
}

static void
shared_platens_belong_to_the_side_whose_sheet_is_there(void **state)
{
	struct machine_played played;

	(void)state;
	begin(&played, sides_ini);
	for (int n = 0; n < 4; n++) {
		int side = n % 2;

		set(&played, 0, LEFT_CLAMP + side, true, 5);
		set(&played, 0, LEFT_IN + side, true, 60);
		set(&played, 0, LEFT_IN + side, false, 4);
		set(&played, 0, COMMON_FORM, true, 50);
		set(&played, 0, COMMON_FORM, false, 4);
		set(&played, 0, LEFT_CLAMP + side, false, 5);
	}
	last_shot(&played);
	assert_int_equal(played.count, 4);
	for (int n = 0; n < 4; n++) {
		assert_int_equal(played.shots[n]->outcome, SHOT_COMPLETE);
		assert_int_equal(played.shots[n]->side, n % 2);
	}
	end(&played);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(
		a_sheet_swapped_while_the_clamp_was_not_watched_is_not_one_heated_twice),
	    cmocka_unit_test(
		a_sheet_that_was_formed_while_nobody_watched_the_platens_is_not_aborted),
	    cmocka_unit_test(a_formed_sheet_whose_unclamping_was_not_seen_is_not_lost),
	    cmocka_unit_test(shared_platens_with_a_sheet_on_either_side_are_in_doubt),
	    cmocka_unit_test(shared_platens_belong_to_the_side_whose_sheet_is_there),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
