/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * How long the capability of one feature takes over a million shots of a ledger (ten years of
 * a line and more), as a person waits for it, and how long R takes to read and summarise the
 * same column: through the command line of SQLite, or where there is none from a text file,
 * which leaves the ledger out.  R is asked for much less than the command tells.
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

enum { SHOTS = 1000000, FEATURES = 60, TIMES = 5, TIMES_R = 3, CYCLE_S = 180 };

#define START_NS INT64_C(1172427600000000000) /* 2007-02-25 */

static struct error error;
static struct folder folder;
static char ledger_path[300], text_path[300];
static unsigned short state[3] = {0, 0, 7};

static _Noreturn void
give_up(const char *what)
{
	fprintf(stderr, "bench_capability: %s: %s\n", what, error.text);
	unlink(text_path);
	folder_remove(&folder);
	exit(1);
}

/* Irwin-Hall of twelve: near enough to normal. */
static double
normal(double mean, double sd)
{
	double sum = -6;

	for (int i = 0; i < 12; i++)
		sum += erand48(state);
	return mean + sd * sum;
}

static void
fill_shot(struct shot *shot, int64_t no)
{
	shot->shot_no = no;
	shot->form_start_at.ns = START_NS + no * CYCLE_S * CLOCK_SECOND_NS;
	shot->closed_at.ns = shot->form_start_at.ns + 100 * CLOCK_SECOND_NS;
	shot->outcome = no % 160 < 3 ? SHOT_STARTUP : SHOT_COMPLETE;
	shot->recipe = 12;
	for (int id = 0; id < FEATURES; id++) {
		shot->value[id] = 100 + (double)(no * (id + 7) % 101);
		shot->absent[id] = ABSENT_NOT;
	}
	shot->value[FEATURE_CYCLE_S] = normal(180, 1.5);
	shot->absent[FEATURE_CYCLE_S] = ABSENT_NOT;
}

static void
fill_ledger(void)
{
	static struct problems problems;
	struct settings *settings = settings_load("conf/demo.ini", &problems);
	struct ledger *ledger = ledger_open(ledger_path, NULL, &error);
	struct shot *shot = shot_new(0);
	FILE *text = fopen(text_path, "w");
	int64_t setup;

	if (!settings || !ledger || !shot || !text)
		give_up("preparing");
	fputs("cycle_s\n", text);
	if (ledger_put_setup(
		ledger, settings, (struct wall){START_NS}, &setup, &error) != 0 ||
	    ledger_set_hasty(ledger, true, &error) != 0)
		give_up("filing the set-up");
	for (int64_t no = 1; no <= SHOTS; no++) {
		fill_shot(shot, no);
		if (ledger_put_shot(ledger, settings, shot, &error) != 0)
			give_up("writing a shot");
		if (shot->outcome == SHOT_COMPLETE)
			fprintf(text, "%.17g\n", shot->value[FEATURE_CYCLE_S]);
	}
	if (ledger_set_hasty(ledger, false, &error) != 0 || fclose(text) != 0)
		give_up("ending");
	shot_free(shot);
	ledger_close(ledger);
	settings_free(settings);
}

/* How long a program takes, in s; -1 when it does not run, or says something else than 0 or
 * 1. */
static double
time_of(char *const words[])
{
	posix_spawn_file_actions_t actions;
	pid_t child;
	int status;

	posix_spawn_file_actions_init(&actions);
	posix_spawn_file_actions_addopen(&actions, 1, "/dev/null", O_WRONLY, 0);
	posix_spawn_file_actions_adddup2(&actions, 1, 2); /* R warns of its pipe */
	double start_s = figure_now_s();
	if (posix_spawnp(&child, words[0], &actions, NULL, words, environ) != 0)
		return -1;
	waitpid(child, &status, 0);
	double took_s = figure_now_s() - start_s;
	posix_spawn_file_actions_destroy(&actions);
	return WIFEXITED(status) && WEXITSTATUS(status) <= 1 ? took_s : -1;
}

static double
median_of(char *const words[], int times)
{
	double took_s[TIMES];

	for (int i = 0; i < times; i++)
		if ((took_s[i] = time_of(words)) < 0)
			return -1;
	return figure_quantile(took_s, (size_t)times, 0.5);
}

static bool
there_is(const char *program)
{
	char command[64];

	snprintf(command, sizeof command, "command -v %s >/dev/null", program);
	/* a word of this file. NOLINTNEXTLINE(cert-env33-c) */
	return system(command) == 0;
}

/* Through the command line of SQLite. */
static bool
by_sqlite(void)
{
	return there_is("sqlite3");
}

/* What R does of what the command does: to read the column, mean, deviation, quantiles, moving
 * ranges, and the correlation with the value before. */
static double
time_r(const char *reading, const char *then)
{
	char from[700], program[1400];

	if (by_sqlite())
		snprintf(from, sizeof from,
		    "pipe(\"sqlite3 -csv '%s' \\\"SELECT cycle_s FROM shot WHERE "
		    "outcome "
		    "= 'complete' ORDER BY filed_at\\\"\")",
		    ledger_path);
	else
		snprintf(from, sizeof from, "'%s', skip = 1", text_path);
	snprintf(program, sizeof program,
	    "x <- %s(%s%s; d <- x - mean(x); n <- length(x); cat(n, mean(x), sd(x), "
	    "range(x), quantile(x, c(.00135, .5, .99865)), mean(abs(diff(x))), "
	    "median(abs(diff(x))), sum(d[-1] * d[-n]) / sum(d * d))",
	    reading, from, then);
	char *words[] = {(char[]){"Rscript"}, (char[]){"-e"}, program, NULL};
	return median_of(words, TIMES_R);
}

static void
tell(double took_s)
{
	const char *way =
	    by_sqlite() ? "through sqlite3" : "from text, without the ledger";

	figure_at_most("capability_million_shots", took_s, "s", 1,
	    "the program started anew, one feature of %d, median of %d", FEATURES,
	    TIMES);
	if (!there_is("Rscript")) {
		figure_skipped("capability_to_r", "R is not installed");
		return;
	}
	double table_s = time_r("read.csv", ", header = FALSE)$V1");
	double scan_s = time_r("scan", ", quiet = TRUE)");
	if (table_s < 0 || scan_s < 0)
		give_up("R failed");
	figure_at_most("capability_to_r", took_s / table_s, "", 0.5,
	    "R reads and summarises the column with read.csv %s in %.2f s", way,
	    table_s);
	figure_only("capability_to_r_scan", took_s / scan_s, "",
	    "the same with scan, for numbers alone, in %.2f s: R parses them while "
	    "sqlite3 "
	    "reads",
	    scan_s);
}

int
main(void)
{
	const char *build = getenv("EVENSOAK_BUILD");
	char program[512];

	snprintf(program, sizeof program, "%s/evensoak", build ? build : "build");
	if (!folder_make(&folder, folder_in_memory()))
		give_up("make a folder");
	snprintf(ledger_path, sizeof ledger_path, "%s/ledger.db", folder.path);
	snprintf(text_path, sizeof text_path, "%s/column.csv", folder.path);
	fill_ledger();
	char *words[] = {program, (char[]){"--ledger"}, ledger_path,
	    (char[]){"capability"}, (char[]){"--characteristic"}, (char[]){"cycle_s"},
	    (char[]){"--line"}, (char[]){"line-3"}, (char[]){"--lower"},
	    (char[]){"170"}, (char[]){"--upper"}, (char[]){"190"}, NULL};
	double took_s = median_of(words, TIMES);
	if (took_s < 0)
		give_up("the command failed");
	tell(took_s);
	unlink(text_path);
	folder_remove(&folder);
	return 0;
}
