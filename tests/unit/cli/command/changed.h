/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * For tests of what a later set-up changes: the demo plant's with one place of its text
 * replaced, in force from a time on.
 */
#ifndef TESTS_UNIT_CLI_COMMAND_CHANGED_H
#define TESTS_UNIT_CLI_COMMAND_CHANGED_H

#include "tests/unit/cli/command/stored.h"

/* Shots written from now on are made under it. */
static inline void
changed_set_up(
    struct plant *plant, const char *find, const char *replace, int64_t shot_no)
{
	static struct problems problems;
	char *text = NULL, path[320];
	size_t length;
	int64_t setup;
	FILE *out = open_memstream(&text, &length);

	plant_need(out != NULL, "memory");
	stored_copy_demo(out);
	plant_need(fclose(out) == 0, "a copy");
	char *at = strstr(text, find);
	plant_need(at != NULL && !strstr(at + 1, find), "one place to change");
	snprintf(path, sizeof path, "%s/changed.ini", plant->folder);
	out = fopen(path, "w");
	plant_need(out &&
		       fprintf(out, "%.*s%s%s", (int)(at - text), text, replace,
			   at + strlen(find)) > 0 &&
		       fclose(out) == 0,
	    "a set-up");
	free(text);
	settings_free(plant->settings);
	plant->settings = settings_load(path, &problems);
	plant_need(plant->settings != NULL, "the changed set-up");
	unlink(path);
	plant_need(ledger_put_setup(plant->ledger, plant->settings, plant_time(shot_no),
		       &setup, NULL) == 0,
	    "filing it");
}

#endif
