/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The poller over real sockets, with the clock at 100 times the system's: a period
 * of 0.5 s is 5 ms, the longest back-off of 30 s is 300 ms.
 */
#include "daemon/fieldbus/poller.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <cmocka.h>

#include "conf/groups.h"
#include "conf/settings.h"
#include "daemon/base/error.h"
#include "daemon/base/log.h"
#include "daemon/base/scan.h"
#include "tests/unit/daemon/fieldbus/capture.h"
#include "tests/unit/daemon/fieldbus/server.h"
#include "tests/unit/seed.h"

enum { DEVICES = 4, CHANNELS = 6, RATE = 100, STAMPS = 60 };

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
	atomic_int good_by_channel[CHANNELS];
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

static void
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

static double
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

static void
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

static void
bench_start(struct bench *bench)
{
	struct error error;

	memset(&bench->witness, 0, sizeof bench->witness);
	bench->witness.plant = &bench->plant;
	bench->poller =
	    poller_start(&bench->plant.settings, 0, watch, &bench->witness, &error);
	assert_non_null(bench->poller);
}

static void
bench_open(struct bench *bench, int devices)
{
	server_start(&bench->server);
	plant_init(&bench->plant, bench->server.port, devices);
}

static void
bench_close(struct bench *bench)
{
	poller_stop(bench->poller);
	server_stop(&bench->server);
	assert_int_equal(bench->witness.wrong, 0);
}

static void
sleep_ms(int ms)
{
	usleep((useconds_t)ms * 1000);
}

/* Waits for `count` more good scans; false after two seconds. */
static bool
wait_for_good(struct tally *tally, int count)
{
	int goal = tally->good + count;

	for (int i = 0; i < 1000 && tally->good < goal; i++)
		sleep_ms(2);
	return tally->good >= goal;
}

static void
devices_of_one_bus_share_a_connection_and_keep_their_values(void **state)
{
	static struct bench bench;
	struct device_status status[DEVICES + 1];

	(void)state;
	bench_open(&bench, DEVICES);
	bench_start(&bench);
	sleep_ms(250);
	assert_int_equal(poller_status(bench.poller, status, DEVICES + 1), DEVICES);
	for (int i = 0; i < DEVICES; i++) {
		assert_int_equal(status[i].device, i);
		assert_int_equal(status[i].answering, 1);
		assert_int_equal(status[i].failures, 0);
		assert_true(status[i].since.ns > 0);
		assert_int_equal(bench.witness.tallies[i].worst_gap, 0);
		assert_true(bench.witness.tallies[i].good > 10);
	}
	assert_int_equal(poller_status(bench.poller, status, 2), 2);
	assert_int_equal(bench.server.connections, 1);
	bench_close(&bench);
}

/* The least that a reply came after the beat of the first one, in periods: from half
 * a period before it to half a period after. */
static double
least_phase(const struct tally *tally, int from, int to)
{
	double least = 1;

	for (int i = from; i < to; i++) {
		double periods = (double)(tally->at[i].ns - tally->at[0].ns) /
		                 (0.5 * CLOCK_SECOND_NS);

		least = fmin(least, periods - round(periods));
	}
	return least;
}

/* How far the schedule moved over 40 periods, in periods. */
static double
drift(void)
{
	static struct bench bench;
	const struct tally *tally = &bench.witness.tallies[0];

	bench_open(&bench, 1);
	bench_start(&bench);
	assert_true(wait_for_good(&bench.witness.tallies[0], STAMPS));
	bench_close(&bench);
	return fabs(least_phase(tally, 40, STAMPS) - least_phase(tally, 0, 20));
}

/* A period added to the time of each reply would move by more than a tenth every time.
 * A busy machine can make a single run look so: the best of some is taken. */
static void
the_schedule_is_kept_without_drift(void **state)
{
	double least = 1;

	(void)state;
	for (int i = 0; i < 8 && least >= 0.1; i++)
		least = fmin(least, drift());
	assert_true(least < 0.1);
}

static void
one_that_is_behind_leaves_periods_out_and_never_bursts(void **state)
{
	static struct bench bench;
	struct tally *tally = &bench.witness.tallies[0];
	struct device_status status;
	double periods;

	(void)state;
	bench_open(&bench, 1);
	bench.server.delay_ms = 7; /* three blocks take 21 ms, over four periods */
	server_misbehave(&bench.server, MANNER_LATE, 30);
	bench_start(&bench);
	sleep_ms(300);
	poller_status(bench.poller, &status, 1);
	bench_close(&bench);
	periods = (double)(tally->last.ns - tally->at[0].ns) / (0.5 * CLOCK_SECOND_NS);
	assert_int_equal(tally->worst_gap, 0);
	assert_true(status.late >= 8);
	assert_true(tally->scans < periods - 20);
}

/* Every misbehaviour once: nothing wrong is called good, and at most two scans are
 * lost. */
static void
one_wrong_answer_costs_two_scans_at_most(void **state)
{
	static struct bench bench;
	struct tally *tally = &bench.witness.tallies[0];

	(void)state;
	bench_open(&bench, 1);
	bench.server.delay_ms = 60;
	bench_start(&bench);
	for (int manner = MANNER_LATE; manner < MANNER_COUNT; manner++) {
		if (manner == MANNER_DRIPPING || manner == MANNER_LATE)
			continue; /* they hold this server up: see the next test */
		assert_true(wait_for_good(tally, 2));
		tally->worst_gap = 0;
		server_misbehave(&bench.server, (enum manner)manner, 1);
		assert_true(wait_for_good(tally, 3));
		if (tally->worst_gap > 2)
			fail_msg(
			    "manner %d: %d scans lost", manner, (int)tally->worst_gap);
	}
	bench_close(&bench);
}

/* As a device that is slow for a while does: late replies arrive on a connection
 * that nobody listens to any more. */
static void
late_and_dripping_answers_are_never_taken_for_others(void **state)
{
	static struct bench bench;

	(void)state;
	bench_open(&bench, 2);
	bench.server.delay_ms = 60;
	bench_start(&bench);
	assert_true(wait_for_good(&bench.witness.tallies[0], 2));
	server_misbehave(&bench.server, MANNER_LATE, 3);
	sleep_ms(400);
	assert_true(wait_for_good(&bench.witness.tallies[0], 2));
	bench.server.delay_ms = 20;
	server_misbehave(&bench.server, MANNER_DRIPPING, 2);
	sleep_ms(400);
	assert_true(wait_for_good(&bench.witness.tallies[0], 2));
	assert_true(wait_for_good(&bench.witness.tallies[1], 2));
	bench_close(&bench);
}

static void
a_server_gone_mad_is_never_believed(void **state)
{
	static struct bench bench;

	(void)state;
	srand(seed_take((unsigned)time(NULL)));
	bench_open(&bench, 2);
	bench.server.delay_ms = 1;
	bench_start(&bench);
	for (int i = 0; i < 150; i++) {
		server_misbehave(&bench.server, (enum manner)(rand() % MANNER_COUNT),
		    1 + rand() % 3);
		sleep_ms(rand() % 8);
	}
	server_misbehave(&bench.server, MANNER_HONEST, 0);
	assert_true(wait_for_good(&bench.witness.tallies[0], 5));
	assert_true(wait_for_good(&bench.witness.tallies[1], 5));
	bench_close(&bench);
}

static void
an_exception_costs_the_channels_of_its_block_only(void **state)
{
	static struct bench bench;
	struct tally *tally = &bench.witness.tallies[0];
	struct device_status status;

	(void)state;
	bench_open(&bench, 1);
	bench.server.hole_first = bench.server.hole_last = 111;
	bench_start(&bench);
	sleep_ms(100);
	poller_status(bench.poller, &status, 1);
	bench_close(&bench);
	assert_int_equal(status.answering, 0);
	assert_int_equal(status.failures, status.scans);
	assert_true(status.in_part);
	assert_non_null(strstr(status.text, "read holding 110..111: exception 2"));
	assert_true(tally->scans > 3);
	for (int i = 0; i < CHANNELS; i++)
		assert_int_equal(tally->good_by_channel[i],
		    i == 3 || i == 4 ? 0 : (int)tally->scans);
	assert_int_equal(bench.server.connections, 1);
}

/* A dead unit is heard of in every period, asked less and less, and does not
 * deafen the others. */
static void
a_dead_device_backs_off_and_leaves_the_bus_to_the_others(void **state)
{
	static struct bench bench;
	static struct capture log;
	struct tally *dead = &bench.witness.tallies[1], *alive;
	struct device_status status[2];
	int asked;

	(void)state;
	bench_open(&bench, 2);
	alive = &bench.witness.tallies[0];
	bench.plant.devices[0].timeout_s = 0.5;
	bench.plant.devices[1].timeout_s = 0.02;
	bench.server.silent_unit = 2;
	log_set_level(LOG_LEVEL_INFO);
	capture_start(&log);
	bench_start(&bench);
	sleep_ms(800); /* 80 s of the clock */
	poller_status(bench.poller, status, 2);
	assert_int_equal(dead->good, 0);
	assert_true(dead->scans > 60);
	assert_true(alive->good > 60);
	assert_int_equal(alive->worst_gap, 0);
	assert_int_equal(status[1].answering, 0);
	assert_int_equal(status[1].failures, status[1].scans);
	assert_string_equal(status[1].text, "timed out after 20 ms");
	/* 0, 0, 0.5, 1, 2, 4, 8, 16 and 30 s apart: each ended a connection. */
	asked = bench.server.connections - 1;
	assert_in_range(asked, 5, 12);
	bench.server.silent_unit = -1;
	assert_true(wait_for_good(dead, 3));
	bench_close(&bench);
	capture_end(&log);
	log_set_level(LOG_LEVEL_ERROR);
	assert_int_equal(
	    capture_count(&log, "device 'unit-2' silent: timed out after 20 ms"), 1);
	assert_int_equal(capture_count(&log, "device 'unit-2' answers again after"), 1);
	assert_int_equal(capture_count(&log, "\n"), 3);
}

static void
a_server_that_comes_later_is_found(void **state)
{
	static struct bench bench;
	struct device_status status[2];
	int port;

	(void)state;
	bench_open(&bench, 2);
	port = bench.server.port;
	server_stop(&bench.server);
	bench_start(&bench);
	sleep_ms(200);
	assert_int_equal(poller_status(bench.poller, status, 2), 2);
	for (int i = 0; i < 2; i++) {
		assert_int_equal(status[i].answering, 0);
		assert_false(status[i].in_part);
		assert_true(status[i].scans > 10);
		assert_non_null(strstr(status[i].text, "Connection refused"));
	}
	server_start_on(&bench.server, port);
	assert_true(wait_for_good(&bench.witness.tallies[0], 2));
	assert_true(wait_for_good(&bench.witness.tallies[1], 2));
	bench_close(&bench);
}

/* Stops in the middle of a scan; milliseconds of the system's time. */
static int64_t
time_to_stop_ms(struct bench *bench)
{
	struct mono start;

	bench->plant.devices[0].timeout_s = 0.3;
	bench_start(bench);
	sleep_ms(50); /* now it waits for unit 1 */
	start = clock_mono();
	poller_stop(bench->poller);
	return clock_system_ns(clock_mono().ns - start.ns) / 1000000;
}

static void
stopping_takes_one_time_out_at_most(void **state)
{
	static struct bench bench;

	(void)state;
	bench_open(&bench, 2);
	bench.server.silent_unit = 1;
	assert_in_range(time_to_stop_ms(&bench), 0, 350);
	bench.server.silent_unit = -1; /* three blocks of 0.2 s */
	bench.server.delay_ms = 200;
	server_misbehave(&bench.server, MANNER_LATE, 100);
	assert_in_range(time_to_stop_ms(&bench), 0, 350);
	server_stop(&bench.server);
	poller_stop(NULL);
}

static void
a_bus_without_channels_is_at_rest(void **state)
{
	static struct bench bench;
	struct device_status status;

	(void)state;
	bench_open(&bench, 1);
	bench.plant.devices[0].channel_count = 0;
	bench_start(&bench);
	assert_int_equal(poller_status(bench.poller, &status, 1), 0);
	bench_close(&bench);
	assert_int_equal(bench.server.connections, 0);
}

static int
set_up(void **state)
{
	struct error error;

	(void)state;
	log_set_level(LOG_LEVEL_ERROR);
	return clock_run_at(RATE, (struct wall){0}, 0, &error);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(
		devices_of_one_bus_share_a_connection_and_keep_their_values),
	    cmocka_unit_test(the_schedule_is_kept_without_drift),
	    cmocka_unit_test(one_that_is_behind_leaves_periods_out_and_never_bursts),
	    cmocka_unit_test(one_wrong_answer_costs_two_scans_at_most),
	    cmocka_unit_test(late_and_dripping_answers_are_never_taken_for_others),
	    cmocka_unit_test(a_server_gone_mad_is_never_believed),
	    cmocka_unit_test(an_exception_costs_the_channels_of_its_block_only),
	    cmocka_unit_test(a_dead_device_backs_off_and_leaves_the_bus_to_the_others),
	    cmocka_unit_test(a_server_that_comes_later_is_found),
	    cmocka_unit_test(stopping_takes_one_time_out_at_most),
	    cmocka_unit_test(a_bus_without_channels_is_at_rest),
	};

	return cmocka_run_group_tests(tests, set_up, NULL);
}
