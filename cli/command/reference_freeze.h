/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Freezing a reference run: the usual shots of one kind over a time, as copies.
 */
#ifndef CLI_COMMAND_REFERENCE_FREEZE_H
#define CLI_COMMAND_REFERENCE_FREEZE_H

#include "cli/command/session.h"

/* The second argument is its name.  COMMAND_NO after telling when there are too few. */
enum command_exit reference_freeze(
    const struct call *call, const struct session *session);

#endif
