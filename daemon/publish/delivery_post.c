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

/* --- a line that is refused --------------------------------------------------------- */

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
	delivery->counts.trouble = trouble_of_status(answer->status);
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

/* Posts; `*meaning` is what the answer means.  DELIVERY_MOVING when there is one. */
static enum delivery_state
post(struct delivery *delivery, const struct http_body *body,
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

/*
 * What no store that takes anything refuses: no line at all, which the kinds of whom that
 * was measured answer as they do good ones, or else one without any particularity.
 */
static int
pack_probe(struct delivery *delivery, struct http_body *body, struct error *error)
{
	struct text line;
	bool empty = delivery->store->kind == STORE_INFLUXDB1 ||
	             delivery->store->kind == STORE_VICTORIAMETRICS;

	text_init(&line, 1024);
	if (!empty)
		line_protocol_probe(&line, &delivery->loader.lines.form, clock_wall());
	int code = http_pack(delivery->http, line.bytes != NULL ? line.bytes : "",
	    line.length, body, error);
	text_release(&line);
	return code;
}

/*
 * Before the only line of a span is set aside: does the store take anything?  When it
 * refuses that too, something else is wrong than the line.
 */
static enum delivery_state
probe(struct delivery *delivery, struct error *error)
{
	struct http_body body = {0};
	struct http_answer answer;
	enum store_answer meaning;
	enum delivery_state state = DELIVERY_TROUBLE;
	if (pack_probe(delivery, &body, error) == 0)
		state = post(delivery, &body, &answer, &meaning, error);
	free(body.bytes);
	if (state != DELIVERY_MOVING)
		return state;
	switch (meaning) {
	case STORE_TAKEN:
		delivery->takes = true;
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
	if (!delivery->takes) {
		enum delivery_state state = probe(delivery, error);
		if (state != DELIVERY_MOVING)
			return state;
	}
	char words[HTTP_ANSWER_TEXT + 16];
	snprintf(words, sizeof(words), "%d %s", answer->status, answer->text);
	return set_aside(delivery, words, error);
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
	enum delivery_state state = post(delivery, body, &answer, &meaning, error);
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
		delivery->counts.posts++;
		return DELIVERY_MOVING;
	case STORE_TOO_LARGE:
		if (delivery->loader.batch_bytes > BATCH_BYTES_MIN)
			delivery->loader.batch_bytes /= 2;
		batch->span_most = delivery->next.span_most = (batch->span + 1) / 2;
		state = narrow(delivery, &answer, error);
		break;
	case STORE_BAD_LINES:
		state = narrow(delivery, &answer, error);
		break;
	case STORE_LATER:
		*retry_after_s = answer.retry_after_s;
		state = say(delivery, &answer, DELIVERY_LATER, error);
		break;
	case STORE_CLOSED:
		state = say(delivery, &answer, DELIVERY_CLOSED, error);
		break;
	}
	return state == DELIVERY_MOVING ? state
	                                : heed_failure(delivery, state, answer.status);
}
