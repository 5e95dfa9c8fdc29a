/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Which shifts have shots, told to somebody who asked for one that has none. */
#ifndef CLI_COMMAND_REPORT_SHIFTS_H
#define CLI_COMMAND_REPORT_SHIFTS_H

#include "cli/command/session.h"
#include "cli/page/page.h"

struct error;

/* Those of the last days before the line's newest shot, the latest first; nothing where it has
 * no shots at all.  0, or the source's error. */
int report_shifts_tell(struct page *page, const struct session *session,
    const char *line, struct error *error);

#endif
