/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What moved together with a quantity: the share of the variance of its changes from shot to
 * shot (and over longer strides) that those of another explain.  Association, not cause.
 * Pure; any thread.
 */
#ifndef CLI_STATS_ASSOCIATION_H
#define CLI_STATS_ASSOCIATION_H

#include "cli/stats/series.h"

struct association {
	size_t pairs; /* differences that both have */
	double
	    explained; /* share of variance, 0 ... 1; NAN: too few, or nothing moves */
	double slope;  /* change of the quantity a unit of the input */
	double p;      /* of "nothing moved together", every candidate counted */
};

/*
 * `stride`: differences are taken over so many slots (1 and more), none over a break.
 * `candidates`: how many inputs are compared, for p (Bonferroni).  The two series stand slot by
 * slot; what is beyond the shorter is not looked at, and the breaks are the quantity's.
 *
 * Differences that overlap, or share a value, tell less than so many independent ones: p counts
 * them by the memory that both have (M. S. Bartlett, J. Royal Statistical Society 98:536-543,
 * 1935; from memory).
 */
struct association association_of(const struct series *quantity,
    const struct series *input, size_t stride, size_t candidates);

#endif
