/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Means of stretches of a track's shots, and how well they are known: shots that remember
 * the one before them tell less than as many that do not.  Pure; any thread.
 */
#ifndef CLI_FINDINGS_STRETCH_H
#define CLI_FINDINGS_STRETCH_H

#include "cli/findings/track.h"

struct stretch {
	size_t from, to; /* to: one past the last */
	int count;       /* shots in it that have the signal */
	double mean, doubt;
};

/* At most 32 shots with the signal are looked at, the first ones. */
struct stretch stretch_of(const struct track *track, size_t from, size_t to);

/* Of its mean against the profile. */
double stretch_level_sd(const struct track *track, const struct stretch *stretch);

/* Of the difference of two means: what both share, doubt about the level among it,
 * cancels. */
double stretch_step_sd(
    const struct track *track, const struct stretch *a, const struct stretch *b);

#endif
