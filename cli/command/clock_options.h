/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The options of a clock that runs fast, for commands that watch a simulated line.
 */
#ifndef CLI_COMMAND_CLOCK_OPTIONS_H
#define CLI_COMMAND_CLOCK_OPTIONS_H

#include "cli/command/command.h"

#define CLOCK_OPTIONS                                                     \
	(OPTION_BIT(OPTION_CLOCK_RATE) | OPTION_BIT(OPTION_CLOCK_START) | \
	    OPTION_BIT(OPTION_CLOCK_ORIGIN))

/* Lets the process's clock run as they say; COMMAND_USAGE after telling. */
enum command_exit clock_options_read(const struct call *call);

#endif
