/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Complete shots without a value, by feature and reason. */
#ifndef CLI_REPORT_REPORT_ABSENT_H
#define CLI_REPORT_REPORT_ABSENT_H

#include "cli/population/judgement.h"
#include "cli/report/report_population.h"

/* Machines get a row a feature, people one for all that lack the same shots for one reason; what
 * has no limits and lacks few they are spared. */
void report_absent_put(const struct report_parts *parts);

#endif
