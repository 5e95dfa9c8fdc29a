/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "conf/list.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "conf/register.h"
#include "conf/settings.h"
#include "conf/value.h"
#include "conf/words.h"
#include "daemon/base/calendar.h"
#include "daemon/base/error.h"
#include "daemon/base/text.h"

static const char blanks[] = " \t";

bool
list_next(const char **rest, char item[static LIST_ITEM])
{
	const char *from, *to, *end;

	if (!*rest)
		return false;
	from = *rest + strspn(*rest, blanks);
	end = strchrnul(from, ',');
	for (to = end; to > from && strchr(blanks, to[-1]); to--)
		;
	snprintf(item, LIST_ITEM, "%.*s", (int)(to - from), from);
	*rest = *end ? end + 1 : NULL;
	return true;
}

/* "mon" or "mon-fri" (also "sat-mon"), as bits; 0 when it is neither. */
static unsigned
read_day_range(const char *item)
{
	static const char *const days[] = {
	    "mon", "tue", "wed", "thu", "fri", "sat", "sun"};
	const struct words words = {days, 7};
	char first[4];
	unsigned bits = 0;
	int from, to;

	text_copy(first, sizeof first, item);
	from = to = words_find(&words, first);
	if (item[strlen(first)] == '-')
		to = words_find(&words, item + 4);
	else if (item[strlen(first)])
		to = -1;
	if (from < 0 || to < 0)
		return 0;
	for (int day = from;; day = (day + 1) % 7) {
		bits |= 1U << day;
		if (day == to)
			return bits;
	}
}

int
list_days(const char *text, unsigned *place, struct error *error)
{
	char item[LIST_ITEM];
	unsigned all = 0;

	while (list_next(&text, item)) {
		unsigned bits = read_day_range(item);

		if (bits == 0)
			return error_set(error, ERROR_INVALID,
			    "write days and ranges of days, such as mon-fri, sun");
		all |= bits;
	}
	*place = all;
	return 0;
}

int
list_words(
    const char *text, const struct words *words, uint32_t *bits, struct error *error)
{
	char item[LIST_ITEM];
	uint32_t all = 0;

	while (list_next(&text, item)) {
		int place = words_find(words, item);
		if (place < 0)
			return value_refuse_word(words, item, error);
		if (all & UINT32_C(1) << place)
			return error_set(
			    error, ERROR_INVALID, "%s stands twice in it", item);
		all |= UINT32_C(1) << place;
	}
	*bits = all;
	return 0;
}

bool
list_has_date(const struct calendar_dates *dates, struct calendar_date date)
{
	for (int i = 0; i < dates->count; i++)
		if (calendar_date_same(dates->list[i], date))
			return true;
	return false;
}

int
list_dates(const char *text, struct calendar_dates *dates, struct error *error)
{
	struct calendar_dates all = {0};
	struct calendar_date date;
	char item[LIST_ITEM];

	if (!*text) {
		*dates = all;
		return 0;
	}
	while (list_next(&text, item)) {
		if (all.count == SETTINGS_DATES)
			return error_set(error, ERROR_INVALID,
			    "write %d of them at most", SETTINGS_DATES);
		if (calendar_parse_date(item, &date, NULL) != 0)
			return error_set(error, ERROR_INVALID,
			    "write dates with commas, such as 2026-12-24, 2026-12-31");
		if (list_has_date(&all, date))
			return error_set(
			    error, ERROR_INVALID, "%s stands twice in it", item);
		all.list[all.count++] = date;
	}
	*dates = all;
	return 0;
}

/* "holding 14-19" or "holding 14". */
static bool
read_hole(const char *item, struct hole *hole)
{
	size_t length = strcspn(item, blanks);
	const char *range = item + length;
	int64_t first, last;
	char word[LIST_ITEM];
	const char *dash;
	int table;

	snprintf(word, sizeof word, "%.*s", (int)length, item);
	table = words_find(&words_table, word);
	range += strspn(range, blanks);
	dash = strchrnul(range, '-');
	snprintf(word, sizeof word, "%.*s", (int)(dash - range), range);
	if (table < 0 || !text_integer(word, &first))
		return false;
	last = first;
	if (*dash && !text_integer(dash + 1, &last))
		return false;
	if (first < 0 || last < first || last > 65535)
		return false;
	*hole =
	    (struct hole){(enum register_table)table, (uint16_t)first, (uint16_t)last};
	return true;
}

int
list_holes(const char *text, struct device_settings *device, struct error *error)
{
	struct hole holes[SETTINGS_HOLES] = {0};
	char item[LIST_ITEM];
	int count = 0;

	while (list_next(&text, item)) {
		if (count == SETTINGS_HOLES)
			return error_set(error, ERROR_INVALID,
			    "write %d of them at most", SETTINGS_HOLES);
		if (!read_hole(item, holes + count))
			return error_set(error, ERROR_INVALID,
			    "write a table and its addresses, lowest first, such as "
			    "holding 14-19, input 6");
		count++;
	}
	memcpy(device->holes, holes, (size_t)count * sizeof holes[0]);
	device->hole_count = count;
	return 0;
}

/* What a decimal number of that type may be; a float32's are not looked at. */
static void
number_range(enum encoding encoding, int64_t *lowest, int64_t *highest)
{
	*lowest = 0;
	*highest = 1;
	switch (encoding) {
	case ENCODING_INT16:
		*lowest = INT16_MIN;
		*highest = INT16_MAX;
		break;
	case ENCODING_UINT16:
		*highest = UINT16_MAX;
		break;
	case ENCODING_INT32:
		*lowest = INT32_MIN;
		*highest = INT32_MAX;
		break;
	case ENCODING_UINT32:
		*highest = UINT32_MAX;
		break;
	case ENCODING_BIT:
	case ENCODING_FLOAT32:
		break;
	}
}

/* Reads "0x7fff" as bits, "-9999" as the number that the device means by them. */
static bool
read_sentinel(
    const struct channel_settings *channel, const char *item, int64_t *sentinel)
{
	int64_t mask = register_width(channel->encoding) == 2 ? UINT32_MAX : UINT16_MAX;
	int64_t lowest, highest;
	uint32_t bits;
	double number;
	float real;

	if (strncmp(item, "0x", 2) == 0) {
		size_t digits = strspn(item + 2, "0123456789abcdefABCDEF");

		if (digits == 0 || digits > 8 || item[2 + digits])
			return false;
		*sentinel = (int64_t)strtoull(item + 2, NULL, 16);
		return *sentinel <= mask;
	}
	if (channel->encoding == ENCODING_FLOAT32) {
		if (!text_number(item, &number) || !isfinite((float)number))
			return false;
		real = (float)number;
		memcpy(&bits, &real, sizeof bits);
		*sentinel = bits;
		return true;
	}
	number_range(channel->encoding, &lowest, &highest);
	if (!text_integer(item, sentinel) || *sentinel < lowest || *sentinel > highest)
		return false;
	*sentinel &= mask;
	return true;
}

static int
refuse_sentinel(
    const struct channel_settings *channel, const char *item, struct error *error)
{
	const char *bits = register_width(channel->encoding) == 2
	                       ? "0x00000000 to 0xffffffff"
	                       : "0x0000 to 0xffff";
	int64_t lowest, highest;

	if (channel->encoding == ENCODING_FLOAT32)
		return error_set(error, ERROR_INVALID,
		    "'%s' is no float32, write a number, or the bits as %s", item,
		    bits);
	number_range(channel->encoding, &lowest, &highest);
	return error_set(error, ERROR_INVALID,
	    "'%s' is no %s, write a number from %lld to %lld, or the bits as %s", item,
	    words_encoding.list[channel->encoding], (long long)lowest,
	    (long long)highest, bits);
}

int
list_sentinels(const char *text, struct channel_settings *channel, struct error *error)
{
	char item[LIST_ITEM];
	int count = 0;

	while (list_next(&text, item)) {
		if (count == SETTINGS_SENTINELS)
			return error_set(error, ERROR_INVALID,
			    "write %d of them at most", SETTINGS_SENTINELS);
		if (!read_sentinel(channel, item, channel->sentinels + count))
			return refuse_sentinel(channel, item, error);
		count++;
	}
	channel->sentinel_count = count;
	return 0;
}
