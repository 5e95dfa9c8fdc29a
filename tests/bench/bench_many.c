/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Many devices: what one that is dead costs the others, behind one socket and with a
 * socket each; and a plant of 10 lines with 64 devices and 3,000 channels.
 */
#include <math.h>
#include <pthread.h>
#include <stdio.h>

#include "conf/groups.h"
#include "conf/settings.h"
#include "daemon/base/error.h"
#include "daemon/base/log.h"
#include "daemon/base/scan.h"
#include "daemon/fieldbus/poller.h"
#include "tests/bench/figure.h"
#include "tests/unit/daemon/fieldbus/server.h"

enum {
	DEVICES_MAX = 64,
	CHANNELS_MAX = 3008, /* of 64 devices, 47 each */
	TIMES_MAX = 1024,    /* scans kept of a device */
	UNITS = 32,
	DEAD_UNIT = 2,
	SETTLE_S = 30,
	WATCH_S = 61, /* from one attempt at the dead one until the next */
	PLANT_S = 20,
};

#define FAST_S 0.1
#define SLOW_S 1.0
#define DEAD_TIMEOUT_S 0.5

struct times { /* of a device's scans; its poller's alone until that is stopped */
	size_t count, bad; /* bad: not answered */
	struct mono began[TIMES_MAX];
};

struct plant {
	struct settings settings;
	struct bus_settings buses[DEVICES_MAX];
	struct device_settings devices[DEVICES_MAX];
	struct channel_settings channels[CHANNELS_MAX];
	struct times times[DEVICES_MAX];
	struct poller *pollers[DEVICES_MAX];
};

static void
plant_init(
    struct plant *plant, int port, size_t devices, size_t buses, uint32_t channels)
{
	*plant = (struct plant){0};
	plant->settings.devices = plant->devices;
	plant->settings.device_count = devices;
	plant->settings.buses = plant->buses;
	plant->settings.bus_count = buses;
	plant->settings.channels = plant->channels;
	plant->settings.channel_count = devices * channels;
	for (size_t i = 0; i < buses; i++)
		plant->buses[i] =
		    (struct bus_settings){.host = "127.0.0.1", .port = port};
	for (size_t i = 0; i < devices; i++)
		plant->devices[i] = (struct device_settings){
		    .name = "device",
		    .bus = (uint32_t)(i % buses),
		    .unit_id = 1 + (int)i,
		    .timeout_s = DEAD_TIMEOUT_S,
		    .max_registers = 125,
		    .first_channel = (uint32_t)i * channels,
		    .channel_count = channels,
		};
	for (size_t i = 0; i < devices * channels; i++)
		plant->channels[i] = (struct channel_settings){
		    .table = TABLE_HOLDING,
		    .address = (uint16_t)(i % channels),
		    .encoding = ENCODING_INT16,
		    .bit = -1,
		    .fault_channel = -1,
		    .scale = 0.1,
		    .unit = UNIT_CELSIUS,
		    .dimension = DIMENSION_TEMPERATURE,
		    .min_si = -INFINITY,
		    .max_si = INFINITY,
		};
}

static void
keep_time(void *arg, const struct scan *scan)
{
	struct plant *plant = arg;
	struct times *times = &plant->times[scan->device];

	times->bad += scan->readings[0].quality == QUALITY_COMM_FAULT;
	if (times->count < TIMES_MAX)
		times->began[times->count++] = scan->sent;
}

static void
plant_start(struct plant *plant, double period_s)
{
	struct error error;

	for (size_t i = 0; i < plant->settings.device_count; i++) {
		plant->devices[i].period_s = period_s;
		groups_make(&plant->devices[i], plant->channels);
	}
	for (uint32_t i = 0; i < plant->settings.bus_count; i++) {
		plant->pollers[i] =
		    poller_start(&plant->settings, i, keep_time, plant, &error);
		if (!plant->pollers[i]) {
			fprintf(stderr, "bench_many: %s\n", error.text);
			exit(1);
		}
	}
}

static void
plant_stop(struct plant *plant)
{
	for (size_t i = 0; i < plant->settings.bus_count; i++)
		poller_stop(plant->pollers[i]);
}

/* --- lateness ---------------------------------------------------------------------- */

struct late {
	size_t count, room, left_out;
	double *ms;
};

static void
late_add(struct late *late, double ms)
{
	if (late->count < late->room)
		late->ms[late->count++] = ms;
}

/*
 * The schedule of a device as its scans show it: the phase is that of the earliest among
 * those, nearly all, that lie close to the median phase.  In ms after `from`.
 */
static double
find_phase(const struct times *times, struct mono from, double period_ms)
{
	static double phases[TIMES_MAX];
	double middle, earliest = 0;

	for (size_t i = 0; i < times->count; i++)
		phases[i] =
		    fmod((double)(times->began[i].ns - from.ns) / 1e6, period_ms);
	/* Turned so that the first one's lies in the middle of the circle. */
	for (size_t i = times->count; i-- > 0;)
		phases[i] = fmod(phases[i] - phases[0] + 2.5 * period_ms, period_ms);
	middle = fmod((double)(times->began[0].ns - from.ns) / 1e6, period_ms) -
	         period_ms / 2;
	double median = figure_quantile(phases, times->count, 0.5);
	for (size_t i = 0; i < times->count; i++)
		if (fabs(phases[i] - median) < period_ms / 10)
			earliest = fmin(earliest, phases[i] - median);
	return middle + median + earliest;
}

/* Scans that were left out count as late as the one that came for them. */
static void
late_take(
    struct late *late, const struct times *times, struct mono from, double period_ms)
{
	struct times some = {0};
	double phase_ms, before = -1;

	for (size_t i = 0; i < times->count; i++)
		if (times->began[i].ns >= from.ns)
			some.began[some.count++] = times->began[i];
	if (some.count < 10)
		return;
	phase_ms = find_phase(&some, from, period_ms);
	for (size_t i = 0; i < some.count; i++) {
		double ms = (double)(some.began[i].ns - from.ns) / 1e6 - phase_ms;
		double slot = floor(ms / period_ms + 1e-9);

		for (double missing = before + 1; i && missing < slot; missing++) {
			late_add(late, ms - missing * period_ms);
			late->left_out++;
		}
		late_add(late, ms - slot * period_ms);
		before = slot;
	}
}

/* --- the machine --------------------------------------------------------------------- */

/* How late a thread wakes that does nothing but sleep on a schedule: on a busy machine
 * the pollers cannot do better. */
static struct sleeper {
	pthread_t thread;
	atomic_bool stop;
	size_t count;
	double ms[16384];
} sleeper;

static void *
sleep_on_schedule(void *arg)
{
	int64_t due_ns = clock_mono().ns;

	(void)arg;
	while (
	    !sleeper.stop && sleeper.count < sizeof sleeper.ms / sizeof sleeper.ms[0]) {
		due_ns += CLOCK_SECOND_NS / 20;
		clock_sleep_until((struct mono){due_ns}, -1);
		sleeper.ms[sleeper.count++] = (double)(clock_mono().ns - due_ns) / 1e6;
	}
	return NULL;
}

static void
sleeper_start(void)
{
	sleeper.stop = false;
	sleeper.count = 0;
	if (pthread_create(&sleeper.thread, NULL, sleep_on_schedule, NULL))
		abort();
}

/* The p99 of its lateness, in ms. */
static double
sleeper_stop(void)
{
	sleeper.stop = true;
	pthread_join(sleeper.thread, NULL);
	return figure_quantile(sleeper.ms, sleeper.count, 0.99);
}

/* --- a dead one among many --------------------------------------------------------- */

static void
tell_dead(struct plant *plant, const char *name, struct mono from, const char *how,
    double bare_ms)
{
	static double ms[UNITS * TIMES_MAX];
	struct late late = {.room = UNITS * TIMES_MAX, .ms = ms};
	struct device_status list[UNITS];
	size_t bad = 0, index = 0;
	uint32_t bus = plant->devices[DEAD_UNIT - 1].bus;

	for (size_t n = poller_status(plant->pollers[bus], list, UNITS);
	     index < n && list[index].device != DEAD_UNIT - 1; index++)
		;
	plant_stop(plant);
	for (uint32_t i = 0; i < UNITS; i++) {
		if (i == DEAD_UNIT - 1)
			continue;
		bad += plant->times[i].bad;
		late_take(&late, &plant->times[i], from, FAST_S * 1000);
	}
	figure_at_most(name, figure_quantile(ms, late.count, 0.99), "ms", 10,
	    "%s, 31 units at 10 Hz for %d s after %d s, time-out %.1f s; %zu scans, "
	    "%zu left out, %zu failed; %lld requests to the dead one; a bare sleep: "
	    "%.2f ms",
	    how, WATCH_S, SETTLE_S, DEAD_TIMEOUT_S, late.count, late.left_out, bad,
	    (long long)list[index].answers[ANSWER_NONE], bare_ms);
}

static void
bench_dead(void)
{
	static struct server server;
	static struct plant gateway, ends;
	struct mono from;
	double bare_ms;

	server_start(&server);
	server.silent_unit = DEAD_UNIT;
	plant_init(&gateway, server.port, UNITS, 1, 24);
	plant_init(&ends, server.port, UNITS, UNITS, 24);
	plant_start(&gateway, FAST_S);
	plant_start(&ends, FAST_S);
	sleep(SETTLE_S);
	from = clock_mono();
	sleeper_start();
	sleep(WATCH_S);
	bare_ms = sleeper_stop();
	tell_dead(
	    &gateway, "dead_among_32_late_p99", from, "behind one socket", bare_ms);
	tell_dead(&ends, "dead_among_32_ends_late_p99", from, "a socket each", bare_ms);
	server_stop(&server);
}

/* --- a large plant ----------------------------------------------------------------- */

static double
cpu_s(clockid_t clock)
{
	struct timespec now;

	clock_gettime(clock, &now);
	return (double)now.tv_sec + 1e-9 * (double)now.tv_nsec;
}

static void
tell_plant(struct plant *plant, struct mono from, double share, double bare_ms)
{
	static double ms[DEVICES_MAX * TIMES_MAX];
	struct late late = {.room = DEVICES_MAX * TIMES_MAX, .ms = ms};
	size_t bad = 0;

	for (size_t i = 0; i < DEVICES_MAX; i++) {
		bad += plant->times[i].bad;
		late_take(&late, &plant->times[i], from, SLOW_S * 1000);
	}
	figure_at_most("channels_3000_cpu", share * 100, "%", 1,
	    "of one core, pollers of 10 lines on 40 sockets, 64 devices, %d channels "
	    "at "
	    "1 Hz for %d s",
	    CHANNELS_MAX, PLANT_S);
	figure_at_most("channels_3000_late_p99", figure_quantile(ms, late.count, 0.99),
	    "ms", 10, "each device's own schedule; %zu scans; a bare sleep: %.2f ms",
	    late.count, bare_ms);
	figure_at_most("channels_3000_lost", (double)(late.left_out + bad), "scans", 0,
	    "left out or failed");
}

static void
bench_plant(void)
{
	static struct server server;
	static struct plant plant;
	clockid_t servers;
	double before_s, after_s, bare_ms;
	struct mono from;

	server_start(&server);
	pthread_getcpuclockid(server.thread, &servers);
	plant_init(&plant, server.port, DEVICES_MAX, 40, CHANNELS_MAX / DEVICES_MAX);
	plant_start(&plant, SLOW_S);
	sleep(2);
	from = clock_mono();
	before_s = cpu_s(CLOCK_PROCESS_CPUTIME_ID) - cpu_s(servers);
	sleeper_start();
	sleep(PLANT_S);
	bare_ms = sleeper_stop();
	after_s = cpu_s(CLOCK_PROCESS_CPUTIME_ID) - cpu_s(servers);
	plant_stop(&plant);
	tell_plant(&plant, from, (after_s - before_s) / PLANT_S, bare_ms);
	server_stop(&server);
}

int
main(void)
{
	log_set_level(LOG_LEVEL_ERROR);
	bench_plant();
	bench_dead();
	return 0;
}
