/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What of a study may be told, and its verdict.  Pure; any thread.
 */
#ifndef CLI_STATS_STUDY_JUDGE_H
#define CLI_STATS_STUDY_JUDGE_H

#include "cli/stats/study.h"

/* A smaller p of normality calls for the percentile method. */
#define STUDY_NORMAL_P 0.005

/* Of a study in which all else is filled in: quotable and reasons of its indices, its verdict
 * and reasons. */
void study_judge(struct study *study);

/* The values are shown not to be normal. */
bool study_not_normal(const struct study *study);

#endif
