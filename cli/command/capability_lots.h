/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Shots of several lots: where their scatter comes from, in place of a capability. */
#ifndef CLI_COMMAND_CAPABILITY_LOTS_H
#define CLI_COMMAND_CAPABILITY_LOTS_H

#include "cli/command/capability_put.h"
#include "cli/command/capability_shots.h"

/* COMMAND_NO, or COMMAND_CANNOT after telling.  `view` has no study. */
enum command_exit capability_lots_put(const struct call *call,
    const struct capability_view *view, const struct capability_shots *shots);

#endif
