/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What the tests of the ledger share: a directory of its own, settings of two lines
 * filled by hand (all features but few of the families', 90 channels on the first), and
 * shots to write.
 */
#ifndef TESTS_UNIT_DAEMON_LEDGER_LEDGER_FIXTURE_H
#define TESTS_UNIT_DAEMON_LEDGER_LEDGER_FIXTURE_H

#include <dirent.h>
#include <math.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "conf/settings.h"
#include "daemon/base/error.h"
#include "daemon/base/text.h"
#include "daemon/ledger/ledger.h"
#include "daemon/shot/shot.h"

/* Where many places are tried in turn: every so manieth, where each takes long. */
#ifdef __SANITIZE_ADDRESS__
enum { FIXTURE_SPARSELY = 5 };
#else
enum { FIXTURE_SPARSELY = 1 };
#endif

enum { FIXTURE_CHANNELS = 95, FIXTURE_SHOT_CHANNELS = 90 };

struct fixture {
	char directory[256], path[300];
	struct line_settings lines[2];
	struct device_settings devices[2];
	struct channel_settings channels[FIXTURE_CHANNELS];
	struct recipe_settings recipes[2];
	struct settings settings;
	uint64_t random;
	size_t trace_bytes; /* of each shot to come; 0: they have none */
};

/* Features that the lines can have: 4 pyrometers a side, 16 circuits with five
 * figures each. */
enum { FIXTURE_FEATURES = FEATURE_FIXED_COUNT + 4 + 4 + 5 * 16 };

/* 2026-03-02T05:00:00Z, and the shots come every two minutes. */
#define FIXTURE_START_NS INT64_C(1772427600000000000)
#define FIXTURE_STEP_NS (120 * CLOCK_SECOND_NS)

static inline struct wall
fixture_time(int64_t shot_no)
{
	return (struct wall){FIXTURE_START_NS + shot_no * FIXTURE_STEP_NS};
}

static inline void
fixture_text(struct fixture *fixture, char *text)
{
	fixture->settings.text = text; /* lent: a literal or a buffer of the test */
	snprintf(fixture->settings.hash, sizeof fixture->settings.hash, "%016llx",
	    (unsigned long long)text_hash(text, strlen(text)));
}

static inline void
fixture_settings(struct fixture *fixture)
{
	static char text[] = "[site]\nname = pond-works\n";
	struct settings *settings = &fixture->settings;

	snprintf(settings->path, sizeof settings->path, "/etc/evensoak/test.ini");
	snprintf(settings->site, sizeof settings->site, "pond-works");
	for (uint32_t i = 0; i < 2; i++) {
		snprintf(fixture->lines[i].name, SETTINGS_NAME, "line-%u", i + 1);
		snprintf(fixture->devices[i].name, SETTINGS_NAME, "plc-%u", i + 1);
		fixture->devices[i].line = i;
		fixture->lines[i].surfaces_top = i == 0 ? 4 : 2;
		fixture->lines[i].surfaces_bottom = i == 0 ? 3 : 4;
		fixture->lines[i].circuits = i == 0 ? 16 : 8;
		fixture->lines[i].side_count = 1;
		fixture->lines[i].oven_count = 1;
	}
	for (uint32_t i = 0; i < FIXTURE_CHANNELS; i++) {
		struct channel_settings *channel = &fixture->channels[i];
		channel->device = i < FIXTURE_SHOT_CHANNELS ? 0 : 1;
		channel->role = i % 2 == 0 ? ROLE_ZONE_TOP : ROLE_TOOL;
		channel->dimension =
		    i % 2 == 0 ? DIMENSION_RATIO : DIMENSION_TEMPERATURE;
		channel->position = (int)i + 1;
		channel->side = -1;
		snprintf(channel->name, SETTINGS_NAME, "%s_%u",
		    i % 2 == 0 ? "zone_top" : "tool", i + 1);
	}
	fixture->recipes[0] = (struct recipe_settings){
	    .number = 12, .name = "pond-basin", .material = "abs", .heat_max_s = NAN};
	fixture->recipes[1] = (struct recipe_settings){
	    .number = 31, .name = "bin-lid", .material = "hdpe", .heat_max_s = NAN};
	settings->lines = fixture->lines;
	settings->line_count = 2;
	settings->devices = fixture->devices;
	settings->device_count = 2;
	settings->channels = fixture->channels;
	settings->channel_count = FIXTURE_CHANNELS;
	settings->recipes = fixture->recipes;
	settings->recipe_count = 2;
	fixture_text(fixture, text);
}

/* False when there is no place for temporary files. */
static inline bool
fixture_init(struct fixture *fixture)
{
	const char *temporary = getenv("TMPDIR");

	*fixture = (struct fixture){.random = 1};
	snprintf(fixture->directory, sizeof fixture->directory,
	    "%s/evensoak-ledger-XXXXXX", temporary != NULL ? temporary : "/tmp");
	if (mkdtemp(fixture->directory) == NULL)
		return false;
	snprintf(
	    fixture->path, sizeof fixture->path, "%s/ledger.db", fixture->directory);
	fixture_settings(fixture);
	return true;
}

static inline void
fixture_release(struct fixture *fixture)
{
	DIR *directory = opendir(fixture->directory);
	struct dirent *entry;

	while (directory != NULL && (entry = readdir(directory)) != NULL)
		unlinkat(dirfd(directory), entry->d_name, 0);
	if (directory != NULL)
		closedir(directory);
	rmdir(fixture->directory);
}

/* 0 to 1: xorshift64* (S. Vigna, ACM Trans. Math. Softw. 42:30, 2016). */
static inline double
fixture_random(struct fixture *fixture)
{
	uint64_t x = fixture->random;

	x ^= x >> 12;
	x ^= x << 25;
	x ^= x >> 27;
	fixture->random = x;
	return (double)((x * UINT64_C(2685821657736338717)) >> 11) * 0x1p-53;
}

/* Bytes that nothing makes smaller, as those of a packed trace. */
static inline void
fixture_trace(struct fixture *fixture, struct shot *shot)
{
	shot->trace = malloc(fixture->trace_bytes);
	if (shot->trace == NULL)
		abort();
	shot->trace_bytes = fixture->trace_bytes;
	for (size_t i = 0; i < fixture->trace_bytes; i++)
		shot->trace[i] = (unsigned char)(256 * fixture_random(fixture));
}

/* A complete shot with a value in each of its features and channels. */
static inline struct shot *
fixture_shot(struct fixture *fixture, uint32_t line, int64_t shot_no)
{
	size_t channels = line == 0 ? FIXTURE_SHOT_CHANNELS
	                            : FIXTURE_CHANNELS - FIXTURE_SHOT_CHANNELS;
	struct shot *shot = shot_new(channels);
	struct wall form = fixture_time(shot_no);

	if (shot == NULL)
		abort();
	shot->channel_count = channels;
	shot->line = line;
	shot->shot_no = shot_no;
	shot->loaded_at.ns = form.ns - 240 * CLOCK_SECOND_NS;
	shot->heat_start_at.ns = form.ns - 130 * CLOCK_SECOND_NS;
	shot->heat_end_at.ns = form.ns - 10 * CLOCK_SECOND_NS;
	shot->form_start_at = form;
	shot->form_end_at.ns = form.ns + 90 * CLOCK_SECOND_NS;
	shot->closed_at.ns = form.ns + 100 * CLOCK_SECOND_NS;
	shot->outcome = SHOT_COMPLETE;
	shot->recipe = 12;
	shot->cycle_count = 100000 + shot_no;
	shot->uncertainty_s = 0.25;
	snprintf(shot->properties, sizeof shot->properties, "abs 2 4c1a09e2");
	for (int i = 0; i < FEATURE_COUNT; i++) {
		int first;
		int one = settings_line_family(&fixture->lines[0], i, &first);
		int other = settings_line_family(&fixture->lines[1], i, &first);
		if (i - first >= one && i - first >= other)
			continue;
		shot->value[i] = 100 + 50 * fixture_random(fixture);
		shot->absent[i] = ABSENT_NOT;
	}
	for (size_t i = 0; i < channels; i++)
		shot->channels[i] = (struct shot_channel){
		    .channel = (uint32_t)(line == 0 ? i : FIXTURE_SHOT_CHANNELS + i),
		    .min = 10 * fixture_random(fixture),
		    .mean = 20 + fixture_random(fixture),
		    .max = 30 + fixture_random(fixture),
		    .sd = fixture_random(fixture),
		    .last = 25 + fixture_random(fixture),
		    .coverage = 1,
		};
	if (fixture->trace_bytes > 0)
		fixture_trace(fixture, shot);
	return shot;
}

/* Writes shots `first` to `last` of a line; the first error ends it. */
static inline int
fixture_write(struct fixture *fixture, struct ledger *ledger, uint32_t line,
    int64_t first, int64_t last, struct error *error)
{
	for (int64_t no = first; no <= last; no++) {
		struct shot *shot = fixture_shot(fixture, line, no);
		int code = ledger_put_shot(ledger, &fixture->settings, shot, error);
		shot_free(shot);
		if (code != 0)
			return code;
	}
	return 0;
}

#endif
