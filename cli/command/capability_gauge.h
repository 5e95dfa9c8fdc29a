/* SPDX-License-Identifier: GPL-3.0-or-later */
/* `evensoak capability FILE.csv --gauge PART,OPERATOR,VALUE`: the crossed gauge study. */
#ifndef CLI_COMMAND_CAPABILITY_GAUGE_H
#define CLI_COMMAND_CAPABILITY_GAUGE_H

#include "cli/command/command.h"

enum command_exit capability_gauge_run(const struct call *call);

#endif
