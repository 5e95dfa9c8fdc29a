/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Looks through the ledger for damage (the quick check of ledger_check.h), INSPECTION_FIRST_S
 * after the start and then every INSPECTION_EVERY_S.
 *
 * In a thread of its own that rests as long as it works, so that it takes half of one
 * processor and of the disk at most; nobody waits for it, and nothing it finds stops
 * anything.
 */
#ifndef DAEMON_RUN_INSPECTION_H
#define DAEMON_RUN_INSPECTION_H

#include "daemon/base/clock.h"

#include <stdint.h>

struct error;
struct inspection;

enum { INSPECTION_FIRST_S = 60, INSPECTION_EVERY_S = 86400 };

struct inspection_status {
	int whole;         /* 1: nothing was found; 0: damage; -1: not looked yet */
	struct wall since; /* of that state */
	int64_t looks;     /* how often it was looked through */
	int64_t findings;  /* the last time */
	char text[400];    /* for people: what was found, or when it was looked at */
};

/* `ledger`, its path, must outlive it.  NULL with the sentence in `error`. */
struct inspection *inspection_start(const char *ledger, struct error *error);

/* Ends a look that is under way. */
void inspection_stop(struct inspection *inspection);

/* Any thread. */
void inspection_status(struct inspection *inspection, struct inspection_status *status);

/* Looks now, by itself and without rest: for tests. */
void inspection_look(struct inspection *inspection);

#endif
