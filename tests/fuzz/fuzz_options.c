/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * A command line: whatever is typed, an option of those allowed is found, with a value that
 * was typed, and the reading goes on behind it; or it is refused with a sentence.  So are the
 * times, numbers and near names that its values are read as.
 *
 * Input: which options are allowed; the arguments, each with a NUL behind it.
 */
#include "tests/fuzz/words.h"

#include <math.h>

#include "cli/command/option.h"
#include "daemon/base/calendar.h"
#include "daemon/base/error.h"
#include "daemon/base/text.h"

enum { ARGUMENTS = 16, BYTES = 2000 };

/* The last year that calendar_parse takes, and the next: a margin for zones. */
static const int64_t last_ns = INT64_C(7289654400) * 1000000000;

static bool
is_within(const char *part, const char *bytes, size_t length)
{
	return part >= bytes && part <= bytes + length;
}

static void
read_values(const char *word)
{
	struct calendar_date date;
	struct wall wall;
	struct error error;
	int64_t integer;
	double number;
	int minute;

	if (calendar_parse(word, &wall, &error) == 0)
		MUST(wall.ns >= -86400 * INT64_C(1000000000) && wall.ns < last_ns);
	else
		MUST(is_sentence(error.text, sizeof error.text));
	if (calendar_parse_date(word, &date, &error) != 0)
		MUST(is_sentence(error.text, sizeof error.text));
	if (calendar_parse_minute(word, &minute, &error) == 0)
		MUST(minute >= 0 && minute < 1440);
	else
		MUST(is_sentence(error.text, sizeof error.text));
	if (text_number(word, &number))
		MUST(isfinite(number));
	(void)text_integer(word, &integer);
}

/* The set of those that begin with the same letter, and a half of the rest. */
static option_set
choose(uint8_t which)
{
	option_set set = which & 1 ? OPTION_ALL : OPTIONS_COMMON;

	for (int id = 0; id < OPTION_COUNT; id++)
		if (id % 7 == which >> 1 % 7)
			set |= OPTION_BIT(id);
	return set;
}

static void
read_all(int count, char *arguments[], const char *bytes, size_t length, option_set set)
{
	for (int at = 0; at < count;) {
		struct option_value value = {NULL, NULL};
		struct error error;
		int before = at;

		if (arguments[at][0] != '-') {
			read_values(arguments[at++]);
			continue;
		}
		int id = option_read(count, arguments, &at, set, &value, &error);
		if (id < 0) {
			MUST(id == ERROR_INVALID);
			MUST(is_sentence(error.text, sizeof error.text));
			MUST(is_text(error.text, strlen(error.text), ""));
			return;
		}
		MUST(id < OPTION_COUNT && (set & OPTION_BIT(id)) != 0);
		MUST(at > before && at <= before + 3 && at <= count);
		MUST(value.text != NULL);
		if (option_table[id].value == NULL)
			MUST(*value.text == '\0');
		else
			MUST(is_within(value.text, bytes, length));
		MUST(value.unit == NULL || is_within(value.unit, bytes, length));
	}
}

int
LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t length)
{
	struct input input = {bytes, length};
	option_set set = choose(input_u8(&input));
	char copy[BYTES + 1], *arguments[ARGUMENTS + 1] = {NULL};
	size_t used = input.left < BYTES ? input.left : BYTES;
	int count = 0;

	if (used > 0)
		memcpy(copy, input.at, used);
	copy[used] = '\0';
	for (char *at = copy; at < copy + used && count < ARGUMENTS;
	     at += strlen(at) + 1)
		arguments[count++] = at;
	read_all(count, arguments, copy, used, set);
	return 0;
}
