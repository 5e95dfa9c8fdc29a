/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>

#include <string.h>
#include <time.h>

#include "daemon/base/log.h"
#include "daemon/publish/publisher.h"
#include "tests/unit/daemon/fieldbus/capture.h"
#include "tests/unit/daemon/publish/filled_ledger.h"
#include "tests/unit/daemon/publish/scripted_store.h"

static double
now_s(void)
{
	struct timespec now;
	clock_gettime(CLOCK_MONOTONIC, &now);
	return (double)now.tv_sec + (double)now.tv_nsec * 1e-9;
}

/* Waits, 10 s at most, until `done` says so; the status then. */
static struct publisher_status
wait_for(
    struct publisher *publisher, bool (*done)(const struct publisher_status *status))
{
	struct publisher_status status;
	double until_s = now_s() + 10;

	for (;;) {
		publisher_status(publisher, &status);
		if (done(&status))
			return status;
		assert_true(now_s() < until_s);
		usleep(2000);
	}
}

static bool
one_batch(const struct publisher_status *status)
{
	return status->batches >= 1;
}

static bool
two_batches(const struct publisher_status *status)
{
	return status->batches >= 2;
}

static bool
failing(const struct publisher_status *status)
{
	return status->delivering == 0;
}

static struct publisher *
start(struct filled_ledger *filled)
{
	struct publisher *publisher =
	    publisher_start(filled->settings, 0, filled->path, &filled->error);
	assert_non_null(publisher);
	return publisher;
}

static void
a_wake_up_sends_what_is_new_at_once(void **state)
{
	struct scripted_store store;
	struct filled_ledger filled;
	(void)state;

	scripted_start(&store);
	filled_open(&filled, store.port);
	struct publisher *publisher = start(&filled);
	struct publisher_status status;
	publisher_status(publisher, &status);
	assert_int_equal(status.delivering, -1);
	for (int i = 0; i < 2; i++) {
		double before_s = now_s();
		filled_add_shots(&filled, 1);
		publisher_wake(publisher);
		status = wait_for(publisher, i == 0 ? one_batch : two_batches);
		assert_true(now_s() - before_s < 2);
		assert_int_equal(status.delivering, 1);
	}
	assert_int_equal(status.failures, 0);
	publisher_stop(publisher, 5);
	filled_close(&filled);
	scripted_stop(&store);
}

static struct reply
first_503(void *arg, int request, const char *lines)
{
	(void)arg, (void)lines;
	if (request == 0)
		return (struct reply){MANNER_ANSWER_ONLY, 503, 0, "warming up"};
	return (struct reply){MANNER_ANSWER, 204, 0, NULL};
}

static void
trouble_is_told_and_tried_again_after_a_pause(void **state)
{
	struct scripted_store store;
	struct filled_ledger filled;
	(void)state;

	scripted_start(&store);
	store.script = first_503;
	filled_open(&filled, store.port);
	filled_add_shots(&filled, 3);
	double before_s = now_s();
	struct publisher *publisher = start(&filled);
	struct publisher_status status = wait_for(publisher, failing);
	assert_int_equal(status.failures, 1);
	assert_non_null(strstr(status.text, "answers 503: warming up"));
	for (int i = 0; i < 20; i++) /* more to send does not make it ask earlier */
		publisher_wake(publisher);
	status = wait_for(publisher, one_batch);
	assert_true(now_s() - before_s >= 0.5); /* a second, less the jitter */
	assert_int_equal(status.delivering, 1);
	assert_int_equal(status.failures, 1);
	assert_int_equal(store.requests, 2);
	publisher_stop(publisher, 5);
	filled_close(&filled);
	scripted_stop(&store);
}

static struct reply
one_cause_and_then_another(void *arg, int request, const char *lines)
{
	(void)arg, (void)lines;
	if (request == 0)
		return (struct reply){MANNER_ANSWER_ONLY, 503, 0, "warming up"};
	if (request == 1)
		return (struct reply){MANNER_ANSWER_ONLY, 500, 0, "no disk"};
	return (struct reply){MANNER_ANSWER, 204, 0, NULL};
}

static bool
failing_itself(const struct publisher_status *status)
{
	return status->trouble == TROUBLE_FAILING;
}

static void
another_trouble_is_logged_too_and_has_its_own_since(void **state)
{
	static struct capture log;
	struct scripted_store store;
	struct filled_ledger filled;
	(void)state;

	scripted_start(&store);
	store.script = one_cause_and_then_another;
	filled_open(&filled, store.port);
	filled_add_shots(&filled, 3);
	capture_start(&log);
	struct publisher *publisher = start(&filled);
	struct publisher_status first = wait_for(publisher, failing);
	struct publisher_status second = wait_for(publisher, failing_itself);
	struct publisher_status last = wait_for(publisher, one_batch);
	publisher_stop(publisher, 5);
	capture_end(&log);
	assert_int_equal(first.trouble, TROUBLE_BUSY);
	assert_true(second.since.ns - first.since.ns > CLOCK_SECOND_NS / 2);
	assert_int_equal(last.delivering, 1);
	assert_int_equal(last.trouble, TROUBLE_NONE);
	assert_int_equal(capture_count(&log, "cannot deliver for now"), 2);
	assert_int_equal(capture_count(&log, "answers 503: warming up"), 1);
	assert_int_equal(capture_count(&log, "answers 500: no disk"), 1);
	assert_int_equal(capture_count(&log, "delivering again"), 1);
	filled_close(&filled);
	scripted_stop(&store);
}

static void
what_is_stuck_is_told_without_the_ledgers_own_number(void **state)
{
	char sentence[PUBLISHER_SENTENCE];
	struct publisher_status status = {.delivering = 0,
	    .text = "answers 500",
	    .stuck = {.stream = "shot", .change = 89, .tries = 7}};

	(void)state;
	publisher_say(&status, sentence);
	assert_string_equal(
	    sentence, "answers 500; the next shot has been tried 7 times");
}

static void
stopping_sends_what_is_there(void **state)
{
	struct scripted_store store;
	struct filled_ledger filled;
	(void)state;

	scripted_start(&store);
	filled_open(&filled, store.port);
	struct publisher *publisher = start(&filled);
	filled_add_shots(&filled, 200);
	publisher_stop(publisher, 20);

	struct text expected = filled_all_lines(&filled);
	assert_int_equal(store.kept.length, expected.length);
	text_release(&expected);
	filled_close(&filled);
	scripted_stop(&store);
}

static struct reply
silent(void *arg, int request, const char *lines)
{
	(void)arg, (void)request, (void)lines;
	return (struct reply){MANNER_SILENT, 0, 0, NULL};
}

static struct reply
closed(void *arg, int request, const char *lines)
{
	(void)arg, (void)request, (void)lines;
	return (struct reply){MANNER_ANSWER_ONLY, 401, 0, NULL};
}

static void
stopping_waits_no_longer_than_it_may(void **state)
{
	struct reply (*const scripts[])(void *, int, const char *) = {silent, closed};
	const double longest_s[] = {
	    0.5 + 1.5, 0.3}; /* libcurl looks up once a second */
	(void)state;

	for (size_t i = 0; i < 2; i++) {
		struct scripted_store store;
		struct filled_ledger filled;
		scripted_start(&store);
		store.script = scripts[i];
		filled_open(&filled, store.port);
		filled_add_shots(&filled, 1);
		struct publisher *publisher = start(&filled);
		while (store.requests == 0 && i == 1)
			usleep(1000);
		usleep(100000);
		double before_s = now_s();
		publisher_stop(publisher, 0.5);
		assert_true(now_s() - before_s < longest_s[i]);

		struct ledger_delivered there = {.change = -1};
		ledger_delivered(filled.ledger, "plant", "shot", &there, NULL);
		assert_int_equal(there.change, 0);
		filled_close(&filled);
		scripted_stop(&store);
	}
}

static void
what_cannot_be_meant_does_not_start(void **state)
{
	struct filled_ledger filled;
	(void)state;

	filled_open(&filled, 1);
	assert_null(publisher_start(
	    filled.settings, 0, "/nonexistent/ledger.db", &filled.error));
	assert_non_null(strstr(filled.error.text, "/nonexistent/ledger.db"));
	filled.settings->stores[0].url[0] = '\0';
	assert_null(publisher_start(filled.settings, 0, filled.path, &filled.error));
	filled_close(&filled);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(a_wake_up_sends_what_is_new_at_once),
	    cmocka_unit_test(trouble_is_told_and_tried_again_after_a_pause),
	    cmocka_unit_test(another_trouble_is_logged_too_and_has_its_own_since),
	    cmocka_unit_test(what_is_stuck_is_told_without_the_ledgers_own_number),
	    cmocka_unit_test(stopping_sends_what_is_there),
	    cmocka_unit_test(stopping_waits_no_longer_than_it_may),
	    cmocka_unit_test(what_cannot_be_meant_does_not_start),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
