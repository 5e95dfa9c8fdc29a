/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * How long the report of one shift takes, as a person waits for it: the program started, text
 * or a page with pictures written, on a ledger of two years of a line (100,000 shots), the
 * last of them with the channels that pictures show.
 */
#include <fcntl.h>
#include <spawn.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

#include "conf/settings.h"
#include "daemon/base/error.h"
#include "daemon/ledger/ledger.h"
#include "daemon/shot/shot.h"
#include "tests/bench/figure.h"
#include "tests/bench/folder.h"

extern char **environ;

enum { SHOTS = 100000, WITH_CHANNELS = 400, TIMES = 15, CYCLE_S = 180 };

#define START_NS INT64_C(1772427600000000000) /* 2026-03-02T05:00:00Z */

static struct error error;
static struct folder folder;
static char path[300];

static _Noreturn void
give_up(const char *what)
{
	fprintf(stderr, "bench_report: %s: %s\n", what, error.text);
	folder_remove(&folder);
	exit(1);
}

/* Near enough to normal, of mean 0 and variance 1. */
static double
scatter(unsigned short random[3])
{
	double sum = -6;

	for (int i = 0; i < 12; i++)
		sum += erand48(random);
	return sum;
}

static void
fill_shot(struct shot *shot, int64_t no, unsigned short random[3])
{
	shot->shot_no = no;
	shot->form_start_at.ns = START_NS + no * CYCLE_S * CLOCK_SECOND_NS;
	shot->closed_at.ns = shot->form_start_at.ns + 100 * CLOCK_SECOND_NS;
	shot->outcome = no % 160 < 3 ? SHOT_STARTUP : SHOT_COMPLETE;
	shot->recipe = 12;
	for (int id = 0; id < FEATURE_COUNT; id++) {
		shot->value[id] = 100 + 2 * scatter(random);
		shot->absent[id] = ABSENT_NOT;
	}
	for (size_t i = 0; i < shot->channel_count; i++) {
		double mean = 0.5 + 0.05 * scatter(random);
		shot->channels[i] = (struct shot_channel){(uint32_t)i, mean - 0.1, mean,
		    mean + 0.1, 0.01, mean, 1, ABSENT_NOT};
	}
}

static void
fill_ledger(void)
{
	static struct problems problems;
	struct settings *settings = settings_load("conf/demo.ini", &problems);
	struct ledger *ledger = ledger_open(path, NULL, &error);
	struct shot *bare = shot_new(0),
		    *whole = settings ? shot_new(settings->channel_count) : NULL;
	unsigned short random[3] = {1, 2, 3};
	int64_t setup;

	if (!settings || !ledger || !bare || !whole)
		give_up("preparing");
	whole->channel_count = settings->channel_count;
	if (ledger_put_setup(
		ledger, settings, (struct wall){START_NS}, &setup, &error) != 0)
		give_up("filing the set-up");
	for (int64_t no = 1; no <= SHOTS; no++) {
		struct shot *shot = no > SHOTS - WITH_CHANNELS ? whole : bare;
		fill_shot(shot, no, random);
		if (ledger_put_shot(ledger, settings, shot, &error) != 0)
			give_up("writing a shot");
	}
	shot_free(bare);
	shot_free(whole);
	ledger_close(ledger);
	settings_free(settings);
}

static double
report_ms(char *program, char *format)
{
	char *words[] = {program, (char[]){"--ledger"}, path, (char[]){"report"},
	    (char[]){"--format"}, format, NULL};
	posix_spawn_file_actions_t actions;
	pid_t child;
	int status;

	posix_spawn_file_actions_init(&actions);
	posix_spawn_file_actions_addopen(&actions, 1, "/dev/null", O_WRONLY, 0);
	double start_s = figure_now_s();
	if (posix_spawn(&child, program, &actions, NULL, words, environ) != 0)
		give_up(program);
	waitpid(child, &status, 0);
	double took_ms = (figure_now_s() - start_s) * 1e3;
	posix_spawn_file_actions_destroy(&actions);
	if (!WIFEXITED(status) || WEXITSTATUS(status) != 0)
		give_up("the report failed");
	return took_ms;
}

static void
measure(char *program, const char *name, char *format, double most_ms)
{
	double took_ms[TIMES];

	for (int i = 0; i < TIMES; i++)
		took_ms[i] = report_ms(program, format);
	figure_at_most(name, figure_quantile(took_ms, TIMES, 0.5), "ms", most_ms,
	    "the program started anew, median of %d, %d shots on file", TIMES, SHOTS);
}

int
main(void)
{
	const char *build = getenv("EVENSOAK_BUILD");
	char program[512];

	snprintf(program, sizeof program, "%s/evensoak", build ? build : "build");
	/* 100,000 fsyncs take minutes on a disk */
	if (!folder_make(&folder, folder_in_memory()))
		give_up("make a folder");
	snprintf(path, sizeof path, "%s/ledger.db", folder.path);
	fill_ledger();
	measure(program, "report_one_shift", (char[]){"text"}, 50);
	measure(program, "report_one_shift_html", (char[]){"html"}, 500);
	measure(program, "report_one_shift_pdf", (char[]){"pdf"}, 500);
	folder_remove(&folder);
	return 0;
}
