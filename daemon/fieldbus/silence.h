/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Which units of a bus do not answer, and for how long each is left alone, so that they
 * do not deafen it to the others.  Pure.  One object belongs to one thread.
 *
 * A unit alone on its bus is never left alone.  Among others that answer, from the
 * third failure in a row on pauses grow until asking it takes less than 1/120 of the
 * bus: they end at 120 times what the last attempt cost, and at 30 s at least.  While
 * no unit of the bus answers (a line that is switched off for the night) there is
 * nobody to deafen: pauses are such that attempts take half of the bus.  With the
 * first that answers then, each of the others gets one more attempt before its pauses
 * grow anew.
 */
#ifndef DAEMON_FIELDBUS_SILENCE_H
#define DAEMON_FIELDBUS_SILENCE_H

#include "daemon/base/clock.h"

#include <stdbool.h>
#include <stddef.h>

/* Failures in a row after which a unit is no longer thought to be there. */
enum { SILENCE_FAILURES = 3 };

struct silence {
	size_t count;
	struct silence_unit {
		int failures; /* in a row */
		bool answers; /* it did, and is not thought gone */
		struct mono until;
	} units[];
};

/* Units that nobody has asked yet.  NULL when memory is short; release with free. */
struct silence *silence_new(size_t count);

/* Whether the unit is to be left alone now. */
bool silence_holds(const struct silence *silence, size_t unit, struct mono now);

/* It did not answer, found out at `now` after cost_ns. */
void silence_fail(
    struct silence *silence, size_t unit, struct mono now, int64_t cost_ns);

/* It answered; how many failures there were in a row before. */
int silence_end(struct silence *silence, size_t unit, struct mono now);

#endif
