/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Whether values may come from a family whose parameters were estimated from these very
 * values: Anderson-Darling.  Pure; any thread.
 */
#ifndef CLI_STATS_GOODNESS_H
#define CLI_STATS_GOODNESS_H

#include "cli/stats/family.h"

#include <stddef.h>

/* Fewer values tell nothing. */
enum { GOODNESS_LEAST = 8 };

/* The statistic of a maximum likelihood fit (for normal and lognormal with n - 1, as their
 * published tables have it).  `sorted` ascending, n >= 2. */
double goodness_a2(enum family family, const double parameters[FAMILY_PARAMETERS],
    const double *sorted, size_t n);

/*
 * The chance of a statistic as large as that from a process that is of the family; NAN for
 * n < GOODNESS_LEAST.
 * normal, lognormal (the normal of logarithms), weibull (the extreme value of logarithms):
 * M. A. Stephens, tables 4.7, 4.9 and 4.17 in R. B. D'Agostino and M. A. Stephens,
 * Goodness-of-Fit Techniques, 1986 (from memory); the formula through the points of table
 * 4.17 is that of MIL-HDBK-17 (from memory).
 * half-normal, folded-normal, gamma: goodness_table.c, made by simulation.
 */
double goodness_p(enum family family, const double parameters[FAMILY_PARAMETERS],
    double a2, size_t n);

#endif
