/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Complete shots that a seldom pattern points at, with the chance of any in a perfect series. */
#ifndef CLI_REPORT_REPORT_PATTERNS_H
#define CLI_REPORT_REPORT_PATTERNS_H

#include "cli/population/judgement.h"
#include "cli/report/report_population.h"

/* Machines get a row a pattern, people one a characteristic. */
void report_patterns_put(const struct report_parts *parts);

#endif
