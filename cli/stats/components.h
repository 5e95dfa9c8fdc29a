/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Where scatter comes from: between groups (lots) and within them.  One-way random effects,
 * groups of any sizes: estimates from the analysis of variance, within = MSW, between =
 * (MSB - MSW) / n0 with n0 = (N - sum n_i^2 / N) / (groups - 1) (S. R. Searle, G. Casella and
 * C. E. McCulloch, Variance Components, Wiley 1992, chapter 3; from memory).
 * Pure; any thread.
 */
#ifndef CLI_STATS_COMPONENTS_H
#define CLI_STATS_COMPONENTS_H

#include <stddef.h>

/* What cannot be told is NAN: within, when no group has two values; between and f, when there
 * is one group, or within is not known. */
struct components {
	size_t groups, n; /* values that are there, and groups that have one */
	double within;    /* variance */
	double between;   /* variance; negative estimates set to 0 */
	double f, p; /* of "all groups are alike"; NAN when nothing scatters within */
};

/* group[i] is that of value i: 0 <= group[i] < groups.  A value that is not finite is left
 * out.  Memory short: n 0, and all else as for no values. */
struct components components_of(
    const double *values, const size_t *group, size_t n, size_t groups);

#endif
