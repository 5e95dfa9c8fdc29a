/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Whether values may come from a normal distribution.  Pure; any thread. */
#ifndef CLI_STATS_NORMALITY_H
#define CLI_STATS_NORMALITY_H

#include <stdbool.h>
#include <stddef.h>

enum { NORMALITY_LEAST = 8 };

/* Anderson-Darling with mean and deviation estimated; M. A. Stephens in R. B. D'Agostino and
 * M. A. Stephens, Goodness-of-Fit Techniques, 1986, tables 4.7 and 4.9 (from memory). */
struct normality {
	double a2, a2_adjusted, p; /* NAN for n < NORMALITY_LEAST or no variation */
	bool p_below;              /* p is a bound: the true one is smaller still */
};

/* `sorted` ascending. */
struct normality normality_of(const double *sorted, size_t n, double mean, double sd);

#endif
