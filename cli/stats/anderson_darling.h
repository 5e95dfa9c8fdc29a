/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The Anderson-Darling statistic: how far the values lie from a distribution, the tails
 * weighing as much as the middle (T. W. Anderson and D. A. Darling, JASA 49:765-769, 1954).
 * Pure; any thread.
 */
#ifndef CLI_STATS_ANDERSON_DARLING_H
#define CLI_STATS_ANDERSON_DARLING_H

#include <stddef.h>

/* Logarithms, since a value far out has a tail that no double holds. */
struct log_tails {
	double below, above; /* log P(X <= x), log P(X > x) */
};

/* Of the standard normal distribution. */
struct log_tails anderson_darling_normal(double z);

struct anderson_darling_target {
	struct log_tails (*log_tails)(double x, void *context);
	void *context;
};

/* Up to here the distribution is asked at every value.  Of more, each (n / ANDERSON_DARLING_KNOTS)
 * are asked at the two ends and in the middle, and both logarithms are taken as parabolas
 * between; the outermost are always asked.  The statistic is right to 1e-4 of itself. */
enum { ANDERSON_DARLING_EXACT = 10000, ANDERSON_DARLING_KNOTS = 2000 };

/* `sorted` ascending, n >= 1. */
double anderson_darling(
    const double *sorted, size_t n, const struct anderson_darling_target *target);

#endif
