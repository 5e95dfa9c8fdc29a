/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The heater zones of a line over the shots of a run: a plan, and for machines a table. */
#ifndef CLI_REPORT_REPORT_OVEN_H
#define CLI_REPORT_REPORT_OVEN_H

#include "cli/report/report_line.h"

/* Outputs are in a ledger alone: of a store, or a line without zones, nothing.  0, or the
 * error. */
int report_oven_put(const struct report_line *line, const struct run *run,
    const struct report_reference *reference, struct error *error);

#endif
