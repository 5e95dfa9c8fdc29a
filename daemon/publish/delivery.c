/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/publish/delivery.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "conf/settings.h"
#include "daemon/base/error.h"
#include "daemon/ledger/ledger.h"
#include "daemon/ledger/ledger_read.h"
#include "daemon/publish/batch.h"
#include "daemon/publish/http.h"
#include "daemon/publish/line_protocol.h"
#include "daemon/publish/store.h"

enum {
	BATCH_BYTES = 1 << 20, /* of lines, before compression */
	BATCH_BYTES_MIN = 1 << 12,
	/* A batch holds at least one shot, whole: SETTINGS_CHANNELS lines at most. */
	SHOT_BYTES_MAX = 4 << 20,
};

enum stream { STREAM_SHOT, STREAM_EVENT, STREAM_COUNT };
static const char *const stream_names[STREAM_COUNT] = {"shot", "event"};

struct delivery {
	const struct store_settings *store;
	struct line_protocol_form form;
	struct ledger *ledger;    /* the cursors and what is set aside */
	struct ledger_read *read; /* everything else */
	struct http *http;
	struct text url;
	size_t batch_bytes;       /* halved by a 413 */
	size_t piece_lines;       /* of the last shot or event read; at least 1 */
	enum stream stream;       /* the one that the batch is of */
	struct batch batch, next; /* the one being sent, and what follows it if read */
	struct http_body body, next_body; /* the span of each, if compressed already */
	struct text piece;                /* the lines of one shot or event */
	bool empty_taken; /* the store took an empty batch during this batch */
	struct delivery_counts counts;
};

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
	delivery->form =
	    line_protocol_form(settings->site, delivery->store->kind);
	delivery->batch_bytes = BATCH_BYTES;
	delivery->piece_lines = 1;
	text_init(&delivery->url, 4 * SETTINGS_PATH);
	text_init(&delivery->piece, SHOT_BYTES_MAX);
	batch_init(&delivery->batch, BATCH_BYTES + SHOT_BYTES_MAX);
	batch_init(&delivery->next, BATCH_BYTES + SHOT_BYTES_MAX);
	if (store_write_url(delivery->store, &delivery->url, error) != 0)
		goto failed;
	delivery->ledger = ledger_open(ledger, NULL, error);
	if (delivery->ledger == NULL)
		goto failed;
	delivery->read = ledger_read_open(ledger, error);
	if (delivery->read == NULL)
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
	ledger_read_close(delivery->read);
	ledger_close(delivery->ledger);
	batch_release(&delivery->batch);
	batch_release(&delivery->next);
	free(delivery->body.bytes);
	free(delivery->next_body.bytes);
	text_release(&delivery->piece);
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

/* --- reading a batch ----------------------------------------------------------- */

struct loading {
	struct delivery *delivery;
	struct batch *batch;            /* to be filled */
	const struct ledger_shot *shot; /* whose channels are read */
	int code;                       /* what went wrong; 0 */
	struct error *error;
};

/* Puts the piece into the batch.  Returns 1, to end the reading, when it is full. */
static int
add_piece(struct loading *loading, int64_t change)
{
	struct delivery *delivery = loading->delivery;
	struct batch *batch = loading->batch;
	size_t bytes = batch->text.length + delivery->piece.length;
	size_t before = batch->count;

	if (batch->count > 0 && bytes > delivery->batch_bytes)
		return 1;
	if (batch_add(batch, &delivery->piece, change) != 0) {
		loading->code = error_set(loading->error, ERROR_MEMORY,
		    "out of memory for a batch of %zu bytes", bytes);
		return 1;
	}
	delivery->piece_lines = batch->count > before ? batch->count - before : 1;
	return batch->count >= (size_t)delivery->store->batch_lines;
}

static int
take_channel(void *arg, const struct ledger_channel *channel)
{
	struct loading *loading = arg;

	line_protocol_channel(&loading->delivery->piece, &loading->delivery->form,
	    loading->shot, channel);
	return 0;
}

static int
take_shot(void *arg, const struct ledger_shot *shot)
{
	struct loading *loading = arg;
	struct delivery *delivery = loading->delivery;

	text_clear(&delivery->piece);
	line_protocol_shot(&delivery->piece, &delivery->form, shot, "");
	loading->shot = shot;
	loading->code = ledger_read_channels(
	    delivery->read, shot->id, take_channel, loading, loading->error);
	return loading->code != 0 ? 1 : add_piece(loading, shot->change);
}

static int
take_event(void *arg, const struct ledger_event *event)
{
	struct loading *loading = arg;
	struct delivery *delivery = loading->delivery;

	text_clear(&delivery->piece);
	line_protocol_event(&delivery->piece, &delivery->form, event);
	return add_piece(loading, event->change);
}

/* Reads what lies beyond `change` into a batch, which stays empty when that is nothing
 * or could not be read. */
static int
load_after(struct delivery *delivery, enum stream stream, int64_t change,
    struct batch *batch, struct error *error)
{
	struct loading loading = {.delivery = delivery, .batch = batch, .error = error};
	/* As many as a batch will hold, if they are like the last. */
	struct ledger_filter filter = {.after_change = change,
	    .limit = (size_t)delivery->store->batch_lines / delivery->piece_lines + 1};
	int code = 0;

	switch (stream) {
	case STREAM_SHOT:
		code = ledger_read_shots(
		    delivery->read, &filter, false, take_shot, &loading, error);
		break;
	case STREAM_EVENT:
		code = ledger_read_events(
		    delivery->read, &filter, take_event, &loading, error);
		break;
	case STREAM_COUNT:
		break;
	}
	if (loading.code != 0)
		code = loading.code;
	if (code != 0)
		batch_clear(batch);
	return code;
}

/* Reads a batch from the cursor on, shots first; it stays empty when the store has
 * everything. */
static int
load(struct delivery *delivery, struct error *error)
{
	for (enum stream stream = 0; stream < STREAM_COUNT; stream++) {
		int64_t change;
		int code = ledger_cursor(delivery->ledger, delivery->store->name,
		    stream_names[stream], &change, error);
		delivery->stream = stream;
		if (code == 0)
			code = load_after(
			    delivery, stream, change, &delivery->batch, error);
		if (code != 0 || delivery->batch.change != 0)
			return code;
	}
	return 0;
}

static int
pack_span(struct delivery *delivery, const struct batch *batch, struct http_body *body,
    struct error *error)
{
	size_t length;
	const char *lines = batch_span(batch, &length);

	return http_pack(delivery->http, lines, length, body, error);
}

/* Reads and compresses what follows the batch while the store is busy with it.  After a
 * small batch there will be nothing; what goes wrong here is met again when its turn
 * comes. */
static void
load_ahead(struct delivery *delivery)
{
	const struct batch *batch = &delivery->batch;
	struct batch *next = &delivery->next;
	bool large = 2 * batch->count > (size_t)delivery->store->batch_lines ||
	             2 * batch->text.length > delivery->batch_bytes;

	if (!large || next->change != 0)
		return;
	(void)load_after(delivery, delivery->stream, batch->change, next, NULL);
	if (!batch_settled(next))
		(void)pack_span(delivery, next, &delivery->next_body, NULL);
}

/* --- posting it ----------------------------------------------------------------- */

/* Sets the one line of the span aside, with the server's words. */
static enum delivery_state
set_aside(struct delivery *delivery, const char *answer, struct error *error)
{
	struct batch *batch = &delivery->batch;
	size_t length;
	const char *line = batch_span(batch, &length);
	char *copy = strndup(line, length - 1); /* without its \n */
	if (copy == NULL) {
		error_set(error, ERROR_MEMORY, "out of memory");
		return DELIVERY_TROUBLE;
	}
	const struct ledger_refusal refusal = {delivery->store->name,
	    batch->changes[batch->first], copy, answer, clock_wall()};
	int code = ledger_put_refusal(delivery->ledger, &refusal, error);
	free(copy);
	if (code != 0)
		return DELIVERY_TROUBLE;
	batch_skip(batch);
	delivery->counts.refused++;
	text_copy(delivery->counts.refusal, sizeof(delivery->counts.refusal), answer);
	return DELIVERY_MOVING;
}

static enum delivery_state
say(struct delivery *delivery, const struct http_answer *answer,
    enum delivery_state state, struct error *error)
{
	error_set(error, ERROR_REFUSED, "'%s' answers %d%s%s", delivery->url.bytes,
	    answer->status, answer->text[0] != '\0' ? ": " : "", answer->text);
	return state;
}

/* Posts; `*meaning` is what the answer means.  DELIVERY_MOVING when there is one. */
static enum delivery_state
post(struct delivery *delivery, const struct http_body *body,
    struct http_answer *answer, enum store_answer *meaning, struct error *error)
{
	int code = http_start(delivery->http, body, error);
	if (code == 0) {
		load_ahead(delivery);
		code = http_finish(delivery->http, answer, error);
	}
	if (code == ERROR_REFUSED)
		return DELIVERY_CLOSED;
	if (code == ERROR_MEMORY)
		return DELIVERY_TROUBLE;
	if (code != 0)
		return DELIVERY_LATER;
	*meaning = store_answer(delivery->store->kind, answer);
	return DELIVERY_MOVING;
}

/*
 * Before the only line of a span is set aside: does the store take an empty batch?
 * When it refuses that too, something else is wrong than the line.
 */
static enum delivery_state
try_empty(struct delivery *delivery, struct error *error)
{
	struct http_body body = {0};
	struct http_answer answer;
	enum store_answer meaning;
	enum delivery_state state = DELIVERY_TROUBLE;
	if (http_pack(delivery->http, "", 0, &body, error) == 0)
		state = post(delivery, &body, &answer, &meaning, error);
	free(body.bytes);
	if (state != DELIVERY_MOVING)
		return state;
	switch (meaning) {
	case STORE_TAKEN:
		delivery->empty_taken = true;
		return DELIVERY_MOVING;
	case STORE_LATER:
		return say(delivery, &answer, DELIVERY_LATER, error);
	case STORE_CLOSED:
	case STORE_TOO_LARGE:
	case STORE_BAD_LINES:
		break;
	}
	return say(delivery, &answer, DELIVERY_CLOSED, error);
}

/* The span is refused: a shorter one next, or its only line set aside. */
static enum delivery_state
narrow(struct delivery *delivery, const struct http_answer *answer, struct error *error)
{
	if (batch_halve(&delivery->batch))
		return DELIVERY_MOVING;
	if (!delivery->empty_taken) {
		enum delivery_state state = try_empty(delivery, error);
		if (state != DELIVERY_MOVING)
			return state;
	}
	char words[HTTP_ANSWER_TEXT + 16];
	snprintf(words, sizeof(words), "%d %s", answer->status, answer->text);
	return set_aside(delivery, words, error);
}

static enum delivery_state
post_span(struct delivery *delivery, double *retry_after_s, struct error *error)
{
	struct http_answer answer = {0};
	enum store_answer meaning;
	struct http_body *body = &delivery->body;
	if (body->length == 0 &&
	    pack_span(delivery, &delivery->batch, body, error) != 0)
		return DELIVERY_TROUBLE;
	enum delivery_state state = post(delivery, body, &answer, &meaning, error);
	if (state != DELIVERY_MOVING)
		return state;
	body->length = 0; /* another span may follow */

	switch (meaning) {
	case STORE_TAKEN:
		batch_take(&delivery->batch);
		delivery->counts.posts++;
		return DELIVERY_MOVING;
	case STORE_TOO_LARGE:
		if (delivery->batch_bytes > BATCH_BYTES_MIN)
			delivery->batch_bytes /= 2;
		return narrow(delivery, &answer, error);
	case STORE_BAD_LINES:
		return narrow(delivery, &answer, error);
	case STORE_LATER:
		*retry_after_s = answer.retry_after_s;
		return say(delivery, &answer, DELIVERY_LATER, error);
	case STORE_CLOSED:
		break;
	}
	return say(delivery, &answer, DELIVERY_CLOSED, error);
}

static enum delivery_state
move_cursor(struct delivery *delivery, struct error *error)
{
	if (ledger_set_cursor(delivery->ledger, delivery->store->name,
		stream_names[delivery->stream], delivery->batch.change, clock_wall(),
		error) != 0)
		return DELIVERY_TROUBLE;
	struct batch sent = delivery->batch;
	batch_clear(&sent);
	delivery->batch = delivery->next;
	delivery->next = sent;
	struct http_body body = delivery->body;
	delivery->body = delivery->next_body;
	delivery->next_body = body;
	delivery->empty_taken = false;
	delivery->counts.batches++;
	return DELIVERY_MOVING;
}

enum delivery_state
delivery_step(struct delivery *delivery, double *retry_after_s, struct error *error)
{
	struct batch *batch = &delivery->batch;

	*retry_after_s = 0;
	if (batch->change == 0) {
		if (load(delivery, error) != 0)
			return DELIVERY_TROUBLE;
		if (batch->change == 0)
			return DELIVERY_DONE;
	}
	if (!batch_settled(batch)) {
		enum delivery_state state = post_span(delivery, retry_after_s, error);
		if (state != DELIVERY_MOVING || !batch_settled(batch))
			return state;
	}
	return move_cursor(delivery, error);
}
