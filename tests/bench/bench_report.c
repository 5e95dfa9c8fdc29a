/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * How long the report of one shift takes, as a person waits for it: the program started,
 * text written, on a ledger of two years of a line (100,000 shots).  One line a
 * figure: name, value, unit, target, met or not, measured against.
 */
#include <fcntl.h>
#include <math.h>
#include <spawn.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

#include "conf/settings.h"
#include "daemon/base/error.h"
#include "daemon/ledger/ledger.h"
#include "daemon/shot/shot.h"

extern char **environ;

enum { SHOTS = 100000, TIMES = 15, CYCLE_S = 180 };

#define START_NS INT64_C(1772427600000000000) /* 2026-03-02T05:00:00Z */
static const double target_ms = 50;

static struct error error;
static char folder[256], path[300];

static void
clean_up(void)
{
	static const char *const endings[] = {"", "-wal", "-shm", ".lock"};
	char name[320];

	for (size_t i = 0; i < sizeof endings / sizeof endings[0]; i++) {
		snprintf(name, sizeof name, "%s%s", path, endings[i]);
		unlink(name);
	}
	rmdir(folder);
}

static _Noreturn void
give_up(const char *what)
{
	fprintf(stderr, "bench_report: %s: %s\n", what, error.text);
	clean_up();
	exit(1);
}

static double
now_ms(void)
{
	struct timespec now;

	clock_gettime(CLOCK_MONOTONIC, &now);
	return (double)now.tv_sec * 1e3 + (double)now.tv_nsec * 1e-6;
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
	double start = now_ms();
	if (posix_spawn(&child, program, &actions, NULL, words, environ) != 0)
		give_up(program);
	waitpid(child, &status, 0);
	double took = now_ms() - start;
	posix_spawn_file_actions_destroy(&actions);
	if (!WIFEXITED(status) || WEXITSTATUS(status) != 0)
		give_up("the report failed");
	return took;
}

static int
by_size(const void *a, const void *b)
{
	double x = *(const double *)a, y = *(const double *)b;

	return (x > y) - (x < y);
}

int
main(void)
{
	const char *temporary = getenv("TMPDIR"), *build = getenv("EVENSOAK_BUILD");
	/* in memory if there is such a place: 100,000 fsyncs take minutes on a disk */
	const char *place = access("/dev/shm", W_OK) == 0 ? "/dev/shm" : "/tmp";
	char program[512];
	double took[TIMES];

	snprintf(program, sizeof program, "%s/evensoak", build ? build : "build");
	snprintf(folder, sizeof folder, "%s/evensoak-report-XXXXXX",
	    temporary ? temporary : place);
	if (!mkdtemp(folder))
		give_up(folder);
	snprintf(path, sizeof path, "%s/ledger.db", folder);
	fill_ledger();
	for (int i = 0; i < TIMES; i++)
		took[i] = report_ms(program);
	clean_up();
	qsort(took, TIMES, sizeof took[0], by_size);
	double median = took[TIMES / 2];
	printf("%-28s %12.4g  %-8s <= %-9.4g %-5s %s\n", "report_one_shift", median,
	    "ms", target_ms, median <= target_ms ? "met" : "MISSED",
	    "the program started anew, median of 15, 100000 shots on file");
	return median <= target_ms ? 0 : 1;
}
