/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The figures of the characteristics that have limits, in one table. */
#ifndef CLI_REPORT_REPORT_CHARACTERISTICS_H
#define CLI_REPORT_REPORT_CHARACTERISTICS_H

#include "cli/population/judgement.h"
#include "cli/report/report_population.h"

void report_characteristics_put(const struct report_parts *parts);

#endif
