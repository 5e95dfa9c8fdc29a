/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "conf/shift_check.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "conf/draft.h"
#include "conf/shift.h"
#include "conf/value.h"
#include "daemon/base/text.h"

enum { DAY_MINUTES = 24 * 60, WEEK_MINUTES = 7 * DAY_MINUTES };

static const char *const day_names[] = {
    "Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday"};

/* --- by itself ---------------------------------------------------------------------- */

/* "early" of [shift early saturday]. */
static void
take_name(struct draft *draft, struct part *part)
{
	const char *name = part->source->name;
	size_t length = strcspn(name, " \t");

	snprintf(part->as.shift.name, SETTINGS_NAME, "%.*s", (int)length, name);
	if (*name &&
	    (length >= SETTINGS_NAME || !value_is_name(part->as.shift.name, true)))
		part_refuse(draft, part, NULL,
		    "'%.*s' is no name: write letters, digits, '-', '.' and '_' alone, "
		    "%d bytes at most",
		    (int)length, name, SETTINGS_NAME - 1);
}

static void
check_days(struct draft *draft, struct part *part)
{
	if (part_has(part, "days") && part->as.shift.dates.count > 0)
		part_refuse(draft, part, "days",
		    "%s has 'days' and 'dates': leave one out, or write the dates in a "
		    "section of their own, such as [shift %s holiday-eve]",
		    part->source->title, part->as.shift.name);
}

/* --- by the days of the week ----------------------------------------------------------- */

/* Puts the shift on each of its days; at the first minute that another has, notes that. */
static void
take_minutes(struct draft *draft, struct part *part, struct part **week)
{
	const struct shift_settings *shift = &part->as.shift;
	int length = shift_minutes(shift);

	for (int minute = 0; minute < 7 * length; minute++) {
		int day = minute / length;
		int at = (day * DAY_MINUTES + shift->start_minute + minute % length) %
		         WEEK_MINUTES;

		if (!(shift->days & 1U << day))
			continue;
		if (week[at] && week[at] != part) {
			part_refuse(draft, part, NULL,
			    "%s and %s in line %d both have %s %02d:%02d: let one end "
			    "before the other starts",
			    part->source->title, week[at]->source->title,
			    week[at]->source->line, day_names[at / DAY_MINUTES],
			    at % DAY_MINUTES / 60, at % 60);
			return;
		}
		week[at] = part;
	}
}

/* A day has the hours of one section of a shift. */
static void
check_twice(struct draft *draft, struct part *part)
{
	struct part *other = NULL;

	while ((other = draft_next(draft, SECTION_SHIFT, other)) != part) {
		unsigned common = other->as.shift.days & part->as.shift.days;

		if (other->bad || other->as.shift.dates.count > 0 || !common ||
		    strcmp(other->as.shift.name, part->as.shift.name) != 0)
			continue;
		part_refuse(draft, part, NULL,
		    "%s and %s in line %d both have the hours of shift %s on %s: leave "
		    "the day out of 'days' in one of them",
		    part->source->title, other->source->title, other->source->line,
		    part->as.shift.name, day_names[__builtin_ctz(common)]);
		return;
	}
}

static void
check_weeks(struct draft *draft)
{
	struct part **week = calloc(WEEK_MINUTES, sizeof(struct part *));
	struct part *part = NULL;

	if (!week) {
		mistakes_add(&draft->mistakes, 0, "cannot be read: out of memory");
		return;
	}
	while ((part = draft_next(draft, SECTION_SHIFT, part)) != NULL)
		if (!part->bad && part->as.shift.dates.count == 0) {
			check_twice(draft, part);
			if (!part->bad)
				take_minutes(draft, part, week);
		}
	free(week);
}

/* --- by dates ----------------------------------------------------------------------- */

/* Whether `part` on `date` and another shift on that day, the day before or after have a
 * minute in common; `settings` has the shifts in the order of their parts. */
static bool
check_neighbours(struct draft *draft, struct part *part,
    const struct settings *settings, struct calendar_date date)
{
	const struct shift_settings *shift = &part->as.shift;
	int from = shift->start_minute, to = from + shift_minutes(shift);
	struct part *other = NULL;

	for (size_t i = 0; (other = draft_next(draft, SECTION_SHIFT, other)) != NULL;
	     i++)
		for (int day = -1; other != part && day <= 1; day++) {
			const struct shift_settings *one = settings->shifts + i;
			int start = day * DAY_MINUTES + one->start_minute;

			if (shift_on(settings, one->name,
				calendar_date_add(date, day)) != one ||
			    start >= to || start + shift_minutes(one) <= from)
				continue;
			part_refuse(draft, part, "dates",
			    "%s and %s in line %d have hours in common around "
			    "%04d-%02d-%02d: let one end before the other starts",
			    part->source->title, other->source->title,
			    other->source->line, date.year, date.month, date.day);
			return false;
		}
	return true;
}

static bool
check_date(struct draft *draft, struct part *part, const struct settings *settings,
    const struct shift_settings *own, struct calendar_date date)
{
	if (shift_on(settings, own->name, date) == own)
		return check_neighbours(draft, part, settings, date);
	part_refuse(draft, part, "dates",
	    "shift %s has the hours of another section on %04d-%02d-%02d: name the "
	    "date "
	    "in one of them",
	    own->name, date.year, date.month, date.day);
	return false;
}

static void
check_dates(struct draft *draft)
{
	const struct part *site = draft_next(draft, SECTION_SITE, NULL);
	struct settings settings = {
	    .shifts = calloc(draft->part_count + 1, sizeof(struct shift_settings))};
	struct part *part = NULL;
	bool bad = !settings.shifts;

	if (!settings.shifts)
		mistakes_add(&draft->mistakes, 0, "cannot be read: out of memory");
	if (site)
		settings.holidays = site->as.site.holidays;
	while (!bad && (part = draft_next(draft, SECTION_SHIFT, part)) != NULL) {
		settings.shifts[settings.shift_count++] = part->as.shift;
		bad = part->bad;
	}
	part = NULL;
	for (size_t i = 0;
	     !bad && (part = draft_next(draft, SECTION_SHIFT, part)) != NULL; i++) {
		const struct calendar_dates *dates = &part->as.shift.dates;
		for (int j = 0; j < dates->count; j++)
			if (!check_date(draft, part, &settings, settings.shifts + i,
				dates->list[j]))
				break;
	}
	free(settings.shifts);
}

void
shift_check(struct draft *draft)
{
	struct part *part = NULL;

	while ((part = draft_next(draft, SECTION_SHIFT, part)) != NULL) {
		take_name(draft, part);
		check_days(draft, part);
	}
	check_weeks(draft);
	check_dates(draft);
}
