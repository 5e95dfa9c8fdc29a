/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Values beyond what chance gives so many of them: to be looked at and explained, never left
 * out.  Pure; any thread.
 */
#ifndef CLI_STATS_OUTLIERS_H
#define CLI_STATS_OUTLIERS_H

#include "cli/stats/fit.h"

enum {
	OUTLIERS_LEAST = 25, /* values under which the critical values are poor */
	OUTLIERS_MOST = 10,  /* more are no outliers */
};

struct outliers {
	size_t low, high; /* so many of the smallest and of the largest */
	double mean, sd;  /* of the others */
};

/*
 * Of values that are normal but for them: generalized extreme studentized deviates, 5 % for all
 * (B. Rosner, Technometrics 25:165-172, 1983; NIST/SEMATECH e-Handbook 1.3.5.17.3).
 * `sorted` ascending; none of n < OUTLIERS_LEAST.
 */
struct outliers outliers_of(const double *sorted, size_t n, double mean, double sd);

/* Of values of another distribution: those beyond its quantiles at 0.025 / n from either end, by
 * half a `step` at least, to which the values may be rounded (0 or NAN: they are not). */
struct outliers outliers_of_fit(
    const double *sorted, size_t n, const struct fit *fit, double step);

#endif
