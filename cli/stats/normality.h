/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Whether values may come from a normal distribution.  Pure; any thread. */
#ifndef CLI_STATS_NORMALITY_H
#define CLI_STATS_NORMALITY_H

#include <stdbool.h>
#include <stddef.h>

enum { NORMALITY_LEAST = 8 };

/* A smaller p is told as this bound: the formula holds up to about A* = 10. */
#define NORMALITY_LEAST_P 1e-20
#define NORMALITY_A2_MOST 10

/* Anderson-Darling with mean and deviation estimated; M. A. Stephens in R. B. D'Agostino and
 * M. A. Stephens, Goodness-of-Fit Techniques, 1986, tables 4.7 and 4.9 (from memory). */
struct normality {
	double a2, a2_adjusted, p; /* NAN for n < NORMALITY_LEAST or no variation */
	bool p_below;              /* p is a bound: the true one is smaller still */
};

/* `sorted` ascending, all finite; sd with n - 1. */
struct normality normality_of(const double *sorted, size_t n, double mean, double sd);

/* p of an adjusted statistic. */
double normality_p(double a2_adjusted);

#endif
