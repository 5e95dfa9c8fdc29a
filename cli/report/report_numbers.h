/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Which shots a figure is about, by their numbers. */
#ifndef CLI_REPORT_REPORT_NUMBERS_H
#define CLI_REPORT_REPORT_NUMBERS_H

#include "cli/population/judgement.h"
#include "cli/report/report_population.h"

/* Complete shots outside a limit. */
void report_numbers_outside(const struct report_parts *parts);

/* Those whose values lie farther out than chance puts any. */
void report_numbers_far_out(const struct report_parts *parts);

#endif
