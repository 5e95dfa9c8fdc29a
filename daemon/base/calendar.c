/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/base/calendar.h"

#include "daemon/base/error.h"

#include <assert.h>
#include <errno.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#define ZONES "/usr/share/zoneinfo"

enum { DAY_S = 24 * 60 * 60, YEAR_MIN = 1970, YEAR_MAX = 2200 };

/* --- the zone --------------------------------------------------------------- */

/* Whether the file is one of the zone data base (RFC 8536: it begins with TZif). */
static bool
is_zone_file(const char *path)
{
	char magic[4] = "";
	FILE *file = fopen(path, "re");
	size_t got;

	if (!file)
		return false;
	got = fread(magic, 1, sizeof(magic), file);
	fclose(file);
	return got == sizeof(magic) && memcmp(magic, "TZif", sizeof(magic)) == 0;
}

bool
calendar_has_zone(const char *zone)
{
	char path[512];
	int length = snprintf(path, sizeof(path), "%s/%s", ZONES, zone);

	if (strcmp(zone, "UTC") == 0)
		return true;
	if (zone[0] == '\0' || strstr(zone, ".."))
		return false;
	return length > 0 && (size_t)length < sizeof(path) && is_zone_file(path);
}

int
calendar_set_zone(const char *zone, struct error *error)
{
	bool is_utc = strcmp(zone, "UTC") == 0;

	if (!calendar_has_zone(zone))
		return error_set(error, ERROR_NOT_FOUND,
		    "there is no time zone '%s' in " ZONES
		    "; write a name such as 'Europe/Berlin', or 'UTC'",
		    zone);
	/* "UTC0" needs no file.  No other thread runs yet, says the header. */
	/* NOLINTNEXTLINE(concurrency-mt-unsafe) */
	if (setenv("TZ", is_utc ? "UTC0" : zone, 1) != 0)
		return error_set(error, ERROR_MEMORY,
		    "cannot set the time zone '%s': %s", zone, strerrordesc_np(errno));
	tzset();
	return 0;
}

/* --- seconds and broken-down times --------------------------------------------- */

static time_t
seconds_of(struct wall wall, int *rest_ns)
{
	int64_t seconds = wall.ns / CLOCK_SECOND_NS;
	int64_t rest = wall.ns % CLOCK_SECOND_NS;

	if (rest < 0) {
		rest += CLOCK_SECOND_NS;
		seconds--;
	}
	*rest_ns = (int)rest;
	return (time_t)seconds;
}

static struct tm
local_of(time_t seconds)
{
	struct tm local;

	/* An int64_t of nanoseconds cannot overflow the year. */
	if (!localtime_r(&seconds, &local))
		assert(!"a year that does not fit");
	return local;
}

static struct tm
utc_of(time_t seconds)
{
	struct tm utc;

	if (!gmtime_r(&seconds, &utc))
		assert(!"a year that does not fit");
	return utc;
}

/* The seconds at which a clock that shows UTC shows midnight of `date`. */
static time_t
midnight_of(struct calendar_date date)
{
	struct tm utc = {
	    .tm_year = date.year - 1900,
	    .tm_mon = date.month - 1,
	    .tm_mday = date.day,
	};

	return timegm(&utc);
}

static struct calendar_date
date_of(const struct tm *tm)
{
	return (struct calendar_date){tm->tm_year + 1900, tm->tm_mon + 1, tm->tm_mday};
}

/* What the local clock shows, as the seconds at which a UTC clock shows it. */
static time_t
shown_at(time_t seconds)
{
	return seconds + local_of(seconds).tm_gmtoff;
}

/*
 * The first instant at which the local clock shows `shown`.  When it jumps over
 * it, the instant of the jump, and *skipped.
 *
 * The offsets a day before and a day after are the only two that can be in
 * force (zones change months apart).
 */
static time_t
instant_of(time_t shown, bool *skipped)
{
	time_t early = shown - local_of(shown - DAY_S).tm_gmtoff;
	time_t late = shown - local_of(shown + DAY_S).tm_gmtoff;

	if (early > late) {
		time_t swap = early;

		early = late;
		late = swap;
	}
	*skipped = false;
	if (shown_at(early) == shown)
		return early;
	if (shown_at(late) == shown)
		return late;
	*skipped = true;
	while (late - early > 1) {
		time_t middle = early + (late - early) / 2;

		if (shown_at(middle) < shown)
			early = middle;
		else
			late = middle;
	}
	return late;
}

static struct wall
wall_of(time_t seconds, int64_t rest_ns)
{
	return (struct wall){(int64_t)seconds * CLOCK_SECOND_NS + rest_ns};
}

struct wall
calendar_local(struct calendar_date date, int minute)
{
	bool skipped;

	return wall_of(
	    instant_of(midnight_of(date) + (time_t)minute * 60, &skipped), 0);
}

struct calendar_date
calendar_date_of(struct wall wall)
{
	int rest_ns;
	struct tm local = local_of(seconds_of(wall, &rest_ns));

	return date_of(&local);
}

bool
calendar_date_same(struct calendar_date a, struct calendar_date b)
{
	return a.year == b.year && a.month == b.month && a.day == b.day;
}

struct calendar_date
calendar_date_add(struct calendar_date date, int days)
{
	struct tm utc = utc_of(midnight_of(date) + (time_t)days * DAY_S);

	return date_of(&utc);
}

int
calendar_weekday(struct calendar_date date)
{
	return (utc_of(midnight_of(date)).tm_wday + 6) % 7;
}

/* --- writing ---------------------------------------------------------------- */

void
calendar_utc_text(struct wall wall, int digits, char text[static CALENDAR_TEXT])
{
	int rest_ns;
	struct tm utc = utc_of(seconds_of(wall, &rest_ns));
	size_t length = strftime(text, CALENDAR_TEXT, "%Y-%m-%dT%H:%M:%S", &utc);

	assert(length > 0 && digits >= 0 && digits <= 9);
	if (digits > 0) {
		snprintf(text + length, CALENDAR_TEXT - length, ".%09d", rest_ns);
		length += 1 + (size_t)digits;
	}
	snprintf(text + length, CALENDAR_TEXT - length, "Z");
}

void
calendar_local_text(struct wall wall, char text[static CALENDAR_TEXT])
{
	int rest_ns;
	struct tm local = local_of(seconds_of(wall, &rest_ns));
	size_t length = strftime(text, CALENDAR_TEXT, "%Y-%m-%d %H:%M:%S", &local);

	assert(length > 0);
	(void)length;
}

/* --- reading ----------------------------------------------------------------- */

/* The scanners move *at over what they read, and do not when it is not there. */

static bool
scan_char(const char **at, char wanted)
{
	if (**at != wanted)
		return false;
	(*at)++;
	return true;
}

static bool
scan_digits(const char **at, int count, int min, int max, int *value)
{
	int number = 0;

	for (int i = 0; i < count; i++) {
		if ((*at)[i] < '0' || (*at)[i] > '9')
			return false;
		number = number * 10 + ((*at)[i] - '0');
	}
	if (number < min || number > max)
		return false;
	*at += count;
	*value = number;
	return true;
}

static bool
scan_date(const char **at, struct calendar_date *date)
{
	struct tm utc;

	if (!scan_digits(at, 4, YEAR_MIN, YEAR_MAX, &date->year) ||
	    !scan_char(at, '-') || !scan_digits(at, 2, 1, 12, &date->month) ||
	    !scan_char(at, '-') || !scan_digits(at, 2, 1, 31, &date->day))
		return false;
	utc = utc_of(midnight_of(*date));
	return utc.tm_mday == date->day; /* not the 30th of February */
}

static bool
scan_minute(const char **at, int *minute)
{
	int hour, rest;

	if (!scan_digits(at, 2, 0, 23, &hour) || !scan_char(at, ':') ||
	    !scan_digits(at, 2, 0, 59, &rest))
		return false;
	*minute = hour * 60 + rest;
	return true;
}

/* ".fff", one to nine digits. */
static bool
scan_fraction(const char **at, int *ns)
{
	int weight = (int)CLOCK_SECOND_NS / 10, digit;

	*ns = 0;
	if (!scan_char(at, '.'))
		return true;
	if (**at < '0' || **at > '9')
		return false;
	while (weight > 0 && scan_digits(at, 1, 0, 9, &digit)) {
		*ns += digit * weight;
		weight /= 10;
	}
	return true;
}

/* "T06:00[:00[.fff]]": seconds after midnight and nanoseconds. */
static bool
scan_time(const char **at, int *seconds, int *ns)
{
	int minute, rest = 0;

	*ns = 0;
	if (!scan_char(at, 'T') || !scan_minute(at, &minute))
		return false;
	if (scan_char(at, ':') &&
	    (!scan_digits(at, 2, 0, 59, &rest) || !scan_fraction(at, ns)))
		return false;
	*seconds = minute * 60 + rest;
	return true;
}

/* The whole of "2026-03-02T06:00..." as shown by a clock, UTC's if *is_utc. */
static bool
scan_instant(const char *at, time_t *shown, int *ns, bool *is_utc)
{
	struct calendar_date date;
	int seconds;

	if (!scan_date(&at, &date) || !scan_time(&at, &seconds, ns))
		return false;
	*shown = midnight_of(date) + seconds;
	*is_utc = scan_char(&at, 'Z');
	return *at == '\0';
}

int
calendar_parse(const char *text, struct wall *wall, struct error *error)
{
	const char *at = text;
	struct calendar_date date;
	time_t shown;
	int ns;
	bool is_utc, skipped = false;

	if (scan_date(&at, &date) && *at == '\0') {
		*wall = calendar_local(date, 0);
		return 0;
	}
	if (!scan_instant(text, &shown, &ns, &is_utc))
		return error_set(error, ERROR_INVALID,
		    "'%s' is not a time; write 2026-03-02, 2026-03-02T06:00 or "
		    "2026-03-02T06:00:00, with a Z at the end for UTC",
		    text);
	if (!is_utc)
		shown = instant_of(shown, &skipped);
	if (skipped)
		return error_set(error, ERROR_INVALID,
		    "there is no '%s' here: the clocks are put forward over it; "
		    "write a later time, or UTC with a Z at the end",
		    text);
	*wall = wall_of(shown, ns);
	return 0;
}

int
calendar_parse_date(const char *text, struct calendar_date *date, struct error *error)
{
	const char *at = text;
	struct calendar_date read;

	if (!scan_date(&at, &read) || *at != '\0')
		return error_set(error, ERROR_INVALID,
		    "'%s' is not a date; write one as 2026-03-02", text);
	*date = read;
	return 0;
}

int
calendar_parse_minute(const char *text, int *minute, struct error *error)
{
	const char *at = text;
	int read;

	if (!scan_minute(&at, &read) || *at != '\0')
		return error_set(error, ERROR_INVALID,
		    "'%s' is not a time of day; write one as 06:00, 00:00 to 23:59",
		    text);
	*minute = read;
	return 0;
}
