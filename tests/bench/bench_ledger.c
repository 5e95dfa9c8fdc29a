/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What a shot costs the ledger, and how fast it is read: 60 features, 90 channels.
 */
#include "daemon/ledger/ledger.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <sys/stat.h>

#include "daemon/ledger/ledger_read.h"
#include "tests/bench/figure.h"
#include "tests/unit/daemon/ledger/counting_vfs.h"
#include "tests/unit/daemon/ledger/ledger_fixture.h"

enum { SHOTS = 20000, FEATURES = 60 };

static struct fixture fixture;
static struct error error;

static _Noreturn void
give_up(void)
{
	fprintf(stderr, "bench_ledger: %s\n", error.text);
	fixture_release(&fixture);
	exit(1);
}

static struct ledger *
open_ledger(void)
{
	int64_t setup;
	struct ledger *ledger = ledger_open(fixture.path, NULL, &error);

	if (ledger == NULL || ledger_put_setup(ledger, &fixture.settings,
				  fixture_time(0), &setup, &error) != 0)
		give_up();
	return ledger;
}

static double
size_of_file(void)
{
	struct stat status;

	return stat(fixture.path, &status) == 0 ? (double)status.st_size : 0;
}

/* Shots as they come: with channels, the costs of each counted under SQLite. */
static void
bench_writing(void)
{
	enum { BEFORE = 2000, COUNTED = 2000 };
	struct ledger *ledger = open_ledger();

	if (fixture_write(&fixture, ledger, 0, 1, BEFORE, &error) != 0)
		give_up();
	counted.syncs = counted.wal_bytes = 0;
	double start_s = figure_now_s();
	if (fixture_write(&fixture, ledger, 0, BEFORE + 1, BEFORE + COUNTED, &error) !=
	    0)
		give_up();
	double took_s = figure_now_s() - start_s;

	figure_at_most("ledger_wal_per_shot", (double)counted.wal_bytes / COUNTED, "B",
	    32 * 1024, "60 features, 90 channels, checkpoints included");
	figure_at_most("ledger_fsyncs_per_shot", (double)counted.syncs / COUNTED, "", 2,
	    "the same shots, checkpoints included");
	figure_only("ledger_shots_written", COUNTED / took_s, "/s",
	    "the same shots, each fsynced");
	if (ledger_checkpoint(ledger, &error) != 0)
		give_up();
	figure_only("ledger_shot_with_channels", size_of_file() / (BEFORE + COUNTED),
	    "B", "on disk, a shot with its 90 channels");
	ledger_close(ledger);
}

static int
count_shot(void *arg, const struct ledger_shot *shot)
{
	(void)shot;
	++*(int64_t *)arg;
	return 0;
}

/* Both ways of reading give the microseconds a shot; the best of five. */
static double
time_ledger(struct ledger_read *reader, const struct ledger_filter *filter)
{
	double best_s = INFINITY;

	for (int round = 0; round < 5; round++) {
		int64_t count = 0;
		double start_s = figure_now_s();
		if (ledger_read_shots(
			reader, filter, false, count_shot, &count, &error) != 0 ||
		    count != SHOTS)
			give_up();
		best_s = fmin(best_s, figure_now_s() - start_s);
	}
	return best_s / SHOTS * 1e6;
}

static double
time_sqlite(const char *sql)
{
	sqlite3 *db = NULL;
	sqlite3_stmt *statement = NULL;
	double best_s = INFINITY, sum = 0;

	error_set(&error, ERROR_IO, "cannot read the ledger as SQLite");
	if (sqlite3_open_v2(fixture.path, &db, SQLITE_OPEN_READONLY, NULL) !=
		SQLITE_OK ||
	    sqlite3_prepare_v2(db, sql, -1, &statement, NULL) != SQLITE_OK)
		give_up();
	for (int round = 0; round < 5; round++) {
		double start_s = figure_now_s();
		while (sqlite3_step(statement) == SQLITE_ROW)
			sum += sqlite3_column_double(statement, 1);
		sqlite3_reset(statement);
		best_s = fmin(best_s, figure_now_s() - start_s);
	}
	if (!(sum > 0))
		give_up();
	sqlite3_finalize(statement);
	sqlite3_close(db);
	return best_s / SHOTS * 1e6;
}

static void
bench_reading(void)
{
	const int features[] = {FEATURE_CYCLE_S};
	struct ledger_filter all = {.by_time = true};
	struct ledger_filter one = {.by_time = true, .values_only = true};
	struct ledger_read *reader = ledger_read_open(fixture.path, &error);

	if (reader == NULL)
		give_up();
	one.features = features;
	one.feature_count = 1;
	double bare_us =
	    time_sqlite("SELECT filed_at, cycle_s FROM shot ORDER BY filed_at");
	double one_us = time_ledger(reader, &one);
	figure_only("ledger_read_all_features", time_ledger(reader, &all), "us/shot",
	    "whole shots by time, 60 features");
	figure_at_most("ledger_read_one_feature", one_us, "us/shot", 1,
	    "values_only, by time; a million shots in 1 s");
	figure_at_most("ledger_read_ratio", one_us / bare_us, "", 2,
	    "the same against a bare SELECT of time and value in this run");
	ledger_read_close(reader);
}

/* The table of shots alone: what the features cost, as the target counts them. */
static void
bench_disk(void)
{
	struct ledger *ledger = open_ledger();
	double empty_bytes = size_of_file();

	for (int64_t no = 1; no <= SHOTS; no++) {
		struct shot *shot = fixture_shot(&fixture, 0, no);
		shot->channel_count = 0;
		int code = ledger_put_shot(ledger, &fixture.settings, shot, &error);
		shot_free(shot);
		if (code != 0)
			give_up();
	}
	if (ledger_checkpoint(ledger, &error) != 0)
		give_up();
	double bytes = (size_of_file() - empty_bytes) / SHOTS;
	figure_only("ledger_bytes_per_shot", bytes, "B",
	    "60 features with their indexes, no channels");
	figure_at_most("ledger_million_shots", bytes * 1e6 / 1e9, "GB", 1,
	    "scaled up from 20000 shots of 60 features, no channels");
	bench_reading();
	ledger_close(ledger);
}

static void
with_new_ledger(void (*bench)(void))
{
	if (!fixture_init(&fixture)) {
		error_set(&error, ERROR_IO, "no place for temporary files");
		give_up();
	}
	bench();
	fixture_release(&fixture);
}

int
main(void)
{
	if (counting_vfs_register() != SQLITE_OK)
		return 1;
	with_new_ledger(bench_writing);
	with_new_ledger(bench_disk);
	return 0;
}
