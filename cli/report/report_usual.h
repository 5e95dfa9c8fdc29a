/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The usual features that have no limits. */
#ifndef CLI_REPORT_REPORT_USUAL_H
#define CLI_REPORT_REPORT_USUAL_H

#include "cli/population/judgement.h"
#include "cli/report/report_population.h"

/* A row each; of several lots mean and deviation beside each other. */
void report_usual_put(const struct report_parts *parts);

#endif
