/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The poller against a bare libmodbus loop that reads the same blocks of the same
 * server, in turns within one run; and how well 32 devices keep their schedule.
 */
#include <math.h>
#include <modbus/modbus.h>
#include <stdio.h>

#include "conf/settings.h"
#include "daemon/base/error.h"
#include "daemon/base/log.h"
#include "daemon/base/scan.h"
#include "daemon/fieldbus/plan.h"
#include "daemon/fieldbus/poller.h"
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
	for (size_t i = 0; i < devices; i++)
		plant->devices[i] = (struct device_settings){
		    .name = "device",
		    .host = "127.0.0.1",
		    .port = port,
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
		    .scale = 0.1,
		    .unit = i < 48 ? UNIT_CELSIUS : UNIT_ONE,
		    .dimension = i < 48 ? DIMENSION_TEMPERATURE : DIMENSION_NONE,
		    .min_si = -INFINITY,
		    .max_si = INFINITY,
		};
}

static void
tell(const char *name, double value, const char *unit, double target, bool at_least,
    const char *against)
{
	bool met = at_least ? value >= target : value <= target;

	printf("%s %.3g %s, target at %s %g: %s (against %s)\n", name, value, unit,
	    at_least ? "least" : "most", target, met ? "met" : "not met", against);
}

static int
number_order(const void *left, const void *right)
{
	double a = *(const double *)left, b = *(const double *)right;

	return (a > b) - (a < b);
}

static double
quantile(double *values, size_t count, double ratio)
{
	qsort(values, count, sizeof *values, number_order);
	return values[(size_t)(ratio * (double)(count - 1))];
}

static double
seconds_since(struct mono start)
{
	return (double)(clock_mono().ns - start.ns) / (double)CLOCK_SECOND_NS;
}

/* --- saturated polling ---------------------------------------------------------- */

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
	struct mono start;
	long before;
	double rate;

	if (!poller) {
		fprintf(stderr, "bench_polling: %s\n", error.text);
		exit(1);
	}
	while (atomic_load(&count) < 100) /* connected, and the caches warm */
		usleep(100);
	before = atomic_load(&count);
	start = clock_mono();
	usleep(ROUND_MS * 1000);
	rate = (double)(atomic_load(&count) - before) / seconds_since(start);
	poller_stop(poller);
	return rate;
}

static bool
read_bare(modbus_t *modbus, const struct read_block *block)
{
	uint16_t words[MODBUS_MAX_READ_REGISTERS];
	uint8_t bits[MODBUS_MAX_READ_BITS];
	int first = block->first, count = block->count;

	switch (block->table) {
	case TABLE_COIL:
		return modbus_read_bits(modbus, first, count, bits) == count;
	case TABLE_DISCRETE:
		return modbus_read_input_bits(modbus, first, count, bits) == count;
	case TABLE_HOLDING:
		return modbus_read_registers(modbus, first, count, words) == count;
	case TABLE_INPUT:
		return modbus_read_input_registers(modbus, first, count, words) ==
		       count;
	}
	return false;
}

static double
rate_of_bare(const struct read_plan *plan, int port)
{
	modbus_t *modbus = modbus_new_tcp("127.0.0.1", port);
	struct mono start = {0};
	long count = -100;
	double rate;

	modbus_set_slave(modbus, 1);
	if (modbus_connect(modbus)) {
		fprintf(stderr, "bench_polling: no connection\n");
		exit(1);
	}
	do {
		for (size_t i = 0; i < plan->block_count; i++)
			if (!read_bare(modbus, &plan->blocks[i]))
				abort();
		if (++count == 0)
			start = clock_mono();
	} while (count <= 0 || seconds_since(start) * 1000 < ROUND_MS);
	rate = (double)count / seconds_since(start);
	modbus_close(modbus);
	modbus_free(modbus);
	return rate;
}

static void
bench_saturated(const struct server *server)
{
	static struct plant plant;
	struct read_plan *plan;
	double ratios[ROUNDS], bare = 0;
	char against[160];

	plant_init(&plant, server->port, 1, 1e-6, CHANNELS);
	plan = plan_new(&plant.settings, 0);
	for (int i = 0; i < ROUNDS; i++) {
		double ours = rate_of_poller(&plant);

		bare = rate_of_bare(plan, server->port);
		ratios[i] = 100 * ours / bare;
	}
	snprintf(against, sizeof against,
	    "a bare libmodbus loop, same %zu blocks and server, median of %d rounds; "
	    "the loop: %.0f requests/s",
	    plan->block_count, ROUNDS, bare * (double)plan->block_count);
	tell(
	    "polling_saturated", quantile(ratios, ROUNDS, 0.5), "%", 95, true, against);
	plan_free(plan);
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
 * that of the device's earliest. */
static size_t
add_lateness(const struct times *times, double period_s, double *late_ms)
{
	double earliest = INFINITY;

	for (size_t i = 0; i < times->count; i++) {
		late_ms[i] = (double)(times->at[i].ns - times->at[0].ns) / 1e6 -
		             1000 * period_s * (double)i;
		earliest = fmin(earliest, late_ms[i]);
	}
	for (size_t i = 0; i < times->count; i++)
		late_ms[i] -= earliest;
	return times->count;
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
	char against[160];

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
	snprintf(against, sizeof against,
	    "each device's own schedule, %d devices at 10 Hz for %d s, %lld of %zu "
	    "scans lost",
	    DEVICES, SCHEDULE_S, (long long)lost, count);
	tell("schedule_late_p99", quantile(late_ms, count, 0.99), "ms", 2, false,
	    against);
}

int
main(void)
{
	static struct server server;

	log_set_level(LOG_LEVEL_WARNING);
	server_start(&server);
	bench_saturated(&server);
	bench_schedule(&server);
	server_stop(&server);
	return 0;
}
