/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The sensors of a run's tool over its shots. */
#ifndef CLI_REPORT_REPORT_TOOL_H
#define CLI_REPORT_REPORT_TOOL_H

#include "cli/report/report_line.h"
#include "cli/report/report_marks.h"

/* `wide`: the shots of the run with the figures of each sensor; nothing where the tool has
 * none.  0, or ERROR_MEMORY. */
int report_tool_put(const struct report_line *line, const struct run *run,
    const struct run *wide, struct error *error);

#endif
