/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the figures of a characteristic cannot say by themselves, in sentences. */
#ifndef CLI_REPORT_REPORT_DOUBTS_H
#define CLI_REPORT_REPORT_DOUBTS_H

#include "cli/population/judgement.h"
#include "cli/report/report_population.h"

/* What is said of several is said once. */
void report_doubts_put(const struct report_parts *parts);

#endif
