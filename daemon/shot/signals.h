/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What the machine's status signals say, poll by poll: debounced edges, indexes that no
 * poll saw, silences.  Knows bits and the cycle counter, no sheets.
 * Pure; one object belongs to one thread.
 */
#ifndef DAEMON_SHOT_SIGNALS_H
#define DAEMON_SHOT_SIGNALS_H

#include "daemon/shot/counter.h"
#include "daemon/shot/edge.h"
#include "daemon/shot/roles.h"

struct scan;

enum { SIGNAL_BITS = ROLE_FAULT + 1 }; /* the bit roles, by their own numbers */

struct signals {
	const struct settings *settings; /* lent */
	const struct roles *roles;       /* lent */
	struct bit bits[SIGNAL_BITS];
	struct counter counter;
	int recipe;          /* as last read; -1 unknown */
	int64_t cycle_count; /* the same */
	double edge_limit_s; /* an edge less certain than this counts as not seen */
	bool load_empty, form_empty; /* the eyes as `rotating` began to change */
	struct mono heard;           /* the last good poll of `rotating` went out */
	struct mono gap_from;        /* the last one before the last silence */
};

/* What one scan shows. */
struct news {
	enum bit_change change[SIGNAL_BITS];
	struct edge edge
	    [SIGNAL_BITS]; /* as it stood before `rotating` changed: an index is judged by it */
	bool load_empty, form_empty;
	bool
	    sagged; /* the line moved on with the sag eye on, not yet for its debounce */
	struct edge sag;
	bool silence;     /* polls were missing: an edge may have gone by */
	bool jumped;      /* the counter was set, or jumped by itself */
	bool astray;      /* it counted an index that no poll saw, without a silence */
	int64_t missed;   /* indexes that went by in the silence, ... */
	struct edge when; /* ... in this span */
};

void signals_init(struct signals *signals, const struct settings *settings,
    const struct roles *roles);

/* Takes a scan of one of the line's devices. */
void signals_take(struct signals *signals, const struct scan *scan, struct news *news);

/* Whether the line has this bit and it stands at 0, or at 1. */
bool signals_off(const struct signals *signals, enum role bit);
bool signals_on(const struct signals *signals, enum role bit);

#endif
