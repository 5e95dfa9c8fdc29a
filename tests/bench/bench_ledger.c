/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What a shot costs the ledger, and how fast it is read: the features of a line with 4
 * pyrometers a side and 16 water circuits, 90 channels.
 */
#include "daemon/ledger/ledger.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <sys/stat.h>

#include "daemon/ledger/ledger_read.h"
#include "daemon/shot/circumstances.h"
#include "daemon/shot/pack.h"
#include "tests/bench/figure.h"
#include "tests/unit/daemon/ledger/counting_vfs.h"
#include "tests/unit/daemon/ledger/ledger_fixture.h"

enum { SHOTS = 20000 };

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
	    32 * 1024, "all features, 90 channels, no trace, checkpoints included");
	figure_at_most("ledger_fsyncs_per_shot", (double)counted.syncs / COUNTED, "", 2,
	    "the same shots, checkpoints included");
	figure_only("ledger_shots_written", COUNTED / took_s, "/s",
	    "the same shots, each fsynced");
	if (ledger_checkpoint(ledger, &error) != 0)
		give_up();
	figure_only("ledger_shot_with_channels", size_of_file() / (BEFORE + COUNTED),
	    "B", "on disk, a shot with its 90 channels");

	start_s = figure_now_s();
	if (ledger_set_hasty(ledger, true, &error) != 0 ||
	    fixture_write(&fixture, ledger, 0, BEFORE + COUNTED + 1,
		BEFORE + 2 * COUNTED, &error) != 0 ||
	    ledger_set_hasty(ledger, false, &error) != 0)
		give_up();
	figure_only("ledger_shots_in_haste", COUNTED / (figure_now_s() - start_s), "/s",
	    "as a replay writes them, fsynced at the end");
	ledger_close(ledger);
}

/* --- traces ----------------------------------------------------------------------- */

/* Two readings a second of each of the 90 channels, 16 bits wide; outside its own window
 * a channel is stale, as trace.h has it. */
enum {
	WAY_SCANS = 660,  /* from the oven to the end of forming: 330 s */
	OVEN_SCANS = 360, /* of zones and pyrometers, from the start on */
	TOOL_SCANS = 320, /* of tool and water, to the end */
	ZONES = 60,       /* outputs in 0.1 %, restless by 1 % */
	PYROMETERS = 7,   /* 0.1 C, rising by 1 K/s, noise of 0.3 K */
	TOOL_SENSORS = 23 /* 0.1 C, noise of 0.1 K */
};

/* About normal, sd 1: the sum of twelve uniform numbers (the central limit theorem). */
static double
noise(void)
{
	double sum = -6;

	for (int i = 0; i < 12; i++)
		sum += fixture_random(&fixture);
	return sum;
}

static double
raw_of(int channel, int number)
{
	if (channel < ZONES)
		return 400 + 5 * channel + 10 * noise();
	if (channel < ZONES + PYROMETERS)
		return 250 + 5 * number + 3 * noise();
	return 700 + channel + noise();
}

static struct reading
reading_of(double raw)
{
	return (struct reading){raw, QUALITY_GOOD, (uint32_t)lround(raw)};
}

static void
fill_scan(struct scan *scan, int number)
{
	scan->device = 0;
	scan->at.ns = (number + 1) * CLOCK_SECOND_NS / 2;
	scan->sent.ns = scan->at.ns - CLOCK_SECOND_NS / 100;
	scan->wall.ns = fixture_time(0).ns + scan->at.ns;
	scan->count = FIXTURE_SHOT_CHANNELS;
	for (int i = 0; i < FIXTURE_SHOT_CHANNELS; i++) {
		bool kept = i < ZONES + PYROMETERS ? number < OVEN_SCANS
		                                   : number >= WAY_SCANS - TOOL_SCANS;
		scan->readings[i] = (struct reading){NAN, QUALITY_STALE, 0};
		if (kept)
			scan->readings[i] = reading_of(raw_of(i, number));
	}
}

static void
give_trace(struct shot *shot)
{
	struct scan *scans[WAY_SCANS];
	const struct scan *list[WAY_SCANS];

	for (int i = 0; i < WAY_SCANS; i++) {
		list[i] = scans[i] = malloc(scan_bytes(FIXTURE_SHOT_CHANNELS));
		if (scans[i] == NULL)
			give_up();
		fill_scan(scans[i], i);
	}
	shot->trace = pack_scans(list, WAY_SCANS, &shot->trace_bytes);
	if (shot->trace == NULL)
		give_up();
	for (int i = 0; i < WAY_SCANS; i++)
		free(scans[i]);
}

static void
write_traced(struct ledger *ledger, int64_t first, int64_t last, int64_t *trace_bytes)
{
	for (int64_t no = first; no <= last; no++) {
		struct shot *shot = fixture_shot(&fixture, 0, no);
		give_trace(shot);
		*trace_bytes += (int64_t)shot->trace_bytes;
		if (ledger_put_shot(ledger, &fixture.settings, shot, &error) != 0)
			give_up();
		shot_free(shot);
	}
}

static void
bench_traces(void)
{
	enum { BEFORE = 200, COUNTED = 500, ALL = BEFORE + COUNTED };
	const double values =
	    (ZONES + PYROMETERS) * OVEN_SCANS + TOOL_SENSORS * TOOL_SCANS;
	struct ledger *ledger = open_ledger();
	int64_t bytes = 0;
	bool more = true;

	write_traced(ledger, 1, BEFORE, &bytes);
	counted.syncs = counted.wal_bytes = 0;
	write_traced(ledger, BEFORE + 1, ALL, &bytes);
	figure_only("ledger_trace", (double)bytes / ALL, "B",
	    "packed: %.0f readings of 90 channels, 2/s, with their noise", values);
	figure_only("ledger_wal_with_trace", (double)counted.wal_bytes / COUNTED, "B",
	    "a shot with that trace, checkpoints included");
	figure_at_most("ledger_fsyncs_with_trace", (double)counted.syncs / COUNTED, "",
	    2, "the same shots");
	if (ledger_checkpoint(ledger, &error) != 0)
		give_up();
	figure_only("ledger_million_values", size_of_file() / ALL / values, "MB",
	    "on disk, a million readings kept: shots, channels and traces");
	double start_s = figure_now_s();
	if (ledger_forget_traces(ledger, fixture_time(ALL), &more, &error) != 0)
		give_up();
	figure_only("ledger_forget_traces", (figure_now_s() - start_s) * 1e3, "ms",
	    "one call, 200 of those traces");
	ledger_close(ledger);
}

/* --- reading ------------------------------------------------------------------------ */

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
bench_reading(const char *which, int features)
{
	char name[32];
	const int wanted[] = {FEATURE_CYCLE_S};
	struct ledger_filter all = {.by_time = true};
	struct ledger_filter one = {.by_time = true, .values_only = true};
	struct ledger_read *reader = ledger_read_open(fixture.path, &error);

	if (reader == NULL)
		give_up();
	one.features = wanted;
	one.feature_count = 1;
	double bare_us =
	    time_sqlite("SELECT filed_at, cycle_s FROM shot ORDER BY filed_at");
	double one_us = time_ledger(reader, &one);
	snprintf(name, sizeof name, "ledger_%s_read_all_features", which);
	figure_only(name, time_ledger(reader, &all), "us/shot",
	    "whole shots by time, all features");
	snprintf(name, sizeof name, "ledger_%s_read_one_feature", which);
	figure_at_most(name, one_us, "us/shot", features / 60.0,
	    "values_only, by time, of %d; a million shots of 60 in 1 s", features);
	snprintf(name, sizeof name, "ledger_%s_read_ratio", which);
	figure_at_most(name, one_us / bare_us, "", 2,
	    "the same against a bare SELECT of time and value in this run");
	ledger_read_close(reader);
}

/* Bytes a shot of the table of shots and its indexes alone. */
static double
fill_disk(struct ledger *ledger)
{
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
	return (size_of_file() - empty_bytes) / SHOTS;
}

/* The target is 1 GB for a million shots of 60 features: for more, in proportion. */
static void
tell_disk(const char *name, double bytes, int features)
{
	figure_at_most(name, bytes / features, "B", 1e9 / 1e6 / 60,
	    "a shot and feature on disk, no channels: %d features, %.0f B a shot, "
	    "%.2f GB a million; target 1 GB for 60 features",
	    features, bytes, bytes * 1e6 / 1e9);
}

static void
bench_disk(void)
{
	struct ledger *ledger = open_ledger();

	tell_disk("ledger_many_on_disk", fill_disk(ledger), FIXTURE_FEATURES);
	bench_reading("many", FIXTURE_FEATURES);
	ledger_close(ledger);
}

/* A line without pyrometers and water circuits of its own. */
static void
bench_disk_few(void)
{
	for (int i = 0; i < 2; i++)
		fixture.lines[i].surfaces_top = fixture.lines[i].surfaces_bottom =
		    fixture.lines[i].circuits = 0;
	struct ledger *ledger = open_ledger();

	tell_disk("ledger_few_on_disk", fill_disk(ledger), FEATURE_FIXED_COUNT);
	bench_reading("few", FEATURE_FIXED_COUNT);
	ledger_close(ledger);
}

/* --- what people told ------------------------------------------------------------- */

/* Microseconds a question, as the recorder's thread asks for each shot. */
static double
time_circumstances(struct ledger *ledger)
{
	enum { ASKED = 2000 };
	static double correction[FIXTURE_CHANNELS];
	struct circumstances circumstances;
	double start_s = figure_now_s();

	for (int i = 0; i < ASKED; i++) {
		const struct ledger_question question = {
		    &fixture.settings, 0, 12, fixture_time(i + 1)};
		if (ledger_circumstances(
			ledger, &question, correction, &circumstances, &error) != 0)
			give_up();
	}
	return (figure_now_s() - start_s) / ASKED * 1e6;
}

/* Years of it: a tool and a lot with its figures a day, 40 sensors calibrated often. */
static void
tell_much(struct ledger *ledger)
{
	enum { DAYS = 1000, SENSORS = 40, TIMES = 20 };
	int64_t relabelled;

	for (int i = 0; i < DAYS; i++) {
		char name[16];
		snprintf(name, sizeof name, "N-%d", i);
		const struct ledger_lot lot = {
		    .name = name, .thickness_m = 0.006, .stack_c = 20};
		const struct wall from = fixture_time(i);
		if (ledger_put_lot(ledger, &lot, NULL, &error) != 0 ||
		    ledger_put_context(ledger,
			&(struct ledger_entry){"line-1", CONTEXT_LOT, name, from, from},
			&relabelled, &error) != 0 ||
		    ledger_put_context(ledger,
			&(struct ledger_entry){
			    "line-1", CONTEXT_TOOL, name, from, from},
			&relabelled, &error) != 0)
			give_up();
	}
	for (int i = 0; i < SENSORS * TIMES; i++)
		if (ledger_put_calibration(ledger,
			&(struct ledger_calibration){.line = "line-1",
			    .device = "plc-1",
			    .channel = fixture.channels[2 * (i % SENSORS) + 1].name,
			    .at = fixture_time(i),
			    .as_found = NAN,
			    .as_left = 0.5},
			&error) != 0)
			give_up();
}

static void
bench_circumstances(void)
{
	struct ledger *ledger = open_ledger();

	figure_only("ledger_told_nothing", time_circumstances(ledger), "us/shot",
	    "asking what people told of a shot, where they told nothing");
	tell_much(ledger);
	figure_at_most("ledger_told_much", time_circumstances(ledger), "us/shot", 1000,
	    "the same with 1000 lots and tools, 40 sensors calibrated 20 times");
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
	with_new_ledger(bench_traces);
	with_new_ledger(bench_disk);
	with_new_ledger(bench_disk_few);
	with_new_ledger(bench_circumstances);
	return 0;
}
