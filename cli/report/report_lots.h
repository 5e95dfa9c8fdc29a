/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How much of the scatter of a run lies between its lots. */
#ifndef CLI_REPORT_REPORT_LOTS_H
#define CLI_REPORT_REPORT_LOTS_H

#include "cli/report/report_line.h"

/* Nothing of a run of one lot.  0, or ERROR_MEMORY. */
int report_lots_put(
    const struct report_line *line, const struct run *run, struct error *error);

#endif
