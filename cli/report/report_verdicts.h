/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Each characteristic of each lot with its verdict, and why it is that one. */
#ifndef CLI_REPORT_REPORT_VERDICTS_H
#define CLI_REPORT_REPORT_VERDICTS_H

#include "cli/report/report_line.h"

/* The table of characteristics with their verdicts, the sentences below it, and how many of
 * them chance alone makes unstable. */
void report_verdicts_put(const struct report_line *line);

#endif
