/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What the machine's status signals say about one side of a line, poll by poll:
 * debounced edges in the order in which they happened, indexes that only the counter
 * tells, silences.  Knows bits and the cycle counter, no sheets.
 * Pure; one object belongs to one thread.
 */
#ifndef DAEMON_SHOT_SIGNALS_H
#define DAEMON_SHOT_SIGNALS_H

#include "daemon/shot/counter.h"
#include "daemon/shot/edge.h"
#include "daemon/shot/roles.h"

struct freeze;
struct scan;

enum {
	SIGNAL_BITS = ROLE_FAULT + 1, /* the bit roles, by their own numbers */
	SIGNAL_CHANGES = 2 * SIGNAL_BITS,
};

/* A bit that has changed for good. */
struct change {
	enum role bit;
	bool rose;
	struct edge edge;
};

struct signals {
	const struct settings *settings; /* lent */
	const struct roles *roles;       /* lent */
	enum role mover; /* what moves the sheets: rotating, cycle_count or oven_in */
	bool counts;     /* the counter goes up with the mover: it can check it */
	struct bit bits[SIGNAL_BITS];
	bool seen[SIGNAL_BITS];             /* levels before debouncing */
	struct mono bit_heard[SIGNAL_BITS]; /* the last good poll of each went out */
	struct counter counter;
	int recipe;          /* as last read; -1 unknown */
	int64_t cycle_count; /* the same */
	double edge_limit_s; /* an edge less certain than this counts as not seen */
	double silence_s[SIGNAL_BITS]; /* not heard of for longer, a bit is deaf */
	/* The eyes as `rotating` began to change; without it, at the last two polls. */
	bool load_empty, form_empty;
	bool load_off, form_off; /* at the last poll */
	struct edge sagging;     /* the eye's first edge as the sheet began to leave */
	struct mono heard;       /* the last good poll of the mover went out */
	struct mono prior;       /* the one before that */
	struct mono gap_from;    /* the last one before the last silence */
	bool moved_since;        /* an index was seen since that silence */
	/* Edges that wait for an earlier one that is still being debounced. */
	size_t waiting;
	struct change wait[SIGNAL_CHANGES];
};

/* What one scan shows. */
struct news {
	size_t count; /* changes, in the order in which they happened */
	struct change changes[SIGNAL_CHANGES + SIGNAL_BITS];
	bool silence;           /* polls were missing: an edge may have gone by */
	bool deaf[SIGNAL_BITS]; /* the same of each bit by itself */
	bool jumped;            /* the counter was set, or jumped by itself */
	/* It jumped in a silence, counts too late to tell of one, or an index was seen before
	 * it told of another: nobody knows how the sheets moved. */
	bool unsure;
	bool astray;      /* it counted an index that no poll saw, without a silence */
	int64_t missed;   /* indexes that the counter alone tells, ... */
	struct edge when; /* ... in this span */
};

void signals_init(struct signals *signals, const struct settings *settings,
    const struct roles *roles, enum machine machine);

/* Takes a scan of one of the line's devices. */
void signals_take(struct signals *signals, const struct scan *scan, struct news *news);

/* Whether the line has this bit; whether it has it and it stands at 0, or at 1. */
bool signals_have(const struct signals *signals, enum role bit);
bool signals_off(const struct signals *signals, enum role bit);
bool signals_on(const struct signals *signals, enum role bit);

/* Whether the line has this bit and nobody has heard of it for so long by `now` that an edge
 * may have gone by. */
bool signals_deaf(const struct signals *signals, enum role bit, struct mono now);

/* Levels, counter and waiting edges; settings and roles are those of signals_init. */
void signals_freeze(struct signals *signals, struct freeze *freeze);

#endif
