/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/publish/delivery_inside.h"

#include <ctype.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "conf/settings.h"
#include "daemon/base/error.h"

enum {
	ALIKE_MOST = 50, /* lines refused in a row with the same words */
	READING_POSTS =
	    10, /* refused ones, before what is refused next is dropped whole */
};

/* --- set aside ---------------------------------------------------------------------- */

void
delivery_clear_aside(struct delivery *delivery)
{
	struct delivery_aside *aside = &delivery->aside;

	for (size_t i = 0; i < aside->count; i++) {
		free((char *)(uintptr_t)aside->list[i].line);
		free((char *)(uintptr_t)aside->list[i].answer);
	}
	aside->count = 0;
}

static bool
has_room(struct delivery_aside *aside)
{
	if (aside->count < aside->room)
		return true;
	size_t room = aside->room == 0 ? 16 : 2 * aside->room;
	struct ledger_refusal *list = realloc(aside->list, room * sizeof(*list));
	if (list == NULL)
		return false;
	aside->list = list;
	aside->room = room;
	return true;
}

/* The one line of the span, with the server's words: into the ledger with the others of its
 * batch. */
static enum delivery_state
set_aside(struct delivery *delivery, const char *answer, struct error *error)
{
	struct delivery_aside *aside = &delivery->aside;
	struct batch *batch = &delivery->batch;
	size_t length;
	const char *line = batch_span(batch, &length);
	char *line_copy = strndup(line, length - 1); /* without its \n */
	char *answer_copy = strdup(answer);
	if (line_copy == NULL || answer_copy == NULL || !has_room(aside)) {
		free(line_copy);
		free(answer_copy);
		error_set(error, ERROR_MEMORY, "out of memory");
		return DELIVERY_TROUBLE;
	}
	struct ledger_refusal *refusal = &aside->list[aside->count++];
	refusal->destination = delivery->store->name;
	refusal->change = batch->changes[batch->first];
	refusal->line = line_copy;
	refusal->answer = answer_copy;
	refusal->at = clock_wall();
	batch_skip(batch);
	return DELIVERY_MOVING;
}

int
delivery_file_aside(struct delivery *delivery, struct error *error)
{
	struct delivery_aside *aside = &delivery->aside;
	struct delivery_counts *counts = &delivery->counts;

	if (aside->count == 0)
		return 0;
	int code =
	    ledger_put_refusals(delivery->ledger, aside->list, aside->count, error);
	if (code != 0)
		return code;
	counts->refused += (int64_t)aside->count;
	text_copy(counts->refusal, sizeof(counts->refusal),
	    aside->list[aside->count - 1].answer);
	delivery_clear_aside(delivery);
	return 0;
}

/* --- a line that is refused ---------------------------------------------------------- */

/*
 * What no store that takes anything refuses: a line without any particularity; or none at
 * all, which a VictoriaMetrics answers as it does good ones (measured).
 */
static int
pack_probe(struct delivery *delivery, struct http_body *body, struct error *error)
{
	struct text line;
	bool empty = delivery->store->kind == STORE_VICTORIAMETRICS;

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
		state = delivery_send(delivery, &body, &answer, &meaning, error);
	free(body.bytes);
	if (state != DELIVERY_MOVING)
		return state;
	switch (meaning) {
	case STORE_TAKEN:
		delivery->takes = true;
		return DELIVERY_MOVING;
	case STORE_LATER:
		return delivery_say(delivery, &answer, DELIVERY_LATER, error);
	case STORE_CLOSED:
	case STORE_TOO_LARGE:
	case STORE_BAD_LINES:
		break;
	}
	return delivery_say(delivery, &answer, DELIVERY_CLOSED, error);
}

/* --- many lines --------------------------------------------------------------------- */

/* What an answer says beside the point that it is about: the part behind the last "': ",
 * where there is one, without digits and what stands in quotes. */
static void
find_words(const char *answer, char words[static HTTP_ANSWER_TEXT])
{
	size_t length = 0;
	bool quoted = false;

	for (const char *next; (next = strstr(answer, "': ")) != NULL;)
		answer = next + 3;
	for (; *answer != '\0' && length < HTTP_ANSWER_TEXT - 1; answer++) {
		if (*answer == '"' || *answer == '\'')
			quoted = !quoted;
		else if (!quoted && !isdigit((unsigned char)*answer))
			words[length++] = *answer;
	}
	words[length] = '\0';
}

/* Whether so many were refused with the words of this answer, and none taken between, that
 * it is not the lines' fault. */
static bool
refuses_all(struct delivery *delivery, const struct http_answer *answer)
{
	char words[HTTP_ANSWER_TEXT];

	/* What is older than the store keeps is for the store to refuse, line by line. */
	if (strcasestr(answer->text, "retention") != NULL)
		return false;
	find_words(answer->text, words);
	if (strcmp(words, delivery->alike.words) != 0)
		delivery->alike.count = 0;
	memcpy(delivery->alike.words, words, sizeof(words));
	if (delivery->alike.count >= ALIKE_MOST)
		return true;
	delivery->alike.count++;
	return false;
}

/* They are worth no list of their own: the next ones come in seconds. */
static void
drop_readings(struct delivery *delivery)
{
	int64_t lost = batch_drop(&delivery->batch);

	delivery->batch.lost += lost;
	if (delivery->next.change != 0 && delivery->next_stream == STREAM_READING)
		delivery->next.lost += lost; /* it was read on from there */
}

enum delivery_state
delivery_refused(
    struct delivery *delivery, const struct http_answer *answer, struct error *error)
{
	bool reading = delivery->stream == STREAM_READING;
	bool few = !reading || delivery->batch.refusals++ < READING_POSTS;

	if (few && batch_halve(&delivery->batch))
		return DELIVERY_MOVING;
	if (!delivery->takes) {
		enum delivery_state state = probe(delivery, error);
		if (state != DELIVERY_MOVING)
			return state;
	}
	if (reading) {
		drop_readings(delivery);
		return DELIVERY_MOVING;
	}
	if (refuses_all(delivery, answer)) {
		enum delivery_state state =
		    delivery_say(delivery, answer, DELIVERY_CLOSED, error);
		delivery->counts.trouble = TROUBLE_REFUSES;
		return state;
	}
	char words[HTTP_ANSWER_TEXT + 16];
	snprintf(words, sizeof(words), "%d %s", answer->status, answer->text);
	return set_aside(delivery, words, error);
}
