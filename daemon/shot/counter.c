/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/shot/counter.h"

#include "daemon/shot/freeze.h"

#define SANE (INT64_C(1) << 48) /* no counter of a machine comes that far */
#define NEVER_MET 2             /* indexes after which this is no accident */
#define LATE_CYCLES 2           /* so many cycles of lateness are no accident */
#define STANDS_S 3              /* a disagreement that stands this long is real */

void
counter_init(struct counter *counter, int64_t span)
{
	*counter = (struct counter){.span = span};
}

void
counter_move(struct counter *counter)
{
	/* One that counts later in the cycle agrees before the next index; this one was
	 * set back by one. */
	counter->never_met =
	    counter->behind && !counter->met ? counter->never_met + 1 : 0;
	if (counter->never_met == NEVER_MET) {
		counter->base--;
		counter->never_met = 0;
	}
	counter->late_cycles = counter->stood_behind ? counter->late_cycles + 1 : 0;
	counter->met = counter->behind = counter->stood_behind = false;
	counter->moves++;
	counter->doubted = false;
}

/* How far `value` is ahead of what was expected, across a wrap. */
static int64_t
ahead_by(const struct counter *counter, int64_t value)
{
	int64_t ahead = (value - counter->base - counter->moves) % counter->span;

	if (ahead > counter->span / 2)
		ahead -= counter->span;
	if (ahead < -(counter->span / 2))
		ahead += counter->span;
	return ahead;
}

bool
counter_is_late(const struct counter *counter)
{
	return counter->late_cycles >= LATE_CYCLES;
}

void
counter_gap(struct counter *counter)
{
	counter->gap = true;
}

enum counter_verdict
counter_take(struct counter *counter, int64_t value, struct mono at, int64_t *missed)
{
	int64_t stands_ns = counter->gap ? 1 : STANDS_S * CLOCK_SECOND_NS;
	int64_t ahead;

	if (!counter->known) {
		counter->known = true;
		counter->base = value - counter->moves;
		return COUNTER_AGREES;
	}
	ahead = ahead_by(counter, value);
	if (ahead == 0 || ahead == -1) { /* one behind: it counts later in the cycle */
		counter->doubted = false;
		if (ahead != 0 && !counter->behind)
			counter->behind_at = at;
		if (ahead == 0 && counter->behind && !counter->met &&
		    at.ns - counter->behind_at.ns >= STANDS_S * CLOCK_SECOND_NS)
			counter->stood_behind = true;
		counter->met = counter->met || ahead == 0;
		counter->behind = counter->behind || ahead != 0;
		counter->gap = counter->gap && ahead != 0;
		return COUNTER_AGREES;
	}
	if (!counter->doubted || counter->doubt != ahead) {
		counter->doubted = true;
		counter->doubt = ahead;
		counter->doubt_at = at;
		return COUNTER_AGREES;
	}
	if (at.ns - counter->doubt_at.ns < stands_ns)
		return COUNTER_AGREES;
	bool gap = counter->gap, little = ahead > 0 && ahead <= COUNTER_MISSED_MAX;

	counter->doubted = counter->gap = false;
	if (gap && little) {
		*missed = ahead;
		return COUNTER_AHEAD;
	}
	counter->base += ahead;
	return little ? COUNTER_ASTRAY : COUNTER_JUMPED;
}

bool
counter_follow(struct counter *counter, int64_t value, int64_t *moves)
{
	int64_t ahead = counter->known ? ahead_by(counter, value) : 0;
	bool jumped = ahead < 0 || ahead > COUNTER_MISSED_MAX;

	*moves = jumped ? 0 : ahead;
	counter->base = value;
	counter->known = true;
	return !jumped;
}

void
counter_freeze(struct counter *counter, struct freeze *freeze)
{
	freeze_bool(freeze, &counter->known);
	freeze_i64(freeze, &counter->base);
	freeze_i64(freeze, &counter->moves);
	freeze_bool(freeze, &counter->gap);
	freeze_bool(freeze, &counter->met);
	freeze_bool(freeze, &counter->behind);
	freeze_time(freeze, &counter->behind_at.ns);
	freeze_bool(freeze, &counter->stood_behind);
	freeze_int(freeze, &counter->late_cycles);
	freeze_int(freeze, &counter->never_met);
	freeze_bool(freeze, &counter->doubted);
	freeze_i64(freeze, &counter->doubt);
	freeze_time(freeze, &counter->doubt_at.ns);
	if (counter->base < -SANE || counter->base > SANE || counter->moves < 0 ||
	    counter->moves > SANE)
		freeze->failed = true;
}
