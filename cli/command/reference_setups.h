/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Whether shots that are to be frozen were all measured alike: one set-up is kept with a
 * run, that of its last shot.
 */
#ifndef CLI_COMMAND_REFERENCE_SETUPS_H
#define CLI_COMMAND_REFERENCE_SETUPS_H

#include "cli/command/compare_basis.h"
#include "cli/command/reference_known.h"
#include "cli/command/session.h"

/* A sentence on what differs first among the set-ups; "" when all of them read the same
 * sensors alike. */
enum { REFERENCE_SETUPS = 600 };
void reference_setups_check(const struct session *session, const struct kind *kind,
    const struct compare_setups *setups, char remark[static REFERENCE_SETUPS]);

#endif
