/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The lines in which two texts of a set-up differ, in order, each with the section that it
 * stands in.  Pure; any thread.
 */
#ifndef CLI_COMMAND_SET_UP_LINES_H
#define CLI_COMMAND_SET_UP_LINES_H

#include "conf/settings.h"

#include <stdbool.h>

struct set_up_line {
	bool added;          /* only the later text has it; else only the earlier */
	const char *text;    /* lent, without its end */
	const char *section; /* its line, "[channel ovens.zone_top]"; "" above all */
};

/* Calls `take` for each; blank lines and comments that stand alone are no difference.  A
 * text is lent and cut into its lines.  False when memory is short. */
bool set_up_lines_compare(char *earlier, char *later,
    void (*take)(void *arg, const struct set_up_line *line), void *arg);

#endif
