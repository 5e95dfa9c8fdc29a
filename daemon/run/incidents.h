/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What of the logger's own life becomes an event: what is told once in each round in,
 * events out.  Pure.  One object belongs to one thread.
 *
 * Nothing floods: what works or does not is told of once it has been so for
 * INCIDENTS_HOLD_S, after INCIDENTS_DAY times in a day for INCIDENTS_FLAPS_S (what came and
 * went and is gone is told of within the hour, and there are twice INCIDENTS_DAY at most),
 * losses at once and then once in INCIDENTS_AGAIN_S, a disk that fills up with a gap between
 * low and not low.
 *
 *   kind              told
 *   device_silent     it has not answered since then; device_answers: it has again
 *   store_failing     it has taken nothing since then; store_delivering
 *   ledger_failing    it could not be written since then; ledger_writing
 *   ledger_damaged    its file was looked through, and something was found; ledger_whole
 *   readings_lost     polls that were dropped, this computer being too slow
 *   shots_lost        shots that were given up, memory being full
 *   disk_low          the ledger's disk fills up; disk_free
 *   clock_step        the system's clock was set, against one that never steps
 */
#ifndef DAEMON_RUN_INCIDENTS_H
#define DAEMON_RUN_INCIDENTS_H

#include "daemon/base/clock.h"
#include "daemon/ledger/ledger_health.h"

#include <stdint.h>

struct incidents;

enum {
	INCIDENTS_HOLD_S = LEDGER_HOLD_S,
	INCIDENTS_DAY = 24,
	INCIDENTS_FLAPS_S = 3600,
	INCIDENTS_AGAIN_S = 3600,
	INCIDENTS_STEP_S = 1
};

/* Free space is low below the smaller of these, and no more so above 1.5 times that. */
#define INCIDENTS_LOW_BYTES INT64_C(1000000000)
#define INCIDENTS_LOW_SHARE 0.05

struct instant {
	struct mono mono;
	struct wall wall; /* the same instant */
};

struct incidents_sink {
	void (*event)(void *arg, struct wall at, const char *kind, const char *text);
	void *arg;
};

/* NULL when memory is short. */
struct incidents *incidents_new(struct incidents_sink sink);
void incidents_free(struct incidents *incidents); /* NULL allowed */

/* A round begins; all that is told until its end is as of `now`. */
void incidents_begin(struct incidents *incidents, struct instant now);

enum incidents_subject {
	INCIDENTS_DEVICE,
	INCIDENTS_STORE,
	INCIDENTS_LEDGER, /* whether it takes what it is given */
	INCIDENTS_FILE,   /* whether its file is whole */
};

/* 1: it works; 0: it does not, by `why`; -1: not known yet.  `name` is "" of the
 * ledger and of its file. */
void incidents_state(struct incidents *incidents, enum incidents_subject subject,
    const char *name, int works, const char *why);

/* All there were since the start; they only go up. */
enum incidents_loss { INCIDENTS_READINGS, INCIDENTS_SHOTS, INCIDENTS_LOSSES };
void incidents_lost(
    struct incidents *incidents, enum incidents_loss loss, int64_t total);

void incidents_disk(
    struct incidents *incidents, int64_t free_bytes, int64_t disk_bytes);

/* What was not told of in this round is not there any more. */
void incidents_end(struct incidents *incidents);

/* How often the clock was set since the start. */
int64_t incidents_clock_steps(const struct incidents *incidents);

#endif
