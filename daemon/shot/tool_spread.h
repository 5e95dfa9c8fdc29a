/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * How far the tool's sensors lie apart, in three ways that must not be mixed up: the
 * spread at an instant, the spread of the sensors' time means, and the swing of one
 * sensor in time.  A healthy tool swings by several degrees every shot and yet is even
 * across its face; sensor noise alone makes an instantaneous spread, so the spread of
 * means is the one to hold a tool to (common practice, no source).
 * Pure; any thread with its own history.
 */
#ifndef DAEMON_SHOT_TOOL_SPREAD_H
#define DAEMON_SHOT_TOOL_SPREAD_H

#include "daemon/shot/history.h"
#include "daemon/shot/window.h"

#include <stddef.h>

struct tool_spread {
	double mean_c; /* mean over sensors of their time means */
	double
	    start_dc; /* largest minus smallest as the window begins; NAN unless read then */
	double spread_mean_dc; /* the same, mean over the instants */
	double p95_dc;         /* the same, 95th percentile of the instants */
	double of_means_dc;    /* largest minus smallest time mean */
	double swing_dc;       /* largest max - min of one sensor */
};

/*
 * An instant is a reading of the first sensor at which every other sensor has a good
 * one within 2 s (or its own period).  With a sensor missing nothing is computed, since
 * a spread over fewer sensors can only look better: returns why, and all is NAN.
 */
enum absent tool_spread_compute(const struct history *history, const uint32_t *channels,
    size_t count, struct window window, double coverage_min,
    struct tool_spread *spread);

#endif
