/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Sends what the ledger has beyond the cursor to one time-series store, in its own
 * thread and with its own connection to the ledger.  The ledger is the queue: the
 * cursor moves only when the store has acknowledged.  Whenever the store has everything,
 * though not more than once a minute, what the buses count goes out beside it.
 *
 * start, wake and stop belong to one thread; publisher_status is safe from any.
 */
#ifndef DAEMON_PUBLISH_PUBLISHER_H
#define DAEMON_PUBLISH_PUBLISHER_H

#include "daemon/base/clock.h"

#include <stddef.h>
#include <stdint.h>

struct error;
struct publisher;
struct settings;

/* Delivers to store `store` of `settings`, which must outlive it.  NULL with the reason. */
struct publisher *publisher_start(const struct settings *settings, size_t store,
    const char *ledger, struct error *error);

/* There is something new. */
void publisher_wake(struct publisher *publisher);

/* Ends it: sends what is there if the store answers at once, waits `grace_s` at most. */
void publisher_stop(struct publisher *publisher, double grace_s);

struct publisher_status {
	int delivering; /* 1: the last batch was taken; 0: not; -1: nothing tried yet */
	struct wall since; /* of that state */
	int64_t batches, failures,
	    refused;      /* since the start; refused: lines set aside */
	char text[256];   /* of the last failure, without any password */
	char untold[256]; /* why the devices' counts were not taken last; "" */
};
void publisher_status(struct publisher *publisher, struct publisher_status *status);

#endif
