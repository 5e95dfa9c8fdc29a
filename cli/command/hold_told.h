/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What is suspect by what others tell: findings, and times in which nothing was logged. */
#ifndef CLI_COMMAND_HOLD_TOLD_H
#define CLI_COMMAND_HOLD_TOLD_H

#include "cli/command/found.h"
#include "cli/command/hold_read.h"
#include "cli/population/suspect.h"

enum { HOLD_WORDS = 320 };

/* Words that reasons lend. */
struct hold_told {
	char (*list)[HOLD_WORDS]; /* the caller's */
	size_t count, room;
};

/* False when memory, or room, is short. */
bool hold_told_found(
    struct suspects *suspects, const struct found_all *all, struct hold_told *told);
bool hold_told_gaps(
    struct suspects *suspects, const struct hold_read *read, struct hold_told *told);

#endif
