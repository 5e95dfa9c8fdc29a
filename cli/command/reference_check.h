/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What a run that is to be frozen says of itself: held against the newest reference of its
 * kind, or its second half against its first.
 */
#ifndef CLI_COMMAND_REFERENCE_CHECK_H
#define CLI_COMMAND_REFERENCE_CHECK_H

#include "cli/command/found.h"

struct error;

/* A sentence on what is found in it; "" when nothing is, or there are too few shots. */
enum { REFERENCE_REMARK = 600 };
int reference_check(const struct session *session, int line,
    struct found_series *series, char remark[static REFERENCE_REMARK],
    struct error *error);

/* Whether the call's first argument behind the word is a name for a new reference;
 * COMMAND_USAGE after telling. */
enum command_exit reference_check_name(
    const struct call *call, const struct session *session);

/* Whether --side is one of the line's. */
enum command_exit reference_check_side(
    const struct call *call, const struct line_settings *line);

#endif
