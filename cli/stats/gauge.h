/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The crossed gauge study: every operator measures every part, several times.  What of the
 * scatter is the measuring's own?  Two-way analysis of variance, all effects random, the
 * interaction kept in the model whether or not it shows (R. K. Burdick, C. M. Borror and D. C.
 * Montgomery, Journal of Quality Technology 35:342-354, 2003; from memory).
 * Values too wide for their squares: everything is NAN.  Pure; any thread.
 */
#ifndef CLI_STATS_GAUGE_H
#define CLI_STATS_GAUGE_H

#include <stddef.h>

struct gauge_terms {
	double part, operator_, interaction, repeat;
};

struct gauge {
	size_t parts, operators, repeats;
	struct gauge_terms mean_squares;
	struct gauge_terms variances; /* negative ones set to 0 */
	double interaction_p; /* of "parts differ alike for every operator"; NAN without
	                         any scatter of repeats */
	double gauge_sd;      /* repeat, operator and interaction */
	double total_sd;      /* and part */
	double percent_of_total_sd; /* gauge_sd; NAN without scatter */
	double
	    distinct_categories; /* 1.41 part / gauge, truncated; NAN: gauge_sd is 0 */
};

/* values[(part * operators + operator) * repeats + repeat], finite; parts, operators and
 * repeats >= 2 (assert). */
struct gauge gauge_of(
    const double *values, size_t parts, size_t operators, size_t repeats);

#endif
