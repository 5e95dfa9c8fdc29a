/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "conf/value.h"

#include <ctype.h>
#include <math.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include "conf/curve.h"
#include "conf/list.h"
#include "conf/machine.h"
#include "conf/schema.h"
#include "conf/settings.h"
#include "conf/units.h"
#include "conf/words.h"
#include "daemon/base/calendar.h"
#include "daemon/base/error.h"
#include "daemon/base/text.h"

static const char blanks[] = " \t";

/* --- pieces ----------------------------------------------------------------------- */

bool
value_is_name(const char *text, bool dots)
{
	size_t length = strlen(text);

	if (length == 0 || length >= SETTINGS_NAME)
		return false;
	for (size_t i = 0; i < length; i++) {
		unsigned char byte = (unsigned char)text[i];

		if (byte < 0x80 && !isalnum(byte) && byte != '-' && byte != '_' &&
		    !(dots && byte == '.'))
			return false;
	}
	return true;
}

const char *
value_shown(const char *value, char shown[static SETTINGS_PATH])
{
	const char *at = strrchr(value, '@');
	const char *host = strstr(value, "://");

	if (!at || !memchr(value, ':', (size_t)(at - value)))
		return value;
	snprintf(shown, SETTINGS_PATH, "%.*s...%s",
	    host && host < at ? (int)(host + 3 - value) : 0, value, at);
	return shown;
}

const char *
value_name_advice(const char *text)
{
	return strpbrk(text, blanks) ? "a name has no blanks, " : "";
}

int
value_measure(
    const char *text, enum dimension dimension, double *si, struct error *error)
{
	size_t length = strspn(text, "+-.0123456789");
	const char *unit_word = text + length + strspn(text + length, blanks);
	char number[LIST_ITEM], before[LIST_ITEM + 4], choice[WORDS_TEXT];
	enum unit unit;
	double value;

	snprintf(number, sizeof number, "%.*s", (int)length, text);
	if (length >= sizeof number || !text_number(number, &value)) {
		words_units(dimension, "", choice);
		return error_set(error, ERROR_INVALID, "write a number%s%s",
		    *choice ? " and " : ", without a unit", choice);
	}
	if (dimension == DIMENSION_NONE) {
		if (*unit_word)
			return error_set(
			    error, ERROR_INVALID, "write '%s' alone", number);
		*si = value;
		return 0;
	}
	if (!*unit_word) {
		snprintf(before, sizeof before, "%s ", number);
		words_units(dimension, before, choice);
		return error_set(
		    error, ERROR_INVALID, "the unit is missing, write %s", choice);
	}
	if (!unit_parse(unit_word, &unit) || !unit_measures(unit, dimension)) {
		words_units(dimension, "", choice);
		if (dimension == DIMENSION_TEMPERATURE && strcmp(unit_word, "K") == 0)
			return error_set(error, ERROR_INVALID,
			    "a temperature is in %s, not in K", choice);
		return error_set(error, ERROR_INVALID,
		    "'%s' cannot measure that, write a number in %s", unit_word,
		    choice);
	}
	*si = unit_to_si(unit, dimension, value);
	return 0;
}

/* --- a function a type ------------------------------------------------------------ */

static int
read_name(
    const struct setting *setting, const char *text, char *place, struct error *error)
{
	if (!value_is_name(text, true))
		return error_set(error, ERROR_INVALID,
		    "%swrite letters, digits, '-', '_' and '.' alone, %.0f bytes at "
		    "most",
		    value_name_advice(text), setting->maximum);
	text_copy(place, SETTINGS_NAME, text);
	return 0;
}

static int
read_text(
    const struct setting *setting, const char *text, char *place, struct error *error)
{
	if (strlen(text) > (size_t)setting->maximum)
		return error_set(error, ERROR_INVALID, "write less, %.0f bytes at most",
		    setting->maximum);
	text_copy(place, (size_t)setting->maximum + 1, text);
	return 0;
}

static int
read_zone(
    const struct setting *setting, const char *text, char *place, struct error *error)
{
	if (strlen(text) > (size_t)setting->maximum || !calendar_has_zone(text))
		return error_set(error, ERROR_INVALID,
		    "the zone data base has none of that name, write one such as "
		    "Europe/Berlin, or UTC");
	text_copy(place, SETTINGS_NAME, text);
	return 0;
}

/* Of a whole number from 1 to 65535. */
static bool
read_port(const char *text, int *port)
{
	int64_t number;

	if (!isdigit((unsigned char)*text) || !text_integer(text, &number) ||
	    number < 1 || number > 65535)
		return false;
	*port = (int)number;
	return true;
}

/* Of HOST, HOST:PORT or [HOST]:PORT, `length` bytes of a URL. */
static bool
has_sound_port(const char *host, size_t length)
{
	char text[SETTINGS_PATH];
	const char *colon;
	int port;

	snprintf(text, sizeof text, "%.*s", (int)length, host);
	colon = strchr(*text == '[' ? text + strcspn(text, "]") : text, ':');
	return length < sizeof text && colon != text &&
	       (*text != '[' || strchr(text, ']')) &&
	       (!colon || read_port(colon + 1, &port));
}

static int
read_url(
    const struct setting *setting, const char *text, char *place, struct error *error)
{
	const char *host = strstr(text, "://");
	size_t length;

	if (strncmp(text, "http://", 7) != 0 && strncmp(text, "https://", 8) != 0)
		return error_set(error, ERROR_INVALID,
		    "write http://HOST:PORT or https://HOST:PORT");
	host += 3;
	length = strcspn(host, "/?#");
	if (memchr(host, '@', length))
		return error_set(error, ERROR_INVALID,
		    "write no user in it, but 'user' and 'password_file'");
	if (length == 0 || text[strcspn(text, " \t?#\"\\")])
		return error_set(error, ERROR_INVALID,
		    "write http://HOST:PORT with no more than a path behind");
	if (!has_sound_port(host, length))
		return error_set(error, ERROR_INVALID,
		    "write http://HOST:PORT with a port from 1 to 65535");
	return read_text(setting, text, place, error);
}

/* HOST, HOST:PORT or [HOST]:PORT. */
static int
read_address(const char *text, struct bus_settings *bus, struct error *error)
{
	bool bracket = *text == '[';
	const char *host = text + bracket;
	size_t length = strcspn(host, bracket ? "]" : ":");
	const char *rest = host + length;
	int port = 502;

	if (bracket && *rest == ']')
		rest++;
	else if (bracket)
		length = 0;
	if (length == 0 || length >= sizeof bus->host ||
	    text[strcspn(text, " \t/@,")] || (*rest && *rest != ':'))
		return error_set(error, ERROR_INVALID,
		    "write HOST or HOST:PORT, such as 192.168.1.20:502");
	if (!bracket && *rest && strchr(rest + 1, ':'))
		return error_set(error, ERROR_INVALID,
		    "write an IPv6 address in brackets, such as [fd00::20]:502");
	if (*rest && !read_port(rest + 1, &port))
		return error_set(error, ERROR_INVALID,
		    "write a port from 1 to 65535 behind the ':'");
	snprintf(bus->host, sizeof bus->host, "%.*s", (int)length, host);
	bus->port = port;
	return 0;
}

static int
read_integer(
    const struct setting *setting, const char *text, int *place, struct error *error)
{
	int64_t value;

	if (!text_integer(text, &value) || (double)value < setting->minimum ||
	    (double)value > setting->maximum)
		return error_set(error, ERROR_INVALID,
		    "write a whole number from %.0f to %.0f%s", setting->minimum,
		    setting->maximum,
		    strchr(text, '#') ? "; a comment behind a value begins with ';'"
				      : "");
	*place = (int)value;
	return 0;
}

static int
read_number(
    const struct setting *setting, const char *text, double *place, struct error *error)
{
	bool free = !(setting->minimum < setting->maximum);
	double value;

	if (!text_number(text, &value) ||
	    (!free && (value < setting->minimum || value > setting->maximum))) {
		if (free)
			return error_set(error, ERROR_INVALID,
			    "write a number, with a point for decimals");
		return error_set(error, ERROR_INVALID,
		    "write a number from %.10g to %.10g", setting->minimum,
		    setting->maximum);
	}
	*place = value * setting->factor;
	return 0;
}

/* A number with its unit, whatever that is; the bounds are in the setting's. */
static int
read_measured(const struct setting *setting, const char *text, enum dimension dimension,
    double *place, struct error *error)
{
	double si = 0;
	int rc = value_measure(text, dimension, &si, error);

	if (rc != 0)
		return rc;
	if (si < setting->minimum * setting->factor ||
	    si > setting->maximum * setting->factor)
		return error_set(error, ERROR_INVALID, "write %g %s to %g %s",
		    setting->minimum, setting->unit, setting->maximum, setting->unit);
	*place = si;
	return 0;
}

int
value_refuse_word(const struct words *words, const char *text, struct error *error)
{
	const char *names[64];
	char list[WORDS_TEXT];
	const char *near;
	size_t count = 0;

	for (size_t i = 0; i < words->count && count < 64; i++)
		if (words->list[i])
			names[count++] = words->list[i];
	near = text_nearest(text, names, count);
	if (near)
		return error_set(error, ERROR_INVALID, "did you mean '%s'?", near);
	words_list(words, list);
	return error_set(error, ERROR_INVALID, "write %s", list);
}

static int
read_word(
    const struct setting *setting, const char *text, int *place, struct error *error)
{
	int word = words_find(setting->words, text);

	if (word < 0)
		return value_refuse_word(setting->words, text, error);
	*place = word;
	return 0;
}

static int
read_flag(const char *text, bool *place, struct error *error)
{
	if (strcmp(text, "yes") != 0 && strcmp(text, "no") != 0)
		return error_set(error, ERROR_INVALID, "write yes or no");
	*place = strcmp(text, "yes") == 0;
	return 0;
}

static int
read_minute(const char *text, int *place, struct error *error)
{
	if (calendar_parse_minute(text, place, NULL) != 0)
		return error_set(
		    error, ERROR_INVALID, "write a time from 00:00 to 23:59 as HH:MM");
	return 0;
}

/* --- the table's types to their functions ----------------------------------------- */

int
value_read(
    const struct setting *setting, const char *text, void *place, struct error *error)
{
	switch (setting->type) {
	case TYPE_NAME:
		return read_name(setting, text, place, error);
	case TYPE_TEXT:
	case TYPE_PATH:
		return read_text(setting, text, place, error);
	case TYPE_URL:
		return read_url(setting, text, place, error);
	case TYPE_ADDRESS:
		return read_address(text, place, error);
	case TYPE_INTEGER:
		return read_integer(setting, text, place, error);
	case TYPE_NUMBER:
		return read_number(setting, text, place, error);
	case TYPE_WORD:
		return read_word(setting, text, place, error);
	case TYPE_FLAG:
		return read_flag(text, place, error);
	case TYPE_MINUTE:
		return read_minute(text, place, error);
	case TYPE_DAYS:
		return list_days(text, place, error);
	case TYPE_DATES:
		return list_dates(text, place, error);
	case TYPE_UNIT:
		return units_read(text, place, error);
	case TYPE_ZONE:
		return read_zone(setting, text, place, error);
	case TYPE_MACHINE:
		return machine_read(text, place, error);
	case TYPE_STATIONS:
		return machine_read_stations(text, place, error);
	case TYPE_SIDES:
		return machine_read_sides(text, place, error);
	case TYPE_HOLES:
		return list_holes(text, place, error);
	case TYPE_RAW:
	case TYPE_MEASURE:
		*(const char **)place = text;
		return 0;
	case TYPE_TEMPERATURE:
		return read_measured(
		    setting, text, DIMENSION_TEMPERATURE, place, error);
	case TYPE_DIFFERENCE:
		return read_measured(
		    setting, text, DIMENSION_TEMPERATURE_DIFFERENCE, place, error);
	case TYPE_LENGTH:
		return read_measured(setting, text, DIMENSION_LENGTH, place, error);
	case TYPE_EVENTS:
		return list_words(text, setting->words, place, error);
	case TYPE_CURVE:
		return curve_read(setting, text, place, error);
	case TYPE_COUNT:
		break;
	}
	return error_set(error, ERROR_INVALID, "the table of settings is wrong");
}

void
value_clear(const struct setting *setting, void *place)
{
	/* Everything else is 0 already: "", NULL, none of them; but there is a side. */
	if (setting->type == TYPE_NUMBER || setting->type == TYPE_TEMPERATURE ||
	    setting->type == TYPE_DIFFERENCE || setting->type == TYPE_LENGTH)
		*(double *)place = NAN;
	else if (setting->type == TYPE_INTEGER || setting->type == TYPE_WORD)
		*(int *)place = -1;
	else if (setting->type == TYPE_SIDES)
		((struct line_settings *)place)->side_count = 1;
}
