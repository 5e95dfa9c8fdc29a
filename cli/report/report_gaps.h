/* SPDX-License-Identifier: GPL-3.0-or-later */
/* When nobody logged a line: between an end of the logger and its next beginning. */
#ifndef CLI_REPORT_REPORT_GAPS_H
#define CLI_REPORT_REPORT_GAPS_H

#include "cli/report/report_line.h"

struct error;

/* The table "not_logged"; of very many the first.  0, or the error. */
int report_gaps_put(const struct report_line *line, struct error *error);

#endif
