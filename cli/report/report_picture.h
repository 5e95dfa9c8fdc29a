/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The picture of a characteristic of a run, with its words. */
#ifndef CLI_REPORT_REPORT_PICTURE_H
#define CLI_REPORT_REPORT_PICTURE_H

#include "cli/report/report_line.h"
#include "cli/report/report_marks.h"

/* Shots that a picture shows; of a longer run the last ones. */
enum { PICTURE_SHOTS = 1500 };

/* `judged` of the whole run.  0, or ERROR_MEMORY. */
int report_picture_put(const struct report_line *line, const struct run *run,
    const struct judged *judged, const struct report_marks *marks, struct error *error);

/* A name to ask for a picture by, of its own in the report: "exit_top_c", for the first run of
 * the first line, "exit_top_c-line-4-31-T-204". */
enum { PICTURE_NAME = 4 * LEDGER_NAME };
void report_picture_name(const struct report_line *line, const struct run *run,
    const char *what, char name[static PICTURE_NAME]);

#endif
