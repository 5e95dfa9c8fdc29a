/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What each command takes, in words: for --help, the manual and completion.
 * Pure but for what is printed.  One thread.
 */
#ifndef CLI_COMMAND_HELP_H
#define CLI_COMMAND_HELP_H

#include "cli/command/option.h"

#include <stdio.h>

struct command;

/* All options that the command takes, those that every command does among them. */
option_set command_options(const struct command *command);

/* What the option means there: its own words, else option_table's. */
const char *command_option_help(const struct command *command, int id);

/* The words of --format, from 0 on; NULL behind the last.  Where the command has none of
 * its own their places are enum page_format. */
const char *command_format(const struct command *command, int place);

void help_print_overview(FILE *out);
void help_print(FILE *out, const struct command *command);

#endif
