/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What the ledger is to forget by the settings: old traces, channels and shots, and the
 * live readings of stores that are gone.  Looked for once an hour, a piece at a time, so that nobody waits for it for long.
 *
 * A clock that is years ahead would make all shots old, and what is forgotten does not
 * come back: so channels and shots are left alone for the first KEEPING_TRUST_S, and
 * again whenever the clock was set by over KEEPING_STEP_S.
 *
 * One object belongs to one thread.
 */
#ifndef DAEMON_RUN_KEEPING_H
#define DAEMON_RUN_KEEPING_H

#include "daemon/base/clock.h"

#include <stdbool.h>
#include <stdint.h>

struct ledger;
struct settings;

enum { KEEPING_TRUST_S = 3600, KEEPING_STEP_S = 600 };

/* Zeroed to begin with. */
struct keeping {
	struct wall done;       /* all of it, the last time; ns 0: there may be more */
	int64_t next_system_ns; /* not before this is another piece of it looked for */
	bool begun;
	int64_t ahead_ns;             /* the wall clock, of the monotonic one */
	bool trusted;                 /* the wall clock */
	struct mono trust_from;       /* that long it is not */
	bool traces_stay, shots_stay; /* they could not be removed; that is logged */
};

/* When it is time: one piece, as of `now` and `wall`, which are the same instant.  What
 * goes wrong is logged as it begins and as it ends. */
void keeping_go(struct keeping *keeping, struct ledger *ledger,
    const struct settings *settings, struct mono now, struct wall wall);

/* Other settings: there may be something to forget by them. */
void keeping_again(struct keeping *keeping);

#endif
