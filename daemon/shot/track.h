/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The good readings of one channel within a window as a line through them, read forward
 * in time: holes are bridged, and before the first and after the last it is level.
 * Pure; lent by the history as its series are.
 */
#ifndef DAEMON_SHOT_TRACK_H
#define DAEMON_SHOT_TRACK_H

#include "daemon/shot/history.h"
#include "daemon/shot/window.h"

#include <stdbool.h>

struct track {
	struct series series;
	size_t next;
	struct {
		int64_t ns;
		double value;
	} left, right;  /* the good readings around the moment asked for */
	bool any, more; /* there is a left one, a right one */
};

void track_start(struct track *track, const struct history *history, uint32_t channel,
    struct window window);

/* The next good reading; false when there is none left.  Not to be mixed with
 * track_at. */
bool track_next(struct track *track, struct mono *at, double *value);

/* The line at `at`, which must not go back; NAN without a good reading. */
double track_at(struct track *track, struct mono at);

#endif
