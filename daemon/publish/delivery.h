/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What one store still lacks of the ledger, sent to it batch by batch.
 *
 * The ledger is the queue; there is a cursor for shots (with their channels) and one
 * for events, and it moves only when the store has taken everything up to it.  So a
 * line may go out twice, which is harmless (see line_protocol.h), but none is lost.
 * A batch that the store refuses is cut down to the refused lines, as after a 400
 * nobody knows what was stored; those are set aside in the ledger with the server's
 * words.  Before a line is set aside the store has to take an empty batch: what
 * refuses that too refuses not the lines but us.
 *
 * One object belongs to one thread; no step sleeps.  A step blocks on the ledger and
 * for one or two posts.
 */
#ifndef DAEMON_PUBLISH_DELIVERY_H
#define DAEMON_PUBLISH_DELIVERY_H

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
	DELIVERY_DONE,    /* the store has everything */
	DELIVERY_MOVING,  /* one step on: take the next */
	DELIVERY_LATER,   /* the store is not there, or not ready */
	DELIVERY_CLOSED,  /* it refuses us: address, login, database, rights */
	DELIVERY_TROUBLE, /* on our side: the ledger, or memory */
};

/*
 * Goes one step: reads a batch, posts it or a part of it, or moves the cursor.  After
 * the last three states `error` says what is wrong, nothing is lost, and the same
 * step is tried next time; `*retry_after_s` is how long the store asked to be left
 * alone, 0 when it said nothing.
 */
enum delivery_state delivery_step(
    struct delivery *delivery, double *retry_after_s, struct error *error);

/* What it posts with, for other posts to the same store between two steps; lent. */
struct http *delivery_http(struct delivery *delivery);

struct delivery_counts {
	int64_t posts;     /* taken by the store */
	int64_t batches;   /* after which a cursor moved */
	int64_t refused;   /* lines set aside */
	char refusal[256]; /* the server's words for the last of them */
};
const struct delivery_counts *delivery_counts(const struct delivery *delivery);

#endif
