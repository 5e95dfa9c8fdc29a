/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Settings from a text that has no mistake; the caller frees them.
 */
#ifndef TESTS_UNIT_CONF_PARSED_H
#define TESTS_UNIT_CONF_PARSED_H

#include "conf/settings.h"

#include "tests/unit/conf/plant.h"

static struct problems problems;

static inline struct settings *
parsed(const char *text)
{
	struct settings *settings = settings_parse(text, "x.ini", &problems);

	if (!settings)
		print_message("%s\n", problems.list[0].text);
	assert_non_null(settings);
	assert_int_equal(problems.count, 0);
	return settings;
}

/* The same of a sound text with one change. */
static inline struct settings *
parsed_from(const char *sound, const char *from, const char *to)
{
	char *text = text_with(sound, from, to);
	struct settings *settings = parsed(text);

	free(text);
	return settings;
}

static inline struct settings *
parsed_with(const char *from, const char *to)
{
	return parsed_from(plant, from, to);
}

#endif
