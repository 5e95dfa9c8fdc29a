/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * For tests of the poller: a server, devices on it, and a sink that holds every value
 * against the server's.  The clock runs at 100 times the system's: a period of 0.5 s is
 * 5 ms, and a time-out of 20 ms 2 s of the clock.
 */
#ifndef TESTS_UNIT_DAEMON_FIELDBUS_POLLING_H
#define TESTS_UNIT_DAEMON_FIELDBUS_POLLING_H

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>

#include <cmocka.h>

#include "conf/groups.h"
#include "conf/settings.h"
#include "daemon/base/error.h"
#include "daemon/base/log.h"
#include "daemon/base/scan.h"
#include "daemon/fieldbus/poller.h"
#include "tests/unit/daemon/fieldbus/server.h"

enum { DEVICES = 32, CHANNELS = 6, RATE = 100, STAMPS = 60 };

/* A line of devices that have the same channels, all on one bus. */
struct plant {
	struct settings settings;
	struct bus_settings bus;
	struct device_settings devices[DEVICES];
	struct channel_settings channels[DEVICES * CHANNELS];
};

struct tally { /* of one device; written by the poller's thread */
	atomic_int scans, good, bad_since_good;
	atomic_int worst_gap; /* most scans without a good one in a row */
	atomic_int good_by_channel[CHANNELS], bad_by_channel[CHANNELS];
	struct mono at[STAMPS], last; /* the first of them, and the last */
};

struct witness {
	const struct plant *plant;
	struct tally tallies[DEVICES];
	atomic_int wrong; /* values called good that are not the server's */
};

/* Registers 0 to 3, 110 and one coil: three blocks, by the hole below 110. */
static const struct channel_settings some_channels[CHANNELS] = {
    {.table = TABLE_HOLDING, .address = 0, .encoding = ENCODING_UINT16},
    {.table = TABLE_HOLDING, .address = 1, .encoding = ENCODING_UINT16},
    {.table = TABLE_HOLDING, .address = 2, .encoding = ENCODING_UINT32},
    {.table = TABLE_HOLDING, .address = 110, .encoding = ENCODING_UINT16},
    {.table = TABLE_HOLDING, .address = 111, .encoding = ENCODING_UINT16},
    {.table = TABLE_COIL, .address = 7, .encoding = ENCODING_BIT},
};

static inline void
plant_init(struct plant *plant, int port, int devices)
{
	memset(plant, 0, sizeof *plant);
	plant->settings.devices = plant->devices;
	plant->settings.device_count = (size_t)devices;
	plant->settings.channels = plant->channels;
	plant->settings.channel_count = (size_t)devices * CHANNELS;
	plant->settings.bus_count = 1;
	plant->settings.buses = &plant->bus;
	plant->bus = (struct bus_settings){.host = "127.0.0.1", .port = port};
	for (int i = 0; i < devices; i++) {
		plant->devices[i] = (struct device_settings){
		    .unit_id = 1 + i,
		    .period_s = 0.5,
		    .timeout_s = 0.05,
		    .max_registers = 125,
		    .hole_count = 1,
		    .holes = {{TABLE_HOLDING, 50, 60}},
		    .first_channel = (uint32_t)(i * CHANNELS),
		    .channel_count = CHANNELS,
		};
		snprintf(plant->devices[i].name, SETTINGS_NAME, "unit-%d", 1 + i);
		for (int k = 0; k < CHANNELS; k++) {
			struct channel_settings *c = &plant->channels[i * CHANNELS + k];

			*c = some_channels[k];
			c->bit = c->fault_channel = -1;
			c->scale = 1;
			c->min_si = -INFINITY;
			c->max_si = INFINITY;
		}
		groups_make(&plant->devices[i], plant->channels);
	}
}

static inline double
truth(int unit, const struct channel_settings *channel)
{
	int function = (int)channel->table + 1;
	double high = server_register(unit, function, channel->address);

	if (channel->table == TABLE_COIL)
		return server_bit(unit, function, channel->address);
	if (channel->encoding == ENCODING_UINT32)
		return high * 65536 +
		       server_register(unit, function, channel->address + 1);
	return high;
}

static inline void
watch(void *arg, const struct scan *scan)
{
	struct witness *witness = arg;
	const struct device_settings *device = &witness->plant->devices[scan->device];
	struct tally *tally = &witness->tallies[scan->device];
	int good = 0;

	for (uint32_t i = 0; i < scan->count; i++) {
		const struct reading *reading = &scan->readings[i];
		uint32_t channel = scan->first + i;
		double value = truth(device->unit_id,
		    &witness->plant->channels[device->first_channel + channel]);

		if (reading->quality != QUALITY_GOOD) {
			tally->bad_by_channel[channel]++;
			if (reading->quality != QUALITY_COMM_FAULT ||
			    !isnan(reading->value) || reading->raw != 0)
				witness->wrong++;
			continue;
		}
		good++;
		tally->good_by_channel[channel]++;
		if (fabs(reading->value - value) > 0 || reading->raw != (uint32_t)value)
			witness->wrong++;
	}
	if (tally->scans < STAMPS)
		tally->at[tally->scans] = scan->at;
	tally->scans++;
	tally->last = scan->at;
	if (good == (int)scan->count) {
		tally->good++;
		tally->bad_since_good = 0;
	} else if (++tally->bad_since_good > tally->worst_gap) {
		tally->worst_gap = tally->bad_since_good;
	}
}

struct bench { /* a server, a plant on it, and the poller between */
	struct server server;
	struct plant plant;
	struct witness witness;
	struct poller *poller;
};

static inline void
bench_start(struct bench *bench)
{
	struct error error;

	memset(&bench->witness, 0, sizeof bench->witness);
	bench->witness.plant = &bench->plant;
	bench->poller =
	    poller_start(&bench->plant.settings, 0, watch, &bench->witness, &error);
	assert_non_null(bench->poller);
}

static inline void
bench_open(struct bench *bench, int devices)
{
	server_start(&bench->server);
	plant_init(&bench->plant, bench->server.port, devices);
}

static inline void
bench_close(struct bench *bench)
{
	poller_stop(bench->poller);
	server_stop(&bench->server);
	assert_int_equal(bench->witness.wrong, 0);
}

static inline void
sleep_ms(int ms)
{
	usleep((useconds_t)ms * 1000);
}

/* Waits for `count` more good scans; false after ten seconds: a unit that has failed
 * among others is left alone for up to 120 times its time-out. */
static inline bool
wait_for_good(struct tally *tally, int count)
{
	int goal = tally->good + count;

	for (int i = 0; i < 5000 && tally->good < goal; i++)
		sleep_ms(2);
	return tally->good >= goal;
}

static inline int
polling_set_up(void **state)
{
	struct error error;

	(void)state;
	log_set_level(LOG_LEVEL_ERROR);
	return clock_run_at(RATE, (struct wall){0}, 0, &error);
}

#endif
