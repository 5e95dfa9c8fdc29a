/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The pollers of two lines over real sockets, hurried from another thread. */
#include "daemon/run/buses.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <sys/socket.h>
#include <sys/un.h>
#include <cmocka.h>

#include "conf/groups.h"
#include "conf/settings.h"
#include "daemon/base/error.h"
#include "daemon/base/log.h"
#include "daemon/base/scan.h"
#include "tests/unit/daemon/fieldbus/server.h"

enum { DEVICES = 3, CHANNELS = 2, BIT = 0, SET_POINT = 1, WAIT_MS = 10000 };

/* Devices 0 and 1 are of the lines 0 and 1 on one bus, device 2 is of line 0 on another.
 * Each has a channel that is read every 20 ms and one that is read as a heat begins, and
 * else once in an hour. */
static struct plant {
	struct server servers[2];
	struct settings settings;
	struct bus_settings buses[2];
	struct device_settings devices[DEVICES];
	struct channel_settings channels[DEVICES * CHANNELS];
	struct buses *polled;
	/* By the pollers' threads. */
	atomic_int scans[DEVICES][CHANNELS], bad;
	_Atomic int64_t read_ns[DEVICES]; /* the last set point, by clock_mono */
} plant;

static void
make_device(int i)
{
	struct device_settings *device = &plant.devices[i];

	*device = (struct device_settings){.line = i == 1,
	    .bus = i == 2,
	    .unit_id = 1 + i,
	    .period_s = 0.02,
	    .timeout_s = 1,
	    .max_registers = 125,
	    .first_channel = (uint32_t)(i * CHANNELS),
	    .channel_count = CHANNELS};
	snprintf(device->name, SETTINGS_NAME, "unit-%d", 1 + i);
	for (int k = 0; k < CHANNELS; k++) {
		struct channel_settings *channel = &plant.channels[i * CHANNELS + k];

		*channel = (struct channel_settings){.device = (uint32_t)i,
		    .table = TABLE_HOLDING,
		    .address = (uint16_t)(10 * k),
		    .encoding = ENCODING_UINT16,
		    .bit = -1,
		    .fault_channel = -1,
		    .scale = 1,
		    .min_si = -INFINITY,
		    .max_si = INFINITY,
		    .at_heat = k == SET_POINT,
		    .period_s = k == SET_POINT ? 3600 : 0};
	}
	assert_true(groups_make(device, plant.channels));
	assert_int_equal(device->group_count, 2);
}

static int
open_plant(void **state)
{
	(void)state;
	memset(&plant, 0, sizeof(plant));
	log_set_level(LOG_LEVEL_ERROR);
	plant.settings = (struct settings){.devices = plant.devices,
	    .device_count = DEVICES,
	    .channels = plant.channels,
	    .channel_count = DEVICES * CHANNELS,
	    .buses = plant.buses,
	    .bus_count = 2};
	for (int i = 0; i < 2; i++) {
		server_start(&plant.servers[i]);
		plant.buses[i] = (struct bus_settings){
		    .host = "127.0.0.1", .port = plant.servers[i].port};
		snprintf(plant.buses[i].name, sizeof(plant.buses[i].name), "127.0.0.1");
	}
	for (int i = 0; i < DEVICES; i++)
		make_device(i);
	plant.polled = buses_new();
	return plant.polled != NULL ? 0 : -1;
}

static int
close_plant(void **state)
{
	(void)state;
	buses_stop(plant.polled);
	buses_free(plant.polled);
	for (int i = 0; i < 2; i++)
		server_stop(&plant.servers[i]);
	return 0;
}

static void
take(void *arg, const struct scan *scan)
{
	(void)arg;
	for (uint32_t i = 0; i < scan->count; i++) {
		if (scan->first + i == SET_POINT)
			plant.read_ns[scan->device] = scan->at.ns;
		plant.scans[scan->device][scan->first + i]++;
		if (scan->readings[i].quality != QUALITY_GOOD)
			plant.bad++;
	}
}

static void
start(void)
{
	struct error error;

	if (buses_start(plant.polled, &plant.settings, take, NULL, &error) != 0)
		fail_msg("%s", error.text);
}

/* Waits until that channel has come so often. */
static void
wait_for(int device, int channel, int scans)
{
	struct mono from = clock_mono(), now = from;

	while (plant.scans[device][channel] < scans) {
		usleep(200);
		now = clock_mono();
		if (now.ns - from.ns > WAIT_MS * INT64_C(1000000))
			fail_msg("channel %d of device %d: %d scans of %d", channel,
			    device, plant.scans[device][channel], scans);
	}
}

/* From `since` to the reply that brought the last set point. */
static double
read_after_ms(int device, struct mono since)
{
	return (double)(plant.read_ns[device] - since.ns) / 1e6;
}

static void
a_heat_has_the_set_points_of_its_line_read_at_once(void **state)
{
	(void)state;

	start();
	for (int i = 0; i < DEVICES; i++)
		wait_for(i, SET_POINT, 1); /* at the start */
	struct mono begun = clock_mono();
	buses_hurry(plant.polled, 0);
	wait_for(0, SET_POINT, 2);
	wait_for(2, SET_POINT, 2);
	double first_ms = read_after_ms(0, begun), other_ms = read_after_ms(2, begun);
	print_message(
	    "set points %.2f and %.2f ms after the heat's begin\n", first_ms, other_ms);
	/* The machine may be busy; without the hurry it would be an hour. */
	assert_true(first_ms > 0 && first_ms < 500);
	assert_true(other_ms > 0 && other_ms < 500);
	/* the other line's are left alone, and the bits go on */
	int bits = plant.scans[1][BIT];
	wait_for(1, BIT, bits + 5);
	assert_int_equal(plant.scans[1][SET_POINT], 1);
	assert_int_equal(plant.scans[0][SET_POINT], 2);
	buses_hurry(plant.polled, 1);
	wait_for(1, SET_POINT, 2);
	assert_int_equal(plant.scans[0][SET_POINT], 2);
	assert_int_equal(plant.scans[2][SET_POINT], 2);
	assert_int_equal(plant.bad, 0);
}

/* One request of another device is on its way and is not answered: who tells of the heat
 * does not wait for it. */
static void
who_tells_of_a_heat_waits_for_no_request(void **state)
{
	(void)state;

	start();
	wait_for(0, SET_POINT, 1);
	server_misbehave(&plant.servers[0], MANNER_SILENT, 1000);
	usleep(100000);
	struct mono before = clock_mono();
	for (int i = 0; i < 100; i++)
		buses_hurry(plant.polled, 0);
	double ms = (double)(clock_mono().ns - before.ns) / 1e6;
	print_message("100 times in %.2f ms\n", ms);
	assert_true(ms < 300);
	server_misbehave(&plant.servers[0], MANNER_HONEST, 0);
}

static atomic_bool hurrying;

static void *
hurry_on(void *arg)
{
	(void)arg;
	for (uint32_t i = 0; atomic_load(&hurrying); i++) {
		buses_hurry(plant.polled, i % 2);
		usleep(50);
	}
	return NULL;
}

/* As in a reload: the recorder's thread works off what is queued. */
static void
pollers_may_go_and_come_while_they_are_hurried(void **state)
{
	pthread_t thread;
	(void)state;

	buses_hurry(plant.polled, 0); /* before there are any */
	atomic_store(&hurrying, true);
	assert_int_equal(pthread_create(&thread, NULL, hurry_on, NULL), 0);
	for (int i = 0; i < 30; i++) {
		start();
		assert_int_equal(buses_count(plant.polled), 2);
		usleep(5000);
		buses_stop(plant.polled);
		assert_int_equal(buses_count(plant.polled), 0);
	}
	atomic_store(&hurrying, false);
	pthread_join(thread, NULL);
	buses_hurry(plant.polled, 0); /* and after */
	start();
	int scans = plant.scans[2][SET_POINT];
	buses_hurry(plant.polled, 0);
	wait_for(2, SET_POINT, scans + 1);
}

/* In systemd's place. */
static int
open_notify_socket(void)
{
	struct sockaddr_un address = {.sun_family = AF_UNIX};
	int fd = socket(AF_UNIX, SOCK_DGRAM | SOCK_NONBLOCK, 0);

	assert_true(fd >= 0);
	snprintf(address.sun_path, sizeof(address.sun_path), "/tmp/evensoak-notify-%d",
	    (int)getpid());
	unlink(address.sun_path);
	assert_int_equal(bind(fd, (struct sockaddr *)&address, sizeof(address)), 0);
	setenv("NOTIFY_SOCKET", address.sun_path, 1);
	return fd;
}

static void
close_notify_socket(int fd)
{
	unlink(getenv("NOTIFY_SOCKET"));
	unsetenv("NOTIFY_SOCKET");
	close(fd);
}

/* Nobody answers: one that were stopped after the other would ask again meanwhile. */
static void
all_of_them_end_at_once_and_systemd_is_told(void **state)
{
	char told[100] = "";
	int before[2], fd = open_notify_socket();

	(void)state;
	for (int i = 0; i < 2; i++)
		server_misbehave(&plant.servers[i], MANNER_SILENT, 1000);
	for (int i = 0; i < DEVICES; i++)
		plant.devices[i].timeout_s = 2;
	start();
	for (int i = 0; i < 2; i++)
		while (plant.servers[i].requests == 0)
			usleep(1000);
	for (int i = 0; i < 2; i++)
		before[i] = plant.servers[i].requests;
	buses_stop(plant.polled);
	for (int i = 0; i < 2; i++)
		assert_int_equal(plant.servers[i].requests, before[i]);
	assert_int_equal(buses_count(plant.polled), 0);
	assert_true(recv(fd, told, sizeof(told) - 1, 0) > 0);
	assert_string_equal(told, "WATCHDOG=1\nEXTEND_TIMEOUT_USEC=30000000");
	close_notify_socket(fd);
}

int
main(void)
{
#define TEST(name) cmocka_unit_test_setup_teardown(name, open_plant, close_plant)
	const struct CMUnitTest tests[] = {
	    TEST(a_heat_has_the_set_points_of_its_line_read_at_once),
	    TEST(who_tells_of_a_heat_waits_for_no_request),
	    TEST(pollers_may_go_and_come_while_they_are_hurried),
	    TEST(all_of_them_end_at_once_and_systemd_is_told),
	};
	return cmocka_run_group_tests_name("buses", tests, NULL, NULL);
}
