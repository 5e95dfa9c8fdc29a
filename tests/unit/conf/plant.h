/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * A small sound configuration for the tests, and one change in it at a time.
 */
#ifndef TESTS_UNIT_CONF_PLANT_H
#define TESTS_UNIT_CONF_PLANT_H

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <cmocka.h>

/* clang-format off: a row of lines, whose numbers the messages name */
static const char plant[] = "[site]\n"
			    "name = works\n"
			    "timezone = Europe/Berlin\n"
			    "temperature_unit = F\n"
			    "[ledger]\n"
			    "path = ledger.db\n"
			    "[line a]\n"
			    "machine = rotary\n"
			    "stations = load, oven, form\n"
			    "heat_timer_s = 230\n"
			    "[device plc]\n"
			    "line = a\n"
			    "address = 127.0.0.1:1502\n"
			    "holes = holding 14-19\n"
			    "[channel plc.rotating]\n"
			    "role = rotating\n"
			    "table = discrete\n"
			    "address = 0\n"
			    "type = bit\n"
			    "[channel plc.closed]\n"
			    "role = form_closed\n"
			    "table = holding\n"
			    "address = 10\n"
			    "type = bit\n"
			    "bit = 1\n"
			    "[channel plc.tool]\n"
			    "role = tool\n"
			    "count = 4\n"
			    "table = holding\n"
			    "address = 20\n"
			    "type = float32\n"
			    "word_order = cdab\n"
			    "unit = F\n"
			    "minimum = 32\n"
			    "maximum = 392\n"
			    "[material abs]\n"
			    "[recipe 12]\n"
			    "material = abs\n"
			    "[tool T-1]\n"
			    "part = basin\n"
			    "[shift early]\n"
			    "start = 06:00\n"
			    "end = 14:00\n"
			    "[shift night]\n"
			    "start = 22:00\n"
			    "end = 06:00\n"
			    "[limits exit_top_c]\n"
			    "lower = 345 F\n"
			    "upper = 375 F\n"
			    "recipe = 12\n"
			    "[limits tool_spread_of_means_dc thin]\n"
			    "upper = 2.0 F\n"
			    "tool = T-1\n"
			    "[store plant]\n"
			    "url = http://127.0.0.1:8086\n"
			    "database = plant\n";
/* clang-format on */

/* The text with the first `from` in it put as `to`; the caller frees it. */
static inline char *
text_with(const char *sound, const char *from, const char *to)
{
	const char *at = strstr(sound, from);
	char *text = malloc(strlen(sound) + strlen(to) + 1);

	assert_non_null(at);
	assert_non_null(text);
	memcpy(text, sound, (size_t)(at - sound));
	memcpy(text + (at - sound), to, strlen(to));
	memcpy(text + (at - sound) + strlen(to), at + strlen(from),
	    strlen(at + strlen(from)) + 1);
	return text;
}

static inline char *
plant_with(const char *from, const char *to)
{
	return text_with(plant, from, to);
}

#endif
