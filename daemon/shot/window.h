/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Numbers of one channel over one window of a shot.
 *
 * Only good readings count.  Time integrals are trapezoids on the actual stamps; a
 * stretch between two good readings counts as covered when it is no longer than
 * WINDOW_GAP_PERIODS polls or WINDOW_GAP_LEAST_S, and a window's ends are covered by the reading nearest to
 * them within the same reach.  Pure; any thread with its own series.
 */
#ifndef DAEMON_SHOT_WINDOW_H
#define DAEMON_SHOT_WINDOW_H

#include "daemon/shot/history.h"
#include "daemon/shot/shot.h"

#include <stdbool.h>

#define WINDOW_GAP_PERIODS 2.5
#define WINDOW_GAP_LEAST_S 2.5

/* From the first poll surely inside to the last; `known` false when there is none. */
struct window {
	bool known;
	struct mono from, to;
};

double window_s(struct window window);

/* min, mean (over time), max, sd, last good, coverage; the numbers are NAN with the
 * reason in `absent` when the coverage is under `coverage_min`: what the readings that were
 * not good said, or low_coverage when readings were missing. */
struct shot_channel window_summary(const struct history *history, uint32_t channel,
    struct window window, double coverage_min);

/* A number or why there is none. */
struct measure {
	double value;
	enum absent absent;
};

/*
 * Straight line fitted by least squares to the good readings of the window, its value
 * at `at` and its slope a second.  Absent with fewer than 3 good readings, when they
 * span less than half the window (a line through neighbours tells nothing), or when the
 * last one lies further than that before the window's end.
 */
struct measure window_line_at(const struct history *history, uint32_t channel,
    struct window window, struct mono at, double *slope_per_s);

/* Share of the covered time of some windows in which the reading was `level` or more;
 * absent when the coverage of all of them together is under `coverage_min`. */
struct measure window_share_above(const struct history *history, uint32_t channel,
    const struct window *windows, size_t count, double level, double coverage_min);

/* Linear between the good readings on both sides of `at`, if they are near enough. */
struct measure window_value_at(
    const struct history *history, uint32_t channel, struct mono at);

/* Why a reading of this quality is no number. */
enum absent absent_of(enum quality quality);

#endif
