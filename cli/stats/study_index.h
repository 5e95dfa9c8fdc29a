/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The indices of a study, within and overall, with their intervals.  Pure; any thread. */
#ifndef CLI_STATS_STUDY_INDEX_H
#define CLI_STATS_STUDY_INDEX_H

#include "cli/stats/study.h"

/* Of a study whose values are described and fitted: c, subgroups, sigma within, all indices. */
void study_index(struct study *study, const struct study_asked *asked);

#endif
