/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The terminal that a command writes to.  One thread. */
#ifndef CLI_COMMAND_TERMINAL_H
#define CLI_COMMAND_TERMINAL_H

#include <stdbool.h>
#include <stdio.h>

bool terminal_is(FILE *out);

/* How much it shows now; false, and nothing set, when it is none or does not say. */
bool terminal_size(FILE *out, int *columns, int *rows);

/* How wide text is: as the terminal shows now, else as the variable COLUMNS says, else
 * PAGE_WIDTH. */
int terminal_width(FILE *out);

#endif
