/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Every class of answer, of every kind of store that gives it: what the sender does, and
 * that nothing is lost.  Prints the table.
 */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>

#include <stdlib.h>
#include <string.h>

#include "daemon/publish/delivery_inside.h"
#include "tests/unit/daemon/publish/filled_ledger.h"
#include "tests/unit/daemon/publish/scripted_store.h"

enum {
	ALL = 15,
	ONE = 1,
	TWO = 2,
	THREE = 4,
	VICTORIA = 8,
	SHOTS = 12,
	FIRST = 3,    /* requests before the trouble */
	TROUBLES = 3, /* that have it */
};
static const char bad_line[] = "revision=0 shot_no=7i,filed_us";

/* An answer as it comes to requests for as long as the trouble lasts. */
struct answer_class {
	const char *name;
	int kinds; /* that may give it */
	struct reply reply;
	bool bad;          /* a line is bad: requests with it get the reply, for ever */
	size_t lines_most; /* requests with more get the reply, for ever */
	bool doubtful;     /* what is not settled may be gone */
	const char *does;  /* that is expected */
};

static const struct answer_class classes[] = {
    {"204", ALL, {MANNER_ANSWER, 204, 0, NULL}, .does = "goes on"},
    {"200, empty", THREE, {MANNER_ANSWER, 200, 0, NULL}, .does = "goes on"},
    {"200, a page of something else", ALL, {MANNER_ANSWER_ONLY, 200, 0, "<html>"},
	.does = "holds, tries now and then"},
    {"400, the good lines stored", ONE | THREE,
	{MANNER_ANSWER, 400, 0, "partial write: dropped=1"}, .bad = true,
	.does = "cuts down, sets aside"},
    {"400, nothing stored", TWO, {MANNER_ANSWER_ONLY, 400, 0, "unable to parse"},
	.bad = true, .does = "cuts down, sets aside"},
    {"422, nothing stored", TWO, {MANNER_ANSWER_ONLY, 422, 0, "field type conflict"},
	.bad = true, .does = "cuts down, sets aside"},
    {"400 to whatever is sent", ALL, {MANNER_ANSWER_ONLY, 400, 0, "no such service"},
	.does = "cuts down"},
    {"401", ALL, {MANNER_ANSWER_ONLY, 401, 0, "who are you"},
	.does = "holds, tries now and then"},
    {"403", ALL, {MANNER_ANSWER_ONLY, 403, 0, "not allowed"},
	.does = "holds, tries now and then"},
    {"404", ALL, {MANNER_ANSWER_ONLY, 404, 0, "database not found"},
	.does = "holds, tries now and then"},
    {"408", ALL, {MANNER_ANSWER_ONLY, 408, 0, "too slow"},
	.does = "waits, the same again"},
    {"413, over 50 lines", ALL, {MANNER_ANSWER_ONLY, 413, 0, "too large"},
	.lines_most = 50, .does = "cuts down"},
    {"413, one line alone", ONE | TWO | THREE,
	{MANNER_ANSWER_ONLY, 413, 0, "too large"}, .bad = true,
	.does = "cuts down, sets aside"},
    {"429, Retry-After: 7", ALL, {MANNER_ANSWER_ONLY, 429, 7, "slower"},
	.does = "waits 7 s, the same again"},
    {"500", ALL, {MANNER_ANSWER_ONLY, 500, 0, "oops"}, .does = "waits, the same again"},
    {"502", ALL, {MANNER_ANSWER_ONLY, 502, 0, "nobody behind"}, .doubtful = true,
	.does = "waits, the same again"},
    {"503, Retry-After: 7", ALL, {MANNER_ANSWER_ONLY, 503, 7, "maintenance"},
	.doubtful = true, .does = "waits 7 s, the same again"},
    {"504", ALL, {MANNER_ANSWER_ONLY, 504, 0, "nobody answers"}, .doubtful = true,
	.does = "waits, the same again"},
    {"none in time, stored", ALL, {MANNER_SILENT, 0, 0, NULL}, .doubtful = true,
	.does = "waits, the same again"},
    {"connection closed, not stored", ALL, {MANNER_CLOSE, 0, 0, NULL}, .doubtful = true,
	.does = "waits, the same again"},
    {"connection cut, stored", ALL, {MANNER_CUT, 204, 0, NULL}, .doubtful = true,
	.does = "waits, the same again"},
    {"killed, and the latest gone", VICTORIA, {MANNER_DIE, 0, 0, NULL},
	.doubtful = true, .does = "waits, the same again"},
};

struct trial {
	const struct answer_class *class;
	struct scripted_store store;
	struct filled_ledger filled;
	struct error error;
	int troubled; /* requests that got the reply */
	int seen[DELIVERY_TROUBLE + 1];
	double longest_wait_s;
	int64_t set_aside, again;
	size_t lost, unexpected;
};

static size_t
count_lines(const char *lines)
{
	size_t count = 0;

	for (; *lines != '\0'; lines++)
		count += *lines == '\n';
	return count;
}

static struct reply
answer(void *arg, int request, const char *lines)
{
	struct trial *trial = arg;
	const struct answer_class *class = trial->class;
	bool troubled = request >= FIRST && trial->troubled < TROUBLES;

	if (class->bad)
		troubled = strstr(lines, bad_line) != NULL;
	else if (class->lines_most > 0)
		troubled = count_lines(lines) > class->lines_most;
	if (troubled) {
		trial->troubled++;
		return class->reply;
	}
	/* A 2.x refuses a body without lines. */
	if (*lines == '\0' && trial->filled.settings->stores[0].kind == STORE_INFLUXDB2)
		return (struct reply){
		    MANNER_ANSWER_ONLY, 400, 0, "writing requires points"};
	return (struct reply){MANNER_ANSWER, 204, 0, NULL};
}

static void
deliver(struct trial *trial)
{
	struct filled_ledger *filled = &trial->filled;
	enum delivery_state state = DELIVERY_MOVING;
	double retry_after_s;
	struct delivery *delivery =
	    delivery_open(filled->settings, 0, filled->path, NULL, NULL, &trial->error);

	assert_non_null(delivery);
	/* A real one is given longer before it is asked what it has. */
	trial->store.hides = delivery->asking.http != NULL;
	delivery->asking.every_ns = 1000000;
	for (int i = 0; i < STREAM_COUNT; i++)
		delivery->streams[i].settling.settle_ns =
		    (int64_t)(filled->settings->stores[0].settle_s * 1e9);
	for (int steps = 0; state != DELIVERY_DONE || delivery_due_s(delivery) < 1e9;
	     steps++) {
		assert_true(steps < 20000);
		state = delivery_step(delivery, &retry_after_s, &trial->error);
		trial->seen[state]++;
		if (retry_after_s > trial->longest_wait_s)
			trial->longest_wait_s = retry_after_s;
		if (state == DELIVERY_DONE)
			usleep(5000);
	}
	trial->set_aside = delivery_counts(delivery)->refused;
	trial->again = delivery_counts(delivery)->again;
	delivery_close(delivery);
}

/* Every line of the ledger is in the store or was set aside, and the store has no other
 * but a probe. */
static void
compare(struct trial *trial)
{
	struct text wanted = filled_all_lines(&trial->filled);
	const char *kept = trial->store.kept.bytes;
	char *rest = wanted.bytes;
	size_t missing = 0;

	for (char *line; rest != NULL && (line = strsep(&rest, "\n")) != NULL;)
		if (*line != '\0' && strstr(kept, line) == NULL)
			missing++;
	trial->lost = missing - (size_t)trial->set_aside;
	text_release(&wanted);
	wanted = filled_all_lines(&trial->filled);
	char *copy = strdup(kept);
	rest = copy;
	for (char *line; rest != NULL && (line = strsep(&rest, "\n")) != NULL;)
		if (*line != '\0' && strstr(wanted.bytes, line) == NULL &&
		    strncmp(line, "probe,", 6) != 0)
			trial->unexpected++;
	free(copy);
	text_release(&wanted);
}

/* What the sender did, by what could be seen of it. */
static const char *
what_it_did(const struct trial *trial)
{
	if (trial->seen[DELIVERY_TROUBLE] > 0)
		return "has trouble of its own";
	if (trial->again > 0)
		return trial->longest_wait_s > 6.5 ? "waits 7 s, then all unsettled"
		                                   : "waits, then all unsettled";
	if (trial->seen[DELIVERY_CLOSED] > 0)
		return "holds, tries now and then";
	if (trial->seen[DELIVERY_LATER] > 0)
		return trial->longest_wait_s > 6.5 ? "waits 7 s, the same again"
		                                   : "waits, the same again";
	if (trial->set_aside > 0)
		return "cuts down, sets aside";
	return trial->troubled > 0 && trial->class->reply.status >= 400 ? "cuts down"
	                                                                : "goes on";
}

static void
try_class(const struct answer_class *class, enum store_kind kind)
{
	static struct trial trial;
	static const char *const kinds[] = {
	    "influxdb1", "influxdb2", "influxdb3", "victoriametrics"};

	memset(&trial, 0, sizeof(trial));
	trial.class = class;
	scripted_start(&trial.store);
	filled_open(&trial.filled, trial.store.port);
	struct store_settings *store = &trial.filled.settings->stores[0];
	store->kind = kind;
	store->batch_lines = 100;
	/* No answer may be late by accident. */
	store->timeout_s = class->reply.manner == MANNER_SILENT ? 0.2 : 5;
	snprintf(store->organization, sizeof(store->organization), "works");
	if (kind == STORE_VICTORIAMETRICS) {
		trial.store.forgets_s = 0.1;
		store->settle_s = 0.2;
	}
	filled_add_shots(&trial.filled, SHOTS);
	filled_add_event(&trial.filled, "note", "at the end");
	/* Of a bad line in a request with others, the store itself keeps the good ones. */
	if (class->bad && class->reply.manner == MANNER_ANSWER)
		trial.store.bad = bad_line;
	else
		trial.store.script = answer;
	trial.store.arg = &trial;
	deliver(&trial);
	compare(&trial);
	print_message("%-31s %-15s  %-28s %8d %9lld %5zu\n", class->name, kinds[kind],
	    what_it_did(&trial), trial.store.requests, (long long)trial.set_aside,
	    trial.lost);
	assert_int_equal(trial.lost, 0);
	assert_int_equal(trial.unexpected, 0);
	assert_int_equal(trial.set_aside, class->bad ? 1 : 0);
	if (class->doubtful && kind == STORE_VICTORIAMETRICS)
		assert_non_null(strstr(what_it_did(&trial), ", then all unsettled"));
	else
		assert_string_equal(what_it_did(&trial), class->does);
	scripted_stop(&trial.store);
	filled_close(&trial.filled);
}

static void
no_answer_loses_anything(void **state)
{
	(void)state;

	print_message("%-31s %-15s  %-28s %8s %9s %5s\n", "the store answers", "kind",
	    "the sender", "requests", "set aside", "lost");
	for (size_t i = 0; i < sizeof(classes) / sizeof(classes[0]); i++)
		for (int kind = 0; kind < STORE_KIND_COUNT; kind++)
			if ((classes[i].kinds & 1 << kind) != 0)
				try_class(&classes[i], (enum store_kind)kind);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(no_answer_loses_anything),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
