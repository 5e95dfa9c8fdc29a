/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Which span of time a shift of a day is, in local time with its DST days.
 * Pure but for the process's time zone (base/calendar); any thread.
 */
#ifndef CONF_SHIFT_H
#define CONF_SHIFT_H

#include "daemon/base/calendar.h"

#include <stdbool.h>

struct settings;
struct shift_settings;

/* The hours of shift `name` that start on `date`: those that name the date, else those of
 * its day of the week unless it is a holiday; NULL: it does not start then. */
const struct shift_settings *shift_on(
    const struct settings *settings, const char *name, struct calendar_date date);

/* How long it lasts by the clock on the wall. */
int shift_minutes(const struct shift_settings *shift);

struct shift_span {
	const struct shift_settings *shift;
	struct calendar_date date; /* the day it starts on */
	struct wall from, to;      /* from <= t < to */
};

/* The shift `name` that starts on `date`; ERROR_NOT_FOUND names the shifts there are,
 * or the days that it runs on. */
int shift_find(const struct settings *settings, const char *name,
    struct calendar_date date, struct shift_span *span, struct error *error);

/* The shift that `wall` lies in; false when none. */
bool shift_at(
    const struct settings *settings, struct wall wall, struct shift_span *span);

#endif
