/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * For tests of delivery: a ledger in a directory of its own with made-up shots, and
 * the lines that a store must have in the end.
 */
#ifndef TESTS_UNIT_DAEMON_PUBLISH_FILLED_LEDGER_H
#define TESTS_UNIT_DAEMON_PUBLISH_FILLED_LEDGER_H

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "conf/settings.h"
#include "daemon/base/error.h"
#include "daemon/ledger/ledger.h"
#include "daemon/ledger/ledger_read.h"
#include "daemon/publish/shift_lines.h"
#include "daemon/publish/shot_lines.h"
#include "daemon/shot/shot.h"
#include "tests/unit/seed.h"

#define FILLED_START_NS INT64_C(1772427600123456789)
static const double FILLED_PERIOD_S = 31.7;

struct filled_ledger {
	char folder[256], path[300];
	struct settings *settings; /* the demo plant, with one store */
	struct ledger *ledger;
	int64_t shot_no; /* the last one written */
	unsigned short random[3];
	struct error error;
};

/* The one sentence there is, when a step of the preparations fails. */
static inline void
filled_need(struct filled_ledger *filled, bool ok, const char *what)
{
	if (ok)
		return;
	fprintf(stderr, "%s: %s\n", what, filled->error.text);
	abort();
}

static inline void
filled_open(struct filled_ledger *filled, int port)
{
	const char *tmp = getenv("TMPDIR");
	static struct problems problems;
	int64_t setup;

	memset(filled, 0, sizeof(*filled));
	filled->random[0] = (unsigned short)seed_take(1);
	snprintf(filled->folder, sizeof(filled->folder), "%s/evensoak-publish-XXXXXX",
	    tmp != NULL ? tmp : "/tmp");
	filled_need(filled, mkdtemp(filled->folder) != NULL, "make a folder");
	snprintf(filled->path, sizeof(filled->path), "%s/ledger.db", filled->folder);
	filled->settings = settings_load("conf/demo.ini", &problems);
	filled_need(filled, filled->settings != NULL, problems.list[0].text);

	free(filled->settings->stores);
	filled->settings->stores = calloc(1, sizeof(*filled->settings->stores));
	filled->settings->store_count = 1;
	struct store_settings *store = &filled->settings->stores[0];
	snprintf(store->name, sizeof(store->name), "plant");
	snprintf(store->url, sizeof(store->url), "http://127.0.0.1:%d", port);
	snprintf(store->database, sizeof(store->database), "plant");
	store->timeout_s = 10;
	store->batch_lines = 1000;

	filled->ledger = ledger_open(filled->path, NULL, &filled->error);
	filled_need(filled, filled->ledger != NULL, "open the ledger");
	filled_need(filled,
	    ledger_put_setup(filled->ledger, filled->settings,
		(struct wall){FILLED_START_NS}, &setup, &filled->error) == 0,
	    "file the configuration");
}

static inline void
filled_close(struct filled_ledger *filled)
{
	char command[400];

	ledger_close(filled->ledger);
	settings_free(filled->settings);
	snprintf(command, sizeof(command), "rm -rf '%s'", filled->folder);
	(void)!system(command);
}

/* A finite number of any size from 1e-6 to 1e6, all 53 bits in use. */
static inline double
filled_number(struct filled_ledger *filled)
{
	double size = pow(10, 12 * erand48(filled->random) - 6);
	return (erand48(filled->random) - 0.3) * size;
}

/* As a device gives it: a whole number of tenths. */
static inline double
filled_reading(struct filled_ledger *filled)
{
	return (double)(nrand48(filled->random) % 4000 - 500) * 0.1;
}

/* A flow in m3/s is a small number always: what it is not keeps no digits in some stores. */
static inline void
filled_make_flow(struct filled_ledger *filled, struct shot_channel *channel)
{
	if (filled->settings->channels[channel->channel].dimension != DIMENSION_FLOW ||
	    channel->absent != ABSENT_NOT)
		return;
	channel->mean = (1 + erand48(filled->random)) * 1e-4;
	channel->min = channel->last = channel->mean / 2;
	channel->max = channel->mean * 2;
	channel->sd = channel->mean / 64;
}

static inline struct shot *
filled_shot(struct filled_ledger *filled)
{
	const struct settings *settings = filled->settings;
	struct shot *shot = shot_new(settings->channel_count);
	filled_need(filled, shot != NULL, "make a shot");

	shot->shot_no = ++filled->shot_no;
	int64_t ns =
	    FILLED_START_NS + (int64_t)((double)shot->shot_no * FILLED_PERIOD_S * 1e9);
	/* Every tenth shot and the two after it are closed together, unformed. */
	bool partial = shot->shot_no % 10 < 3;
	shot->outcome = partial ? SHOT_PARTIAL : SHOT_COMPLETE;
	if (partial)
		snprintf(
		    shot->reason, sizeof(shot->reason), "the \"logger\" \\ stopped");
	else
		shot->form_start_at.ns = ns;
	shot->closed_at.ns = ns;
	if (partial)
		shot->closed_at.ns = FILLED_START_NS + shot->shot_no / 10 * 1000000007;
	shot->recipe = shot->shot_no % 7 == 0 ? -1 : 12;
	shot->cycle_count = shot->shot_no + 40000;
	for (int id = 0; id < FEATURE_COUNT; id++) {
		bool absent = erand48(filled->random) < 0.4;
		shot->value[id] = absent ? NAN : filled_number(filled);
		shot->absent[id] = absent ? ABSENT_STALE : ABSENT_NOT;
	}
	shot->channel_count = settings->channel_count;
	for (size_t i = 0; i < shot->channel_count; i++) {
		struct shot_channel *channel = &shot->channels[i];
		bool absent = erand48(filled->random) < 0.2;
		channel->channel = (uint32_t)i;
		channel->absent = absent ? ABSENT_SENSOR_FAULT : ABSENT_NOT;
		channel->min = absent ? NAN : filled_reading(filled);
		channel->mean = absent ? NAN : filled_number(filled);
		channel->max = absent ? NAN : filled_reading(filled);
		channel->sd = absent || i % 5 == 0 ? NAN : filled_number(filled);
		channel->last = absent ? NAN : filled_reading(filled);
		channel->coverage = absent ? 0 : erand48(filled->random);
		filled_make_flow(filled, channel);
	}
	return shot;
}

static inline void
filled_add_shots(struct filled_ledger *filled, int count)
{
	while (count-- > 0) {
		struct shot *shot = filled_shot(filled);
		filled_need(filled,
		    ledger_put_shot(
			filled->ledger, filled->settings, shot, &filled->error) == 0,
		    "write a shot");
		shot_free(shot);
	}
}

static inline void
filled_add_event(struct filled_ledger *filled, const char *kind, const char *text)
{
	filled_need(filled,
	    ledger_put_event(filled->ledger, "line-3", (struct wall){FILLED_START_NS},
		kind, text, &filled->error) == 0,
	    "write an event");
}

/* Closes the shift in which the shots begin; with another figure it is a revision more. */
static inline void
filled_close_shift(struct filled_ledger *filled, double shots)
{
	struct ledger_shift_row row = {.recipe = "12", .characteristic = "sag_s"};
	struct ledger_shift shift = {.line = "line-3",
	    .shift = "early",
	    .from = {FILLED_START_NS},
	    .to = {FILLED_START_NS + 28800 * CLOCK_SECOND_NS},
	    .sum = {shots},
	    .rows = &row,
	    .row_count = 1};
	enum ledger_shift_filed filed;

	snprintf(row.tool, sizeof(row.tool), "T-%g", shots);
	filled_need(filled,
	    ledger_put_shift(filled->ledger, &shift, false, &filed, &filled->error) ==
		0,
	    "close a shift");
}

/* --- what a store must have in the end ------------------------------------------- */

struct filled_lines {
	struct text text;
	struct shot_lines shots;
	struct ledger_read *read;
	struct error *error;
};

static inline int
filled_take_shot(void *arg, const struct ledger_shot *shot)
{
	struct filled_lines *lines = arg;

	return shot_lines_add(&lines->shots, &lines->text, shot, lines->error);
}

static inline int
filled_take_event(void *arg, const struct ledger_event *event)
{
	struct filled_lines *lines = arg;

	line_protocol_event(&lines->text, &lines->shots.form, event);
	return 0;
}

static inline int
filled_take_shift(void *arg, const struct ledger_shift *shift)
{
	struct filled_lines *lines = arg;

	return shift_lines_add(
	    &lines->text, &lines->shots.form, lines->read, shift, lines->error);
}

/* All lines of the ledger; release `text`. */
static inline struct text
filled_all_lines(struct filled_ledger *filled)
{
	struct filled_lines lines = {.error = &filled->error};
	struct ledger_filter all = {0};
	struct error *error = &filled->error;

	text_init(&lines.text, 64 << 20);
	struct ledger_read *read = ledger_read_open(filled->path, error);
	filled_need(filled, read != NULL, "open the ledger for reading");
	const struct line_protocol_form form = line_protocol_form(
	    filled->settings->site, filled->settings->stores[0].kind);
	shot_lines_init(&lines.shots, read, &form);
	filled_need(filled,
	    ledger_read_shots(read, &all, true, filled_take_shot, &lines, error) == 0,
	    "read the shots");
	filled_need(filled,
	    ledger_read_events(read, &all, filled_take_event, &lines, error) == 0,
	    "read the events");
	lines.read = read;
	filled_need(filled,
	    ledger_read_shifts(read, &(struct ledger_shift_filter){0},
		filled_take_shift, &lines, error) == 0,
	    "read the shifts");
	filled_need(filled, !lines.text.failed, "no room for the lines");
	ledger_read_close(read);
	return lines.text;
}

#endif
