/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Whether shifts are closed, for `status`.  One thread. */
#ifndef CLI_COMMAND_STATUS_SHIFTS_H
#define CLI_COMMAND_STATUS_SHIFTS_H

#include "cli/command/session.h"

struct error;
struct page;

/* A sentence with what to do where the last shift that ended more than an hour ago and has
 * shots is not on file.  Told and not wrong: the shots are on file, and it can be closed
 * later. */
int status_shifts_remark(
    struct page *page, const struct session *session, struct error *error);

#endif
