/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "conf/shift.h"

#include <string.h>

#include "conf/list.h"
#include "conf/settings.h"
#include "daemon/base/error.h"
#include "daemon/base/text.h"

enum { DAY_MINUTES = 24 * 60 };

static const char *const days[] = {"mon", "tue", "wed", "thu", "fri", "sat", "sun"};

int
shift_minutes(const struct shift_settings *shift)
{
	int minutes = shift->end_minute - shift->start_minute;

	return minutes > 0 ? minutes : minutes + DAY_MINUTES;
}

const struct shift_settings *
shift_on(const struct settings *settings, const char *name, struct calendar_date date)
{
	const struct shift_settings *usual = NULL;
	unsigned day = 1U << calendar_weekday(date);

	for (size_t i = 0; i < settings->shift_count; i++) {
		const struct shift_settings *one = settings->shifts + i;

		if (strcmp(one->name, name) != 0)
			continue;
		if (list_has_date(&one->dates, date))
			return one;
		if (one->dates.count == 0 && one->days & day)
			usual = one;
	}
	return list_has_date(&settings->holidays, date) ? NULL : usual;
}

static struct shift_span
span_on(const struct shift_settings *shift, struct calendar_date date)
{
	return (struct shift_span){
	    .shift = shift,
	    .date = date,
	    .from = calendar_local(date, shift->start_minute),
	    .to = calendar_local(date, shift->start_minute + shift_minutes(shift)),
	};
}

/* The first section of each name, so that a list has each once. */
static bool
is_first(const struct settings *settings, size_t at)
{
	for (size_t i = 0; i < at; i++)
		if (strcmp(settings->shifts[i].name, settings->shifts[at].name) == 0)
			return false;
	return true;
}

static int
refuse_name(const struct settings *settings, const char *name, struct error *error)
{
	struct text list;
	int code;

	text_init(&list, 384);
	for (size_t i = 0; i < settings->shift_count; i++)
		if (is_first(settings, i))
			text_printf(
			    &list, "%s%s", i ? ", " : "", settings->shifts[i].name);
	if (settings->shift_count == 0)
		code = error_set(error, ERROR_NOT_FOUND,
		    "there is no shift '%s': the configuration has no [shift NAME]",
		    name);
	else
		code = error_set(error, ERROR_NOT_FOUND,
		    "there is no shift '%s'; there are %s", name,
		    list.bytes ? list.bytes : "others");
	text_release(&list);
	return code;
}

static int
refuse_day(const struct settings *settings, const char *name, struct calendar_date date,
    struct error *error)
{
	unsigned runs = 0;
	struct text list;
	int code;

	if (list_has_date(&settings->holidays, date))
		return error_set(error, ERROR_NOT_FOUND,
		    "shift '%s' does not start on %04d-%02d-%02d, which is a holiday "
		    "of "
		    "[site]",
		    name, date.year, date.month, date.day);
	for (size_t i = 0; i < settings->shift_count; i++)
		if (strcmp(settings->shifts[i].name, name) == 0 &&
		    settings->shifts[i].dates.count == 0)
			runs |= settings->shifts[i].days;
	text_init(&list, 64);
	for (int day = 0; day < 7; day++)
		if (runs & 1U << day)
			text_printf(&list, "%s%s", list.length ? ", " : "", days[day]);
	code = error_set(error, ERROR_NOT_FOUND,
	    "shift '%s' does not start on %s %04d-%02d-%02d; it starts on %s", name,
	    days[calendar_weekday(date)], date.year, date.month, date.day,
	    list.bytes ? list.bytes : "other days");
	text_release(&list);
	return code;
}

int
shift_find(const struct settings *settings, const char *name, struct calendar_date date,
    struct shift_span *span, struct error *error)
{
	const struct shift_settings *shift = shift_on(settings, name, date);

	if (shift) {
		*span = span_on(shift, date);
		return 0;
	}
	for (size_t i = 0; i < settings->shift_count; i++)
		if (strcmp(settings->shifts[i].name, name) == 0)
			return refuse_day(settings, name, date, error);
	return refuse_name(settings, name, error);
}

bool
shift_at(const struct settings *settings, struct wall wall, struct shift_span *span)
{
	struct calendar_date today = calendar_date_of(wall);

	for (int back = 0; back <= 1; back++) {
		struct calendar_date date = calendar_date_add(today, -back);

		for (size_t i = 0; i < settings->shift_count; i++) {
			const struct shift_settings *shift = settings->shifts + i;
			struct shift_span one = span_on(shift, date);

			if (shift_on(settings, shift->name, date) != shift ||
			    wall.ns < one.from.ns || wall.ns >= one.to.ns)
				continue;
			*span = one;
			return true;
		}
	}
	return false;
}
