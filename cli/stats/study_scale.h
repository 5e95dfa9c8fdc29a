/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Values that are very large or very small: their squares leave the range of doubles.  They are
 * studied as multiples of a power of two, which changes no digit, and told in their own unit.
 * Inside of study.  Pure; any thread.
 */
#ifndef CLI_STATS_STUDY_SCALE_H
#define CLI_STATS_STUDY_SCALE_H

#include "cli/stats/study.h"

/* 0: as they are; else they are to be divided by 2^this. */
int study_scale(const struct series *series);

/* What is asked, divided by 2^exponent; the values into `values`, room for all. */
struct study_asked study_scale_asked(
    const struct study_asked *asked, int exponent, double *values);

/* Tells a study of scaled values in the unit of what was asked.  What is no double there is NAN. */
void study_scale_back(
    struct study *study, const struct study_asked *asked, int exponent);

#endif
