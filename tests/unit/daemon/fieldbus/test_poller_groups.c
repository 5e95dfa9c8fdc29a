/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The poller over real sockets: what is read when, and what a unit that does not answer
 * costs the others.  Nothing here is a limit on time that a busy machine could break:
 * requests are counted, and times are those of the clock that the poller had.
 */
#include "daemon/fieldbus/poller.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <cmocka.h>

#include "daemon/fieldbus/polled.h"
#include "daemon/fieldbus/silence.h"
#include "tests/unit/daemon/fieldbus/capture.h"
#include "tests/unit/daemon/fieldbus/polling.h"

enum { UNIT = 2 }; /* the second device, which does not do well */

static double
since_s(struct mono start)
{
	return (double)(clock_mono().ns - start.ns) / (double)CLOCK_SECOND_NS;
}

/* Until so much of the clock is over since `start`. */
static void
sleep_until_s(struct mono start, double s)
{
	while (since_s(start) < s)
		sleep_ms(5);
}

static struct device_status
status_of(struct bench *bench, uint32_t device)
{
	struct device_status list[DEVICES];
	size_t count = poller_status(bench->poller, list, DEVICES);

	assert_true(device < count);
	return list[device];
}

/* The channels from `first` on get a period of their own. */
static void
set_period(struct bench *bench, int first, double period_s, bool at_heat)
{
	for (int i = 0; i < CHANNELS; i++) {
		bench->plant.channels[i].period_s = i < first ? 0.5 : period_s;
		bench->plant.channels[i].at_heat = i >= first && at_heat;
	}
	assert_true(groups_make(&bench->plant.devices[0], bench->plant.channels));
	assert_int_equal(bench->plant.devices[0].group_count, 2);
	bench->plant.devices[0].timeout_s = 2; /* a busy machine loses none */
}

static void
groups_keep_periods_of_their_own(void **state)
{
	static struct bench bench;
	struct tally *tally = &bench.witness.tallies[0];
	struct mono start;
	double s;

	(void)state;
	bench_open(&bench, 1);
	set_period(&bench, 4, 5, false);
	start = clock_mono();
	bench_start(&bench);
	assert_true(wait_for_good(tally, 60));
	while (tally->good_by_channel[5] < 4)
		sleep_ms(2);
	poller_stop(bench.poller);
	s = since_s(start);
	assert_in_range(tally->good_by_channel[0], 30, s / 0.5 + 2);
	/* At the start, half a period later by the spreading, and every period. */
	assert_in_range(tally->good_by_channel[5], 4, s / 5 + 3);
	assert_int_equal(tally->good_by_channel[0], tally->good_by_channel[3]);
	assert_int_equal(tally->good_by_channel[4], tally->good_by_channel[5]);
	server_stop(&bench.server);
	assert_int_equal(bench.witness.wrong, 0);
}

static bool
wait_for_channel(struct tally *tally, int channel, int count)
{
	for (int i = 0; i < 2000 && tally->good_by_channel[channel] < count; i++)
		sleep_ms(1);
	return tally->good_by_channel[channel] >= count;
}

static void
what_a_heat_wants_is_read_at_once(void **state)
{
	static struct bench bench;
	struct tally *tally = &bench.witness.tallies[0];
	int before;

	(void)state;
	bench_open(&bench, 1);
	set_period(&bench, 4, 86400, true);
	bench_start(&bench);
	assert_true(wait_for_channel(tally, 5, 1));
	before = tally->good;
	assert_true(wait_for_good(tally, 20));
	assert_int_equal(tally->good_by_channel[5], 1);
	poller_hurry(bench.poller, 0);
	assert_true(wait_for_channel(tally, 5, 2));
	poller_hurry(bench.poller, 1); /* another line's heat */
	assert_true(wait_for_good(tally, 20));
	assert_int_equal(tally->good_by_channel[5], 2);
	assert_true(tally->good_by_channel[0] > before);
	bench_close(&bench);
}

static void
a_heat_wakes_a_poller_that_is_at_rest(void **state)
{
	static struct bench bench;
	struct tally *tally = &bench.witness.tallies[0];

	(void)state;
	bench_open(&bench, 1);
	set_period(&bench, 4, 86400, true);
	bench.plant.devices[0].groups[0].period_s = 43200;
	bench_start(&bench);
	for (int i = 1; i < 20; i++) {
		assert_true(wait_for_channel(tally, 5, i));
		poller_hurry(bench.poller, 0);
	}
	assert_int_equal(tally->good_by_channel[0], 1);
	bench_close(&bench);
}

/* An attempt at it costs 2 s of the clock. */
static void
a_dead_unit_among_many_costs_a_few_requests(void **state)
{
	static struct bench bench;
	struct mono start;
	struct device_status dead;
	double s;

	(void)state;
	bench_open(&bench, DEVICES);
	for (int i = 0; i < DEVICES; i++)
		bench.plant.devices[i].timeout_s = i == UNIT - 1 ? 0.02 : 1;
	bench.server.silent_unit = UNIT;
	start = clock_mono();
	bench_start(&bench);
	sleep_until_s(start, 200);
	dead = status_of(&bench, UNIT - 1);
	s = since_s(start);
	/* 0, 0, 8, 32, 128 and then 240 s apart. */
	assert_in_range(dead.answers[ANSWER_NONE], 3, 6 + (s - 200) / 240);
	assert_int_equal(bench.server.requests_of[UNIT], dead.answers[ANSWER_NONE]);
	assert_int_equal(dead.answering, 0);
	assert_false(dead.in_part);
	/* It is told of at every period that the bus had time for. */
	assert_true(dead.scans > 10 * dead.answers[ANSWER_NONE]);
	for (int i = 0; i < DEVICES; i++) {
		struct device_status one = status_of(&bench, (uint32_t)i);

		if (i == UNIT - 1)
			continue;
		assert_int_equal(one.failures, 0);
		assert_int_equal(one.answering, 1);
		assert_true(bench.server.requests_of[i + 1] > 100);
	}
	bench_close(&bench);
}

static void
sections_of_one_unit_share_its_pauses(void **state)
{
	static struct bench bench;
	struct mono start;
	double s;

	(void)state;
	bench_open(&bench, 6);
	for (int i = 0; i < 6; i++) {
		bench.plant.devices[i].timeout_s = i ? 0.02 : 1;
		bench.plant.devices[i].unit_id = i ? UNIT : 1;
	}
	bench.server.silent_unit = UNIT;
	start = clock_mono();
	bench_start(&bench);
	sleep_until_s(start, 150);
	s = since_s(start);
	assert_in_range(bench.server.requests_of[UNIT], 3, 6 + (s - 150) / 240);
	for (uint32_t i = 1; i < 6; i++)
		assert_int_equal(status_of(&bench, i).answering, 0);
	bench_close(&bench);
}

/* Of one group the others hear at its first answer, though they are not due for hours. */
static void
expect_whole_return(bool gateway)
{
	static struct bench bench;
	struct tally *tally = &bench.witness.tallies[0];

	bench_open(&bench, 1);
	set_period(&bench, 4, 86400, false);
	bench.plant.devices[0].timeout_s = 0.1;
	bench.plant.devices[0].groups[0].period_s = 20; /* there is time for both */
	bench.server.refusal = 11;
	bench.server.refusing_unit = gateway ? 1 : -1;
	bench.server.silent_unit = gateway ? -1 : 1;
	bench_start(&bench);
	while (tally->bad_by_channel[5] < 1 || tally->bad_by_channel[0] < 4)
		sleep_ms(1);
	bench.server.silent_unit = bench.server.refusing_unit = -1;
	assert_true(wait_for_channel(tally, 5, 1));
	assert_true(wait_for_channel(tally, 0, 5));
	bench_close(&bench);
}

static void
a_unit_that_comes_back_is_read_whole(void **state)
{
	(void)state;
	expect_whole_return(false);
	expect_whole_return(true);
}

/* Nobody could ask meanwhile: that is no failure of the unit, and heals alike. */
static void
a_connection_that_comes_back_serves_all_groups(void **state)
{
	static struct bench bench;
	struct tally *tally = &bench.witness.tallies[0];
	int port;

	(void)state;
	bench_open(&bench, 1);
	set_period(&bench, 4, 86400, false);
	port = bench.server.port;
	server_stop(&bench.server);
	bench_start(&bench);
	while (tally->bad_by_channel[5] < 1)
		sleep_ms(1);
	server_start_on(&bench.server, port);
	assert_true(wait_for_channel(tally, 5, 1));
	bench_close(&bench);
}

static void
a_busy_unit_is_asked_again_at_the_next_period(void **state)
{
	static struct bench bench;
	struct tally *tally = &bench.witness.tallies[UNIT - 1];
	struct device_status busy;

	(void)state;
	bench_open(&bench, 3);
	bench.server.refusal = 6;
	bench.server.refusing_unit = UNIT;
	bench_start(&bench);
	while (tally->scans < 40)
		sleep_ms(1);
	busy = status_of(&bench, UNIT - 1);
	/* Three requests a scan: none was left out. */
	assert_true(busy.answers[ANSWER_BUSY] >= 3 * busy.scans);
	assert_true(busy.in_part);
	assert_int_equal(busy.failures, busy.scans);
	assert_int_equal(status_of(&bench, 0).failures, 0);
	assert_int_equal(tally->good, 0);
	bench.server.refusing_unit = -1;
	tally->worst_gap = tally->bad_since_good = 0;
	assert_true(wait_for_good(tally, 3));
	assert_true(tally->worst_gap <= 2); /* one may have been under way */
	assert_int_equal(bench.server.connections, 1);
	bench_close(&bench);
}

/* Cheap as it is: after three in a row it is asked once in 30 s at last. */
static void
silence_behind_a_gateway_is_the_units_and_not_the_links(void **state)
{
	const int codes[] = {10, 11};

	(void)state;
	for (size_t i = 0; i < sizeof codes / sizeof codes[0]; i++) {
		static struct bench bench;
		struct device_status silent;
		struct mono start;

		bench_open(&bench, 3);
		bench.server.refusal = codes[i];
		bench.server.refusing_unit = UNIT;
		start = clock_mono();
		bench_start(&bench);
		sleep_until_s(start, 60);
		silent = status_of(&bench, UNIT - 1);
		assert_int_equal(silent.answering, 0);
		assert_false(silent.in_part);
		assert_in_range(
		    silent.answers[ANSWER_GATEWAY], 3, 14 + (since_s(start) - 60) / 30);
		assert_int_equal(
		    bench.server.requests_of[UNIT], silent.answers[ANSWER_GATEWAY]);
		assert_true(silent.scans > 3 * silent.answers[ANSWER_GATEWAY]);
		assert_int_equal(status_of(&bench, 0).failures, 0);
		assert_int_equal(bench.server.connections, 1);
		assert_int_equal(status_of(&bench, 0).opened, 1);
		bench_close(&bench);
	}
}

/* Silence goes by the shortest period of a unit, whatever sections it has. */
static void
a_units_shortest_period_is_known(void **state)
{
	static struct bench bench;
	struct polled_bus *bus;

	(void)state;
	bench_open(&bench, 3);
	bench.plant.devices[1].groups[0].period_s = 7;
	bench.plant.devices[2].groups[0].period_s = 3;
	bench.plant.devices[2].unit_id = bench.plant.devices[1].unit_id;
	bus = polled_new(&bench.plant.settings, 0);
	assert_non_null(bus);
	assert_int_equal(bus->silence->count, 2);
	assert_int_equal(bus->silence->units[0].period_ns, CLOCK_SECOND_NS / 2);
	assert_int_equal(bus->silence->units[1].period_ns, 3 * CLOCK_SECOND_NS);
	polled_free(bus);
	server_stop(&bench.server);
}

/* Each failure of theirs ends the connection: it is made again for whoever is next. */
static void
dead_units_behind_one_end_point_deafen_nobody(void **state)
{
	static struct bench bench;
	static struct capture log;
	struct device_status alive;
	struct mono start;

	(void)state;
	bench_open(&bench, 5);
	for (int i = 0; i < 5; i++)
		bench.plant.devices[i].timeout_s = i == 4 ? 1 : 0.02;
	bench.server.silent_unit = 1;
	bench.server.second_silent_unit = 2;
	bench.server.closing_unit = 3;
	bench.plant.devices[3].unit_id = 3;
	log_set_level(LOG_LEVEL_WARNING);
	capture_start(&log);
	start = clock_mono();
	bench_start(&bench);
	sleep_until_s(start, 200);
	alive = status_of(&bench, 4);
	bench_close(&bench);
	capture_end(&log);
	log_set_level(LOG_LEVEL_ERROR);
	assert_true(bench.server.connections >= 3 * 3);
	assert_true(alive.scans > 100);
	assert_int_equal(alive.failures, 0);
	assert_int_equal(bench.witness.tallies[4].worst_gap, 0);
	assert_int_equal(capture_count(&log, "device 'unit-5' silent"), 0);
	/* And nobody is told of with another's reason. */
	assert_int_equal(capture_count(&log, "silent: timed out after 20 ms"), 2);
	assert_int_equal(capture_count(&log, "silent: the device closed"), 2);
}

/* A server that takes no more connections: its queue is full. */
static void
fill_queue(const struct server *server, int *fds, int count)
{
	struct sockaddr_in address = {
	    .sin_family = AF_INET,
	    .sin_port = htons((uint16_t)server->port),
	    .sin_addr.s_addr = htonl(INADDR_LOOPBACK),
	};

	for (int i = 0; i < count; i++) {
		fds[i] = socket(AF_INET, SOCK_STREAM | SOCK_NONBLOCK, 0);
		assert_true(fds[i] >= 0);
		(void)connect(fds[i], (struct sockaddr *)&address, sizeof address);
	}
	sleep_ms(50);
}

/* Or the poller does nothing but wait, and readings come no more at their periods. */
static void
connecting_in_vain_takes_no_more_than_half_of_the_time(void **state)
{
	enum { QUEUE = 4, SCANS = 60, TIMEOUT_MS = 100 };
	static struct bench bench;
	struct tally *tally = &bench.witness.tallies[0];
	int fds[QUEUE];
	struct mono start;

	(void)state;
	bench_open(&bench, 1);
	atomic_store(&bench.server.stop, true);
	pthread_join(bench.server.thread, NULL);
	assert_int_equal(listen(bench.server.listen_fd, 0), 0);
	fill_queue(&bench.server, fds, QUEUE);
	bench.plant.devices[0].timeout_s = TIMEOUT_MS / 1000.0;
	start = clock_mono();
	bench_start(&bench);
	while (tally->scans < SCANS)
		sleep_ms(1);
	/* Were each of them an attempt, they would take as many time-outs. */
	assert_true(since_s(start) < 0.8 * SCANS * TIMEOUT_MS / 1000 * RATE);
	assert_non_null(strstr(status_of(&bench, 0).text, "timed out after 100 ms"));
	assert_int_equal(status_of(&bench, 0).opened, 0);
	poller_stop(bench.poller);
	for (int i = 0; i < QUEUE; i++)
		close(fds[i]);
	close(bench.server.listen_fd);
	assert_int_equal(bench.witness.wrong, 0);
}

/* Accepting and closing at once is no answer: no storm of connections, but for the
 * first three failures of each. */
static void
connections_that_bring_nothing_are_made_once_a_period(void **state)
{
	static struct bench bench;
	struct mono start;

	(void)state;
	bench_open(&bench, 8);
	server_misbehave(&bench.server, MANNER_CLOSING, 1000000);
	start = clock_mono();
	bench_start(&bench);
	sleep_until_s(start, 30);
	assert_in_range(bench.server.connections, 5, since_s(start) / 0.5 + 2 + 3 * 8);
	server_misbehave(&bench.server, MANNER_HONEST, 0);
	for (int i = 0; i < 8; i++)
		assert_true(wait_for_good(&bench.witness.tallies[i], 2));
	bench_close(&bench);
}

/* 32 devices of three requests every 0.5 s, at an assumed 10 ms each. */
static void
a_bus_without_the_time_is_told_of_at_the_start(void **state)
{
	static struct bench bench;
	static struct capture log;

	(void)state;
	bench_open(&bench, DEVICES);
	strcpy(bench.plant.bus.name, "hall");
	log_set_level(LOG_LEVEL_WARNING);
	capture_start(&log);
	bench_start(&bench);
	bench_close(&bench);
	capture_end(&log);
	log_set_level(LOG_LEVEL_ERROR);
	assert_int_equal(capture_count(&log, "'hall' needs 192 % of its time"), 1);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(groups_keep_periods_of_their_own),
	    cmocka_unit_test(what_a_heat_wants_is_read_at_once),
	    cmocka_unit_test(a_heat_wakes_a_poller_that_is_at_rest),
	    cmocka_unit_test(a_dead_unit_among_many_costs_a_few_requests),
	    cmocka_unit_test(sections_of_one_unit_share_its_pauses),
	    cmocka_unit_test(a_unit_that_comes_back_is_read_whole),
	    cmocka_unit_test(a_connection_that_comes_back_serves_all_groups),
	    cmocka_unit_test(a_busy_unit_is_asked_again_at_the_next_period),
	    cmocka_unit_test(silence_behind_a_gateway_is_the_units_and_not_the_links),
	    cmocka_unit_test(a_units_shortest_period_is_known),
	    cmocka_unit_test(dead_units_behind_one_end_point_deafen_nobody),
	    cmocka_unit_test(connecting_in_vain_takes_no_more_than_half_of_the_time),
	    cmocka_unit_test(connections_that_bring_nothing_are_made_once_a_period),
	    cmocka_unit_test(a_bus_without_the_time_is_told_of_at_the_start),
	};

	return cmocka_run_group_tests(tests, polling_set_up, NULL);
}
