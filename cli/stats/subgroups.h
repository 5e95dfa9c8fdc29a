/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Charts of means, ranges and deviations of subgroups of equal size, in the order of time
 * (ISO 7870-2; from memory).
 * A subgroup in which a value is missing, or that a break parts, is left out and counted.
 * Pure; any thread.
 */
#ifndef CLI_STATS_SUBGROUPS_H
#define CLI_STATS_SUBGROUPS_H

#include "cli/stats/series.h"

struct control_limits {
	double low, centre, high; /* NAN: none */
};

struct subgroups {
	size_t size, count; /* count 0: none, and everything below is NAN */
	size_t left_out;    /* incomplete ones, the rest at the end among them */
	double grand_mean, mean_range, mean_sd, pooled_sd;
	double sigma_range;  /* mean_range / d2 */
	double sigma_sd;     /* mean_sd / c4 */
	double sigma_pooled; /* pooled_sd / c4(count (size - 1) + 1) */
	struct control_limits mean_by_range, range; /* range, sd: low 0 when a range */
	struct control_limits mean_by_sd, sd;       /* of 0 is no signal */
};

/* size: CHART_SUBGROUP_LEAST ... CHART_SUBGROUP_MOST. */
struct subgroups subgroups_of(const struct series *series, size_t size);

/* The mean of each subgroup as a series for run rules, EWMA and the like: NAN for one that is
 * left out.  `means`: room for series->count / size; how many. */
size_t subgroups_means(const struct series *series, size_t size, double *means);

#endif
