/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The ledger, written, for the delivery to stores: how far each has what is on file, what
 * it refused, and the live readings that wait for it.  As ledger.h, which includes this.
 */
#ifndef DAEMON_LEDGER_LEDGER_DELIVERY_H
#define DAEMON_LEDGER_LEDGER_DELIVERY_H

#include "daemon/base/clock.h"

#include <stddef.h>
#include <stdint.h>

struct error;
struct ledger;

/* --- delivery: a cursor a destination and stream ("shot", "event", "shift") -- */

/*
 * How far a destination has a stream: "shot", "event" and "shift" by change number,
 * "reading" by the number in the ring.  `turn` goes up when somebody sets the cursor back; `lost` are
 * the readings that the ring dropped before they went out.  All 0 at first.
 */
struct ledger_delivered {
	int64_t change, turn, lost;
	struct wall at; /* when it moved last */
};
int ledger_delivered(struct ledger *ledger, const char *destination, const char *stream,
    struct ledger_delivered *delivered, struct error *error);

/* Moves it; a power loss may set it back, never forward.  ERROR_BUSY, and nothing
 * changed, when it is of another turn on file: read it again and go on from there. */
int ledger_set_delivered(struct ledger *ledger, const char *destination,
    const char *stream, const struct ledger_delivered *delivered, struct error *error);

/*
 * Sets a destination back, so that every shot, event and closed shift of the time `from`
 * and later goes out again (and whatever changed since the first of them).  It never moves forward, and
 * its turn goes up in any case.  What was refused of them is forgotten: it will turn out
 * anew; of shots and events that are no longer on file the refused lines stay.  `*shots` and `*events` say how many are to be sent now.
 */
int ledger_set_back(struct ledger *ledger, const char *destination, struct wall from,
    int64_t *shots, int64_t *events, struct error *error);

/*
 * A line that a destination refuses, with the server's words; the strings are lent.  Only
 * lines of shots and events: `change` is theirs, and as long as it stands here nothing of
 * them is forgotten (see ledger_forget).
 */
struct ledger_refusal {
	const char *destination;
	int64_t change;
	const char *line, *answer;
	struct wall at;
};

/* More are not kept, of all destinations together: the oldest go. */
enum { LEDGER_REFUSALS_MOST = 100000 };

/*
 * Sets them aside in one transaction, all or none; of one line and change the last answer
 * is kept.  A kill keeps them; a power loss may take them back, but never while a cursor
 * stays that ledger_set_delivered moved past them afterwards.
 */
int ledger_put_refusals(struct ledger *ledger, const struct ledger_refusal *list,
    size_t count, struct error *error);

/* The same for one. */
int ledger_put_refusal(
    struct ledger *ledger, const struct ledger_refusal *refusal, struct error *error);

/* --- live readings: a ring for each destination that wants them ------------------------ */

/* What all channels of a line read over one interval; bytes and strings are lent. */
struct ledger_reading {
	int64_t number; /* in its ring; given by the ledger */
	const char *line;
	struct wall at;
	const void *bytes; /* packed by the caller */
	size_t byte_count;
};

/* Appends it under the next number of the destination (from 1 on, without a hole), and
 * now and then drops the first ones as long as they are from before `keep_from`.  A kill
 * keeps it, a power loss may take the last back.  ERROR_NOT_FOUND for an unknown line. */
int ledger_put_reading(struct ledger *ledger, const char *destination,
    const struct ledger_reading *reading, struct wall keep_from, struct error *error);

#endif
