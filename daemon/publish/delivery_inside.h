/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What delivery is made of: delivery.c chooses what is next, delivery_post.c posts it and
 * heeds the answer, delivery_refused.c deals with what is refused, delivery_cursor.c moves
 * the cursors, delivery_kept.c asks before.  Within publish/ only.
 */
#ifndef DAEMON_PUBLISH_DELIVERY_INSIDE_H
#define DAEMON_PUBLISH_DELIVERY_INSIDE_H

#include "daemon/ledger/ledger.h"
#include "daemon/publish/batch.h"
#include "daemon/publish/delivery.h"
#include "daemon/publish/http.h"
#include "daemon/publish/loader.h"
#include "daemon/publish/settling.h"
#include "daemon/publish/store.h"

/* How far the store is with one stream. */
struct delivery_stream {
	bool known;                     /* `cursor` was read, and holds */
	struct ledger_delivered cursor; /* as it is on file */
	struct settling_mark sent;      /* acknowledged up to here */
	struct settling settling;       /* of that, what the cursor waits for */
	struct delivery_stuck stuck;    /* since the cursor moved last */
	char unread[256];               /* why the ledger's cannot be read; "" */
};

/* Questions whether the store still has what it took. */
struct delivery_asking {
	struct http *http; /* NULL: of this store nothing is asked */
	struct text url;
	const char *site;
	double settle_s;   /* longer than the store's where it shows its points late */
	int64_t every_ns;  /* one question, at most */
	int64_t next_ns;   /* not before */
	int64_t silent_ns; /* without an answer since; 0 */
	bool deaf;         /* it cannot be asked: the connection is trusted */
	int missed;    /* times that it did not have what no cursor has passed yet */
	bool careless; /* it has lost the same again and again: no more waiting */
};

/* Refused lines of the batch; the strings are its own. */
struct delivery_aside {
	struct ledger_refusal *list;
	size_t count, room;
};

struct delivery {
	const struct store_settings *store;
	bool (*give_up)(void *arg);
	void *arg;
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

	/* Readings that do not get through as they are, while others go first; empty: none */
	struct batch parked;

	struct delivery_aside aside;

	/* Lines refused one after another with the same words. */
	struct {
		int count;
		char words[HTTP_ANSWER_TEXT];
	} alike;

	int64_t connection; /* over which the unsettled was acknowledged */
	int broken;         /* times that it was gone since a cursor moved */
	struct delivery_asking asking;
	struct delivery_counts counts;
};

/* Posts the span of the batch, and heeds the answer.  DELIVERY_MOVING when that is one
 * step on, whether it was taken or not. */
enum delivery_state delivery_post(
    struct delivery *delivery, double *retry_after_s, struct error *error);

/* Says what the store answers, for a step that ends so. */
enum delivery_state delivery_say(struct delivery *delivery,
    const struct http_answer *answer, enum delivery_state state, struct error *error);

/* Posts; `*meaning` is what the answer means.  DELIVERY_MOVING when there is one. */
enum delivery_state delivery_send(struct delivery *delivery,
    const struct http_body *body, struct http_answer *answer,
    enum store_answer *meaning, struct error *error);

/* The span is refused: a shorter one next, or its only line set aside; readings are
 * dropped. */
enum delivery_state delivery_refused(
    struct delivery *delivery, const struct http_answer *answer, struct error *error);

/* Before the cursor passes them: refused lines into the ledger.  Or they are forgotten. */
int delivery_file_aside(struct delivery *delivery, struct error *error);
void delivery_clear_aside(struct delivery *delivery);

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

/* Whether the store still has what is to be settled. */
enum delivery_kept {
	KEPT_YES,
	KEPT_NO,
	KEPT_UNKNOWN, /* it is not asked, or cannot be: the connection is trusted */
	KEPT_LATER,   /* not to be asked just now */
};
int delivery_kept_open(
    struct delivery *delivery, const char *site, struct error *error);
void delivery_kept_close(struct delivery *delivery);
enum delivery_kept delivery_kept(
    struct delivery *delivery, enum stream stream, const struct settling_entry *entry);

/* What is not settled is sent again, if there is any. */
void delivery_step_back(struct delivery *delivery);

#endif
