/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Whether a figure went to another level at one time and stayed there, taken several times,
 * each with its own uncertainty: the step that leaves least, beside the straight line of
 * slope.h.  Pure; any thread.
 */
#ifndef CLI_STATS_STEP_H
#define CLI_STATS_STEP_H

#include "cli/stats/slope.h"

struct step {
	size_t n; /* points that were used */
	size_t last,
	    at; /* of the points given: of the old level, the first of the new */
	double before, after; /* the two levels; NAN: too few */
	double p;             /* of such a step by chance, wherever it stood: a bound */
	double r1, r1_bound; /* of what the step leaves: beyond the bound neighbours are
	                         alike, and such steps come by themselves */
	bool over_line;      /* it explains the points better than a line */
};

/*
 * Points that are not finite or whose variance is not positive are passed over; fewer than
 * SLOPE_LEAST give NAN.  Each point counts by its own variance and by the scatter that the best
 * step leaves between them (method of moments as in slope.h; what it leaves is never taken for
 * less than their own uncertainty).  p is Student's of the best place, times the places there are
 * (Bonferroni's bound; K. J. Worsley, Journal of the American Statistical Association
 * 74:365-367, 1979, has it for this very case; from memory).  By simulation (test_step.c) 0.00 to
 * 0.05 of series without a step gave p below 0.05.  Against the line by Schwarz's criterion, the
 * place being one parameter more.  Of 60 points of which each takes after the one before by 0.5, p was
 * below 0.05 in 0.31 of series, in 0.06 without r1 beyond its bound.  False when memory is short.
 */
bool step_of(const struct slope_point *points, size_t count, struct step *step);

#endif
