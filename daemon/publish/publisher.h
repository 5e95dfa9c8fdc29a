/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Sends what the ledger has beyond the cursor to one time-series store, in its own
 * thread and with its own connection to the ledger.  The ledger is the queue: the
 * cursor moves only when the store has acknowledged.  Once a minute what the buses count
 * and how the logger is goes out beside it, also while there is much to send.
 *
 * start, wake and stop belong to one thread; publisher_status is safe from any.
 */
#ifndef DAEMON_PUBLISH_PUBLISHER_H
#define DAEMON_PUBLISH_PUBLISHER_H

#include "daemon/publish/delivery.h"

#include <stdbool.h>
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
	int delivering;       /* 1: all is well; 0: it is not; -1: nothing tried yet */
	struct wall since;    /* of that state */
	enum trouble trouble; /* why not; TROUBLE_NONE when it is */
	bool all_sent;        /* by the last step */
	int64_t settling;     /* shots that are sent, but may have to be sent again */
	int64_t batches, failures,
	    refused;           /* since the start; refused: lines set aside */
	int64_t lost_readings; /* dropped from their ring before they went out, ever */
	struct delivery_stuck stuck;
	char text[256];    /* of the last failure, without any password */
	char unasked[256]; /* why it cannot be asked whether it has what it took; "" */
	char untold[256];  /* why the devices' counts were not taken last; "" */
};
void publisher_status(struct publisher *publisher, struct publisher_status *status);

/* All of that in a sentence for a person; "" when there is nothing to say. */
enum { PUBLISHER_SENTENCE = 1024 };
void publisher_say(
    const struct publisher_status *status, char to[static PUBLISHER_SENTENCE]);

#endif
