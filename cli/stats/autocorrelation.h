/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * How much a series remembers of its last value, and what that does to the
 * uncertainty of its mean and deviation.  Pure; any thread.
 */
#ifndef CLI_STATS_AUTOCORRELATION_H
#define CLI_STATS_AUTOCORRELATION_H

#include "cli/stats/series.h"

/*
 * Lag-1 autocorrelation about `mean`; products over neighbours alone, and scaled
 * up for the pairs that are missing.  Without breaks: sum (x_i - m)(x_i+1 - m) /
 * sum (x_i - m)^2, as in the NIST/SEMATECH e-Handbook 1.3.5.12.  NAN without
 * variation or neighbours.
 */
double autocorrelation_lag1(const struct series *series, double mean);

/*
 * r1 + (1 + 4 r1) / n: the lag-1 autocorrelation of n values is low by about that much
 * since their own mean is taken off (F. H. C. Marriott and J. A. Pope, Biometrika
 * 41:390-402, 1954; M. G. Kendall, Biometrika 41:403-404, 1954; cited from memory).
 */
double autocorrelation_unbiased(double r1, size_t n);

/* 1.96 / sqrt(n): beyond it, chance alone in independent values is 5 %
 * (NIST/SEMATECH e-Handbook 1.3.3.1).  NAN for n = 0. */
double autocorrelation_bound(size_t n);

/* Moments of the mean and of s^2 of n values of a stationary Gaussian AR(1) series with
 * coefficient `phi` (-1 < phi < 1) and variance 1; phi 0 is independence. */
struct ar1_moments {
	double variance_of_mean; /* 1/n when independent */
	double expected_s2;      /* 1 */
	double variance_of_s2;   /* 2/(n-1) */
};

/* n >= 2 */
struct ar1_moments ar1_moments(double phi, size_t n);

#endif
