/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The likeliest member of each family, given values.  Pure; any thread. */
#ifndef CLI_STATS_LIKELIHOOD_H
#define CLI_STATS_LIKELIHOOD_H

#include "cli/stats/family.h"

#include <stddef.h>

/* Where zero lies further than this many deviations below the mean, lognormal, Weibull and
 * gamma are not fitted: lognormal and gamma are the normal there in all but name, and a
 * shape of ten thousand and more leaves no digits to compute with. */
#define LIKELIHOOD_DISTANCE_MOST 100.0

/*
 * What all families need of the values, gathered once.  Values are counted in units of
 * 2^exponent, near the largest of them, so that nothing overflows.
 */
struct likelihood_sample {
	const double *sorted; /* as they came */
	size_t n;
	int exponent;
	double unit;                 /* 2^-exponent */
	double mean, variance;       /* about the mean, over n */
	double square, fourth;       /* moments about zero */
	double log_mean, log_square; /* of the logarithms: mean, variance over n */
	double *logs; /* logarithms over that of the largest; NULL: not all positive */
};

/* False where nothing can be fitted: fewer than three values, all equal, not finite, or none
 * above 1e-290; or memory is short.  Release: likelihood_release. */
bool likelihood_gather(
    struct likelihood_sample *sample, const double *sorted, size_t n);
void likelihood_release(struct likelihood_sample *sample);

/* False where the values exclude the family: one below zero in all but the normal, and zero
 * itself in lognormal, Weibull and gamma, whose density is 0 or endless there. */
bool likelihood_maximum(const struct likelihood_sample *sample, enum family family,
    double parameters[FAMILY_PARAMETERS], double *log_likelihood);

#endif
