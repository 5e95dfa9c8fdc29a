/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Whether a series is stable: a verdict whose false alarm is about 5 % for the number of values
 * at hand, shared by four tests: a point beyond k deviations, a run of r on one side of the mean,
 * an EWMA (lambda 0.2, time-varying limits) beyond L, and partial sums of the absolute deviations
 * beyond c.  Mean and deviation (mean moving range) come from the series itself.
 *
 * Of independent normal series each of the first three fails 1/60 by chance (the run fewer: it is
 * whole), the last 1/200: together 3.5 to 5.2 %, since they overlap.  How the limits were had:
 * stability_table.h, made by tests/reference/stability_table.c.  Values that depend on their last,
 * or that are far from normal, are called unstable more often.
 *
 * Of values that are rounded to 0.25, 0.5 and 1 sd together 3.2 to 4.0 % fail by chance (4000 series
 * each of 30 to 300; not allowing for it, 24 to 33 % at 1 sd).
 *
 * What they find (test_stability.c prints it): of series of 30, 68, 160 and 300 values a step of
 * one deviation in the middle in 26, 40, 61 and 73 %, a drift of two over the series in 39, 65, 88 and 97 %,
 * a deviation that doubles in the middle in 24, 69, 99 and 100 % (without the last test: 12, 22, 34 and
 * 41 %).
 *
 * A point on the mean, a missing value and a break end a run; a missing value leaves EWMA and
 * partial sums where they were.  Pure; any thread.
 */
#ifndef CLI_STATS_STABILITY_H
#define CLI_STATS_STABILITY_H

#include "cli/stats/series.h"

enum { STABILITY_LEAST = 20 };

struct stability_limits {
	double k; /* in deviations of a value */
	size_t r;
	double L; /* in deviations of the EWMA */
	double c; /* in deviations of what is summed, and sqrt(n) */
};

/* For n >= STABILITY_LEAST. */
struct stability_limits stability_limits(size_t n);

enum stability_verdict {
	STABILITY_STABLE,
	STABILITY_UNSTABLE,
	STABILITY_TOO_FEW,      /* values: fewer than STABILITY_LEAST */
	STABILITY_NO_VARIATION, /* sigma is 0 */
	STABILITY_NO_NEIGHBOURS, /* no sigma (NAN): there are no moving ranges, or too few */
};

struct stability {
	enum stability_verdict verdict;
	struct stability_limits limits;
	/* The slot, from 1, where each first fails (of the scatter, the first at which it is
	 * otherwise); 0: it holds. */
	size_t beyond, run, ewma, scatter;
};

/*
 * sigma: mean moving range / d2; of means of subgroups, that of a mean.  step: what the values are
 * rounded to (0: nothing).  A value that stood for the mean, or for one within the limit, before it
 * was rounded does so still: it ends a run, or is not beyond.
 */
struct stability stability_of(
    const struct series *series, double mean, double sigma, double step);

#endif
