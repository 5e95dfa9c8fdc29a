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
 * published tables have it).  `sorted` ascending, n >= 2.  Rounded values have
 * to be spread first (rounding.h). */
double goodness_a2(enum family family, const double parameters[FAMILY_PARAMETERS],
    const double *sorted, size_t n);

/*
 * The chance of a statistic as large as that from a process that is of the family; NAN for
 * n < GOODNESS_LEAST.
 * normal, lognormal (the normal of logarithms), weibull (the extreme value of logarithms):
 * M. A. Stephens, tables 4.7, 4.9 and 4.17 in R. B. D'Agostino and M. A. Stephens,
 * Goodness-of-Fit Techniques, 1986 (from memory); the formula through the points of table
 * 4.17 is that of MIL-HDBK-17 (from memory).
 * half-normal, folded-normal, gamma: goodness_table.h, made by simulation; for p below the
 * least of its chances (0.001) carried on as an exponential.
 * At 0.05 true fits are refused in 0.040 to 0.066 (8000 series each of 30, 160 and 400 values); the
 * folded normal about mu = 0 in 0.069 of series of 10.
 */
double goodness_p(enum family family, const double parameters[FAMILY_PARAMETERS],
    double a2, size_t n);

/* What goodness_table.h is tabulated over: chances; numbers of values; mu / sigma of the
 * folded normal; 1 / shape of the gamma (0 stands for 0.001). */
enum {
	GOODNESS_CHANCES = 9,
	GOODNESS_SIZES = 5,
	GOODNESS_FOLDED = 7,
	GOODNESS_GAMMA = 7,
};
extern const double goodness_chances[GOODNESS_CHANCES];
extern const size_t goodness_sizes[GOODNESS_SIZES];
extern const double goodness_folded[GOODNESS_FOLDED];
extern const double goodness_gamma[GOODNESS_GAMMA];

#endif
