/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What a series is, before anything is concluded from it.  What has no meaning is NAN.
 * Pure; any thread.
 */
#ifndef CLI_STATS_DESCRIBE_H
#define CLI_STATS_DESCRIBE_H

#include "cli/stats/series.h"

struct description {
	size_t n, missing;
	size_t distinct; /* different values among the n */
	double min, max, mean, median;
	double sd; /* n - 1; NAN for n < 2 */
};

/* The values that are there, ascending, into `sorted` (room for series->count); how many. */
size_t describe_sort(const struct series *series, double *sorted);

/* `sorted` is what describe_sort made of the series. */
struct description describe(
    const struct series *series, const double *sorted, size_t sorted_count);

/* Quantile of type 7 (R. J. Hyndman and Y. Fan, The American Statistician 50:361-365, 1996);
 * 0 <= p <= 1; NAN for n = 0. */
double describe_quantile(const double *sorted, size_t n, double p);

/* Moving ranges of neighbours (series_neighbours): none across a gap. */
struct moving_ranges {
	size_t count;
	double mean, median, max;
	double sigma;             /* mean / d2(2) */
	double sigma_from_median; /* median / 0.9538725524 */
};

/* `ranges`: room for series->count, left in any order. */
struct moving_ranges describe_moving_ranges(
    const struct series *series, double *ranges);

#endif
