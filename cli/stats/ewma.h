/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Charts with a memory, for small shifts: the exponentially weighted moving average (NIST/
 * SEMATECH e-Handbook 6.3.2.4) and the cumulative sum (6.3.2.3).  A missing value leaves
 * either where it was, a break goes unnoticed, and neither begins anew after a signal.  Both
 * begin at the centre.  "Beyond" is strict.  Pure; any thread.
 */
#ifndef CLI_STATS_EWMA_H
#define CLI_STATS_EWMA_H

#include "cli/stats/series.h"

struct ewma_setting {
	double lambda; /* 0 < lambda <= 1 */
	double limit;  /* in deviations of the EWMA, which grows to its asymptote */
};

struct ewma {
	double last, max; /* max: the largest; NAN without values or a centre */
	double low, high; /* asymptotic limits; NAN unless sigma > 0, and no signals */
	size_t signal_count;
	size_t first_signal; /* slot from 1; 0: none */
};

/* `signals` (room for series->count) gets the slots beyond the time-varying limits, or NULL.
 * `course` (likewise) the EWMA after each slot, or NULL. */
struct ewma ewma_of(const struct series *series, double centre, double sigma,
    const struct ewma_setting *setting, size_t *signals, double *course);

struct cusum_setting {
	double k, h; /* in sigmas */
};

/* NAN without values or a centre, or unless sigma > 0. */
struct cusum {
	double high_last, high_max, low_last, low_max; /* in the unit of the values */
	size_t signal_count, first_signal;
};

struct cusum cusum_of(const struct series *series, double centre, double sigma,
    const struct cusum_setting *setting, size_t *signals);

#endif
