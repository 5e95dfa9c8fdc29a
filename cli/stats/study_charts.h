/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a study says of its values in the order of time: signals of rules, EWMA and CUSUM,
 * stability and onset.  Pure; any thread. */
#ifndef CLI_STATS_STUDY_CHARTS_H
#define CLI_STATS_STUDY_CHARTS_H

#include "cli/stats/study.h"

/* Of a study that has its indices.  `scratch`: room for one value more than the series has.
 * False when memory is short. */
bool study_charts(
    struct study *study, const struct study_asked *asked, double *scratch);

#endif
