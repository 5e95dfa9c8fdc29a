/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/publish/delivery_inside.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "conf/settings.h"
#include "daemon/base/error.h"
#include "daemon/publish/store.h"

enum {
	BATCH_BYTES_MIN = 1 << 12,
	TRIES = 3, /* of a span that gets no answer, or a 5xx, before it is halved */
};

/* --- posting ----------------------------------------------------------------------- */

enum delivery_state
delivery_say(struct delivery *delivery, const struct http_answer *answer,
    enum delivery_state state, struct error *error)
{
	delivery->counts.trouble =
	    store_is_full(answer) ? TROUBLE_FULL : trouble_of_status(answer->status);
	delivery->counts.answered = true;
	error_set(error, ERROR_REFUSED, "'%s' answers %d%s%s", delivery->url.bytes,
	    answer->status, answer->text[0] != '\0' ? ": " : "", answer->text);
	return state;
}

/* Nobody answered, for a reason of the network or of ours. */
static enum delivery_state
no_answer(struct delivery *delivery, int code, bool started)
{
	enum trouble trouble = TROUBLE_UNREACHABLE;
	enum delivery_state state = DELIVERY_LATER;

	if (code == ERROR_REFUSED) {
		trouble = started ? TROUBLE_CERTIFICATE : TROUBLE_SECRET;
		state = DELIVERY_CLOSED;
	} else if (code == ERROR_MEMORY) {
		trouble = TROUBLE_LEDGER;
		state = DELIVERY_TROUBLE;
	} else if (code == ERROR_TIMEOUT) {
		trouble = TROUBLE_SILENT;
	}
	delivery->counts.trouble = trouble;
	return state;
}

enum delivery_state
delivery_send(struct delivery *delivery, const struct http_body *body,
    struct http_answer *answer, enum store_answer *meaning, struct error *error)
{
	int code = http_start(delivery->http, body, error);
	bool started = code == 0;

	if (started) {
		delivery_load_ahead(delivery);
		code = http_finish(delivery->http, answer, error);
	}
	if (code != 0)
		return no_answer(delivery, code, started);
	*meaning = store_answer(delivery->store->kind, answer);
	return DELIVERY_MOVING;
}

/* --- what does not get through -------------------------------------------------------- */

static void
count_stuck(struct delivery *delivery)
{
	struct delivery_stuck *stuck = &delivery->streams[delivery->stream].stuck;

	if (stuck->tries++ == 0)
		stuck->since = clock_wall();
	stuck->stream = stream_name(delivery->stream);
	stuck->change = delivery->batch.changes[delivery->batch.first];
}

/* Less at once, now and in the batches to come. */
static void
shrink(struct delivery *delivery)
{
	struct batch *batch = &delivery->batch;
	size_t span = (batch->span + 1) / 2;

	batch->span_most = delivery->next.span_most = span;
	while (batch->span > span && batch_halve(batch))
		;
	batch_clear(&delivery->next);
	delivery->body.length = delivery->next_body.length = 0;
}

/* More again, by and by: a slow line fails seldom then. */
static void
grow(struct delivery *delivery)
{
	struct batch *batch = &delivery->batch;
	size_t most = batch->span_most;
	size_t *bytes = &delivery->loader.batch_bytes;

	if (*bytes < LOADER_BATCH_BYTES && batch->text.length >= *bytes / 2)
		*bytes += *bytes / 8;
	if (*bytes > LOADER_BATCH_BYTES)
		*bytes = LOADER_BATCH_BYTES;
	if (most == 0 || batch->span < most)
		return;
	most += most / 8 + 1;
	if (most >= (size_t)delivery->store->batch_lines)
		most = 0;
	batch->span_most = delivery->next.span_most = most;
}

/* Whether the store may be another one than the one that acknowledged, or the same one
 * started again. */
static bool
is_doubtful(enum trouble trouble, int status)
{
	return trouble == TROUBLE_UNREACHABLE || trouble == TROUBLE_SILENT ||
	       (status >= 502 && status <= 504);
}

static enum delivery_state
heed_failure(struct delivery *delivery, enum delivery_state state, int status)
{
	enum trouble trouble = delivery->counts.trouble;
	bool heavy = trouble == TROUBLE_SILENT || status >= 500;

	if (state == DELIVERY_TROUBLE)
		return state;
	count_stuck(delivery);
	if (heavy && delivery->streams[delivery->stream].stuck.tries % TRIES == 0)
		shrink(delivery);
	if (is_doubtful(trouble, status))
		delivery_step_back(delivery);
	return state;
}

enum delivery_state
delivery_post(struct delivery *delivery, double *retry_after_s, struct error *error)
{
	struct http_answer answer = {0};
	enum store_answer meaning;
	struct http_body *body = &delivery->body;
	struct batch *batch = &delivery->batch;
	size_t length;
	const char *lines = batch_span(batch, &length);
	if (body->length == 0 &&
	    http_pack(delivery->http, lines, length, body, error) != 0)
		return DELIVERY_TROUBLE;
	enum delivery_state state =
	    delivery_send(delivery, body, &answer, &meaning, error);
	if (state != DELIVERY_MOVING)
		return heed_failure(delivery, state, 0);
	body->length = 0; /* another span may follow */

	switch (meaning) {
	case STORE_TAKEN:
		if (!delivery_is_sure(delivery))
			return delivery_connection_gone(delivery, error);
		grow(delivery);
		batch_take(batch);
		delivery->takes = true;
		delivery->alike.count = 0;
		delivery->counts.posts++;
		return DELIVERY_MOVING;
	case STORE_TOO_LARGE:
		if (delivery->loader.batch_bytes > BATCH_BYTES_MIN)
			delivery->loader.batch_bytes /= 2;
		batch->span_most = delivery->next.span_most = (batch->span + 1) / 2;
		state = delivery_refused(delivery, &answer, error);
		break;
	case STORE_BAD_LINES:
		state = delivery_refused(delivery, &answer, error);
		break;
	case STORE_LATER:
		*retry_after_s = answer.retry_after_s;
		state = delivery_say(delivery, &answer, DELIVERY_LATER, error);
		break;
	case STORE_CLOSED:
		state = delivery_say(delivery, &answer, DELIVERY_CLOSED, error);
		break;
	}
	return state == DELIVERY_MOVING ? state
	                                : heed_failure(delivery, state, answer.status);
}
