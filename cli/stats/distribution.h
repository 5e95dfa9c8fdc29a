/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Distribution functions that the intervals need and GSL does not have ready.
 * Pure; any thread.
 */
#ifndef CLI_STATS_DISTRIBUTION_H
#define CLI_STATS_DISTRIBUTION_H

/*
 * P(T <= t) of the noncentral t with `df` degrees of freedom (1 and more) and
 * noncentrality `delta`, absolute error below 1e-10.  Integrated directly: the
 * usual series and normal approximations fail at the noncentralities of a
 * capability index (1.33 at n = 100 is already delta = 40).
 */
double noncentral_t_cdf(double t, double df, double delta);

#endif
