/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the command line asks of a capability study. */
#ifndef CLI_COMMAND_CAPABILITY_OPTIONS_H
#define CLI_COMMAND_CAPABILITY_OPTIONS_H

#include "cli/command/command.h"
#include "cli/stats/study.h"

struct capability_options {
	struct study_asked
	    asked; /* its series is empty; refers to ewma and cusum here */
	struct ewma_setting ewma;
	struct cusum_setting cusum;
};

/* Those of any study. */
#define CAPABILITY_STUDY_OPTIONS                                          \
	(OPTION_BIT(OPTION_LOWER) | OPTION_BIT(OPTION_UPPER) |            \
	    OPTION_BIT(OPTION_TARGET) | OPTION_BIT(OPTION_ZERO_BOUNDED) | \
	    OPTION_BIT(OPTION_REQUIRED) | OPTION_BIT(OPTION_SUBGROUP) |   \
	    OPTION_BIT(OPTION_METHOD) | OPTION_BIT(OPTION_CENTRE) |       \
	    OPTION_BIT(OPTION_SIGMA) | OPTION_BIT(OPTION_RULES) |         \
	    OPTION_BIT(OPTION_EWMA) | OPTION_BIT(OPTION_CUSUM) |          \
	    OPTION_BIT(OPTION_PICTURE))

/* COMMAND_USAGE after telling; `options` must stay where it is while it is used. */
enum command_exit capability_options_read(
    struct capability_options *options, const struct call *call);

/* Whether limits make sense together, from wherever they come. */
enum command_exit capability_options_check_limits(
    const struct call *call, const struct study_asked *asked);

/* The words of --method, from 0 on; NULL behind the last. */
const char *capability_method(int place);

#endif
