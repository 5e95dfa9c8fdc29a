/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * For tests of delivery: a ledger, a store that forgets what it took lately when it is
 * killed, and what delivers between them, a step at a time.
 */
#ifndef TESTS_UNIT_DAEMON_PUBLISH_DELIVERY_SCENE_H
#define TESTS_UNIT_DAEMON_PUBLISH_DELIVERY_SCENE_H

#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>

#include <stdlib.h>
#include <string.h>

#include "daemon/publish/delivery.h"
#include "daemon/publish/reading_pack.h"
#include "tests/unit/daemon/publish/filled_ledger.h"
#include "tests/unit/daemon/publish/scripted_store.h"

static const double FORGETS_S = 0.15, SETTLE_S = 0.25;

struct scene {
	struct scripted_store store;
	struct filled_ledger filled;
	struct store_settings *settings;
	struct delivery *delivery;
	struct error error;
	int64_t readings; /* put into the ring */
	int64_t dropped;  /* from it, before they went out */
};

static inline void
scene_open(struct scene *scene, int shots, double settle_s)
{
	memset(scene, 0, sizeof(*scene));
	scripted_start(&scene->store);
	filled_open(&scene->filled, scene->store.port);
	scene->settings = &scene->filled.settings->stores[0];
	scene->settings->settle_s = settle_s;
	scene->store.forgets_s = settle_s > 0 ? FORGETS_S : 0;
	filled_add_shots(&scene->filled, shots);
}

static inline void
scene_close(struct scene *scene)
{
	delivery_close(scene->delivery);
	scripted_stop(&scene->store);
	filled_close(&scene->filled);
}

static inline enum delivery_state
step(struct scene *scene)
{
	double retry_after_s;

	if (scene->delivery == NULL)
		scene->delivery = delivery_open(scene->filled.settings, 0,
		    scene->filled.path, NULL, NULL, &scene->error);
	assert_non_null(scene->delivery);
	return delivery_step(scene->delivery, &retry_after_s, &scene->error);
}

static inline void
restart(struct scene *scene)
{
	delivery_close(scene->delivery);
	scene->delivery = NULL;
}

/* Until everything is sent; what settles may still settle. */
static inline void
send_all(struct scene *scene)
{
	for (int steps = 0; step(scene) != DELIVERY_DONE; steps++)
		assert_true(steps < 20000);
}

/* Until the cursors are at the end. */
static inline void
settle_all(struct scene *scene)
{
	for (int steps = 0;
	     step(scene) != DELIVERY_DONE || delivery_due_s(scene->delivery) < 1e9;
	     steps++) {
		assert_true(steps < 20000);
		if (delivery_due_s(scene->delivery) < 1e9)
			usleep(2000);
	}
}

static inline int64_t
cursor(struct scene *scene, const char *stream)
{
	struct ledger_delivered there = {.change = -1};

	assert_int_equal(
	    ledger_delivered(scene->filled.ledger, "plant", stream, &there, NULL), 0);
	return there.change;
}

static inline void
kill_store(struct scene *scene)
{
	int kills = scene->store.kills;

	scene->store.killed = true;
	while (scene->store.kills == kills)
		usleep(1000);
}

/* Puts a set of readings of two channels into the ring; its mean tells its number. */
static inline void
add_reading(struct scene *scene, struct wall keep_from)
{
	double number = (double)++scene->readings;
	const struct reading_channel channels[] = {
	    {"ovens", "zone_top_1", "zone_top", number, 1, 1},
	    {"ovens", "zone_top_2", "zone_top", number, 2, 0.5},
	};
	unsigned char *bytes;
	size_t length;

	assert_int_equal(reading_pack(channels, 2, &bytes, &length, NULL), 0);
	const struct ledger_reading reading = {.line = "line-3",
	    .at = {FILLED_START_NS + scene->readings * INT64_C(10000000000)},
	    .bytes = bytes,
	    .byte_count = length};
	assert_int_equal(ledger_put_reading(scene->filled.ledger, "plant", &reading,
			     keep_from, &scene->error),
	    0);
	free(bytes);
}

/* --- what must be there in the end ---------------------------------------------------- */

static inline int
compare_lines(const void *a, const void *b)
{
	return strcmp(*(char *const *)a, *(char *const *)b);
}

/* The different lines of `text`, which is cut up, in order. */
static inline size_t
sorted_lines(char *text, char ***lines)
{
	size_t count = 0, kept = 0;

	*lines = calloc(strlen(text) + 1, sizeof(**lines));
	assert_non_null(*lines);
	for (char *line; text != NULL && (line = strsep(&text, "\n")) != NULL;)
		if (*line != '\0')
			(*lines)[count++] = line;
	qsort(*lines, count, sizeof(**lines), compare_lines);
	for (size_t i = 0; i < count; i++)
		if (i == 0 || strcmp((*lines)[i], (*lines)[kept - 1]) != 0)
			(*lines)[kept++] = (*lines)[i];
	return kept;
}

/* Of a shot as it was before somebody labelled it. */
static inline bool
is_of_earlier_revision(const char *line)
{
	return strncmp(line, "shot", 4) == 0;
}

/* The store has every line of the ledger; and no other, but readings and those of earlier
 * revisions where there are any. */
static inline void
assert_all_there(struct scene *scene, bool relabelled)
{
	struct text expected = filled_all_lines(&scene->filled);
	char **there, **wanted;
	char *copy = strdup(scene->store.kept.bytes);
	size_t there_count = sorted_lines(copy, &there);
	size_t wanted_count = sorted_lines(expected.bytes, &wanted), j = 0;
	int64_t readings = 0;

	for (size_t i = 0; i < there_count; i++) {
		if (j < wanted_count && strcmp(there[i], wanted[j]) == 0)
			j++;
		else if (strncmp(there[i], "reading,", 8) == 0)
			readings++;
		else if (!relabelled || !is_of_earlier_revision(there[i]))
			fail_msg("not of the ledger: %.200s", there[i]);
	}
	if (j < wanted_count)
		fail_msg("missing: %.200s", wanted[j]);
	assert_int_equal(readings, 2 * (scene->readings - scene->dropped));
	free(there);
	free(wanted);
	free(copy);
	text_release(&expected);
}

#endif
