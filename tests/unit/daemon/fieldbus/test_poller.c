/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The poller over real sockets: what a bus may do to it.
 */
#include "daemon/fieldbus/poller.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <cmocka.h>

#include "tests/unit/daemon/fieldbus/capture.h"
#include "tests/unit/daemon/fieldbus/polling.h"
#include "tests/unit/seed.h"

enum { FEW = 4 };

static void
devices_of_one_bus_share_a_connection_and_keep_their_values(void **state)
{
	static struct bench bench;
	struct device_status status[FEW + 1];

	(void)state;
	bench_open(&bench, FEW);
	bench_start(&bench);
	sleep_ms(250);
	assert_int_equal(poller_status(bench.poller, status, FEW + 1), FEW);
	for (int i = 0; i < FEW; i++) {
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
	assert_true(status.late_p99_ms >= 500 && status.late_worst_ms >= 500);
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
	/* An attempt costs 2 s of the clock: 0, 0, 8, 32 and 128 s apart, and each ended a
	 * connection. */
	asked = bench.server.connections - 1;
	assert_in_range(asked, 3, 6);
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
	assert_in_range(time_to_stop_ms(&bench), 0, 500);
	bench.server.silent_unit = -1; /* three blocks of 0.2 s */
	bench.server.delay_ms = 200;
	server_misbehave(&bench.server, MANNER_LATE, 100);
	assert_in_range(time_to_stop_ms(&bench), 0, 500);
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

	return cmocka_run_group_tests(tests, polling_set_up, NULL);
}
