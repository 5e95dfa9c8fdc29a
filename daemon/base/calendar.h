/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Wall time in words: UTC and the site's local time, with its DST days.
 *
 * Local time is that of the process's TZ (calendar_set_zone).  Set the zone
 * before any other thread starts; everything else is safe from any thread.
 */
#ifndef DAEMON_BASE_CALENDAR_H
#define DAEMON_BASE_CALENDAR_H

#include "daemon/base/clock.h"

#include <stdbool.h>
#include <stddef.h>

enum { CALENDAR_TEXT = 40 }; /* bytes that any text made here fits in */

struct calendar_date {
	int year, month, day; /* month and day from 1 */
};

/* Whether calendar_set_zone knows it; changes nothing. */
bool calendar_has_zone(const char *zone);

/* Sets TZ.  ERROR_NOT_FOUND when the zone data base has no such zone. */
int calendar_set_zone(const char *zone, struct error *error);

/* "2026-03-02T05:00:00.123Z"; seconds alone when `digits` is 0 (0 to 9). */
void calendar_utc_text(struct wall wall, int digits, char text[static CALENDAR_TEXT]);

/* "2026-03-02 06:00:00", local. */
void calendar_local_text(struct wall wall, char text[static CALENDAR_TEXT]);

/*
 * Reads 2026-03-02, 2026-03-02T06:00, 2026-03-02T06:00:00[.fff] (local time), or
 * any of the last two with Z (UTC); years 1970 to 2200.  ERROR_INVALID says what to
 * write; a local time that DST skips is refused, one that comes twice is the earlier.
 * A date alone is its first instant.
 */
int calendar_parse(const char *text, struct wall *wall, struct error *error);

/* Reads 2026-03-02. */
int calendar_parse_date(
    const char *text, struct calendar_date *date, struct error *error);

/* Reads "06:00"; minutes after midnight, 0 to 1439. */
int calendar_parse_minute(const char *text, int *minute, struct error *error);

/* The instant at which the local clock shows `minute` after midnight of `date`
 * (minute may be 1440 and more: the following day).  A time that DST skips is
 * the instant at which the clock jumps; one that comes twice is the earlier. */
struct wall calendar_local(struct calendar_date date, int minute);

struct calendar_date calendar_date_of(struct wall wall);
bool calendar_date_same(struct calendar_date a, struct calendar_date b);
struct calendar_date calendar_date_add(struct calendar_date date, int days);

/* 0 Monday ... 6 Sunday. */
int calendar_weekday(struct calendar_date date);

#endif
