/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/publish/delivery.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "conf/settings.h"
#include "daemon/base/error.h"
#include "daemon/publish/delivery_inside.h"
#include "daemon/publish/store.h"

enum { READING_EVERY = 4 }; /* batches of other streams before one of readings */

struct delivery *
delivery_open(const struct settings *settings, size_t store, const char *ledger,
    bool (*give_up)(void *arg), void *arg, struct error *error)
{
	struct delivery *delivery = calloc(1, sizeof(*delivery));
	if (delivery == NULL) {
		error_set(error, ERROR_MEMORY, "out of memory");
		return NULL;
	}
	delivery->store = &settings->stores[store];
	delivery->give_up = give_up;
	delivery->arg = arg;
	text_init(&delivery->url, 4 * SETTINGS_PATH);
	batch_init(&delivery->batch, LOADER_BATCH_BYTES + LOADER_PIECE_BYTES);
	batch_init(&delivery->next, LOADER_BATCH_BYTES + LOADER_PIECE_BYTES);
	batch_init(&delivery->parked, LOADER_BATCH_BYTES + LOADER_PIECE_BYTES);
	if (delivery_kept_open(delivery, settings->site, error) != 0)
		goto failed;
	for (int i = 0; i < STREAM_COUNT; i++)
		settling_init(&delivery->streams[i].settling,
		    delivery->asking.http != NULL ? delivery->asking.settle_s
						  : delivery->store->settle_s);
	if (loader_open(&delivery->loader, settings, store, ledger, error) != 0 ||
	    store_write_url(delivery->store, &delivery->url, error) != 0)
		goto failed;
	delivery->ledger = ledger_open(ledger, NULL, error);
	if (delivery->ledger == NULL)
		goto failed;
	struct http_settings http = store_http(delivery->store, delivery->url.bytes);
	http.give_up = give_up;
	http.arg = arg;
	delivery->http = http_open(&http);
	if (delivery->http == NULL) {
		error_set(error, ERROR_MEMORY, "libcurl or zlib cannot be set up");
		goto failed;
	}
	return delivery;
failed:
	delivery_close(delivery);
	return NULL;
}

void
delivery_close(struct delivery *delivery)
{
	if (delivery == NULL)
		return;
	http_close(delivery->http);
	delivery_kept_close(delivery);
	loader_close(&delivery->loader);
	ledger_close(delivery->ledger);
	batch_release(&delivery->batch);
	batch_release(&delivery->next);
	batch_release(&delivery->parked);
	delivery_clear_aside(delivery);
	free(delivery->aside.list);
	free(delivery->body.bytes);
	free(delivery->next_body.bytes);
	text_release(&delivery->url);
	free(delivery);
}

struct http *
delivery_http(struct delivery *delivery)
{
	return delivery->http;
}

const struct delivery_counts *
delivery_counts(const struct delivery *delivery)
{
	return &delivery->counts;
}

/* --- what is read next ------------------------------------------------------------ */

/* Reads where the cursor stands; it may have been set back since. */
static int
look_at_cursor(struct delivery *delivery, enum stream stream, struct error *error)
{
	struct delivery_stream *of = &delivery->streams[stream];
	struct ledger_delivered cursor;
	int code = ledger_delivered(delivery->ledger, delivery->store->name,
	    stream_name(stream), &cursor, error);

	if (code != 0 || (of->known && cursor.turn == of->cursor.turn))
		return code;
	settling_clear(&of->settling);
	if (stream == STREAM_READING)
		batch_clear(&delivery->parked);
	if (of->cursor.turn != cursor.turn) /* somebody sends it again */
		delivery->counts.unkept = 0;
	of->cursor = cursor;
	of->sent = (struct settling_mark){cursor.change, cursor.lost, 0};
	of->known = true;
	if (stream == STREAM_READING)
		delivery->counts.lost_readings = cursor.lost;
	return 0;
}

/* The streams in the order in which they are looked at; how many. */
static int
order_streams(const struct delivery *delivery, enum stream order[STREAM_COUNT])
{
	int count = 0;
	bool readings = delivery->store->reading_period_s > 0;
	bool first = readings && delivery->since_reading >= READING_EVERY;

	if (first)
		order[count++] = STREAM_READING;
	order[count++] = STREAM_SHOT;
	order[count++] = STREAM_EVENT;
	order[count++] = STREAM_SHIFT;
	if (readings && !first)
		order[count++] = STREAM_READING;
	return count;
}

static void
note_filled(struct delivery *delivery, enum stream stream)
{
	if (stream == STREAM_READING)
		delivery->since_reading = 0;
	else
		delivery->since_reading++;
}

/* Two batches, each with what it is made of. */
static void
swap_batches(struct batch *a, struct batch *b)
{
	struct batch held = *a;

	*a = *b;
	*b = held;
}

/* Readings of which a part was refused, or that do not get through: shots and events that
 * are there go first. */
static void
park_readings(struct delivery *delivery)
{
	struct batch *batch = &delivery->batch;
	bool held_up =
	    batch->refusals > 0 || delivery->streams[STREAM_READING].stuck.tries > 0;

	if (batch->change == 0 || delivery->stream != STREAM_READING || !held_up)
		return;
	swap_batches(batch, &delivery->parked);
	batch_clear(&delivery->next); /* it is read again, before these or after them */
	delivery->takes = false;
	delivery->body.length = delivery->next_body.length = 0;
}

/* What is next of a stream, into an empty batch. */
static int
load_stream(struct delivery *delivery, enum stream stream, struct error *error)
{
	struct delivery_stream *of = &delivery->streams[stream];
	int code = look_at_cursor(delivery, stream, error);

	of->unread[0] = '\0';
	if (code == 0 && stream == STREAM_READING && delivery->parked.change != 0) {
		swap_batches(&delivery->batch, &delivery->parked);
		return 0;
	}
	if (code == 0)
		code = loader_fill(
		    &delivery->loader, stream, &of->sent, &delivery->batch, error);
	if (code == 0)
		return 0;
	error_prefix(error, code, "%ss after change %lld cannot be read",
	    stream_name(stream), (long long)of->sent.change);
	text_copy(of->unread, sizeof(of->unread), error->text);
	return code;
}

/* Reads a batch; it stays empty when the store has everything.  A stream that cannot be
 * read keeps no other one back: then it is told of, and an error when there is nothing
 * else. */
static int
load(struct delivery *delivery, struct error *error)
{
	enum stream order[STREAM_COUNT];
	int count = order_streams(delivery, order);
	int failed = 0;

	for (int i = 0; i < count; i++) {
		struct error why;
		int code = load_stream(delivery, order[i], &why);
		if (code != 0 && failed == 0) {
			failed = code;
			*error = why;
		}
		delivery->stream = order[i];
		if (delivery->batch.change != 0) {
			note_filled(delivery, order[i]);
			return 0;
		}
	}
	delivery->since_reading = 0;
	return failed;
}

/*
 * Reads and compresses what follows the batch while the store is busy with it.  After a
 * small batch there will be nothing; what goes wrong here is met again when its turn
 * comes.
 */
void
delivery_load_ahead(struct delivery *delivery)
{
	const struct batch *batch = &delivery->batch;
	struct batch *next = &delivery->next;
	bool large = 2 * batch->count > delivery->loader.batch_lines ||
	             2 * batch->text.length > delivery->loader.batch_bytes;
	enum stream order[STREAM_COUNT];
	int count = order_streams(delivery, order);

	if (!large || next->change != 0)
		return;
	for (int i = 0; i < count && next->change == 0; i++) {
		struct settling_mark after = delivery->streams[order[i]].sent;
		if (order[i] == STREAM_READING && delivery->parked.change != 0)
			continue; /* they are next of these */
		if (!delivery->streams[order[i]].known)
			return; /* it is asked where it stands in its turn */
		if (order[i] == delivery->stream)
			after = (struct settling_mark){batch->change, batch->lost, 0};
		(void)loader_fill(&delivery->loader, order[i], &after, next, NULL);
		delivery->next_stream = order[i];
	}
	if (next->change != 0)
		note_filled(delivery, delivery->next_stream);
	if (!batch_settled(next)) {
		size_t length;
		const char *lines = batch_span(next, &length);
		(void)http_pack(
		    delivery->http, lines, length, &delivery->next_body, NULL);
	}
}

/* --- one step ---------------------------------------------------------------------- */

static void
take_next(struct delivery *delivery)
{
	struct batch sent = delivery->batch;
	struct http_body body = delivery->body;

	batch_clear(&sent);
	delivery->batch = delivery->next;
	delivery->next = sent;
	delivery->body = delivery->next_body;
	delivery->next_body = body;
	delivery->next_body.length = 0;
	delivery->stream = delivery->next_stream;
	delivery->takes = false;
}

/* The batch is through: the next one takes its place. */
static enum delivery_state
end_batch(struct delivery *delivery, struct error *error)
{
	const struct batch *batch = &delivery->batch;
	enum stream stream = delivery->stream;
	struct delivery_stream *of = &delivery->streams[stream];
	const struct settling_mark mark = {batch->change, batch->lost, batch->pieces};

	if (delivery_file_aside(delivery, error) != 0)
		return DELIVERY_TROUBLE;
	/* One without any line waits for nothing, unless others wait. */
	if (batch->count == 0 && !delivery_has_unsettled(delivery)) {
		enum delivery_state state =
		    delivery_move_cursor(delivery, stream, &mark, error);
		if (state != DELIVERY_MOVING || !of->known)
			return state;
	} else {
		settling_add(&of->settling, &mark, delivery_now_ns());
	}
	of->sent = mark;
	take_next(delivery);
	return delivery_move_cursors(delivery, error);
}

static enum delivery_state
take_step(struct delivery *delivery, double *retry_after_s, struct error *error)
{
	struct batch *batch = &delivery->batch;
	enum delivery_state state = delivery_move_cursors(delivery, error);

	if (state != DELIVERY_MOVING)
		return state;
	park_readings(delivery);
	if (batch->change == 0) {
		if (load(delivery, error) != 0)
			return DELIVERY_TROUBLE;
		if (batch->change == 0)
			return DELIVERY_DONE;
	}
	if (!batch_settled(batch)) {
		state = delivery_post(delivery, retry_after_s, error);
		/* It may be gone: what was not settled goes first again. */
		if (state != DELIVERY_MOVING || batch->change == 0 ||
		    !batch_settled(batch))
			return state;
	}
	return end_batch(delivery, error);
}

static void
count_settling(struct delivery *delivery)
{
	const struct delivery_stream *shots = &delivery->streams[STREAM_SHOT];

	delivery->counts.settling =
	    delivery->store->settle_s > 0 ? settling_pieces(&shots->settling) : 0;
}

/* What does not get through for the longest time. */
static void
find_stuck(struct delivery *delivery)
{
	struct delivery_stuck *stuck = &delivery->counts.stuck;

	*stuck = (struct delivery_stuck){0};
	for (int i = 0; i < STREAM_COUNT; i++) {
		const struct delivery_stuck *one = &delivery->streams[i].stuck;
		if (one->tries > 0 &&
		    (stuck->tries == 0 || one->since.ns < stuck->since.ns))
			*stuck = *one;
	}
}

/* What is wrong although it goes on. */
static void
find_standing(struct delivery *delivery)
{
	struct delivery_counts *counts = &delivery->counts;
	const char *unread = "";

	for (int i = STREAM_COUNT - 1; i >= 0; i--)
		if (delivery->streams[i].unread[0] != '\0')
			unread = delivery->streams[i].unread;
	if (*unread != '\0') {
		counts->trouble = TROUBLE_LEDGER;
		text_copy(counts->standing, sizeof(counts->standing), unread);
	} else if (counts->unkept > 0) {
		counts->trouble = TROUBLE_UNKEPT;
		snprintf(counts->standing, sizeof(counts->standing),
		    "took %lld shot%s and has not kept %s: look at its retention",
		    (long long)counts->unkept, counts->unkept == 1 ? "" : "s",
		    counts->unkept == 1 ? "it" : "them");
	}
}

enum delivery_state
delivery_step(struct delivery *delivery, double *retry_after_s, struct error *error)
{
	*retry_after_s = 0;
	delivery->counts.trouble = TROUBLE_NONE;
	delivery->counts.answered = false;
	delivery->counts.standing[0] = '\0';
	enum delivery_state state = take_step(delivery, retry_after_s, error);
	if (state == DELIVERY_TROUBLE)
		delivery->counts.trouble = TROUBLE_LEDGER;
	else if (state == DELIVERY_MOVING || state == DELIVERY_DONE)
		find_standing(delivery);
	count_settling(delivery);
	find_stuck(delivery);
	return state;
}
