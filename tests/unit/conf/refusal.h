/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * One mistake put into a sound configuration, and exactly what is said about it.
 */
#ifndef TESTS_UNIT_CONF_REFUSAL_H
#define TESTS_UNIT_CONF_REFUSAL_H

#include "conf/settings.h"

#include "tests/unit/conf/plant.h"

struct refusal {
	const char *from, *to;
	const char *said; /* every problem, each with its \n */
};

static inline void
check_refusals(const char *sound, const struct refusal *refusals, size_t count)
{
	struct problems *found = malloc(sizeof *found);

	assert_non_null(found);
	for (size_t i = 0; i < count; i++) {
		char *text = text_with(sound, refusals[i].from, refusals[i].to);
		char said[8192] = "";

		assert_null(settings_parse(text, "x.ini", found));
		for (size_t j = 0; j < found->count; j++) {
			strncat(
			    said, found->list[j].text, sizeof said - strlen(said) - 1);
			strncat(said, "\n", sizeof said - strlen(said) - 1);
		}
		assert_string_equal(said, refusals[i].said);
		free(text);
	}
	free(found);
}

#define CHECK_IN(sound, ...)                                                           \
	do {                                                                           \
		static const struct refusal refusals[] = {__VA_ARGS__};                \
		(void)state;                                                           \
		check_refusals(sound, refusals, sizeof refusals / sizeof refusals[0]); \
	} while (0)

#define CHECK(...) CHECK_IN(plant, __VA_ARGS__)

#endif
