/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * When a change began, of a series that is unstable: a step, a drift, a change of the scatter, or
 * single points, whichever explains most for what it assumes (the criterion of G. Schwarz,
 * Annals of Statistics 6:461-464, 1978, over normal likelihoods; from memory).
 *
 * The range holds the beginning in about 95 % of series: of a step and of the scatter all slots
 * whose likelihood ratio stays within 7.35 (B. E. Hansen, Econometrica 68:575-603, 2000; from
 * memory), of a drift within 3.84.  Where what the change leaves still depends on its last value,
 * all ratios count less, by (1 - r) / (1 + r).  By simulation (test_onset.c, series of 160) the
 * range held it in 0.97 to 0.99 of steps and changes of scatter and in 0.90 to 0.96 of drifts, and
 * memory alone (AR(1) 0.5) was told as a change in 0.04 of series.  Pure; any thread.
 */
#ifndef CLI_STATS_ONSET_H
#define CLI_STATS_ONSET_H

#include "cli/stats/stability.h"

enum onset_kind {
	ONSET_NONE,    /* it is stable, or wanders without a beginning */
	ONSET_STEP,    /* another level from one value on */
	ONSET_DRIFT,   /* a slope from one value on, to the end */
	ONSET_SCATTER, /* the mean holds, the deviation changes */
	ONSET_SINGLE,  /* single points stand out, nothing lasts */
};

struct onset {
	enum onset_kind kind;
	size_t slot;        /* the first that is otherwise, from 1; 0: none */
	size_t least, most; /* within these by 95 % */
	double before,
	    after; /* means (deviations for ONSET_SCATTER); of a drift, at its
	                         beginning and at the end of the series; of single points, the
	                         mean of the others and the first of them */
	double
	    explained; /* share of the variance, 0 ... 1; of the scatter, what the same
	                     gain of likelihood would be */
};

/* `sigma`: that of stability_of, by which single points are told. */
struct onset onset_of(const struct series *series, const struct stability *stability,
    double mean, double sigma);

/* before and after from another series with the same slots: of an onset that was found in
 * values that had been transformed. */
void onset_tell(struct onset *onset, const struct series *series);

#endif
