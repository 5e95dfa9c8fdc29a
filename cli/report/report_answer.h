/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a reader wants to know first: which characteristics are capable, and why others are
 * not. */
#ifndef CLI_REPORT_REPORT_ANSWER_H
#define CLI_REPORT_REPORT_ANSWER_H

#include "cli/report/report_line.h"

/* In one sentence a recipe and tool: "5 of 6 characteristics shown to be capable; capability
 * not established: exit_top_c (drifted from shot 87 on)". */
void report_answer_put(const struct report_line *line);

#endif
