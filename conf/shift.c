/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "conf/shift.h"

#include <string.h>

#include "conf/settings.h"
#include "daemon/base/error.h"
#include "daemon/base/text.h"

enum { DAY_MINUTES = 24 * 60 };

static const char *const days[] = {"mon", "tue", "wed", "thu", "fri", "sat", "sun"};

static bool
runs_on(const struct shift_settings *shift, struct calendar_date date)
{
	return shift->days & 1U << calendar_weekday(date);
}

static struct shift_span
span_on(const struct shift_settings *shift, struct calendar_date date)
{
	int end = shift->end_minute;

	if (end <= shift->start_minute)
		end += DAY_MINUTES;
	return (struct shift_span){
	    .shift = shift,
	    .date = date,
	    .from = calendar_local(date, shift->start_minute),
	    .to = calendar_local(date, end),
	};
}

static int
refuse_name(const struct settings *settings, const char *name, struct error *error)
{
	struct text list;
	int code;

	text_init(&list, 384);
	for (size_t i = 0; i < settings->shift_count; i++)
		text_printf(&list, "%s%s", i ? ", " : "", settings->shifts[i].name);
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
refuse_day(
    const struct shift_settings *shift, struct calendar_date date, struct error *error)
{
	struct text list;
	int code;

	text_init(&list, 64);
	for (int day = 0; day < 7; day++)
		if (shift->days & 1U << day)
			text_printf(&list, "%s%s", list.length ? ", " : "", days[day]);
	code = error_set(error, ERROR_NOT_FOUND,
	    "shift '%s' does not start on %s %04d-%02d-%02d; it starts on %s",
	    shift->name, days[calendar_weekday(date)], date.year, date.month, date.day,
	    list.bytes ? list.bytes : "other days");
	text_release(&list);
	return code;
}

int
shift_find(const struct settings *settings, const char *name, struct calendar_date date,
    struct shift_span *span, struct error *error)
{
	for (size_t i = 0; i < settings->shift_count; i++) {
		const struct shift_settings *shift = settings->shifts + i;

		if (strcmp(shift->name, name) != 0)
			continue;
		if (!runs_on(shift, date))
			return refuse_day(shift, date, error);
		*span = span_on(shift, date);
		return 0;
	}
	return refuse_name(settings, name, error);
}

bool
shift_at(const struct settings *settings, struct wall wall, struct shift_span *span)
{
	struct calendar_date today = calendar_date_of(wall);

	for (int back = 0; back <= 1; back++) {
		struct calendar_date date = calendar_date_add(today, -back);

		for (size_t i = 0; i < settings->shift_count; i++) {
			struct shift_span one = span_on(settings->shifts + i, date);

			if (!runs_on(one.shift, date) || wall.ns < one.from.ns ||
			    wall.ns >= one.to.ns)
				continue;
			*span = one;
			return true;
		}
	}
	return false;
}
