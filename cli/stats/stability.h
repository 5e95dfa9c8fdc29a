/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Whether a series is stable: a verdict whose false alarm is 5 % for the number of values at
 * hand, shared by three tests: a point beyond k deviations, a run of r on one side of the
 * mean, an EWMA (lambda 0.2, time-varying limits) beyond L.  Mean and deviation (mean moving
 * range) come from the series itself.  Pure; any thread.
 */
#ifndef CLI_STATS_STABILITY_H
#define CLI_STATS_STABILITY_H

#include "cli/stats/series.h"

enum { STABILITY_LEAST = 20 };

struct stability_limits {
	double k;
	size_t r;
	double L;
};

/* For n >= STABILITY_LEAST. */
struct stability_limits stability_limits(size_t n);

enum stability_verdict {
	STABILITY_STABLE,
	STABILITY_UNSTABLE,
	STABILITY_TOO_FEW,
	STABILITY_NO_VARIATION,
};

struct stability {
	enum stability_verdict verdict;
	struct stability_limits limits;
	size_t beyond, run,
	    ewma; /* the slot, from 1, where each first fails; 0: it holds */
};

struct stability stability_of(const struct series *series, double mean, double sigma);

#endif
