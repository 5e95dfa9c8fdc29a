/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Where scatter comes from: between lots and within them (one way, unequal sizes); parts,
 * operators and repeats (crossed gauge study).  Pure; any thread.
 */
#ifndef CLI_STATS_COMPONENTS_H
#define CLI_STATS_COMPONENTS_H

#include <stddef.h>

struct components {
	size_t groups, n;
	double within;  /* variance; NAN when it cannot be told */
	double between; /* variance, negative estimates set to 0 */
	double f, p;    /* of "all groups are alike" */
};

/* group[i] is that of value i: 0 <= group[i] < groups.  Values finite. */
struct components components_of(
    const double *values, const size_t *group, size_t n, size_t groups);

struct gauge {
	size_t parts, operators, repeats;
	struct {
		double part, operator_, interaction, repeat;
	} mean_squares,
	    variances; /* variances: negative ones set to 0, interaction kept */
	double interaction_p;
	double gauge_sd, total_sd, percent_of_total_sd;
	int distinct_categories; /* 1.41 part / gauge, truncated; 0 when undefined */
};

/* values[(part * operators + operator) * repeats + repeat]; parts, operators, repeats >= 2.
 * Interaction kept in the model. */
struct gauge gauge_of(
    const double *values, size_t parts, size_t operators, size_t repeats);

#endif
