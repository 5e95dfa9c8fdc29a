/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What moved together with a characteristic that was not stable. */
#ifndef CLI_REPORT_REPORT_MOVED_H
#define CLI_REPORT_REPORT_MOVED_H

#include "cli/report/report_line.h"

/* `wide`: the shots of the run with all of their figures, perhaps the last ones only; count 0:
 * none were read.  0, or ERROR_MEMORY. */
int report_moved_put(const struct report_line *line, const struct run *run,
    const struct run *wide, struct error *error);

/* Whether any characteristic of the run was not stable in a lot. */
bool report_moved_is_asked(const struct report_line *line, const struct run *run);

#endif
