/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a reader of a report must know of its words and figures; the object "remarks". */
#ifndef CLI_COMMAND_REPORT_REMARKS_H
#define CLI_COMMAND_REPORT_REMARKS_H

#include "cli/command/session.h"

void report_remarks_put(struct page *page, const struct session *session);

#endif
