/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/check_shifts.h"

#include <stdio.h>

#include "conf/settings.h"
#include "conf/shift.h"
#include "daemon/base/text.h"

#define COUNT(array) (sizeof(array) / sizeof((array)[0]))

enum { DAYS = 7, DATE = 48, CLOCK = 16, WORDS = 1024, DAY_MINUTES = 24 * 60 };

static const char *const weekdays[] = {
    "Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday"};

static void
date_text(struct calendar_date date, char text[static DATE])
{
	snprintf(text, DATE, "%04d-%02d-%02d", date.year, date.month, date.day);
}

static void
clock_text(int minute, char text[static CLOCK])
{
	unsigned of_day = (unsigned)(minute % DAY_MINUTES);

	snprintf(text, CLOCK, "%02u:%02u", of_day / 60, of_day % 60);
}

static bool
is_holiday(const struct settings *settings, struct calendar_date date)
{
	for (int i = 0; i < settings->holidays.count; i++)
		if (calendar_date_same(settings->holidays.list[i], date))
			return true;
	return false;
}

/* The shift that is in force of the section `at` on that date; false: another, or none. */
static bool
find_shift(const struct settings *settings, size_t at, struct calendar_date date,
    struct shift_span *span)
{
	const struct shift_settings *shift = &settings->shifts[at];

	return shift_on(settings, shift->name, date) == shift &&
	       shift_find(settings, shift->name, date, span, NULL) == 0;
}

/* --- for people: a row a day ----------------------------------------------------------------- */

static void
put_day(struct page *page, const struct settings *settings, struct calendar_date date)
{
	char day[DATE];
	struct text words;
	struct shift_span span;

	date_text(date, day);
	text_init(&words, WORDS);
	for (size_t i = 0; i < settings->shift_count; i++) {
		char from[CLOCK], to[CLOCK];
		if (!find_shift(settings, i, date, &span))
			continue;
		clock_text(span.shift->start_minute, from);
		clock_text(span.shift->end_minute, to);
		text_printf(&words, "%s%s %s to %s", words.length ? ", " : "",
		    span.shift->name, from, to);
	}
	if (is_holiday(settings, date))
		text_puts(&words, words.length ? " (a holiday)" : "none: a holiday");
	const struct cell cells[] = {
	    cell_words(day),
	    cell_words(weekdays[calendar_weekday(date)]),
	    cell_words(words.length ? words.bytes : "none"),
	};
	page_row(page, cells);
	text_release(&words);
}

static void
put_days(struct page *page, const struct settings *settings, struct calendar_date first)
{
	static const struct column columns[] = {
	    {NULL, "date", 0},
	    {NULL, "day", 0},
	    {NULL, "shifts that start", 0},
	};

	page_table(page, NULL, "The coming seven days", columns, COUNT(columns));
	for (int i = 0; i < DAYS; i++)
		put_day(page, settings, calendar_date_add(first, i));
	page_table_end(page);
}

/* --- for machines: a row a shift -------------------------------------------------------------- */

static void
put_shifts(
    struct page *page, const struct settings *settings, struct calendar_date first)
{
	static const struct column columns[] = {
	    {"date", NULL, 0},
	    {"shift", NULL, 0},
	    {"from", NULL, 0},
	    {"to", NULL, 0},
	    {"hours", NULL, 0},
	    {"holiday", NULL, 0},
	};

	page_table(page, "shifts", NULL, columns, COUNT(columns));
	for (int day = 0; day < DAYS; day++) {
		struct calendar_date date = calendar_date_add(first, day);
		char text[DATE];
		date_text(date, text);
		for (size_t i = 0; i < settings->shift_count; i++) {
			struct shift_span span;
			if (!find_shift(settings, i, date, &span))
				continue;
			const struct cell cells[] = {
			    cell_words(text),
			    cell_words(span.shift->name),
			    cell_time(span.from),
			    cell_time(span.to),
			    cell_number(
				(double)(span.to.ns - span.from.ns) / 3600e9, 2),
			    cell_truth(is_holiday(settings, date)),
			};
			page_row(page, cells);
		}
	}
	page_table_end(page);
}

void
check_shifts_put(
    struct page *page, const struct settings *settings, struct calendar_date first)
{
	if (settings->shift_count > 0)
		put_days(page, settings, first);
	put_shifts(page, settings, first);
}

/* --- notes --------------------------------------------------------------------------------------- */

void
check_shifts_put_notes(struct page *page, const struct settings *settings)
{
	for (size_t i = 0; i < settings->shift_count; i++) {
		const struct shift_settings *shift = &settings->shifts[i];
		char sentence[SETTINGS_NAME + 96], at[CLOCK];
		if (shift->start_minute != shift->end_minute)
			continue;
		clock_text(shift->start_minute, at);
		snprintf(sentence, sizeof sentence,
		    "shift '%s' starts and ends at %s: it lasts 24 hours", shift->name,
		    at);
		page_open(page, GROUP_ITEM, NULL, NULL);
		page_note(page, NULL, TONE_PLAIN, "note: %s", sentence);
		page_field(page, "text", NULL, cell_words(sentence));
		page_close(page);
	}
}
