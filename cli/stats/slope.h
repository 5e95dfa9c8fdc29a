/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Whether a figure moves over a time in which it was taken several times, each time with its
 * own uncertainty: a straight line through the figures, weighted, and the interval of its
 * slope.  Between the times it may scatter more than each one's uncertainty says.
 * Pure; any thread.
 */
#ifndef CLI_STATS_SLOPE_H
#define CLI_STATS_SLOPE_H

#include "cli/stats/capability.h"

enum { SLOPE_LEAST = 5 }; /* figures that a line is laid through */

/* One figure; `variance` is that of its own uncertainty. */
struct slope_point {
	double at, value, variance;
};

struct slope {
	size_t n;     /* points that were used */
	double slope; /* change of the figure a unit of `at`; NAN: too few */
	struct interval slope_95; /* two-sided */
	double first, last;       /* of the line, at the first and the last point */
	double between;           /* deviation from time to time beyond each one's own
	                             uncertainty, the line taken off */
	double r1, r1_bound; /* of what the line leaves: beyond the bound neighbours are
	                        alike, and the interval is too narrow */
};

/*
 * Points that are not finite or whose variance is not positive are passed over; fewer than
 * SLOPE_LEAST, or all at one time, give NAN.  The scatter between the times by the method of
 * moments (R. DerSimonian and N. Laird, Controlled Clinical Trials 7:177-188, 1986), the
 * interval by Student's t and scaled by what the line leaves, never below 1 (J. Hartung and
 * G. Knapp, Statistics in Medicine 20:1771-1782, 2001); both cited from memory.  False when
 * memory is short.
 */
bool slope_of(const struct slope_point *points, size_t count, struct slope *slope);

#endif
