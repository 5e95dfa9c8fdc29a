/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What delivery is made of: delivery.c chooses what is next, delivery_post.c posts it and
 * heeds the answer, delivery_cursor.c moves the cursors.  Within publish/ only.
 */
#ifndef DAEMON_PUBLISH_DELIVERY_INSIDE_H
#define DAEMON_PUBLISH_DELIVERY_INSIDE_H

#include "daemon/ledger/ledger.h"
#include "daemon/publish/batch.h"
#include "daemon/publish/delivery.h"
#include "daemon/publish/http.h"
#include "daemon/publish/loader.h"
#include "daemon/publish/settling.h"

/* How far the store is with one stream. */
struct delivery_stream {
	bool known;                     /* `cursor` was read, and holds */
	struct ledger_delivered cursor; /* as it is on file */
	struct settling_mark sent;      /* acknowledged up to here */
	struct settling settling;       /* of that, what the cursor waits for */
	struct delivery_stuck stuck;    /* since the cursor moved last */
};

struct delivery {
	const struct store_settings *store;
	struct ledger *ledger; /* the cursors and what is set aside */
	struct loader loader;
	struct http *http;
	struct text url;
	struct delivery_stream streams[STREAM_COUNT];
	int since_reading; /* batches of shots and events since one of readings */

	/* What is being sent, and what follows it if read: of a stream each, and the span
	 * of each if compressed already. */
	enum stream stream, next_stream;
	struct batch batch, next;
	struct http_body body, next_body;
	bool takes; /* the store took something of this batch, or a probe */

	int64_t connection; /* over which the unsettled was acknowledged */
	int broken;         /* times that it was gone since a cursor moved */
	struct delivery_counts counts;
};

/* Posts the span of the batch, and heeds the answer.  DELIVERY_MOVING when that is one
 * step on, whether it was taken or not. */
enum delivery_state delivery_post(
    struct delivery *delivery, double *retry_after_s, struct error *error);

/* Reads and compresses what follows, while the store is busy. */
void delivery_load_ahead(struct delivery *delivery);

/* The system's time: a store is a real one at any clock rate. */
int64_t delivery_now_ns(void);

/* Nothing in memory holds any more. */
void delivery_forget(struct delivery *delivery);

/* Whether anything was acknowledged that may still be lost. */
bool delivery_has_unsettled(const struct delivery *delivery);

/* Moves one cursor, at once; or all those that need not wait any longer.  When somebody has
 * set one back everything is forgotten, and that is a step on. */
enum delivery_state delivery_move_cursor(struct delivery *delivery, enum stream stream,
    const struct settling_mark *mark, struct error *error);
enum delivery_state delivery_move_cursors(
    struct delivery *delivery, struct error *error);

/* Whether what the store acknowledged last, and all that is not settled, came over the one
 * connection that is still there.  True where nothing has to settle. */
bool delivery_is_sure(struct delivery *delivery);

/* It did not: it is sent again.  Where that is so again and again it says so. */
enum delivery_state delivery_connection_gone(
    struct delivery *delivery, struct error *error);

/* What is not settled is sent again, if there is any. */
void delivery_step_back(struct delivery *delivery);

#endif
