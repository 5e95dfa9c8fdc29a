/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the tests of studies share. */
#ifndef TESTS_UNIT_CLI_STATS_STUDY_CHECKED_H
#define TESTS_UNIT_CLI_STATS_STUDY_CHECKED_H

#include "cli/stats/study.h"

/* Individuals, all else unasked. */
struct study_asked study_usual(
    const double *values, size_t count, double lower, double upper);

/* A study of them, which is there; the caller frees. */
struct study *study_of(const double *values, size_t count, double lower, double upper);

/* What holds of every study: no infinite figure, a reason for whatever is withheld and for every
 * verdict but capable. */
void study_check(const struct study *study);

#endif
