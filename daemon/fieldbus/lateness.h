/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * How late something began, over the last one to two hours: a histogram with eight
 * classes an octave.  Pure.  One object belongs to one thread.
 */
#ifndef DAEMON_FIELDBUS_LATENESS_H
#define DAEMON_FIELDBUS_LATENESS_H

#include "daemon/base/clock.h"

enum { LATENESS_CLASSES = 200 };

struct lateness {
	struct lateness_hour {
		int64_t count, worst_ns;
		uint32_t classes[LATENESS_CLASSES];
	} hours[2];        /* this one, the one before */
	struct mono began; /* of this hour; ns 0: nothing was added yet */
};

/* Empty is {0}.  Below 0 counts as in time. */
void lateness_add(struct lateness *lateness, struct mono now, int64_t late_ns);

/* Milliseconds; 0 while nothing was added.  That which `ratio` of all do not exceed is
 * at most 9.1 % too high, never too low and never above the worst; up to 0.1 ms is told
 * as 0.1 at most. */
double lateness_quantile_ms(const struct lateness *lateness, double ratio);
double lateness_worst_ms(const struct lateness *lateness);

#endif
