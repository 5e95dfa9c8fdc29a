/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Whether a store still has what it took, asked before a cursor moves past it: a proxy or the
 * front of a cluster keeps its connections while the store behind it starts again.  What a
 * killed store lacks are its newest samples: where the last shot of a batch is, the earlier
 * ones are.
 */
#include "daemon/publish/delivery_inside.h"

#include <inttypes.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "conf/settings.h"
#include "daemon/base/error.h"
#include "daemon/ledger/ledger_shift.h"
#include "daemon/publish/store.h"

enum {
	SELECTOR_MOST = 2048,
	QUESTION_MOST = 64 << 10,
	ANSWER_MOST = 8 << 20,
	SPAN_MOST_S = 86400, /* of the line's time in one question */
};

#define SECOND_NS INT64_C(1000000000)

/* Of the system's time. */
static const int64_t ASK_EVERY_NS = SECOND_NS / 2; /* for each of two streams in turn */
static const int64_t SILENT_NS = 60 * SECOND_NS;   /* no answer so long: on without */
static const int64_t HOPELESS_NS = 60 * SECOND_NS; /* then it is asked again */
static const double VISIBLE_S = 15; /* an export shows points after ten (measured) */

/* A point that must be there: how it is asked for, and by which labels it is known again. */
struct proof {
	char selector[SELECTOR_MOST];
	char labels[2][3 * LEDGER_NAME];
	int64_t at_ms;
};

struct proofs {
	const struct store_settings *store;
	const char *site;
	int64_t change; /* whose point is looked for */
	size_t count;
	struct proof list[SETTLING_ENDS];
};

int
delivery_kept_open(struct delivery *delivery, const char *site, struct error *error)
{
	struct delivery_asking *asking = &delivery->asking;
	const struct store_settings *store = delivery->store;

	text_init(&asking->url, 4 * SETTINGS_PATH);
	if (store->kind != STORE_VICTORIAMETRICS || store->settle_s <= 0)
		return 0;
	asking->site = site;
	asking->every_ns = ASK_EVERY_NS;
	asking->settle_s = fmax(store->settle_s, VISIBLE_S);
	int code = store_query_url(store, "/api/v1/export", &asking->url, error);
	if (code != 0)
		return code;
	struct http_settings http = store_http(store, asking->url.bytes);
	http.give_up = delivery->give_up;
	http.arg = delivery->arg;
	asking->http = http_open(&http);
	return asking->http != NULL
	           ? 0
	           : error_set(error, ERROR_MEMORY, "libcurl or zlib cannot be set up");
}

void
delivery_kept_close(struct delivery *delivery)
{
	http_close(delivery->asking.http);
	text_release(&delivery->asking.url);
}

/* --- what must be there ------------------------------------------------------------ */

/* As it stands in the store (see line_text.h), between the quotes of a selector or JSON. */
static void
add_value(struct text *text, const char *value)
{
	text_puts(text, "\"");
	for (const char *c = *value != '\0' ? value : "unknown"; *c != '\0'; c++) {
		unsigned char byte = (unsigned char)*c;
		if (byte < ' ' || byte == 0x7f)
			text_puts(text, " ");
		else if (byte == '\\')
			text_puts(text, "/");
		else if (byte == '"')
			text_puts(text, "\\\"");
		else
			text_add(text, c, 1);
	}
	text_puts(text, "\"");
}

/* In the selector, and in what is looked for in the answer, if anything is. */
static void
add_label(struct text *selector, const char *name, const char *value, char *labels)
{
	struct text quoted;

	text_init(&quoted, 3 * LEDGER_NAME);
	add_value(&quoted, value);
	text_printf(selector, "%s=%s,", name, quoted.bytes != NULL ? quoted.bytes : "");
	selector->failed |= quoted.failed;
	if (labels != NULL && !quoted.failed)
		snprintf(labels, 3 * LEDGER_NAME, "\"%s\":%s", name, quoted.bytes);
	text_release(&quoted);
}

struct label {
	const char *name, *value;
};

static void
add_proof(struct proofs *proofs, const char *metric,
    const struct label labels[static 2], int64_t at_ms)
{
	struct proof *proof = &proofs->list[proofs->count];
	struct text selector;

	text_init(&selector, SELECTOR_MOST);
	text_printf(&selector, "%s{", metric);
	add_label(&selector, "site", proofs->site, NULL);
	for (int i = 0; i < 2; i++)
		add_label(&selector, labels[i].name, labels[i].value, proof->labels[i]);
	if (proofs->store->database[0] != '\0')
		add_label(&selector, "db", proofs->store->database, NULL);
	if (!selector.failed) {
		selector.bytes[selector.length - 1] = '}';
		text_copy(proof->selector, sizeof(proof->selector), selector.bytes);
		proof->at_ms = at_ms;
		proofs->count++;
	}
	text_release(&selector);
}

static int64_t
at_ms(struct wall at, int64_t number)
{
	return at.ns / SECOND_NS * 1000 + number % 1000;
}

static int
take_shot(void *arg, const struct ledger_shot *shot)
{
	struct proofs *proofs = arg;
	char revision[32];

	snprintf(revision, sizeof(revision), "%" PRId64, shot->revision);
	const struct label labels[] = {{"line", shot->line}, {"revision", revision}};
	if (shot->change == proofs->change)
		add_proof(proofs, "shot_shot_no", labels,
		    at_ms(shot->filed_at, shot->shot_no));
	return 1;
}

static int
take_event(void *arg, const struct ledger_event *event)
{
	struct proofs *proofs = arg;
	const struct label labels[] = {{"line", event->line}, {"kind", event->kind}};

	if (event->change == proofs->change)
		add_proof(
		    proofs, "event_count", labels, at_ms(event->at, event->change));
	return 1;
}

static int
take_shift(void *arg, const struct ledger_shift *shift)
{
	struct proofs *proofs = arg;
	char revision[32];

	snprintf(revision, sizeof(revision), "%" PRId64, shift->revision);
	const struct label labels[] = {{"line", shift->line}, {"revision", revision}};
	if (shift->change == proofs->change)
		add_proof(proofs, "shift_total_shots", labels, at_ms(shift->from, 0));
	return 1;
}

static int
read_shift(struct ledger_read *read, int64_t change, struct proofs *proofs)
{
	const struct ledger_shift_filter filter = {
	    .after_change = change - 1, .limit = 1};

	return ledger_read_shifts(read, &filter, take_shift, proofs, NULL);
}

/* The last point of each batch of the entry.  One that was corrected since has a later
 * change: it goes out again, and has a point of its own then. */
static int
find_proofs(struct delivery *delivery, enum stream stream,
    const struct settling_entry *entry, struct proofs *proofs)
{
	static const int no_features[1];
	struct ledger_read *read = delivery->loader.read;
	int code = 0;

	for (size_t i = 0; i < entry->end_count && code == 0; i++) {
		const struct ledger_filter filter = {.after_change = entry->ends[i] - 1,
		    .limit = 1,
		    .features = no_features};
		proofs->change = entry->ends[i];
		if (stream == STREAM_SHOT)
			code = ledger_read_shots(
			    read, &filter, false, take_shot, proofs, NULL);
		else if (stream == STREAM_SHIFT)
			code = read_shift(read, entry->ends[i], proofs);
		else
			code =
			    ledger_read_events(read, &filter, take_event, proofs, NULL);
	}
	return code;
}

/* --- one question ------------------------------------------------------------------- */

static int
take_answer(void *arg, const char *bytes, size_t count)
{
	struct text *answer = arg;

	text_add(answer, bytes, count);
	return answer->failed ? 1 : 0;
}

/* Whether the line of JSON, one series, is of these labels and has a value of that time. */
static bool
is_there(const char *line, const struct proof *proof)
{
	char time[32];
	const char *times = strstr(line, "\"timestamps\":[");
	size_t length = (size_t)snprintf(time, sizeof(time), "%" PRId64, proof->at_ms);

	for (int i = 0; i < 2; i++)
		if (strstr(line, proof->labels[i]) == NULL)
			return false;
	while (times != NULL && (times = strstr(times + 1, time)) != NULL)
		if (strchr("[,", times[-1]) != NULL && strchr(",]", times[length]))
			return true;
	return false;
}

static bool
all_there(struct text *answer, const struct proof *list, size_t count)
{
	size_t found = 0;
	bool seen[SETTLING_ENDS] = {false};
	char *rest = answer->bytes;

	for (char *line; rest != NULL && (line = strsep(&rest, "\n")) != NULL;)
		for (size_t i = 0; i < count; i++)
			if (!seen[i] && is_there(line, &list[i])) {
				seen[i] = true;
				found++;
			}
	return found == count;
}

/* The first proofs of the list that are not far apart in time, and that time. */
struct question {
	const struct proof *list;
	size_t count;
	int64_t from_s, to_s;
};

static struct question
next_question(const struct proofs *proofs, size_t done)
{
	struct question question = {.list = &proofs->list[done],
	    .from_s = proofs->list[done].at_ms / 1000,
	    .to_s = proofs->list[done].at_ms / 1000};

	while (done + question.count < proofs->count) {
		int64_t at_s = question.list[question.count].at_ms / 1000;
		int64_t from_s = at_s < question.from_s ? at_s : question.from_s;
		int64_t to_s = at_s > question.to_s ? at_s : question.to_s;
		if (to_s - from_s > SPAN_MOST_S)
			break;
		question.from_s = from_s;
		question.to_s = to_s;
		question.count++;
	}
	return question;
}

static void
add_form(struct text *url, const struct question *question)
{
	char number[32];
	struct text form;

	text_init(&form, QUESTION_MOST);
	for (size_t i = 0; i < question->count; i++)
		http_add_pair(&form, "match[]", question->list[i].selector);
	snprintf(number, sizeof(number), "%" PRId64, question->from_s);
	http_add_pair(&form, "start", number);
	snprintf(number, sizeof(number), "%" PRId64 ".999", question->to_s);
	http_add_pair(&form, "end", number);
	text_printf(url, "?%s", form.bytes != NULL ? form.bytes : "");
	url->failed |= form.failed;
	text_release(&form);
}

/* 0 with *kept, or why there was no answer; ERROR_REFUSED: it will not answer. */
static int
ask(struct delivery *delivery, const struct question *of, bool *kept,
    struct error *error)
{
	struct delivery_asking *asking = &delivery->asking;
	struct http_answer answer = {0};
	struct text url, text;
	text_init(&url, 2 * QUESTION_MOST);
	text_init(&text, ANSWER_MOST);
	text_puts(&url, asking->url.bytes);
	add_form(&url, of);
	const struct http_question question = {
	    .url = url.bytes, .take = take_answer, .arg = &text};
	int code = url.failed ? error_set(error, ERROR_MEMORY, "out of memory")
	                      : http_ask(asking->http, &question, &answer, error);
	bool told = code == 0 && answer.status == 200 && !text.failed;
	bool later = answer.status >= 500 || answer.status == 429;
	if (told)
		*kept = all_there(&text, of->list, of->count);
	else if (code == 0)
		code = error_set(error, later ? ERROR_IO : ERROR_REFUSED,
		    "'%s' answers %d%s%s", asking->url.bytes, answer.status,
		    answer.text[0] != '\0' ? ": " : "", answer.text);
	text_release(&url);
	text_release(&text);
	return code;
}

/* --- what follows from it ------------------------------------------------------------- */

/* The connection is trusted instead: at once where it will never answer, after a while where
 * it may yet. */
static enum delivery_kept
no_answer(struct delivery *delivery, int code, const struct error *error)
{
	struct delivery_asking *asking = &delivery->asking;
	int64_t now_ns = delivery_now_ns();

	asking->next_ns = now_ns + asking->every_ns;
	if (code == ERROR_BUSY || code == ERROR_MEMORY)
		return KEPT_LATER;
	if (asking->silent_ns == 0)
		asking->silent_ns = now_ns;
	asking->deaf = asking->deaf || code == ERROR_REFUSED ||
	               now_ns - asking->silent_ns >= SILENT_NS;
	if (!asking->deaf)
		return KEPT_LATER;
	asking->next_ns = now_ns + HOPELESS_NS;
	text_copy(
	    delivery->counts.unasked, sizeof(delivery->counts.unasked), error->text);
	return KEPT_UNKNOWN;
}

static enum delivery_kept
ask_all(struct delivery *delivery, const struct proofs *proofs)
{
	struct delivery_asking *asking = &delivery->asking;
	size_t done = 0;
	bool kept = true;

	while (kept && done < proofs->count) {
		struct error error;
		const struct question question = next_question(proofs, done);
		int code = ask(delivery, &question, &kept, &error);
		if (code != 0)
			return no_answer(delivery, code, &error);
		done += question.count;
	}
	asking->next_ns = delivery_now_ns() + asking->every_ns;
	asking->silent_ns = 0;
	asking->deaf = false;
	delivery->counts.unasked[0] = '\0';
	return kept ? KEPT_YES : KEPT_NO;
}

enum delivery_kept
delivery_kept(
    struct delivery *delivery, enum stream stream, const struct settling_entry *entry)
{
	const struct delivery_asking *asking = &delivery->asking;
	struct proofs proofs = {.store = delivery->store, .site = asking->site};

	if (asking->http == NULL || stream == STREAM_READING)
		return KEPT_UNKNOWN;
	if (delivery_now_ns() < asking->next_ns)
		return asking->deaf ? KEPT_UNKNOWN : KEPT_LATER;
	if (find_proofs(delivery, stream, entry, &proofs) != 0 || proofs.count == 0)
		return KEPT_UNKNOWN;
	return ask_all(delivery, &proofs);
}
