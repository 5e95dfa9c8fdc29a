/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * How fast recordings go through `evensoakd --replay` into a ledger: a day of the demo
 * line at its own poll periods, and a year of a small line with a sheet every three
 * minutes, during which memory must stay what it was.
 *
 * The scans of one cycle are made beforehand; its packs are written into the daemon's
 * standard input again and again with times and counter moved on.
 */
#include <math.h>
#include <signal.h>
#include <stdint.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#include "conf/raw.h"
#include "conf/settings.h"
#include "daemon/base/scan.h"
#include "daemon/run/recording.h"
#include "daemon/shot/pack.h"
#include "tests/bench/figure.h"
#include "tests/bench/folder.h"

enum {
	CYCLE_S = 180,
	DAY = 480, /* cycles */
	YEAR = 365 * DAY,
	TICKS_S = 10, /* a second's: devices are polled at whole ticks */
	INDEX_S = 8,
	SCANS_MAX = CYCLE_S * TICKS_S,
};

#define START_NS INT64_C(1772427600000000000) /* 2026-03-02T05:00:00Z */
static const double target = 1e6;

static const char small_line[] =
    "[site]\nname = bench\ntimezone = UTC\ntemperature_unit = C\n"
    "[ledger]\npath = demo.db\n"
    "[line small]\nmachine = rotary\nstations = load, oven, form\nheat_min_s = 30\n"
    "heat_timer_s = 230\nstartup_shots = 3\n"
    "[device plc]\nline = small\naddress = 127.0.0.1:1502\nperiod_ms = 2000\n"
    "[channel plc.rotating]\nrole = rotating\ntable = discrete\naddress = 0\n"
    "type = bit\n"
    "[channel plc.closed]\nrole = form_closed\ntable = discrete\naddress = 1\n"
    "type = bit\n"
    "[channel plc.eye]\nrole = sag_eye\ntable = discrete\naddress = 2\ntype = bit\n"
    "[channel plc.load]\nrole = sheet_at_load\ntable = discrete\naddress = 3\n"
    "type = bit\n"
    "[channel plc.recipe]\nrole = recipe\ntable = holding\naddress = 0\n"
    "type = uint16\n"
    "[channel plc.cycles]\nrole = cycle_count\ntable = holding\naddress = 1\n"
    "type = uint16\n"
    "[device io]\nline = small\naddress = 127.0.0.1:1503\nperiod_ms = 2000\n"
    "[channel io.top]\nrole = surface_top\ncount = 4\ntable = input\naddress = 0\n"
    "type = int16\nscale = 0.1\nunit = C\n"
    "[channel io.bottom]\nrole = surface_bottom\ncount = 2\ntable = input\n"
    "address = 4\ntype = int16\nscale = 0.1\nunit = C\n"
    "[channel io.zone]\nrole = zone_top\ncount = 6\ntable = input\naddress = 6\n"
    "type = uint16\nscale = 0.1\nunit = %\nrated_kw = 3\n"
    "[channel io.tool]\nrole = tool\ncount = 4\ntable = input\naddress = 12\n"
    "type = int16\nscale = 0.1\nunit = C\n"
    "[channel io.back]\nrole = water_return\ncount = 2\ntable = input\n"
    "address = 16\ntype = int16\nscale = 0.1\nunit = C\n"
    "[channel io.supply]\nrole = water_supply\ntable = input\naddress = 18\n"
    "type = int16\nscale = 0.1\nunit = C\n"
    "[recipe 12]\nname = twelve\n";

static _Noreturn void
give_up(const char *what)
{
	fprintf(stderr, "bench_replay: %s\n", what);
	exit(1);
}

/* --- a cycle ---------------------------------------------------------------------- */

struct cycle {
	struct settings *settings;
	struct scan *scans[SCANS_MAX]; /* in order of time */
	size_t scan_count, value_count;
	uint32_t counting, place; /* the channel that counts: its device, where in it */
};

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
	case ROLE_OVEN_IN: /* not of a ring */
	case ROLE_CLAMP_CLOSED:
	case ROLE_SHEET_IN_FRAME:
	case ROLE_FAULT:
	case ROLE_CYCLE_COUNT: /* counted on in `move_on` */
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
	case ROLE_SET_POINT:
	case ROLE_OTHER:
	case ROLE_COUNT:
		break;
	}
	return 25 + 0.3 * trace;
}

/* The registers that hold a value. */
static uint32_t
raw_of(const struct channel_settings *channel, double value)
{
	double shown =
	    (unit_from_si(channel->unit, channel->dimension, value) - channel->offset) /
	    channel->scale;
	float real = (float)shown;
	uint32_t bits;

	switch (channel->encoding) {
	case ENCODING_BIT:
		return (value != 0) != channel->inverted
		           ? 1U << (channel->bit < 0 ? 0 : channel->bit)
		           : 0;
	case ENCODING_INT16:
	case ENCODING_UINT16:
		return (uint32_t)lround(shown) & 0xffff;
	case ENCODING_INT32:
	case ENCODING_UINT32:
		return (uint32_t)lround(shown);
	case ENCODING_FLOAT32:
		memcpy(&bits, &real, sizeof bits);
		return bits;
	}
	return 0;
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
	for (uint32_t i = 0; i < count; i++) {
		const struct channel_settings *channel = &settings->channels[first + i];

		scan->readings[i] = raw_reading(
		    channel, raw_of(channel, value_at(channel, first + i, at_s)));
	}
	return scan;
}

static void
make_cycle(struct cycle *cycle, struct settings *settings)
{
	*cycle = (struct cycle){.settings = settings};
	for (int tick = 0; tick < SCANS_MAX; tick++)
		for (uint32_t i = 0; i < settings->device_count; i++) {
			int every =
			    (int)lround(settings->devices[i].period_s * TICKS_S);
			if (tick % every != (int)i % every)
				continue;
			if (cycle->scan_count == SCANS_MAX)
				abort();
			struct scan *scan =
			    make_scan(settings, i, (double)tick / TICKS_S);
			cycle->scans[cycle->scan_count++] = scan;
			cycle->value_count += scan->count;
		}
	for (size_t i = 0; i < settings->channel_count; i++)
		if (settings->channels[i].role == ROLE_CYCLE_COUNT) {
			cycle->counting = settings->channels[i].device;
			cycle->place = (uint32_t)i -
			               settings->devices[cycle->counting].first_channel;
		}
}

static void
free_cycle(struct cycle *cycle)
{
	for (size_t i = 0; i < cycle->scan_count; i++)
		free(cycle->scans[i]);
	settings_free(cycle->settings);
}

/* Makes it the cycle of this number. */
static void
move_on(struct cycle *cycle, int number)
{
	int64_t cycle_ns = CYCLE_S * CLOCK_SECOND_NS;

	for (size_t i = 0; i < cycle->scan_count; i++) {
		struct scan *scan = cycle->scans[i];

		scan->at.ns = cycle_ns * (number + 1) + scan->at.ns % cycle_ns;
		scan->sent.ns = scan->at.ns;
		scan->wall.ns = START_NS + scan->at.ns;
		if (scan->device == cycle->counting)
			scan->readings[cycle->place].raw = (uint32_t)number & 0xffff;
	}
}

/* --- the daemon -------------------------------------------------------------------- */

struct daemon {
	struct folder folder;
	char ledger[300];
	pid_t pid;
	int input;
};

static void
put(const struct daemon *daemon, const void *bytes, size_t length)
{
	for (const char *at = bytes; length > 0;) {
		ssize_t wrote = write(daemon->input, at, length);

		if (wrote <= 0)
			give_up("the daemon stopped reading");
		at += wrote;
		length -= (size_t)wrote;
	}
}

static void
put_block(const struct daemon *daemon, int kind, const void *bytes, size_t length)
{
	unsigned char head[RECORDING_BLOCK_HEAD] = {(unsigned char)kind};

	for (int i = 1; i < RECORDING_BLOCK_HEAD; i++)
		head[i] = (unsigned char)(length >> 8 * (i - 1));
	put(daemon, head, sizeof head);
	put(daemon, bytes, length);
}

/* Starts the replay of a recording that is still to be written, into a new ledger. */
static void
start(struct daemon *daemon, const char *text)
{
	const char *build = getenv("EVENSOAK_BUILD");
	char program[300], config[300];
	int ends[2];
	FILE *file;

	if (!folder_make(&daemon->folder, "/tmp") || pipe(ends) != 0)
		give_up("cannot make a folder and a pipe");
	snprintf(program, sizeof program, "%s/evensoakd", build ? build : "build");
	snprintf(config, sizeof config, "%s/bench.ini", daemon->folder.path);
	snprintf(
	    daemon->ledger, sizeof daemon->ledger, "%s/demo.db", daemon->folder.path);
	file = fopen(config, "w");
	if (!file || fputs(text, file) < 0 || fclose(file) != 0)
		give_up("cannot write a configuration");
	daemon->pid = fork();
	if (daemon->pid == 0) {
		dup2(ends[0], 0);
		close(ends[0]);
		close(ends[1]);
		if (!freopen("/dev/null", "w", stderr))
			_exit(127);
		execl(program, program, "--config", config, "--replay", "-", NULL);
		_exit(127);
	}
	close(ends[0]);
	daemon->input = ends[1];
	put(daemon, RECORDING_HEAD, strlen(RECORDING_HEAD));
	put_block(daemon, RECORDING_SETTINGS, text, strlen(text));
}

static void
put_cycle(const struct daemon *daemon, struct cycle *cycle, int number)
{
	size_t length;

	move_on(cycle, number);
	unsigned char *pack = pack_scans(
	    (const struct scan *const *)cycle->scans, cycle->scan_count, &length);
	if (!pack)
		abort();
	put_block(daemon, RECORDING_SCANS, pack, length);
	free(pack);
}

/* The most that it has had resident, in MiB. */
static double
peak_mib(const struct daemon *daemon)
{
	char path[64], line[128];
	double kib = NAN;
	FILE *file;

	snprintf(path, sizeof path, "/proc/%ld/status", (long)daemon->pid);
	file = fopen(path, "r");
	while (file && fgets(line, sizeof line, file))
		if (strncmp(line, "VmHWM:", 6) == 0)
			kib = strtod(line + 6, NULL);
	if (!file || isnan(kib))
		give_up("cannot read how much memory the daemon takes");
	fclose(file);
	return kib / 1024;
}

/* Ends the recording; true when the daemon was content with it. */
static void
finish(struct daemon *daemon)
{
	int status;

	close(daemon->input);
	if (waitpid(daemon->pid, &status, 0) != daemon->pid || status != 0)
		give_up("the daemon could not replay");
}

/* --- what is measured --------------------------------------------------------------- */

static void
bench_day(void)
{
	static struct problems problems;
	static struct cycle cycle;
	struct settings *settings = settings_load("conf/demo.ini", &problems);
	struct daemon daemon;

	if (!settings)
		give_up(problems.list[0].text);
	make_cycle(&cycle, settings);
	double start_s = figure_now_s();
	start(&daemon, settings->text);
	for (int i = 0; i < DAY; i++)
		put_cycle(&daemon, &cycle, i);
	finish(&daemon);
	double values = (double)cycle.value_count * DAY;
	figure_at_least("replay_demo_line", values / (figure_now_s() - start_s),
	    "values/s", target, "a day of the demo line, %.3g values, %d shots", values,
	    DAY);
	folder_remove(&daemon.folder);
	free_cycle(&cycle);
}

static void
bench_year(void)
{
	static struct problems problems;
	static struct cycle cycle;
	struct settings *settings = settings_parse(small_line, "small_line", &problems);
	struct daemon daemon;
	struct stat file;
	double quarter_mib = NAN, end_mib;

	if (!settings)
		give_up(problems.list[0].text);
	make_cycle(&cycle, settings);
	double start_s = figure_now_s();
	start(&daemon, settings->text);
	for (int i = 0; i < YEAR; i++) {
		put_cycle(&daemon, &cycle, i);
		if (i == YEAR / 4)
			quarter_mib = peak_mib(&daemon);
	}
	end_mib = peak_mib(&daemon);
	finish(&daemon);
	double took_s = figure_now_s() - start_s;
	double values = (double)cycle.value_count * YEAR;
	if (stat(daemon.ledger, &file) != 0)
		give_up("there is no ledger");
	figure_at_least("replay_year", values / took_s, "values/s", target,
	    "a year of a small line, %.3g values, %d shots, %.0f s", values, YEAR,
	    took_s);
	figure_at_most("replay_year_memory", end_mib, "MiB", quarter_mib * 1.05,
	    "most ever resident: %.1f MiB in the first quarter, and 5 %% more",
	    quarter_mib);
	figure_only("replay_year_ledger", (double)file.st_size / values, "MB",
	    "for a million values; %.0f MB in all, traces of 30 days among it",
	    (double)file.st_size / 1e6);
	folder_remove(&daemon.folder);
	free_cycle(&cycle);
}

int
main(void)
{
	signal(SIGPIPE, SIG_IGN);
	bench_day();
	bench_year();
	return 0;
}
