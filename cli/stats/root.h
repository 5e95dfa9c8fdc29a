/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Where a continuous function of one argument crosses zero (GSL's Brent).  Pure; any thread. */
#ifndef CLI_STATS_ROOT_H
#define CLI_STATS_ROOT_H

struct root_function {
	double (*value)(double x, void *context);
	void *context;
};

/*
 * The crossing between `low` and `high`, to about 1e-14 relative.  NAN where the function has
 * the same sign at both, or is no number somewhere between, or memory is short.
 */
double root_between(const struct root_function *function, double low, double high);

/*
 * The same for an argument that can only be positive: the two ends are moved apart from
 * `guess`, by factors of 2, until the function has another sign at either; NAN when it never has.
 */
double root_near(const struct root_function *function, double guess);

#endif
