/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * For tests of commands: the demo plant's set-up with a ledger of made-up shots, and
 * a command run with its output caught.
 */
#ifndef TESTS_UNIT_CLI_COMMAND_PLANT_H
#define TESTS_UNIT_CLI_COMMAND_PLANT_H

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include <cmocka.h>

#include "cli/command/command.h"
#include "conf/settings.h"
#include "daemon/base/error.h"
#include "daemon/ledger/ledger.h"
#include "daemon/shot/shot.h"
#include "tests/unit/seed.h"

/* 2026-03-02T05:00:00Z: the early shift of line-3 begins, in Berlin 06:00. */
#define PLANT_SHIFT_NS INT64_C(1772427600000000000)
enum { PLANT_CYCLE_S = 180, PLANT_ARGUMENTS = 16 };

struct plant {
	char folder[256], ledger_path[300];
	struct settings *settings;
	struct ledger *ledger;
	unsigned short random[3];

	/* of the last command */
	char *out, *err;
	size_t out_length, err_length;
	enum command_exit code;
};

static inline void
plant_need(bool ok, const char *what)
{
	if (ok)
		return;
	fprintf(stderr, "plant: %s failed\n", what);
	abort();
}

/* With the set-up at `path`. */
static inline void
plant_open_under(struct plant *plant, const char *path)
{
	const char *temporary = getenv("TMPDIR");
	static struct problems problems;
	int64_t setup;

	*plant = (struct plant){0};
	plant->random[0] = (unsigned short)seed_take(3);
	snprintf(plant->folder, sizeof plant->folder, "%s/evensoak-cli-XXXXXX",
	    temporary ? temporary : "/tmp");
	plant_need(mkdtemp(plant->folder) != NULL, "a folder");
	snprintf(plant->ledger_path, sizeof plant->ledger_path, "%s/ledger.db",
	    plant->folder);
	plant->settings = settings_load(path, &problems);
	plant_need(plant->settings != NULL, "the set-up");
	plant->ledger = ledger_open(plant->ledger_path, NULL, NULL);
	plant_need(plant->ledger != NULL, "the ledger");
	plant_need(ledger_put_setup(plant->ledger, plant->settings,
		       (struct wall){PLANT_SHIFT_NS}, &setup, NULL) == 0,
	    "filing the set-up");
}

static inline void
plant_open(struct plant *plant)
{
	plant_open_under(plant, "conf/demo.ini");
}

static inline void
plant_close(struct plant *plant)
{
	char path[320];
	static const char *const endings[] = {"", "-wal", "-shm", ".lock"};

	free(plant->out);
	free(plant->err);
	ledger_close(plant->ledger);
	settings_free(plant->settings);
	for (size_t i = 0; i < sizeof endings / sizeof endings[0]; i++) {
		snprintf(path, sizeof path, "%s%s", plant->ledger_path, endings[i]);
		unlink(path);
	}
	rmdir(plant->folder);
}

/* Mean 0, variance 1 (Irwin-Hall of twelve: near enough to normal for a made-up shift). */
static inline double
plant_normal(struct plant *plant)
{
	double sum = -6;

	for (int i = 0; i < 12; i++)
		sum += erand48(plant->random);
	return sum;
}

static inline struct wall
plant_time(int64_t shot_no)
{
	return (struct wall){
	    PLANT_SHIFT_NS + shot_no * PLANT_CYCLE_S * CLOCK_SECOND_NS};
}

/* A complete shot of recipe 12 with the features that the demo's limits are about. */
static inline struct shot *
plant_shot(struct plant *plant, int64_t shot_no)
{
	struct shot *shot = shot_new(0);

	plant_need(shot != NULL, "a shot");
	shot->shot_no = shot_no;
	shot->form_start_at = plant_time(shot_no);
	shot->heat_start_at.ns = shot->form_start_at.ns - 160 * CLOCK_SECOND_NS;
	shot->closed_at.ns = shot->form_start_at.ns + 100 * CLOCK_SECOND_NS;
	shot->outcome = SHOT_COMPLETE;
	shot->recipe = 12;
	shot->cycle_count = 5000 + shot_no;
	shot->uncertainty_s = 0.5;
	const struct {
		int feature;
		double mean, sd;
	} made[] = {
	    {FEATURE_HEAT_S, 152, 2},
	    {FEATURE_SAG_S, 147, 2},
	    {FEATURE_EXIT_TOP_C, 182, 1.5},
	    {FEATURE_EXIT_BOTTOM_C, 176, 1.5},
	    {FEATURE_EXIT_DIFFERENCE_DC, 6, 0.5},
	    {FEATURE_ENERGY_KWH, 2.96 * 3.6e6, 0.02 * 3.6e6},
	    {FEATURE_TRANSFER_S, 9, 0.4},
	    {FEATURE_TOOL_SPREAD_OF_MEANS_DC, 0.4, 0.05},
	    {FEATURE_CYCLE_S, 180, 1},
	};
	for (size_t i = 0; i < sizeof made / sizeof made[0]; i++) {
		shot->value[made[i].feature] =
		    made[i].mean + made[i].sd * plant_normal(plant);
		shot->absent[made[i].feature] = ABSENT_NOT;
	}
	return shot;
}

/* Writes it and frees it. */
static inline void
plant_write(struct plant *plant, struct shot *shot)
{
	plant_need(ledger_put_shot(plant->ledger, plant->settings, shot, NULL) == 0,
	    "writing a shot");
	shot_free(shot);
}

/* `count` shots from `first`: as many start-up ones at the beginning as a shift has. */
static inline void
plant_run(struct plant *plant, int64_t first, int64_t count)
{
	for (int64_t no = first; no < first + count; no++) {
		struct shot *shot = plant_shot(plant, no);
		if (no < first + 3) {
			shot->outcome = SHOT_STARTUP;
			shot->flags = SHOT_FLAG_STARTUP;
			snprintf(shot->reason, sizeof shot->reason,
			    "among the first 3 after a stop");
		}
		plant_write(plant, shot);
	}
}

static inline void
plant_context(
    struct plant *plant, enum context_key key, const char *value, int64_t from_shot)
{
	int64_t relabelled;
	struct wall from = plant_time(from_shot);
	const struct ledger_entry entry = {"line-3", key, value, from, from};

	plant_need(ledger_put_context(plant->ledger, &entry, &relabelled, NULL) == 0,
	    "a context");
}

/* Runs "evensoak WORDS..."; the last is NULL.  Keeps output and code. */
static inline void
plant_call(struct plant *plant, const char *const words[])
{
	char *argv[PLANT_ARGUMENTS + 1] = {NULL};
	int argc = 0;
	FILE *out, *err;

	free(plant->out);
	free(plant->err);
	out = open_memstream(&plant->out, &plant->out_length);
	err = open_memstream(&plant->err, &plant->err_length);
	plant_need(out && err, "catching the output");
	argv[argc++] = strdup("evensoak");
	while (words[argc - 1] && argc < PLANT_ARGUMENTS) {
		argv[argc] = strdup(words[argc - 1]);
		argc++;
	}
	plant->code = command_main(argc, argv, out, err);
	fclose(out);
	fclose(err);
	while (argc > 0)
		free(argv[--argc]);
}

#define plant_run_command(plant, ...) \
	plant_call((plant), (const char *const[]){__VA_ARGS__, NULL})

static inline void
assert_tells(const char *text, const char *part)
{
	if (!strstr(text, part))
		fail_msg("'%s' is not in:\n%s", part, text);
}

/* The same of a sentence, wherever it is wrapped. */
static inline void
assert_says(const char *text, const char *sentence)
{
	char *flat = strdup(text), *to = flat;

	plant_need(flat != NULL, "a copy");
	for (const char *from = text; *from; from++) {
		if (strncmp(from, "\n  ", 3) == 0)
			from += 2;
		*to++ = *from == '\n' || *from == ' ' ? ' ' : *from;
	}
	*to = '\0';
	bool there = strstr(flat, sentence) != NULL;
	free(flat);
	if (!there)
		fail_msg("'%s' is not said in:\n%s", sentence, text);
}

static inline void
assert_tells_not(const char *text, const char *part)
{
	if (strstr(text, part))
		fail_msg("'%s' is in:\n%s", part, text);
}

/* The number after "key": behind `row` in the JSON that was told last. */
static inline double
plant_number_after(const struct plant *plant, const char *row, const char *key)
{
	char quoted[64];
	const char *at = strstr(plant->out, row);

	snprintf(quoted, sizeof quoted, "\"%s\": ", key);
	at = at ? strstr(at, quoted) : NULL;
	if (!at)
		fail_msg("no '%s' after '%s' in:\n%s", key, row, plant->out);
	return strtod(at + strlen(quoted), NULL);
}

#endif
