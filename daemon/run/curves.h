/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What every channel reads over intervals of one length: scans in, intervals out.  Pure.
 *
 * Intervals begin at whole multiples of their length in UTC, so that those of several
 * computers line up, and an interval goes by its end: a point tells of the time up to it.
 * A reading is of the interval that its scan was stamped in.  One object belongs to one
 * thread.
 *
 * An interval is given out once.  It is over when something is known to be later than its
 * end by CURVES_WAIT_S, which is what scans of different buses may overtake each other by;
 * what comes for it after that is left out and counted.  So it is where a clock is set
 * back a little, until it is again where it was.  Set back by over CURVES_BACK_S, a clock
 * that was wrong has been put right: what was begun is given out, and it begins anew.
 */
#ifndef DAEMON_RUN_CURVES_H
#define DAEMON_RUN_CURVES_H

#include "daemon/base/clock.h"

#include <stddef.h>
#include <stdint.h>

struct curves;
struct reading_channel;
struct scan;
struct settings;

enum { CURVES_WAIT_S = 1, CURVES_BACK_S = 600 };

/*
 * A line's interval that ends at `end`, its channels in the order of the settings; lent.
 * mean is that of the good readings, of a bit the share of polls in which it was on; last
 * is the last good one; both NAN where there was none.  A channel without any poll in the
 * interval is not among them, and an interval without one is not given out.
 */
struct curves_sink {
	void (*interval)(void *arg, uint32_t line, struct wall end,
	    const struct reading_channel *channels, size_t count);
	void *arg;
};

/* `period_s` is taken in whole seconds, 1 at least; `settings` must outlive it, or be
 * replaced by curves_adopt.  NULL when memory is short. */
struct curves *curves_new(
    const struct settings *settings, double period_s, struct curves_sink sink);
void curves_free(struct curves *curves); /* what was begun is given up; NULL allowed */

int64_t curves_period_s(const struct curves *curves);

void curves_scan(struct curves *curves, const struct scan *scan);

/* Scans from before `now` have all been given: gives out what is over by then. */
void curves_pass(struct curves *curves, struct wall now);

/* Goes over to settings with the same machine, and to another sink. */
void curves_adopt(
    struct curves *curves, const struct settings *settings, struct curves_sink sink);

/* Scans that were left out because they came for what had been given out. */
int64_t curves_late(const struct curves *curves);

#endif
