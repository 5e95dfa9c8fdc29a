/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A plant whose report is asked for, and finding one's way in what it writes. */
#ifndef TESTS_UNIT_CLI_COMMAND_REPORTED_H
#define TESTS_UNIT_CLI_COMMAND_REPORTED_H

#include <stddef.h>
#include <stdlib.h>
#include <string.h>

#include "tests/unit/cli/command/plant.h"

static inline int
open_plant(void **state)
{
	static struct plant plant;

	plant_open(&plant);
	plant.random[0] = 3; /* verdicts of chance: one in twenty is false */
	*state = &plant;
	return 0;
}

static inline int
close_plant(void **state)
{
	plant_close(*state);
	return 0;
}

static inline void
report(struct plant *plant, const char *format)
{
	plant_run_command(
	    plant, "report", "--ledger", plant->ledger_path, "--format", format);
	assert_int_equal(plant->code, COMMAND_DONE);
}

/* The part of the JSON behind a key and a word. */
static inline const char *
behind(const char *json, const char *part, const char *word)
{
	const char *at = strstr(json, part);

	at = at ? strstr(at, word) : NULL;
	if (!at)
		fail_msg("no '%s' behind '%s' in:\n%s", word, part, json);
	return at;
}

static inline double
number_behind(const char *at, const char *key)
{
	const char *found = strstr(at, key);

	if (!found)
		fail_msg("no '%s' in:\n%s", key, at);
	return strtod(found + strlen(key), NULL);
}

static inline size_t
count_of(const char *text, const char *part)
{
	size_t count = 0;

	for (; (text = strstr(text, part)); text += strlen(part))
		count++;
	return count;
}

#endif
