/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The figures of a population's characteristics: a table of all of them. */
#ifndef CLI_REPORT_REPORT_CHARACTERISTICS_H
#define CLI_REPORT_REPORT_CHARACTERISTICS_H

#include "cli/population/judgement.h"
#include "cli/report/report_population.h"

void report_characteristics_put(
    const struct report_part *part, const struct judgement *judgement);

#endif
