/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The distributions that are fitted: names, functions, quantiles.  Accurate to 1e-10
 * relative in the tails that capability asks for (0.00135 and 0.99865).  Pure; any thread.
 */
#ifndef CLI_STATS_FAMILY_H
#define CLI_STATS_FAMILY_H

#include <stdbool.h>

enum family {
	FAMILY_NORMAL,        /* mean, sigma */
	FAMILY_HALF_NORMAL,   /* sigma */
	FAMILY_FOLDED_NORMAL, /* mu, sigma */
	FAMILY_LOGNORMAL,     /* log_mean, log_sigma */
	FAMILY_WEIBULL,       /* shape, scale */
	FAMILY_GAMMA,         /* shape, scale */
	FAMILY_COUNT
};

enum { FAMILY_PARAMETERS = 2 };

struct family_traits {
	const char *name; /* "half-normal" */
	int parameter_count;
	const char *parameter[FAMILY_PARAMETERS];
	bool positive; /* no value below zero */
};
extern const struct family_traits family_table[FAMILY_COUNT];

double family_cdf(
    enum family family, const double parameters[FAMILY_PARAMETERS], double x);
double family_above(
    enum family family, const double parameters[FAMILY_PARAMETERS], double x);
double family_density(
    enum family family, const double parameters[FAMILY_PARAMETERS], double x);
/* 0 < p < 1 */
double family_quantile(
    enum family family, const double parameters[FAMILY_PARAMETERS], double p);

/* The parameters of the same distribution when values are multiplied by 2^exponent. */
void family_scale(
    enum family family, double parameters[FAMILY_PARAMETERS], int exponent);

#endif
