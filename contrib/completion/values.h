/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What the value of an option, or an argument, is one of: fixed words, sections of the
 * configuration, names in the ledger.  Constant data but for what is printed.
 */
#ifndef CONTRIB_COMPLETION_VALUES_H
#define CONTRIB_COMPLETION_VALUES_H

#include "cli/command/option.h"

#include <stdio.h>

struct command;

/* Of the option there, which may differ from what option_table says. */
enum option_values values_of(const struct command *command, int option);

/* Fixed words with blanks between; nothing where the values are of another kind. */
void values_print_words(
    FILE *out, enum option_values values, const struct command *command);

/* What a shell's function is asked for: "files", "line", "reference" ...; NULL where the
 * words are fixed, or nobody knows any. */
const char *values_asked(enum option_values values);

/* An argument of a command: what is typed before it, as it stands ("" for nothing). */
struct argument {
	char word[32];
	enum option_values values; /* of what follows */
};

enum { ARGUMENTS_MOST = 8 };

/* Reads the command's `arguments`: "[freeze NAME | show RUN]", "[FILE.csv]"; how many. */
int values_arguments(
    const struct command *command, struct argument list[static ARGUMENTS_MOST]);

#endif
