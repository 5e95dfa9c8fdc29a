/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What a healthy line's signals are like: learned from a reference run.
 *
 * A signal is a mean, slopes on its circumstances and a rest that remembers its last
 * value (AR 1).  Slopes are drawn to what physics expects of them, so a reference that
 * saw little of the weather does not extrapolate wildly; how little it knows about a
 * shot unlike its own is told with every rest.  Pure; any thread reads.
 */
#ifndef CLI_FINDINGS_PROFILE_H
#define CLI_FINDINGS_PROFILE_H

#include "cli/findings/signal.h"

struct fit {
	bool known;
	int count;
	double mean;
	double slope[FOLLOWS_MAX]; /* in the order of the signal's row */
	bool used[FOLLOWS_MAX];    /* the reference has the circumstance */
	double covariance[FOLLOWS_MAX][FOLLOWS_MAX]; /* of the slopes */
	double centre[FOLLOWS_MAX],
	    spread[FOLLOWS_MAX]; /* of the circumstances: mean, sd */
	double plain_sd;         /* of the rest, a shot */
	double sd;               /* on the wide side for a short reference */
	double memory;           /* its lag-1 autocorrelation, 0 to 0.95 */
	double mean_sd;          /* of the mean */
};

struct profile {
	struct line_settings line;
	double middle[FEATURE_COUNT];
	struct fit fits[SIGNAL_COUNT];
	char lot[SETTINGS_NAME]; /* the last one of the reference */
};

/* A signal's value less what is expected of it, and the standard deviation of that
 * expectation, which all shots like this one share.  NAN: nothing can be said. */
struct rest {
	double value, doubt;
};

struct rest profile_rest(
    const struct profile *profile, int signal, const struct signal_values *values);

/* Fits a signal: `values` of the reference's shots, `signal` of each.  False: no memory. */
bool fit_signal(
    struct fit *fit, int signal, const struct signal_values *values, size_t count);

#endif
