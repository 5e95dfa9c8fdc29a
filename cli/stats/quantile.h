/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Quantiles that GSL gives for few degrees of freedom alone: from some ten thousand on its
 * inversions fail (numerics.h) or are wrong (2.7.1: 0.886 for 1.011 at 65,610).  To 1e-7 relative
 * and better at any.  0 < p < 1.  Pure; any thread.
 */
#ifndef CLI_STATS_QUANTILE_H
#define CLI_STATS_QUANTILE_H

/* NAN unless df > 0. */
double quantile_chi_square(double p, double df);

/* Of the ratio of two variances with so many degrees of freedom; NAN unless both > 0. */
double quantile_f(double p, double above_df, double below_df);

/* NAN unless both a and b > 0. */
double quantile_beta(double p, double a, double b);

#endif
