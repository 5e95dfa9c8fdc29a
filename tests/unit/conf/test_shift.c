/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Shifts in local time.  The days on which the clock changes in Europe/Berlin are
 * those of the IANA time zone data base: 2026-03-29 02:00 to 03:00, 2026-10-25 03:00
 * to 02:00.
 */
#include "conf/shift.h"

#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <string.h>
#include <cmocka.h>

#include "conf/settings.h"
#include "daemon/base/error.h"
#include "tests/unit/near.h"

static struct shift_settings three[] = {
    {"early", 6 * 60, 14 * 60, 0x7f, {0}},
    {"late", 14 * 60, 22 * 60, 0x1f, {0}},
    {"night", 22 * 60, 6 * 60, 0x7f, {0}},
};
static const struct settings plant = {.shifts = three, .shift_count = 3};

static int
use_berlin(void **state)
{
	(void)state;
	return calendar_set_zone("Europe/Berlin", NULL);
}

static struct shift_span
found(const struct settings *settings, const char *name, struct calendar_date date)
{
	struct shift_span span = {0};

	assert_int_equal(shift_find(settings, name, date, &span, NULL), 0);
	return span;
}

static double
hours(struct shift_span span)
{
	return (double)(span.to.ns - span.from.ns) / 3600e9;
}

static struct wall
at(const char *text)
{
	struct wall wall;

	assert_int_equal(calendar_parse(text, &wall, NULL), 0);
	return wall;
}

static void
a_shift_starts_and_ends_in_local_time(void **state)
{
	struct shift_span span =
	    found(&plant, "early", (struct calendar_date){2026, 3, 2});

	(void)state;
	assert_string_equal(span.shift->name, "early");
	assert_int_equal(span.from.ns, at("2026-03-02T05:00Z").ns);
	assert_int_equal(span.to.ns, at("2026-03-02T13:00Z").ns);
	assert_int_equal(span.date.day, 2);
}

static void
a_night_shift_ends_on_the_next_day(void **state)
{
	struct shift_span span =
	    found(&plant, "night", (struct calendar_date){2026, 12, 31});

	(void)state;
	assert_int_equal(span.from.ns, at("2026-12-31T22:00").ns);
	assert_int_equal(span.to.ns, at("2027-01-01T06:00").ns);
	assert_int_equal(span.date.day, 31);
}

static void
a_night_over_the_change_of_clocks_has_seven_or_nine_hours(void **state)
{
	(void)state;
	assert_near(
	    hours(found(&plant, "night", (struct calendar_date){2026, 3, 28})), 7, 0);
	assert_near(
	    hours(found(&plant, "night", (struct calendar_date){2026, 10, 24})), 9, 0);
	assert_near(
	    hours(found(&plant, "night", (struct calendar_date){2026, 10, 25})), 8, 0);
}

static void
a_shift_round_the_clock_follows_the_days_length(void **state)
{
	struct shift_settings all = {"all", 6 * 60, 6 * 60, 0x7f, {0}};
	const struct settings settings = {.shifts = &all, .shift_count = 1};
	struct shift_span span;

	(void)state;
	assert_near(
	    hours(found(&settings, "all", (struct calendar_date){2026, 3, 28})), 23, 0);
	assert_near(
	    hours(found(&settings, "all", (struct calendar_date){2026, 10, 24})), 25,
	    0);
	assert_true(shift_at(&settings, at("2026-03-29T05:59:59"), &span));
	assert_int_equal(span.date.day, 28);
	assert_true(shift_at(&settings, at("2026-03-29T06:00"), &span));
	assert_int_equal(span.date.day, 29);
}

static void
a_start_that_the_clock_skips_is_its_jump(void **state)
{
	struct shift_settings odd[] = {{"before", 0, 2 * 60 + 30, 0x7f, {0}},
	    {"after", 2 * 60 + 30, 0, 0x7f, {0}}};
	const struct settings settings = {.shifts = odd, .shift_count = 2};
	struct calendar_date date = {2026, 3, 29};

	(void)state;
	assert_int_equal(
	    found(&settings, "after", date).from.ns, at("2026-03-29T01:00Z").ns);
	assert_int_equal(
	    found(&settings, "before", date).to.ns, at("2026-03-29T01:00Z").ns);
}

static void
an_instant_belongs_to_the_shift_that_began(void **state)
{
	struct shift_span span;

	(void)state;
	assert_true(shift_at(&plant, at("2026-03-02T14:00"), &span));
	assert_string_equal(span.shift->name, "late");
	assert_true(shift_at(&plant, at("2026-03-02T13:59:59.999"), &span));
	assert_string_equal(span.shift->name, "early");
	assert_true(shift_at(&plant, at("2026-03-03T02:00"), &span));
	assert_string_equal(span.shift->name, "night");
	assert_int_equal(span.date.day, 2);
	/* 02:30 comes twice that night: both are in the shift of the day before */
	assert_true(shift_at(&plant, at("2026-10-25T00:30Z"), &span));
	assert_int_equal(span.date.day, 24);
	assert_true(shift_at(&plant, at("2026-10-25T01:30Z"), &span));
	assert_int_equal(span.date.day, 24);
}

static void
an_instant_without_a_shift_has_none(void **state)
{
	struct shift_span span;

	(void)state;
	/* late runs from Monday to Friday; 2026-03-07 is a Saturday */
	assert_true(shift_at(&plant, at("2026-03-06T15:00"), &span));
	assert_false(shift_at(&plant, at("2026-03-07T15:00"), &span));
}

/* Shifts that follow on one another cover a year without a gap, each instant once. */
static void
every_hour_of_a_year_is_in_one_shift(void **state)
{
	struct shift_settings around[] = {{"early", 6 * 60, 14 * 60, 0x7f, {0}},
	    {"late", 14 * 60, 22 * 60, 0x7f, {0}},
	    {"night", 22 * 60, 6 * 60, 0x7f, {0}}};
	const struct settings settings = {.shifts = around, .shift_count = 3};
	struct wall wall = at("2026-01-01T00:00"), end = at("2027-01-01T00:00");
	struct wall expected = {0};

	(void)state;
	while (wall.ns < end.ns) {
		struct shift_span span;

		assert_true(shift_at(&settings, wall, &span));
		assert_true(span.from.ns <= wall.ns && wall.ns < span.to.ns);
		if (expected.ns)
			assert_int_equal(span.from.ns, expected.ns);
		expected = wall = span.to;
	}
}

static void
a_shift_that_is_not_there_is_refused_with_those_that_are(void **state)
{
	const struct settings none = {0};
	struct calendar_date saturday = {2026, 3, 7};
	struct shift_span span = {0};
	struct error error;

	(void)state;
	assert_int_equal(
	    shift_find(&plant, "noon", saturday, &span, &error), ERROR_NOT_FOUND);
	assert_string_equal(
	    error.text, "there is no shift 'noon'; there are early, late, night");
	assert_int_equal(
	    shift_find(&plant, "late", saturday, &span, &error), ERROR_NOT_FOUND);
	assert_string_equal(error.text,
	    "shift 'late' does not start on sat 2026-03-07; it starts on mon, tue, "
	    "wed, thu, fri");
	assert_int_equal(
	    shift_find(&none, "late", saturday, &span, &error), ERROR_NOT_FOUND);
	assert_string_equal(error.text,
	    "there is no shift 'late': the configuration has no [shift NAME]");
	assert_null(span.shift);
}

static struct shift_settings differing[] = {
    {"early", 6 * 60, 14 * 60, 0x1f, {0}},
    {"early", 6 * 60, 12 * 60, 0x20, {0}}, /* on Saturdays */
    {"early", 6 * 60, 10 * 60, 0, {2, {{2026, 12, 24}, {2026, 12, 25}}}},
    {"night", 22 * 60, 6 * 60, 0x7f, {0}},
};
static const struct settings works = {
    .shifts = differing,
    .shift_count = 4,
    .holidays = {2, {{2026, 12, 25}, {2026, 12, 26}}},
};

static void
a_shift_has_other_hours_on_other_days(void **state)
{
	(void)state;
	assert_near(hours(found(&works, "early", (struct calendar_date){2026, 12, 18})),
	    8, 1e-9); /* a Friday */
	assert_near(hours(found(&works, "early", (struct calendar_date){2026, 12, 19})),
	    6, 1e-9);
	assert_near(hours(found(&works, "early", (struct calendar_date){2026, 12, 24})),
	    4, 1e-9);
}

static void
on_a_holiday_only_what_names_it_starts(void **state)
{
	struct shift_span span;
	struct error error;

	(void)state;
	/* the early shift names Christmas Day, a holiday, itself */
	assert_near(hours(found(&works, "early", (struct calendar_date){2026, 12, 25})),
	    4, 1e-9);
	assert_int_equal(shift_find(&works, "night",
			     (struct calendar_date){2026, 12, 25}, &span, &error),
	    ERROR_NOT_FOUND);
	assert_string_equal(error.text,
	    "shift 'night' does not start on 2026-12-25, which is a holiday of [site]");
	/* the night that began the day before goes on into it */
	assert_true(shift_at(&works, at("2026-12-25T05:00"), &span));
	assert_string_equal(span.shift->name, "night");
	assert_int_equal(span.date.day, 24);
	assert_false(shift_at(&works, at("2026-12-25T23:00"), &span));
	assert_false(shift_at(&works, at("2026-12-24T13:00"), &span));
	assert_false(shift_at(&works, at("2026-12-26T09:00"), &span));
	assert_int_equal(shift_find(&works, "noon",
			     (struct calendar_date){2026, 12, 24}, &span, &error),
	    ERROR_NOT_FOUND);
	assert_string_equal(
	    error.text, "there is no shift 'noon'; there are early, night");
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(a_shift_starts_and_ends_in_local_time),
	    cmocka_unit_test(a_night_shift_ends_on_the_next_day),
	    cmocka_unit_test(a_night_over_the_change_of_clocks_has_seven_or_nine_hours),
	    cmocka_unit_test(a_shift_round_the_clock_follows_the_days_length),
	    cmocka_unit_test(a_start_that_the_clock_skips_is_its_jump),
	    cmocka_unit_test(an_instant_belongs_to_the_shift_that_began),
	    cmocka_unit_test(an_instant_without_a_shift_has_none),
	    cmocka_unit_test(every_hour_of_a_year_is_in_one_shift),
	    cmocka_unit_test(a_shift_has_other_hours_on_other_days),
	    cmocka_unit_test(on_a_holiday_only_what_names_it_starts),
	    cmocka_unit_test(a_shift_that_is_not_there_is_refused_with_those_that_are),
	};

	return cmocka_run_group_tests(tests, use_berlin, NULL);
}
