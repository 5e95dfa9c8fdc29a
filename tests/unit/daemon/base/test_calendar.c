/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/base/calendar.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#include "daemon/base/error.h"

#define COUNT(array) (sizeof(array) / sizeof((array)[0]))

static struct wall
parsed(const char *text)
{
	struct error error = {""};
	struct wall wall;

	if (calendar_parse(text, &wall, &error) != 0)
		fail_msg("%s", error.text);
	return wall;
}

static int
in_berlin(void **state)
{
	(void)state;
	return calendar_set_zone("Europe/Berlin", NULL);
}

static void
check_local(int year, int month, int day, int minute, const char *utc)
{
	char text[CALENDAR_TEXT];
	struct calendar_date date = {year, month, day};

	calendar_utc_text(calendar_local(date, minute), 0, text);
	assert_string_equal(text, utc);
}

static int64_t
hours_of_day(struct calendar_date date)
{
	int64_t ns = calendar_local(calendar_date_add(date, 1), 0).ns -
	             calendar_local(date, 0).ns;

	return ns / CLOCK_SECOND_NS / 3600;
}

static void
days_have_23_24_or_25_hours(void **state)
{
	/* Directive 2000/84/EC: last Sundays of March and October, 01:00 UTC. */
	(void)state;
	assert_int_equal(hours_of_day((struct calendar_date){2026, 3, 29}), 23);
	assert_int_equal(hours_of_day((struct calendar_date){2026, 3, 30}), 24);
	assert_int_equal(hours_of_day((struct calendar_date){2026, 10, 25}), 25);
}

static void
minutes_after_midnight_are_those_of_the_clock(void **state)
{
	(void)state;
	check_local(2026, 3, 2, 360, "2026-03-02T05:00:00Z");
	check_local(2026, 3, 29, 360, "2026-03-29T04:00:00Z");
	check_local(2026, 3, 28, 1440 + 360, "2026-03-29T04:00:00Z");
	check_local(2026, 10, 25, 360, "2026-10-25T05:00:00Z");
	check_local(2026, 10, 24, 22 * 60, "2026-10-24T20:00:00Z");
}

static void
a_skipped_time_is_the_jump(void **state)
{
	(void)state;
	check_local(2026, 3, 29, 2 * 60 - 1, "2026-03-29T00:59:00Z");
	check_local(2026, 3, 29, 2 * 60, "2026-03-29T01:00:00Z");
	check_local(2026, 3, 29, 2 * 60 + 30, "2026-03-29T01:00:00Z");
	check_local(2026, 3, 29, 3 * 60, "2026-03-29T01:00:00Z");
	check_local(2026, 3, 29, 3 * 60 + 1, "2026-03-29T01:01:00Z");
}

static void
a_repeated_time_is_the_earlier(void **state)
{
	(void)state;
	check_local(2026, 10, 25, 2 * 60 + 30, "2026-10-25T00:30:00Z");
	check_local(2026, 10, 25, 3 * 60, "2026-10-25T02:00:00Z");
	assert_int_equal(parsed("2026-10-25T02:30").ns, parsed("2026-10-25T00:30Z").ns);
}

static void
a_day_without_midnight_starts_at_the_jump(void **state)
{
	/* Beirut puts its clocks forward at 00:00 on the last Sunday of March
	 * (tz data base, file asia, rule Lebanon). */
	(void)state;
	assert_int_equal(calendar_set_zone("Asia/Beirut", NULL), 0);
	check_local(2022, 3, 27, 0, "2022-03-26T22:00:00Z");
	assert_int_equal(parsed("2022-03-27").ns, parsed("2022-03-26T22:00Z").ns);
	in_berlin(NULL);
}

static void
local_time_is_never_before_what_came_earlier(void **state)
{
	struct calendar_date date = {2026, 1, 1};
	int64_t before = INT64_MIN;

	(void)state;
	for (int day = 0; day < 366; day++) {
		for (int minute = 0; minute < 1440; minute += 15) {
			int64_t now = calendar_local(date, minute).ns;

			assert_true(now >= before);
			before = now;
		}
		date = calendar_date_add(date, 1);
	}
}

static void
times_are_read_as_local_or_utc(void **state)
{
	/* 1772427600 is 2026-03-02T05:00:00Z (date -u -d @1772427600, GNU coreutils). */
	int64_t five_ns = INT64_C(1772427600) * CLOCK_SECOND_NS;

	(void)state;
	assert_int_equal(parsed("2026-03-02T05:00Z").ns, five_ns);
	assert_int_equal(parsed("2026-03-02T06:00").ns, five_ns);
	assert_int_equal(parsed("2026-03-02T06:00:00").ns, five_ns);
	assert_int_equal(parsed("2026-03-02T05:00:00.25Z").ns, five_ns + 250000000);
	assert_int_equal(parsed("2026-03-02T06:00:00.000000001").ns, five_ns + 1);
	assert_int_equal(parsed("2026-03-02").ns, five_ns - 6 * 3600 * CLOCK_SECOND_NS);
}

static void
what_is_no_time_is_refused(void **state)
{
	static const char *const wrong[] = {"", "today", "2026-3-2", "2026-02-29",
	    "2026-02-30T06:00", "2026-13-01", "2026-03-02 06:00", "2026-03-02T24:00",
	    "2026-03-02T06:60", "2026-03-02T06:00:60", "2026-03-02T06:00:00.",
	    "2026-03-02T06:00:00.1234567891", "2026-03-02T06:00z", "2026-03-02Z",
	    "2026-03-02T06", "2026-03-29T02:30", "-026-03-02", "2026-03-02T06:00ZZ"};

	(void)state;
	for (size_t i = 0; i < COUNT(wrong); i++) {
		struct wall wall = {42};
		struct error error = {""};

		if (calendar_parse(wrong[i], &wall, &error) != ERROR_INVALID)
			fail_msg("'%s' was read", wrong[i]);
		assert_int_equal(wall.ns, 42);
		assert_non_null(strchr(error.text, '\''));
	}
}

static void
dates_and_minutes_are_read_strictly(void **state)
{
	struct calendar_date date = {0, 0, 0};
	int minute = -1;

	(void)state;
	assert_int_equal(calendar_parse_date("2028-02-29", &date, NULL), 0);
	assert_int_equal(date.year * 10000 + date.month * 100 + date.day, 20280229);
	assert_int_equal(
	    calendar_parse_date("2028-02-29T", &date, NULL), ERROR_INVALID);
	assert_int_equal(calendar_parse_minute("06:00", &minute, NULL), 0);
	assert_int_equal(minute, 360);
	assert_int_equal(calendar_parse_minute("23:59", &minute, NULL), 0);
	assert_int_equal(minute, 1439);
	assert_int_equal(calendar_parse_minute("24:00", &minute, NULL), ERROR_INVALID);
	assert_int_equal(calendar_parse_minute("6:00", &minute, NULL), ERROR_INVALID);
	assert_int_equal(minute, 1439);
}

static void
instants_are_written_with_their_digits(void **state)
{
	struct wall wall = {INT64_C(1772427600123456789)};
	char text[CALENDAR_TEXT];

	(void)state;
	calendar_utc_text(wall, 0, text);
	assert_string_equal(text, "2026-03-02T05:00:00Z");
	calendar_utc_text(wall, 3, text);
	assert_string_equal(text, "2026-03-02T05:00:00.123Z");
	calendar_utc_text(wall, 9, text);
	assert_string_equal(text, "2026-03-02T05:00:00.123456789Z");
	calendar_local_text(wall, text);
	assert_string_equal(text, "2026-03-02 06:00:00");
	calendar_utc_text((struct wall){-1}, 9, text);
	assert_string_equal(text, "1969-12-31T23:59:59.999999999Z");
}

static void
dates_count_on_and_have_weekdays(void **state)
{
	struct calendar_date date = {2024, 2, 28};

	(void)state;
	date = calendar_date_add(date, 2);
	assert_int_equal(date.month * 100 + date.day, 301);
	date = calendar_date_add(date, -61);
	assert_int_equal(date.year, 2023);
	assert_int_equal(date.month * 100 + date.day, 1231);
	assert_int_equal(calendar_weekday((struct calendar_date){2026, 3, 2}), 0);
	assert_int_equal(calendar_weekday((struct calendar_date){2026, 3, 29}), 6);
	date = calendar_date_of(parsed("2026-03-01T23:30Z"));
	assert_int_equal(date.month * 100 + date.day, 302);
}

static void
a_zone_that_is_not_there_is_refused(void **state)
{
	static const char *const wrong[] = {
	    "", "Europe/Nowhere", "../../../etc/passwd", "zone.tab", "Europe", "/"};
	struct error error;

	(void)state;
	for (size_t i = 0; i < COUNT(wrong); i++)
		assert_int_equal(calendar_set_zone(wrong[i], &error), ERROR_NOT_FOUND);
	check_local(2026, 3, 2, 360, "2026-03-02T05:00:00Z"); /* Berlin still */
	assert_int_equal(calendar_set_zone("UTC", &error), 0);
	check_local(2026, 3, 2, 360, "2026-03-02T06:00:00Z");
	in_berlin(NULL);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(days_have_23_24_or_25_hours),
	    cmocka_unit_test(minutes_after_midnight_are_those_of_the_clock),
	    cmocka_unit_test(a_skipped_time_is_the_jump),
	    cmocka_unit_test(a_repeated_time_is_the_earlier),
	    cmocka_unit_test(a_day_without_midnight_starts_at_the_jump),
	    cmocka_unit_test(local_time_is_never_before_what_came_earlier),
	    cmocka_unit_test(times_are_read_as_local_or_utc),
	    cmocka_unit_test(what_is_no_time_is_refused),
	    cmocka_unit_test(dates_and_minutes_are_read_strictly),
	    cmocka_unit_test(instants_are_written_with_their_digits),
	    cmocka_unit_test(dates_count_on_and_have_weekdays),
	    cmocka_unit_test(a_zone_that_is_not_there_is_refused),
	};

	return cmocka_run_group_tests(tests, in_berlin, NULL);
}
