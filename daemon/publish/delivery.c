/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/publish/delivery.h"

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
	text_init(&delivery->url, 4 * SETTINGS_PATH);
	batch_init(&delivery->batch, LOADER_BATCH_BYTES + LOADER_PIECE_BYTES);
	batch_init(&delivery->next, LOADER_BATCH_BYTES + LOADER_PIECE_BYTES);
	for (int i = 0; i < STREAM_COUNT; i++)
		settling_init(
		    &delivery->streams[i].settling, delivery->store->settle_s);
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
	loader_close(&delivery->loader);
	ledger_close(delivery->ledger);
	batch_release(&delivery->batch);
	batch_release(&delivery->next);
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

/* Reads a batch; it stays empty when the store has everything. */
static int
load(struct delivery *delivery, struct error *error)
{
	enum stream order[STREAM_COUNT];
	int count = order_streams(delivery, order);

	for (int i = 0; i < count; i++) {
		struct delivery_stream *of = &delivery->streams[order[i]];
		int code = look_at_cursor(delivery, order[i], error);
		if (code == 0)
			code = loader_fill(&delivery->loader, order[i], &of->sent,
			    &delivery->batch, error);
		if (code != 0)
			return code;
		delivery->stream = order[i];
		if (delivery->batch.change != 0) {
			note_filled(delivery, order[i]);
			return 0;
		}
	}
	delivery->since_reading = 0;
	return 0;
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

enum delivery_state
delivery_step(struct delivery *delivery, double *retry_after_s, struct error *error)
{
	*retry_after_s = 0;
	delivery->counts.trouble = TROUBLE_NONE;
	delivery->counts.answered = false;
	enum delivery_state state = take_step(delivery, retry_after_s, error);
	if (state == DELIVERY_TROUBLE)
		delivery->counts.trouble = TROUBLE_LEDGER;
	count_settling(delivery);
	find_stuck(delivery);
	return state;
}
