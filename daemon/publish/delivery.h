/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What one store still lacks of the ledger, sent to it batch by batch.
 *
 * The ledger is the queue; there is a cursor for shots (with all their lines), one for
 * events, one for shifts that have ended and, where the store wants them, one for live
 * readings.  It moves only when the
 * store has taken everything up to it.  So a line may go out twice, which is harmless (see
 * line_protocol.h), but none is lost.  Shots go out in the order of their changes, before
 * events, these before shifts; readings after all, but every fifth batch at least.
 *
 * A store that may lose what it has acknowledged has a settle time: the cursor trails by it,
 * and only as long as the connection over which it was acknowledged lives.  A connection
 * that broke, an answer that did not come, one of 502, 503 or 504: what was not settled is
 * sent again.  What is kept for that is a list of bounded length; the lines come from the
 * ledger once more.  Since a proxy may keep its connections while the store behind it starts
 * again, a victoriametrics is asked before a cursor moves whether it has the last point of
 * each batch; what it has not is sent again, three times at most, then it goes on and says
 * so.  Where it cannot be asked the connection is trusted.
 *
 * A batch that the store refuses is cut down to the refused lines, as after a 400
 * nobody knows what was stored; those are set aside in the ledger with the server's
 * words.  Before a line is set aside the store has to take something else: what
 * refuses that too refuses not the lines but us, and so does what refuses many lines one
 * after another with the same words.  Readings are never set aside: refused ones are
 * dropped, after a few attempts, and counted as lost.  What does not get through three times
 * (no answer in time, a 5xx) is tried in smaller pieces.
 *
 * What cannot be read from the ledger keeps its own stream back, no other one.
 *
 * Somebody may set a cursor back meanwhile, by ledger_set_back: then what is in memory is
 * forgotten, and it goes on from there.
 *
 * One object belongs to one thread; no step sleeps.  A step blocks on the ledger and
 * for one or two posts.
 */
#ifndef DAEMON_PUBLISH_DELIVERY_H
#define DAEMON_PUBLISH_DELIVERY_H

#include "daemon/base/clock.h"
#include "daemon/publish/trouble.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct delivery;
struct error;
struct http;
struct settings;

/*
 * To store `store` of `settings`, which must outlive it, out of the ledger at `ledger`.
 * `give_up(arg)` is asked ten times a second during a post: true breaks it off; it
 * may be NULL.  NULL with the reason.
 */
struct delivery *delivery_open(const struct settings *settings, size_t store,
    const char *ledger, bool (*give_up)(void *arg), void *arg, struct error *error);
void delivery_close(struct delivery *delivery);

enum delivery_state {
	DELIVERY_DONE,    /* the store has everything; some of it may have to settle */
	DELIVERY_MOVING,  /* one step on: take the next */
	DELIVERY_LATER,   /* the store is not there, or not ready */
	DELIVERY_CLOSED,  /* it refuses us: address, login, database, rights */
	DELIVERY_TROUBLE, /* on our side: the ledger, or memory */
};

/*
 * Goes one step: reads a batch, posts it or a part of it, or moves a cursor.  After
 * the last three states `error` says what is wrong, nothing is lost, and the same
 * step is tried next time; `*retry_after_s` is how long the store asked to be left
 * alone, 0 when it said nothing.
 */
enum delivery_state delivery_step(
    struct delivery *delivery, double *retry_after_s, struct error *error);

/* Seconds of the system's time until a cursor can move without another post; INFINITY when
 * none waits. */
double delivery_due_s(const struct delivery *delivery);

/* What it posts with, for other posts to the same store between two steps; lent. */
struct http *delivery_http(struct delivery *delivery);

/* What does not get through. */
struct delivery_stuck {
	const char *stream; /* "shot", "event", "shift", "reading" */
	int64_t change;     /* of its first line; a reading's number */
	int64_t tries;      /* posts that failed; 0: nothing is stuck */
	struct wall since;  /* the first of them */
};

struct delivery_counts {
	int64_t posts;         /* taken by the store */
	int64_t batches;       /* times that a cursor moved */
	int64_t refused;       /* lines set aside */
	char refusal[256];     /* the server's words for the last of them */
	int64_t settling;      /* shots taken that the cursor waits for */
	int64_t again;         /* times that what was not settled was sent again */
	int64_t lost_readings; /* dropped before they went out, ever */
	enum trouble trouble;  /* of the last step; TROUBLE_NONE when it went well */
	bool answered;         /* that trouble is what the store answers */
	char standing[256];    /* what is wrong although a step went on; "" */
	int64_t missed;        /* times that the store lacked what it had taken */
	int64_t unkept;    /* shots that it lacked still when they had been sent again
	                        * and again; 0 once somebody has set it back */
	char unasked[256]; /* why it cannot be asked what it has; "" */
	struct delivery_stuck stuck;
};
const struct delivery_counts *delivery_counts(const struct delivery *delivery);

#endif
