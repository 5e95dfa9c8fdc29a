/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Which units of a bus do not answer, and for how long each is left alone, so that they
 * do not deafen it to the others.  Pure.  One object belongs to one thread.
 *
 * A unit alone on its bus is never left alone.  Among others that answer, from the
 * third failure in a row on pauses grow until asking it takes less than 1/120 of the
 * bus: they end at 120 times what the last attempt cost, and at 30 s at least.  Several
 * that are dead share this 1/120, but none is left alone for over ten minutes for the
 * others' sake.  Where an attempt takes over twice the period of another unit, there is
 * a pause from the first failure on.
 *
 * One that answers now and then may cost 1/20 of the bus: beyond three attempts that
 * are not made up for yet, each failure has its pause.
 *
 * While no unit of the bus answers (a line that is switched off for the night) there is
 * nobody to deafen: pauses are such that attempts take half of the bus.  With the
 * first that answers after a minute of that, each of the others gets one more attempt
 * before its pauses grow anew.
 */
#ifndef DAEMON_FIELDBUS_SILENCE_H
#define DAEMON_FIELDBUS_SILENCE_H

#include "daemon/base/clock.h"

#include <stdbool.h>
#include <stddef.h>

enum {
	SILENCE_FAILURES = 3, /* in a row: the unit is no longer thought to be there */
	SILENCE_PATIENCE = 2, /* periods of another unit that an attempt may take */
};

struct silence {
	size_t count;
	bool answered; /* one has, at `answered_at` last */
	struct mono answered_at;
	struct silence_unit {
		int64_t period_ns; /* the shortest at which it is read; 0: not known */
		int failures;      /* in a row */
		bool answers;      /* it did, and is not thought gone */
		struct mono until;
		int64_t lost_ns; /* for it, as of `lost_at`, less what is made up for */
		struct mono lost_at;
	} units[];
};

/* Units that nobody has asked yet; fill period_ns in.  NULL when memory is short; release
 * with free. */
struct silence *silence_new(size_t count);

/* Whether the unit is to be left alone now. */
bool silence_holds(const struct silence *silence, size_t unit, struct mono now);

/* It did not answer, found out at `now` after cost_ns. */
void silence_fail(
    struct silence *silence, size_t unit, struct mono now, int64_t cost_ns);

/* It answered; how many failures there were in a row before. */
int silence_end(struct silence *silence, size_t unit, struct mono now);

#endif
