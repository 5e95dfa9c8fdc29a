/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The runs of a line, a recipe and tool each over its lots: pictures, what moved together, lots
 * against each other, zones and sensors.
 */
#ifndef CLI_REPORT_REPORT_RUN_H
#define CLI_REPORT_REPORT_RUN_H

#include "cli/report/report_line.h"

enum {
	RUN_WIDE_SHOTS = 2000, /* the last ones, of which all figures are read */
	RUNS_DRAWN = 4,        /* of a line; the others have no pictures */
};

/* `references` of the runs, in their order.  0, or the error. */
int report_runs_put(const struct report_line *line,
    const struct report_reference *references, struct error *error);

#endif
