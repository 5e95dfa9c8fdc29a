/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The poller against a bare libmodbus loop that reads the same blocks of the same
 * server, in turns within one run; and how well 32 devices keep their schedule.
 */
#include <dirent.h>
#include <math.h>
#include <sched.h>
#include <stdio.h>

#include "conf/groups.h"
#include "conf/settings.h"
#include "daemon/base/error.h"
#include "daemon/base/log.h"
#include "daemon/base/scan.h"
#include "daemon/fieldbus/plan.h"
#include "daemon/fieldbus/poller.h"
#include "tests/bench/bare.h"
#include "tests/bench/figure.h"
#include "tests/unit/daemon/fieldbus/server.h"

enum {
	ROUNDS = 25,
	ROUND_MS = 100,
	DEVICES = 32,
	CHANNELS = 60,  /* in three blocks: holding, input, discrete */
	REGISTERS = 24, /* of them in the first */
	SCHEDULE_S = 4,
	SCANS_MAX = 64, /* kept of a device */
};

struct plant { /* devices of the same channels, a bus each */
	struct settings settings;
	struct bus_settings buses[DEVICES];
	struct device_settings devices[DEVICES];
	struct channel_settings channels[CHANNELS];
};

static void
plant_init(
    struct plant *plant, int port, size_t devices, double period_s, uint32_t channels)
{
	*plant = (struct plant){0};
	plant->settings.devices = plant->devices;
	plant->settings.device_count = plant->settings.bus_count = devices;
	plant->settings.channels = plant->channels;
	plant->settings.channel_count = CHANNELS;
	plant->settings.buses = plant->buses;
	for (size_t i = 0; i < devices; i++)
		plant->buses[i] =
		    (struct bus_settings){.host = "127.0.0.1", .port = port};
	for (size_t i = 0; i < devices; i++)
		plant->devices[i] = (struct device_settings){
		    .name = "device",
		    .bus = (uint32_t)i,
		    .unit_id = 1,
		    .period_s = period_s,
		    .timeout_s = 1,
		    .max_registers = 125,
		    .channel_count = channels,
		};
	for (int i = 0; i < CHANNELS; i++)
		plant->channels[i] = (struct channel_settings){
		    .table = i < REGISTERS ? TABLE_HOLDING
		             : i < 48      ? TABLE_INPUT
		                           : TABLE_DISCRETE,
		    .address = (uint16_t)i,
		    .encoding = i < 48 ? ENCODING_INT16 : ENCODING_BIT,
		    .bit = -1,
		    .fault_channel = -1,
		    .scale = 0.1,
		    .unit = i < 48 ? UNIT_CELSIUS : UNIT_ONE,
		    .dimension = i < 48 ? DIMENSION_TEMPERATURE : DIMENSION_NONE,
		    .min_si = -INFINITY,
		    .max_si = INFINITY,
		};
	for (size_t i = 0; i < devices; i++)
		groups_make(&plant->devices[i], plant->channels);
}

/* --- saturated polling ---------------------------------------------------------- */

/* Every thread of the process, those of the server too. */
static void
set_processors(const cpu_set_t *processors)
{
	DIR *threads = opendir("/proc/self/task");
	const struct dirent *entry;

	while (threads && (entry = readdir(threads)) != NULL)
		if (*entry->d_name != '.')
			sched_setaffinity(
			    atoi(entry->d_name), sizeof *processors, processors);
	if (threads)
		closedir(threads);
}

static void
stay_on_one(cpu_set_t *before)
{
	cpu_set_t one;
	size_t processor = 0;

	CPU_ZERO(&one);
	sched_getaffinity(0, sizeof *before, before);
	while (!CPU_ISSET(processor, before))
		processor++;
	CPU_SET(processor, &one);
	set_processors(&one);
}

static void
count_scan(void *arg, const struct scan *scan)
{
	atomic_long *count = arg;

	if (scan->readings[0].quality == QUALITY_GOOD)
		atomic_fetch_add(count, 1);
}

/* Scans a second; the poller has a period that nobody could keep. */
static double
rate_of_poller(const struct plant *plant)
{
	struct error error;
	atomic_long count = 0;
	struct poller *poller =
	    poller_start(&plant->settings, 0, count_scan, &count, &error);
	long before;
	double start_s, rate;

	if (!poller) {
		fprintf(stderr, "bench_polling: %s\n", error.text);
		exit(1);
	}
	while (atomic_load(&count) < 100) /* connected, and the caches warm */
		usleep(100);
	before = atomic_load(&count);
	start_s = figure_now_s();
	usleep(ROUND_MS * 1000);
	rate = (double)(atomic_load(&count) - before) / (figure_now_s() - start_s);
	poller_stop(poller);
	return rate;
}

static double
rate_of_bare(const struct read_plan *plan, int port)
{
	modbus_t *modbus = bare_open(port);
	long count = -100;
	double start_s = 0, rate;

	do {
		bare_read(modbus, plan);
		if (++count == 0)
			start_s = figure_now_s();
	} while (count <= 0 || (figure_now_s() - start_s) * 1000 < ROUND_MS);
	rate = (double)count / (figure_now_s() - start_s);
	bare_close(modbus);
	return rate;
}

/*
 * All threads on one processor: what a request costs, not what it takes to wake another
 * processor, which is twice as much and differs with who woke whom last.
 */
static void
bench_saturated(const struct server *server)
{
	static struct plant plant;
	struct read_plan *plan;
	double ratios[ROUNDS], bare = 0;
	cpu_set_t before;

	stay_on_one(&before);
	plant_init(&plant, server->port, 1, 1e-6, CHANNELS);
	plan = plan_new(&plant.settings, 0);
	for (int i = 0; i < ROUNDS; i++) {
		double ours = rate_of_poller(&plant);

		bare = rate_of_bare(plan, server->port);
		ratios[i] = 100 * ours / bare;
	}
	figure_at_least("polling_saturated", figure_quantile(ratios, ROUNDS, 0.5), "%",
	    95,
	    "a bare libmodbus loop, same %zu blocks and server, all on one processor, "
	    "median of %d rounds; "
	    "the loop: %.0f requests/s",
	    plan->block_count, ROUNDS, bare * (double)plan->block_count);
	plan_free(plan);
	set_processors(&before);
}

/* --- schedule ------------------------------------------------------------------- */

struct times { /* of one device's replies; its poller's alone until that is stopped */
	size_t count;
	struct mono at[SCANS_MAX];
};

static void
keep_time(void *arg, const struct scan *scan)
{
	struct times *times = arg;

	if (times->count < SCANS_MAX)
		times->at[times->count++] = scan->at;
}

/* How much later than on its own schedule each reply came: the schedule's phase is
 * that of the device's earliest.  The first comes at the start, whatever the phase. */
static size_t
add_lateness(const struct times *times, double period_s, double *late_ms)
{
	double earliest = INFINITY;
	size_t count = times->count > 1 ? times->count - 1 : 0;

	for (size_t i = 0; i < count; i++) {
		late_ms[i] = (double)(times->at[1 + i].ns - times->at[1].ns) / 1e6 -
		             1000 * period_s * (double)i;
		earliest = fmin(earliest, late_ms[i]);
	}
	for (size_t i = 0; i < count; i++)
		late_ms[i] -= earliest;
	return count;
}

static void
bench_schedule(const struct server *server)
{
	static struct plant plant;
	static struct times times[DEVICES];
	static double late_ms[DEVICES * SCANS_MAX];
	struct poller *pollers[DEVICES];
	struct device_status status;
	struct error error;
	int64_t lost = 0;
	size_t count = 0;

	/* One block: this is about when a scan begins, not how long it takes. */
	plant_init(&plant, server->port, DEVICES, 0.1, REGISTERS);
	for (uint32_t i = 0; i < DEVICES; i++)
		pollers[i] =
		    poller_start(&plant.settings, i, keep_time, &times[i], &error);
	sleep(SCHEDULE_S);
	for (uint32_t i = 0; i < DEVICES; i++) {
		if (!pollers[i] || poller_status(pollers[i], &status, 1) != 1)
			abort();
		lost += status.failures + status.late;
		poller_stop(pollers[i]);
		count += add_lateness(&times[i], 0.1, late_ms + count);
	}
	figure_at_most("schedule_late_p99", figure_quantile(late_ms, count, 0.99), "ms",
	    2,
	    "each device's own schedule, %d devices at 10 Hz for %d s, %lld of %zu "
	    "scans lost",
	    DEVICES, SCHEDULE_S, (long long)lost, count);
}

int
main(void)
{
	static struct server server;

	log_set_level(LOG_LEVEL_ERROR); /* the saturated bus is told of */
	server_start(&server);
	bench_saturated(&server);
	bench_schedule(&server);
	server_stop(&server);
	return 0;
}
