/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Which shots of a population a figure is about, by their numbers. */
#ifndef CLI_REPORT_REPORT_NUMBERS_H
#define CLI_REPORT_REPORT_NUMBERS_H

#include "cli/population/judgement.h"
#include "cli/report/report_population.h"

/* Complete shots outside a limit. */
void report_numbers_outside(
    const struct report_part *part, const struct judgement *judgement);

/* Complete shots without a value, by feature and reason. */
void report_numbers_absent(
    const struct report_part *part, const struct judgement *judgement);

/* Complete shots that a seldom pattern points at, with the chance of any in a perfect series. */
void report_numbers_signals(
    const struct report_part *part, const struct judgement *judgement);

/* Those whose values lie farther out than chance puts any. */
void report_numbers_far_out(
    const struct report_part *part, const struct judgement *judgement);

#endif
