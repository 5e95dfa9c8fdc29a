/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * How fast a week of the demo line goes through the tracker, and through the tracker
 * into a ledger.  The scans of one cycle are made beforehand and played again and again
 * with the times moved on, so that making them is not measured.
 */
#include <math.h>
#include <stdint.h>
#include <sys/resource.h>

#include "conf/settings.h"
#include "daemon/base/error.h"
#include "daemon/base/scan.h"
#include "daemon/ledger/ledger.h"
#include "daemon/shot/shot.h"
#include "daemon/shot/tracker.h"
#include "tests/bench/figure.h"
#include "tests/bench/folder.h"

enum {
	CYCLE_S = 180,
	CYCLES = 3360, /* a week of three shifts */
	TICKS_S = 10,  /* a second's: devices are polled at whole ticks */
	INDEX_S = 8,
	SCANS_MAX = CYCLE_S * TICKS_S,
};

#define START_NS INT64_C(1772427600000000000) /* 2026-03-02T05:00:00Z */
static const double target = 1e6;

struct week {
	struct settings *settings;
	struct scan *scans[SCANS_MAX]; /* of one cycle, in order of time */
	size_t scan_count, value_count;
	struct ledger *ledger; /* NULL: shots are dropped */
	int64_t shots, complete;
	struct error error;
};

static _Noreturn void
give_up(const char *what, const struct error *error)
{
	fprintf(stderr, "bench_replay: %s: %s\n", what, error->text);
	exit(1);
}

/* --- a cycle ---------------------------------------------------------------------- */

/* Noise that is the same every time: -1 to 1. */
static double
noise(uint32_t channel, double at_s)
{
	uint32_t bits =
	    (channel + 1) * 2654435761U ^ (uint32_t)(at_s * TICKS_S) * 40503U;

	bits = (bits ^ bits >> 15) * 2246822519U;
	return (double)(bits >> 8) * 0x2p-24 - 1;
}

static bool
between(double at_s, double from_s, double to_s)
{
	return at_s >= from_s && at_s < to_s;
}

/* `at_s` after the start of an index. */
static double
value_at(const struct channel_settings *channel, uint32_t number, double at_s)
{
	double heat_s = at_s < INDEX_S ? CYCLE_S : at_s - INDEX_S;
	double trace = noise(number, at_s);

	switch (channel->role) {
	case ROLE_ROTATING:
		return at_s < INDEX_S;
	case ROLE_FORM_CLOSED:
		return between(at_s, INDEX_S + 3, 161);
	case ROLE_SAG_EYE:
		return at_s >= 170 || at_s < 1;
	case ROLE_SHEET_AT_LOAD:
		return at_s >= 50 || at_s < INDEX_S;
	case ROLE_SHEET_AT_FORM:
	case ROLE_AUTOMATIC:
		return 1;
	case ROLE_FAULT:
	case ROLE_CYCLE_COUNT: /* counted on in `play` */
		return 0;
	case ROLE_RECIPE:
		return 12;
	case ROLE_SURFACE_TOP:
	case ROLE_SURFACE_BOTTOM:
		return 25 + 155 * (1 - exp(-heat_s / 70)) + 0.3 * trace;
	case ROLE_ZONE_TOP:
	case ROLE_ZONE_BOTTOM:
		return heat_s < 80 ? 0.8 : 0.45;
	case ROLE_TOOL:
		return 72 + 6 * exp(-fabs(at_s - 40) / 45) + 0.05 * trace;
	case ROLE_WATER_SUPPLY:
		return 65 + 0.1 * trace;
	case ROLE_WATER_RETURN:
		return 67 + 0.1 * trace;
	case ROLE_WATER_FLOW:
		return 8 / 6e4 * (1 + 0.01 * trace);
	case ROLE_ENERGY_METER:
		return 9e9 + 1e5 * at_s;
	case ROLE_STACK:
	case ROLE_AMBIENT:
	case ROLE_OTHER:
	case ROLE_COUNT:
		break;
	}
	return 25 + 0.3 * trace;
}

static struct scan *
make_scan(const struct settings *settings, uint32_t device, double at_s)
{
	uint32_t first = settings->devices[device].first_channel;
	uint32_t count = settings->devices[device].channel_count;
	struct scan *scan = calloc(1, scan_bytes(count));

	if (!scan)
		abort();
	scan->device = device;
	scan->count = count;
	scan->at.ns = (int64_t)(at_s * (double)CLOCK_SECOND_NS);
	for (uint32_t i = 0; i < count; i++)
		scan->readings[i] = (struct reading){
		    value_at(&settings->channels[first + i], first + i, at_s),
		    QUALITY_GOOD};
	return scan;
}

static void
make_cycle(struct week *week)
{
	const struct settings *settings = week->settings;

	for (int tick = 0; tick < SCANS_MAX; tick++)
		for (uint32_t i = 0; i < settings->device_count; i++) {
			int every =
			    (int)lround(settings->devices[i].period_s * TICKS_S);
			if (tick % every != (int)i % every)
				continue;
			if (week->scan_count == SCANS_MAX)
				abort();
			struct scan *scan =
			    make_scan(settings, i, (double)tick / TICKS_S);
			week->scans[week->scan_count++] = scan;
			week->value_count += scan->count;
		}
}

/* --- a week ------------------------------------------------------------------------- */

static void
take_shot(void *arg, struct shot *shot)
{
	struct week *week = arg;

	week->shots++;
	week->complete += shot->outcome == SHOT_COMPLETE;
	if (week->ledger &&
	    ledger_put_shot(week->ledger, week->settings, shot, &week->error) != 0)
		give_up("write a shot", &week->error);
	shot_free(shot);
}

/* The channel that counts, among those of its device. */
static void
find_counter(const struct settings *settings, uint32_t *device, uint32_t *place)
{
	for (size_t i = 0; i < settings->channel_count; i++)
		if (settings->channels[i].role == ROLE_CYCLE_COUNT) {
			*device = settings->channels[i].device;
			*place = (uint32_t)i - settings->devices[*device].first_channel;
		}
}

/* Returns the channel values a second. */
static double
play(struct week *week)
{
	struct tracker_sink sink = {.shot = take_shot, .arg = week};
	struct tracker *tracker =
	    tracker_new(week->settings, 0, (struct tracker_start){0}, sink);
	uint32_t counting = 0, place = 0;
	int64_t cycle_ns = CYCLE_S * CLOCK_SECOND_NS;

	if (!tracker)
		abort();
	find_counter(week->settings, &counting, &place);
	week->shots = week->complete = 0;
	double start_s = figure_now_s();
	for (int cycle = 0; cycle < CYCLES; cycle++)
		for (size_t i = 0; i < week->scan_count; i++) {
			struct scan *scan = week->scans[i];
			int64_t in_cycle_ns = scan->at.ns % cycle_ns;

			scan->sent.ns = scan->at.ns =
			    cycle_ns * (cycle + 1) + in_cycle_ns;
			scan->wall.ns = START_NS + scan->at.ns;
			if (scan->device == counting)
				scan->readings[place].value = cycle;
			tracker_scan(tracker, scan);
		}
	tracker_finish(tracker);
	double took_s = figure_now_s() - start_s;
	tracker_free(tracker);
	/* Those that stood in the machine and the first after that are not complete. */
	if (week->complete < CYCLES - 10)
		give_up(
		    "shots are missing", &(struct error){.text = "not a week's work"});
	return (double)week->value_count * CYCLES / took_s;
}

static double
play_into_ledger(struct week *week)
{
	struct folder folder;
	char path[300];
	int64_t setup;

	if (!folder_make(&folder, "/tmp"))
		abort();
	snprintf(path, sizeof path, "%s/ledger.db", folder.path);
	week->ledger = ledger_open(path, NULL, &week->error);
	if (!week->ledger || ledger_put_setup(week->ledger, week->settings,
				 (struct wall){START_NS}, &setup, &week->error) != 0)
		give_up("open a ledger", &week->error);
	double rate = play(week);
	ledger_close(week->ledger);
	week->ledger = NULL;
	folder_remove(&folder);
	return rate;
}

int
main(void)
{
	static struct problems problems;
	static struct week week;
	struct rusage usage;

	week.settings = settings_load("conf/demo.ini", &problems);
	if (!week.settings) {
		fprintf(stderr, "bench_replay: %s\n", problems.list[0].text);
		return 1;
	}
	make_cycle(&week);
	double bare = play(&week), filed = play_into_ledger(&week);
	figure_at_least("replay_tracker", bare, "values/s", target,
	    "the tracker alone, a week of the demo line, %.3g values",
	    (double)week.value_count * CYCLES);
	figure_at_least("replay_ledger", filed, "values/s", target,
	    "the same into a ledger, %lld shots, each fsynced", (long long)week.shots);
	getrusage(RUSAGE_SELF, &usage);
	figure_only("replay_memory", (double)usage.ru_maxrss / 1024, "MiB",
	    "resident at its highest, the scans of a cycle among it");
	for (size_t i = 0; i < week.scan_count; i++)
		free(week.scans[i]);
	settings_free(week.settings);
	return 0;
}
