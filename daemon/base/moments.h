/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Running moments of one quantity: count, mean, sample deviation, extremes.
 * Welford's update (B. P. Welford, Technometrics 4:419-420, 1962), about the
 * first value: a small deviation on a large mean keeps its digits.
 * One object belongs to one thread.  Values keep the unit they are added in.
 */
#ifndef DAEMON_BASE_MOMENTS_H
#define DAEMON_BASE_MOMENTS_H

#include <stdint.h>

struct moments {
	uint64_t count;
	double first;
	double mean_shifted; /* about the first */
	double sum_squares;  /* about the mean */
	double min, max;
};

void moments_init(struct moments *moments);

/* `value` must be finite (assert). */
void moments_add(struct moments *moments, double value);

/* NAN while there is nothing to tell: mean of none, deviation (n - 1) of fewer than two. */
double moments_mean(const struct moments *moments);
double moments_sd(const struct moments *moments);

#endif
