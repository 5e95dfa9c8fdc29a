/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * For tests: a ledger of random shots on two lines, corrected again and again, and
 * delivered in between to a real InfluxDB and a real VictoriaMetrics.
 */
#ifndef TESTS_UNIT_CLI_SOURCE_CORRECTED_PLANT_H
#define TESTS_UNIT_CLI_SOURCE_CORRECTED_PLANT_H

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "cli/source/source.h"
#include "daemon/base/clock.h"
#include "daemon/publish/delivery.h"
#include "tests/unit/cli/source/real_victoria.h"
#include "tests/unit/daemon/publish/filled_ledger.h"

enum { STORES = 2, LINES = 2, SHOTS = 600, ROUNDS = 6 };
#define SECOND CLOCK_SECOND_NS

struct fixture {
	struct filled_ledger filled;
	struct real_influx influx;
	struct real_victoria victoria;
	int64_t numbers[LINES];
	struct delivery *deliveries[STORES];
	struct ledger_read *read;
	struct source *ledger, *stores[STORES];
};

static inline unsigned
draw(struct fixture *all, unsigned below)
{
	return (unsigned)nrand48(all->filled.random) % below;
}

/* --- a ledger that is delivered -------------------------------------------------------- */

/* The demo plant with two lines that have names of their own, and both stores. */
static inline void
open_ledger(struct fixture *all)
{
	struct settings *settings;
	int64_t setup;

	filled_open(&all->filled, all->influx.port);
	settings = all->filled.settings;
	settings->lines = realloc(settings->lines, LINES * sizeof *settings->lines);
	settings->stores = realloc(settings->stores, STORES * sizeof *settings->stores);
	assert_true(settings->lines != NULL && settings->stores != NULL);
	settings->lines[1] = settings->lines[0];
	snprintf(settings->lines[1].name, SETTINGS_NAME, "line-4");
	settings->line_count = LINES;
	settings->stores[1] = settings->stores[0];
	settings->stores[1].kind = STORE_VICTORIAMETRICS;
	snprintf(settings->stores[1].name, SETTINGS_NAME, "second");
	snprintf(settings->stores[1].url, SETTINGS_PATH, "http://127.0.0.1:%d",
	    all->victoria.as.port);
	settings->store_count = STORES;
	settings->hash[0] ^= 1; /* another set-up, in which there are both */
	assert_int_equal(ledger_put_setup(all->filled.ledger, settings,
			     (struct wall){FILLED_START_NS}, &setup, NULL),
	    0);
}

/* Of a million at most in the unit on file: beside a value of thousands of millions a
 * VictoriaMetrics keeps less than nine decimals of others. */
static inline void
set_values(struct fixture *all, struct shot *shot)
{
	for (int i = 0; i < FEATURE_COUNT; i++)
		if (isnan(shot->value[i]))
			shot->absent[i] =
			    (unsigned char)(1 + draw(all, ABSENT_NOT_CONFIGURED));
		else if (draw(all, 30) == 0)
			shot->value[i] = draw(all, 2) ? 0 : -1e-12;
		else
			shot->value[i] = feature_to_si(i, filled_number(&all->filled));
}

static inline void
add_shot(struct fixture *all)
{
	struct shot *shot = filled_shot(&all->filled);
	uint32_t line = draw(all, LINES);
	int64_t ns = FILLED_START_NS + all->filled.shot_no * 13 * SECOND +
	             (int64_t)draw(all, 1000000) * 1000;

	/* a backslash goes out as a slash */
	if (*shot->reason != '\0')
		snprintf(shot->reason, sizeof shot->reason, "the \"logger\", stopped");
	shot->line = line;
	shot->shot_no = ++all->numbers[line];
	shot->closed_at.ns = ns;
	if (draw(all, 4) == 0) /* within the second of others */
		shot->closed_at.ns = ns / (100 * SECOND) * 100 * SECOND +
		                     (int64_t)draw(all, 5) * 200000000;
	shot->form_start_at.ns = shot->outcome == SHOT_COMPLETE ? ns : 0;
	shot->heat_start_at.ns = ns - (int64_t)draw(all, 400) * SECOND;
	shot->loaded_at.ns = draw(all, 3) ? ns - 500 * SECOND : 0;
	shot->flags = draw(all, 1 << SHOT_FLAG_BITS);
	shot->uncertainty_s = draw(all, 5) ? 0.25 : NAN;
	shot->set_points = draw(all, 3) ? UINT64_C(0xfeedfacecafebeef) : 0;
	shot->cycle_count = draw(all, 5) ? shot->shot_no : -1;
	if (draw(all, 2))
		snprintf(shot->properties, sizeof shot->properties, "abs 2 4c1a09e2");
	set_values(all, shot);
	assert_int_equal(ledger_put_shot(all->filled.ledger, all->filled.settings, shot,
			     &all->filled.error),
	    0);
	shot_free(shot);
}

static inline struct wall
some_time(struct fixture *all)
{
	return (struct wall){FILLED_START_NS + (int64_t)draw(all, SHOTS * 13) * SECOND};
}

static inline void
correct_label(struct fixture *all)
{
	static const char *const values[] = {"T-117", "A-0412", "", "a = b, \"c\" d",
	    "\xc3\xa4\xc3\xb6 \xe2\x82\xac", "0"};
	struct ledger_entry entry = {
	    .line = all->filled.settings->lines[draw(all, LINES)].name,
	    .key = draw(all, 2) ? CONTEXT_TOOL : CONTEXT_LOT,
	    .value = values[draw(all, 6)],
	    .from = some_time(all),
	    .entered = some_time(all),
	};
	int64_t relabelled;

	assert_int_equal(ledger_put_context(all->filled.ledger, &entry, &relabelled,
			     &all->filled.error),
	    0);
}

struct some {
	int64_t id, shot_no;
	uint32_t line;
	unsigned skip;
	const struct settings *settings;
};

static inline int
take_some(void *arg, const struct ledger_shot *shot)
{
	struct some *some = arg;

	some->id = shot->id;
	some->shot_no = shot->shot_no;
	some->line = (uint32_t)settings_find_line(some->settings, shot->line);
	return some->skip-- == 0;
}

/* A shot is made again under the same set-up, with other values. */
static inline void
correct_values(struct fixture *all)
{
	struct some some = {.skip = draw(all, SHOTS), .settings = all->filled.settings};
	bool changed;

	assert_int_equal(ledger_read_shots(all->read, &(struct ledger_filter){0}, false,
			     take_some, &some, NULL),
	    0);
	struct shot *shot = filled_shot(&all->filled);
	all->filled.shot_no--;
	shot->line = some.line;
	shot->shot_no = some.shot_no;
	shot->outcome = (enum shot_outcome)draw(all, SHOT_OUTCOME_COUNT);
	snprintf(shot->reason, sizeof shot->reason, "made again");
	set_values(all, shot);
	assert_int_equal(ledger_put_recomputed(all->filled.ledger, all->filled.settings,
			     some.id, shot, &changed, &all->filled.error),
	    0);
	shot_free(shot);
}

static inline void
add_event(struct fixture *all)
{
	static const char *const kinds[] = {"start", "end", "recipe"};
	struct wall at = {some_time(all).ns + (int64_t)draw(all, 1000000) * 1000};

	assert_int_equal(ledger_put_event(all->filled.ledger,
			     all->filled.settings->lines[draw(all, LINES)].name, at,
			     kinds[draw(all, 3)], "some \"text\"", &all->filled.error),
	    0);
}

static inline void
deliver(struct fixture *all, int store)
{
	enum delivery_state state;
	double after_s;

	do
		state =
		    delivery_step(all->deliveries[store], &after_s, &all->filled.error);
	while (state == DELIVERY_MOVING);
	if (state != DELIVERY_DONE)
		fail_msg("%s", all->filled.error.text);
}

static inline void
fill(struct fixture *all)
{
	for (int round = 0; round < ROUNDS; round++) {
		for (int i = 0; i < SHOTS / ROUNDS; i++) {
			add_shot(all);
			if (draw(all, 10) == 0)
				add_event(all);
			if (draw(all, 20) == 0)
				correct_values(all);
		}
		correct_label(all);
		/* not every revision gets into every store */
		for (int store = 0; store < STORES; store++)
			if (round == ROUNDS - 1 || draw(all, 2))
				deliver(all, store);
	}
	victoria_flush(&all->victoria);
}

static inline int
corrected_open(void **state)
{
	static struct fixture all;
	struct error error;

	influx_prepare(&all.influx);
	influx_start(&all.influx);
	free(influx_ask(
	    &all.influx, "POST /query?q=CREATE+DATABASE+plant HTTP/1.0\r\n\r\n"));
	victoria_start(&all.victoria);
	open_ledger(&all);
	all.read = ledger_read_open(all.filled.path, &error);
	assert_non_null(all.read);
	all.ledger = source_of_ledger(all.read, all.filled.path, &error);
	for (size_t i = 0; i < STORES; i++) {
		all.deliveries[i] = delivery_open(
		    all.filled.settings, i, all.filled.path, NULL, NULL, &error);
		all.stores[i] = source_of_store(all.filled.settings, i, &error);
		assert_true(all.deliveries[i] != NULL && all.stores[i] != NULL);
	}
	fill(&all);
	*state = &all;
	return 0;
}

static inline int
corrected_close(void **state)
{
	struct fixture *all = *state;

	for (int i = 0; i < STORES; i++) {
		source_close(all->stores[i]);
		delivery_close(all->deliveries[i]);
	}
	source_close(all->ledger);
	ledger_read_close(all->read);
	filled_close(&all->filled);
	victoria_close(&all->victoria);
	influx_close(&all->influx);
	return 0;
}

#endif
