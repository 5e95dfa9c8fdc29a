/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * A run against a reference run: equal means within a margin (two one-sided tests, D. J.
 * Schuirmann, J. Pharmacokinetics and Biopharmaceutics 15:657-680, 1987; from memory) with
 * scatters that may differ (B. L. Welch, Biometrika 34:28-35, 1947; from memory), and the ratio
 * of the scatters (F).  Runs whose values depend on the last count for as many values as they
 * are worth (ar1_moments).  Pure; any thread.
 */
#ifndef CLI_STATS_EQUIVALENCE_H
#define CLI_STATS_EQUIVALENCE_H

#include "cli/stats/capability.h"

enum equivalence_verdict {
	EQUIVALENCE_SAME,      /* shown to lie within the margin */
	EQUIVALENCE_DIFFERENT, /* shown to lie outside */
	EQUIVALENCE_OPEN,      /* the runs are too short to tell */
};

struct equivalence {
	enum equivalence_verdict verdict;
	double difference; /* this run's mean less the reference's */
	struct interval
	    difference_90; /* two-sided 90 %: the two one-sided tests at 5 % */
	double margin;
	double p;             /* of the worse of the two tests */
	double scatter_ratio; /* this run's deviation over the reference's */
	struct interval scatter_ratio_95;
	double run_worth, reference_worth; /* independent values, of their means */
};

/*
 * The intervals are NAN, and the verdict is open, where a run has fewer than two values or no
 * variation, or depends on its last value so much that it is worth fewer than
 * CAPABILITY_LEAST_EFFECTIVE.  Without a margin above zero p is NAN and the verdict open.
 */
struct equivalence equivalence_of(
    const struct series *run, const struct series *reference, double margin);

#endif
