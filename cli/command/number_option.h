/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Numbers that options give. */
#ifndef CLI_COMMAND_NUMBER_OPTION_H
#define CLI_COMMAND_NUMBER_OPTION_H

#include "cli/command/command.h"
#include "daemon/base/unit.h"

/* The option's number, low to high, into `*value`, which stays as it was when the option is
 * not given; COMMAND_USAGE after telling. */
enum command_exit number_option(
    const struct call *call, enum option_id id, double low, double high, double *value);

/* The option's number with its unit, in one word or two, SI; NAN, and done, when it is not
 * given or "".  COMMAND_USAGE after telling. */
enum command_exit measure_option(const struct call *call, enum option_id id,
    enum dimension dimension, double *value_si);

#endif
