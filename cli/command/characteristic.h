/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What --characteristic names. */
#ifndef CLI_COMMAND_CHARACTERISTIC_H
#define CLI_COMMAND_CHARACTERISTIC_H

#include "cli/command/command.h"

/* The feature, -1 when the option is not given; COMMAND_USAGE after telling when there is
 * none of that name. */
enum command_exit characteristic_option(const struct call *call, int *feature);

#endif
