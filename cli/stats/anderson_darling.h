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

struct anderson_darling_target {
	struct log_tails (*log_tails)(double x, void *context);
	void *context;
};

/* Up to here the distribution is asked at every value.  In more, it is asked at every
 * (n / ANDERSON_DARLING_KNOTS)th, between which both logarithms are taken as straight: a few
 * values of many thousands are near enough for that.  The outermost are always asked. */
enum { ANDERSON_DARLING_EXACT = 20000, ANDERSON_DARLING_KNOTS = 8192 };

/* `sorted` ascending, n >= 1. */
double anderson_darling(
    const double *sorted, size_t n, const struct anderson_darling_target *target);

#endif
