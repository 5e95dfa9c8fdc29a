/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What becomes an event, when, and what does not. */
#include "daemon/run/incidents.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#include "conf/words.h"
#include "daemon/base/calendar.h"
#include "daemon/base/text.h"

#define START_NS INT64_C(1772427600000000000) /* 2026-03-02T05:00:00Z */
#define GB INT64_C(1000000000)

enum { ROOM = 100 };

static struct incidents *incidents;
static struct told {
	int64_t at_s; /* from START_NS on */
	char kind[32], text[256];
} told[ROOM];
static int count;
static int64_t set_ns; /* how far the clock was set */

static void
take(void *arg, struct wall at, const char *kind, const char *text)
{
	struct told *one = &told[count++];

	assert_ptr_equal(arg, told);
	assert_true(count <= ROOM);
	assert_true(words_find(&words_event, kind) >= 0); /* [notify] can ask for it */
	one->at_s = (at.ns - START_NS) / CLOCK_SECOND_NS;
	text_copy(one->kind, sizeof(one->kind), kind);
	text_copy(one->text, sizeof(one->text), text);
}

static int
begin(void **state)
{
	(void)state;
	count = 0;
	set_ns = 0;
	incidents = incidents_new((struct incidents_sink){take, told});
	return incidents != NULL && calendar_set_zone("UTC", NULL) == 0 ? 0 : -1;
}

static int
end(void **state)
{
	(void)state;
	incidents_free(incidents);
	return 0;
}

static void
begin_round(double at_s)
{
	int64_t ns = (int64_t)(at_s * 1e9);

	incidents_begin(
	    incidents, (struct instant){{INT64_C(77) * CLOCK_SECOND_NS + ns},
			   {START_NS + ns + set_ns}});
}

/* A round a second, from one to before the other, in which a device does so. */
static void
device_is(int from_s, int to_s, int works)
{
	for (int s = from_s; s < to_s; s++) {
		begin_round(s);
		incidents_state(incidents, INCIDENTS_DEVICE, "ovens", works,
		    "timed out after 1000 ms");
		incidents_end(incidents);
	}
}

static void
a_device_is_told_of_once_it_has_been_silent_for_a_minute(void **state)
{
	(void)state;
	device_is(0, 10, -1);
	device_is(10, 100, 1);
	device_is(100, 160, 0);
	assert_int_equal(count, 0);
	device_is(160, 5000, 0);
	assert_int_equal(count, 1);
	assert_string_equal(told[0].kind, "device_silent");
	assert_string_equal(
	    told[0].text, "device 'ovens' does not answer: timed out after 1000 ms");
	assert_int_equal(told[0].at_s, 100); /* since when */
	device_is(5000, 5060, 1);
	assert_int_equal(count, 1);
	device_is(5060, 6000, 1);
	assert_int_equal(count, 2);
	assert_string_equal(told[1].kind, "device_answers");
	assert_string_equal(
	    told[1].text, "device 'ovens' answers again, after 1 h 21 min");
	assert_int_equal(told[1].at_s, 5000);
}

static void
one_that_never_answered_is_told_of_too(void **state)
{
	(void)state;
	device_is(0, 61, 0);
	assert_int_equal(count, 1);
}

static void
one_that_comes_and_goes_floods_nothing(void **state)
{
	(void)state;
	for (int s = 0; s < 7200; s += 80) {
		device_is(s, s + 40, 0);
		device_is(s + 40, s + 80, 1);
	}
	assert_int_equal(count, 0);
	/* silent for long, with an answer now and then */
	device_is(7200, 7300, 0);
	for (int s = 7300; s < 14400; s += 50) {
		device_is(s, s + 49, 0);
		device_is(s + 49, s + 50, 1);
	}
	assert_int_equal(count, 1);
	device_is(14400, 14500, 1);
	assert_int_equal(count, 2);
	/* its silence began with the first of them */
	assert_string_equal(
	    told[1].text, "device 'ovens' answers again, after 1 h 59 min");
}

/* Another configuration: what is not there any more is not told of, and leaves room. */
static void
what_is_gone_is_forgotten(void **state)
{
	char name[32];

	(void)state;
	for (int s = 0; s < 2000; s++) {
		begin_round(s);
		snprintf(name, sizeof(name), "device-%d", s / 30);
		incidents_state(incidents, INCIDENTS_DEVICE, name, 0, "gone");
		incidents_state(incidents, INCIDENTS_STORE, "plant", 1, "");
		incidents_end(incidents);
	}
	assert_int_equal(count, 0);
	device_is(2000, 2070, 0);
	assert_int_equal(count, 1);
}

static void
stores_and_the_ledger_have_words_of_their_own(void **state)
{
	(void)state;
	for (int s = 0; s < 300; s++) {
		int works = s >= 100;

		begin_round(s);
		incidents_state(incidents, INCIDENTS_STORE, "plant", works, "HTTP 503");
		incidents_state(incidents, INCIDENTS_LEDGER, "", works, "disk is full");
		/* of the same name, and all well */
		incidents_state(incidents, INCIDENTS_DEVICE, "plant", 1, "");
		incidents_end(incidents);
	}
	assert_int_equal(count, 4);
	assert_string_equal(told[0].kind, "store_failing");
	assert_string_equal(told[0].text, "store 'plant' takes nothing: HTTP 503");
	assert_string_equal(told[1].kind, "ledger_failing");
	assert_string_equal(told[1].text, "the ledger cannot be written: disk is full");
	assert_string_equal(told[2].kind, "store_delivering");
	assert_string_equal(told[2].text,
	    "store 'plant' takes what it is sent again, after 1 min 40 s");
	assert_string_equal(told[3].kind, "ledger_writing");
	assert_string_equal(
	    told[3].text, "the ledger can be written again, after 1 min 40 s");
}

/* It is looked through now and then: until then nobody knows. */
static void
a_damaged_file_is_told_of_once(void **state)
{
	(void)state;
	for (int s = 0; s < 1000; s++) {
		begin_round(s);
		incidents_state(incidents, INCIDENTS_FILE, "", s < 100 ? -1 : 0,
		    "1 finding: row 7 is missing");
		incidents_end(incidents);
	}
	assert_int_equal(count, 1);
	assert_string_equal(told[0].kind, "ledger_damaged");
	assert_string_equal(
	    told[0].text, "the ledger's file is damaged: 1 finding: row 7 is missing");
}

static void
losses_are_told_at_once_and_then_once_an_hour(void **state)
{
	(void)state;
	for (int s = 0; s < 7300; s++) {
		begin_round(s);
		incidents_lost(incidents, INCIDENTS_READINGS, s < 10 ? 0 : s - 9);
		incidents_lost(incidents, INCIDENTS_SHOTS, s < 20 ? 0 : 2);
		incidents_end(incidents);
	}
	assert_int_equal(count, 4);
	assert_string_equal(told[0].kind, "readings_lost");
	assert_string_equal(
	    told[0].text, "readings of 1 poll were lost: this computer was too slow");
	assert_int_equal(told[0].at_s, 10);
	assert_string_equal(told[1].kind, "shots_lost");
	assert_string_equal(told[1].text, "2 shots were lost: the ledger could not be "
					  "written and memory was full");
	assert_int_equal(told[2].at_s, 3610);
	assert_string_equal(told[2].text,
	    "readings of 3600 polls were lost: this computer was too slow");
}

static void
disk_is(int64_t free_bytes, int64_t disk_bytes)
{
	begin_round(0);
	incidents_disk(incidents, free_bytes, disk_bytes);
	incidents_end(incidents);
}

static void
a_disk_is_low_below_a_gigabyte_and_not_around_it(void **state)
{
	(void)state;
	disk_is(1 * GB, 500 * GB);
	assert_int_equal(count, 0);
	for (int i = 0; i < 20; i++)
		disk_is(1 * GB - 1 + i % 2 * GB / 4, 500 * GB);
	assert_int_equal(count, 1);
	assert_string_equal(told[0].kind, "disk_low");
	assert_string_equal(
	    told[0].text, "the disk of the ledger has little room left: 1000 MB free");
	disk_is(3 * GB / 2, 500 * GB);
	assert_int_equal(count, 2);
	assert_string_equal(told[1].kind, "disk_free");
	assert_string_equal(
	    told[1].text, "the disk of the ledger has room again: 1500 MB free");
}

static void
a_small_disk_is_low_below_a_twentieth(void **state)
{
	(void)state;
	disk_is(GB / 2, 8 * GB);
	assert_int_equal(count, 0);
	disk_is(GB / 4, 8 * GB);
	assert_int_equal(count, 1);
}

static void
a_step_of_the_clock_is_told_with_its_size(void **state)
{
	(void)state;
	for (int s = 0; s < 100; s++) { /* one that is slewed steps nowhere */
		set_ns += CLOCK_SECOND_NS / 2;
		begin_round(s);
		incidents_end(incidents);
	}
	assert_int_equal(incidents_clock_steps(incidents), 0);
	set_ns = 0;
	begin_round(100);
	incidents_end(incidents);
	assert_int_equal(count, 1);
	assert_string_equal(told[0].kind, "clock_step");
	assert_string_equal(told[0].text,
	    "the system's clock was set back by 50.0 s: from 2026-03-02 05:02:30 to "
	    "2026-03-02 05:01:40");
	set_ns = 3600 * CLOCK_SECOND_NS;
	begin_round(101);
	incidents_end(incidents);
	assert_int_equal(count, 2);
	assert_string_equal(told[1].text,
	    "the system's clock was set forward by 1 h 0 min: from 2026-03-02 05:01:41 "
	    "to 2026-03-02 06:01:41");
	assert_int_equal(told[1].at_s, 3600 + 101);
	assert_int_equal(incidents_clock_steps(incidents), 2);
}

/* Time is counted by the clock that never steps. */
static void
a_step_of_the_clock_hastens_nothing(void **state)
{
	(void)state;
	device_is(0, 10, 0);
	set_ns = 7200 * CLOCK_SECOND_NS;
	device_is(10, 60, 0);
	assert_int_equal(count, 1); /* the step */
	device_is(60, 61, 0);
	assert_int_equal(count, 2);
}

#define INCIDENT(f) cmocka_unit_test_setup_teardown(f, begin, end)

/* Five minutes away and five back, for a day; then away for good. */
static void
a_device_that_comes_and_goes_makes_few_events(void **state)
{
	int s;

	(void)state;
	for (s = 0; s < 86000; s += 600) {
		device_is(s, s + 300, 1);
		device_is(s + 300, s + 600, 0);
	}
	assert_int_equal(count, INCIDENTS_DAY);
	assert_non_null(strstr(told[count - 1].text, "comes and goes"));
	assert_null(strstr(told[count - 2].text, "comes and goes"));
	device_is(s, s + 3600, 0);
	assert_int_equal(count, INCIDENTS_DAY + 1);
	assert_string_equal(told[count - 1].kind, "device_silent");
}

/* It dies in the morning of its day: somebody has to get up within the hour. */
static void
one_that_came_and_went_and_is_gone_is_told_of_within_an_hour(void **state)
{
	int s;

	(void)state;
	for (s = 0; count < INCIDENTS_DAY; s += 600) {
		device_is(s, s + 300, 0);
		device_is(s + 300, s + 600, 1);
	}
	assert_true(s < 86400 / 2);
	assert_string_equal(told[count - 1].kind, "device_answers");
	device_is(s, s + 3601, 0);
	assert_int_equal(count, INCIDENTS_DAY + 1);
	assert_string_equal(told[count - 1].kind, "device_silent");
	assert_int_equal(told[count - 1].at_s, s);
}

/* The most there can be: fast at first, and then as fast as is still told. */
static void
no_pace_makes_more_than_twice_as_many(void **state)
{
	const int longer_s = INCIDENTS_FLAPS_S + 1;
	int s = 0;

	(void)state;
	for (; count < INCIDENTS_DAY; s += 122) {
		device_is(s, s + 61, 0);
		device_is(s + 61, s + 122, 1);
	}
	for (bool works = false; s + longer_s < 86400; s += longer_s, works = !works)
		device_is(s, s + longer_s, works);
	assert_true(count > INCIDENTS_DAY);
	assert_true(count <= 2 * INCIDENTS_DAY);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    INCIDENT(a_device_is_told_of_once_it_has_been_silent_for_a_minute),
	    INCIDENT(one_that_never_answered_is_told_of_too),
	    INCIDENT(one_that_comes_and_goes_floods_nothing),
	    INCIDENT(what_is_gone_is_forgotten),
	    INCIDENT(stores_and_the_ledger_have_words_of_their_own),
	    INCIDENT(a_damaged_file_is_told_of_once),
	    INCIDENT(losses_are_told_at_once_and_then_once_an_hour),
	    INCIDENT(a_disk_is_low_below_a_gigabyte_and_not_around_it),
	    INCIDENT(a_small_disk_is_low_below_a_twentieth),
	    INCIDENT(a_step_of_the_clock_is_told_with_its_size),
	    INCIDENT(a_step_of_the_clock_hastens_nothing),
	    INCIDENT(a_device_that_comes_and_goes_makes_few_events),
	    INCIDENT(one_that_came_and_went_and_is_gone_is_told_of_within_an_hour),
	    INCIDENT(no_pace_makes_more_than_twice_as_many),
	};

	return cmocka_run_group_tests_name("incidents", tests, NULL, NULL);
}
