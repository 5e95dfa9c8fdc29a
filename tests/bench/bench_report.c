/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * How long the report of one shift takes, as a person waits for it: the program started,
 * text written, on a ledger of two years of a line (100,000 shots).
 */
#include <fcntl.h>
#include <math.h>
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

enum { SHOTS = 100000, TIMES = 15, CYCLE_S = 180 };

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

static void
fill_shot(struct shot *shot, int64_t no)
{
	shot->shot_no = no;
	shot->form_start_at.ns = START_NS + no * CYCLE_S * CLOCK_SECOND_NS;
	shot->closed_at.ns = shot->form_start_at.ns + 100 * CLOCK_SECOND_NS;
	shot->outcome = no % 160 < 3 ? SHOT_STARTUP : SHOT_COMPLETE;
	shot->recipe = 12;
	for (int id = 0; id < FEATURE_COUNT; id++) {
		shot->value[id] = 100 + (double)(no * (id + 7) % 101);
		shot->absent[id] = ABSENT_NOT;
	}
}

static void
fill_ledger(void)
{
	static struct problems problems;
	struct settings *settings = settings_load("conf/demo.ini", &problems);
	struct ledger *ledger = ledger_open(path, NULL, &error);
	struct shot *shot = shot_new(0);
	int64_t setup;

	if (!settings || !ledger || !shot)
		give_up("preparing");
	if (ledger_put_setup(
		ledger, settings, (struct wall){START_NS}, &setup, &error) != 0)
		give_up("filing the set-up");
	for (int64_t no = 1; no <= SHOTS; no++) {
		fill_shot(shot, no);
		if (ledger_put_shot(ledger, settings, shot, &error) != 0)
			give_up("writing a shot");
	}
	shot_free(shot);
	ledger_close(ledger);
	settings_free(settings);
}

static double
report_ms(char *program)
{
	char *words[] = {program, (char[]){"--ledger"}, path, (char[]){"report"}, NULL};
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

int
main(void)
{
	const char *build = getenv("EVENSOAK_BUILD");
	char program[512];
	double took_ms[TIMES];

	snprintf(program, sizeof program, "%s/evensoak", build ? build : "build");
	/* 100,000 fsyncs take minutes on a disk */
	if (!folder_make(&folder, folder_in_memory()))
		give_up("make a folder");
	snprintf(path, sizeof path, "%s/ledger.db", folder.path);
	fill_ledger();
	for (int i = 0; i < TIMES; i++)
		took_ms[i] = report_ms(program);
	folder_remove(&folder);
	figure_at_most("report_one_shift", figure_quantile(took_ms, TIMES, 0.5), "ms",
	    50, "the program started anew, median of %d, %d shots on file", TIMES,
	    SHOTS);
	return 0;
}
