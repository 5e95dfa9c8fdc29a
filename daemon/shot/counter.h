/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The machine's cycle counter against the indexes that were seen.
 *
 * The counter goes up by one at each index, or later in the same cycle.  After a silence, a counter ahead of the moves
 * tells how many indexes no poll saw.  Without one, a counter a little ahead is a riddle: an
 * index too short for the polls, or a counter that counts something else; a counter set back
 * or far ahead was set by somebody.  Compared only while nothing rotates, and believed
 * only when it stands: the bit and the counter are not read at the same instant.
 * Pure; one thread.
 */
#ifndef DAEMON_SHOT_COUNTER_H
#define DAEMON_SHOT_COUNTER_H

#include "daemon/base/clock.h"

#include <stdbool.h>
#include <stdint.h>

struct freeze;

struct counter {
	bool known;
	int64_t span; /* it wraps to 0 here */
	int64_t base; /* its value when `moves` was 0 */
	int64_t moves;
	bool gap;              /* polls were missing since it last agreed */
	bool met, behind;      /* since the last index it agreed; it was one behind */
	struct mono behind_at; /* first so */
	bool stood_behind;     /* for long, and agreed then */
	int late_cycles;       /* so many indexes long it did */
	int never_met;         /* so many indexes long it was behind and never agreed */
	bool doubted;          /* disagrees since `doubt_at`, by `doubt` */
	int64_t doubt;
	struct mono doubt_at;
};

enum counter_verdict {
	COUNTER_AGREES, /* or not yet sure */
	COUNTER_AHEAD,  /* `*missed` indexes were not seen */
	COUNTER_ASTRAY, /* a little ahead, though the polls went on */
	COUNTER_JUMPED, /* set back, or far ahead */
};

enum { COUNTER_MISSED_MAX = 3 }; /* further ahead than this is a jump */

void counter_init(struct counter *counter, int64_t span);

/* One index was seen. */
void counter_move(struct counter *counter);

/* It counts later in the cycle than the ring turns: after a silence it cannot tell whether
 * the ring did. */
bool counter_is_late(const struct counter *counter);

/* Polls are missing: an index may have gone by unseen. */
void counter_gap(struct counter *counter);

/* A reading while nothing rotates.  AHEAD: the caller moves on `*missed` times, each with
 * counter_move.  ASTRAY, JUMPED: the counter's new value is taken as it is. */
enum counter_verdict counter_take(
    struct counter *counter, int64_t value, struct mono at, int64_t *missed);

/*
 * For a line whose indexes only the counter tells: how far `value` went up since the last
 * reading, in `*moves`.  False when it was set or jumped: then it is taken as it is, and
 * `*moves` is 0.
 */
bool counter_follow(struct counter *counter, int64_t value, int64_t *moves);

void counter_freeze(struct counter *counter, struct freeze *freeze);

#endif
