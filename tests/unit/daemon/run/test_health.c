/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What real pollers say of devices that fail in each way there is, on its way to the
 * ledger. */
#include "daemon/run/health.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <cmocka.h>

#include "conf/groups.h"
#include "conf/settings.h"
#include "daemon/base/error.h"
#include "daemon/base/log.h"
#include "daemon/base/scan.h"
#include "daemon/base/text.h"
#include "daemon/fieldbus/poller.h"
#include "daemon/ledger/ledger_read.h"
#include "daemon/notify/notifier.h"
#include "daemon/run/recorder.h"
#include "tests/unit/daemon/fieldbus/server.h"

enum { CHANNELS = 2, WAIT_MS = 10000 };

/* A line with one device on one bus, and a ledger. */
static struct plant {
	struct server server;
	struct settings settings;
	struct line_settings line;
	struct bus_settings bus;
	struct device_settings device;
	struct channel_settings channels[CHANNELS];
	char folder[256];
	struct health *health;
	atomic_int scans;
	struct error error;
} plant;

static void
make_settings(void)
{
	plant.settings = (struct settings){.lines = &plant.line,
	    .line_count = 1,
	    .buses = &plant.bus,
	    .bus_count = 1,
	    .devices = &plant.device,
	    .device_count = 1,
	    .channels = plant.channels,
	    .channel_count = CHANNELS};
	text_copy(plant.line.name, sizeof(plant.line.name), "line-1");
	plant.bus = (struct bus_settings){
	    .name = "the-bus", .host = "127.0.0.1", .port = plant.server.port};
	plant.device = (struct device_settings){.name = "ovens",
	    .unit_id = 1,
	    .period_s = 0.02,
	    .timeout_s = 0.05,
	    .max_registers = 125,
	    .hole_count = 1,
	    .holes = {{TABLE_HOLDING, 50, 60}},
	    .channel_count = CHANNELS};
	for (int i = 0; i < CHANNELS; i++) {
		plant.channels[i] = (struct channel_settings){.table = TABLE_HOLDING,
		    .address = (uint16_t)(100 * i),
		    .encoding = ENCODING_UINT16,
		    .bit = -1,
		    .fault_channel = -1,
		    .scale = 1,
		    .min_si = -INFINITY,
		    .max_si = INFINITY};
		snprintf(plant.channels[i].name, SETTINGS_NAME, "surface_%d", 1 + i);
	}
	assert_true(groups_make(&plant.device, plant.channels));
}

static int
open_plant(void **state)
{
	const char *temporary = getenv("TMPDIR");
	char path[300];

	(void)state;
	memset(&plant, 0, sizeof(plant));
	log_set_level(LOG_LEVEL_ERROR);
	snprintf(plant.folder, sizeof(plant.folder), "%s/evensoak-health-XXXXXX",
	    temporary != NULL ? temporary : "/tmp");
	if (mkdtemp(plant.folder) == NULL)
		return -1;
	snprintf(path, sizeof(path), "%s/ledger.db", plant.folder);
	plant.health = health_open(path, &plant.error);
	server_start(&plant.server);
	make_settings();
	return plant.health != NULL ? 0 : -1;
}

static int
close_plant(void **state)
{
	char command[300];

	(void)state;
	health_close(plant.health);
	server_stop(&plant.server);
	snprintf(command, sizeof(command), "rm -rf '%s'", plant.folder);
	return system(command);
}

static void
count_scan(void *arg, const struct scan *scan)
{
	(void)arg, (void)scan;
	plant.scans++;
}

/* What is on file of the one device. */
struct filed {
	int rows, devices;
	char state[32], text[512], why[32];
	char bad_text[160], port[300];
	int64_t good, bad, bad_channels;
	int64_t counts[LEDGER_COUNTS], recent[LEDGER_COUNTS];
	struct wall since, state_since, bad_since, recent_since, at;
	double late_p99_s, period_s;
};

static int
take_row(void *arg, const struct ledger_health *health)
{
	struct filed *filed = arg;

	assert_string_equal(health->subject, "device ovens");
	text_copy(filed->state, sizeof(filed->state), health->state);
	text_copy(filed->text, sizeof(filed->text), health->text);
	filed->good = health->good;
	filed->bad = health->bad;
	filed->rows++;
	return 0;
}

static int
take_device(void *arg, const struct ledger_device *device)
{
	struct filed *filed = arg;

	assert_string_equal(device->device, "ovens");
	assert_string_equal(device->line, "line-1");
	assert_string_equal(device->bus, "the-bus");
	assert_string_equal(device->state, filed->state);
	text_copy(filed->why, sizeof(filed->why), device->why);
	memcpy(filed->counts, device->counts, sizeof(filed->counts));
	filed->since = device->since;
	filed->late_p99_s = device->late_p99_s;
	filed->period_s = device->period_s;
	filed->state_since = device->state_since;
	filed->at = device->at;
	text_copy(filed->port, sizeof(filed->port), device->port);
	text_copy(filed->bad_text, sizeof(filed->bad_text), device->bad_text);
	filed->bad_channels = device->bad_channels;
	filed->bad_since = device->bad_since;
	filed->recent_since = device->recent_since;
	memcpy(filed->recent, device->recent, sizeof(filed->recent));
	filed->devices++;
	return 0;
}

/* Polls for so many scans, files it, and reads what is on file. */
static struct filed
poll_and_file(int scans)
{
	const struct wall since = {INT64_C(1772427600000000000)};
	struct filed filed = {0};
	struct device_status device;
	struct poller *poller =
	    poller_start(&plant.settings, 0, count_scan, NULL, &plant.error);
	char path[300];

	assert_non_null(poller);
	for (int ms = 0; plant.scans < scans; ms++) {
		assert_true(ms < WAIT_MS);
		usleep(1000);
	}
	for (int i = 0; i < HEALTH_TICKS; i++) {
		size_t count = poller_status(poller, &device, 1);

		health_begin(plant.health);
		health_devices(plant.health, &plant.settings, &device, count, since);
		(void)health_end(plant.health);
	}
	poller_stop(poller);

	snprintf(path, sizeof(path), "%s/ledger.db", plant.folder);
	struct ledger_read *read = ledger_read_open(path, &plant.error);
	assert_non_null(read);
	assert_int_equal(ledger_read_health(read, take_row, &filed, &plant.error), 0);
	assert_int_equal(
	    ledger_read_devices(read, take_device, &filed, &plant.error), 0);
	ledger_read_close(read);
	assert_int_equal(filed.rows, 1);
	assert_int_equal(filed.devices, 1);
	assert_int_equal(filed.since.ns, since.ns);
	return filed;
}

static int64_t
failed_requests(const struct filed *filed)
{
	int64_t sum = 0;

	for (int i = LEDGER_COUNT_GOOD + 1; i < LEDGER_COUNTS; i++)
		sum += filed->counts[i];
	return sum;
}

static void
a_device_that_answers_has_no_why(void **state)
{
	(void)state;

	struct filed filed = poll_and_file(10);
	assert_string_equal(filed.state, "ok");
	assert_string_equal(filed.why, "");
	assert_string_equal(filed.text, "");
	assert_true(filed.counts[LEDGER_COUNT_SCANS] >= 10);
	/* two blocks a scan, by the hole */
	assert_true(
	    filed.counts[LEDGER_COUNT_GOOD] >= 2 * filed.counts[LEDGER_COUNT_SCANS]);
	assert_int_equal(failed_requests(&filed), 0);
	assert_int_equal(filed.counts[LEDGER_COUNT_FAILURES], 0);
	assert_int_equal(filed.counts[LEDGER_COUNT_OPENED], 1);
	assert_true(filed.late_p99_s > 0 && filed.late_p99_s < 10);
	assert_true(filed.period_s > 0.019 && filed.period_s < 0.021);
	assert_int_equal(filed.good, filed.counts[LEDGER_COUNT_SCANS]);
	assert_int_equal(filed.bad, 0);
	assert_int_equal(filed.bad_channels, 0);
	assert_int_equal(filed.bad_since.ns, 0);
	assert_string_equal(filed.port, "");
	assert_int_equal(filed.recent_since.ns, filed.since.ns);
	assert_int_equal(
	    filed.recent[LEDGER_COUNT_GOOD], filed.counts[LEDGER_COUNT_GOOD]);
}

/* By what the device's requests came to. */
static void
each_way_of_failing_is_counted_and_named(void **state)
{
	static const struct {
		enum manner manner;
		enum ledger_count count;
		const char *text;
	} cases[] = {
	    {MANNER_SILENT, LEDGER_COUNT_NONE, "timed out"},
	    {MANNER_WRONG_UNIT, LEDGER_COUNT_WRONG, "unit"},
	    {MANNER_CLOSING, LEDGER_COUNT_LOST, "closed"},
	    {MANNER_GATEWAY_SILENT, LEDGER_COUNT_GATEWAY, "gateway"},
	};
	(void)state;

	for (size_t i = 0; i < sizeof(cases) / sizeof(cases[0]); i++) {
		plant.scans = 0;
		server_misbehave(&plant.server, cases[i].manner, 1000000);
		struct filed filed = poll_and_file(4);
		assert_string_equal(filed.state, "silent");
		assert_string_equal(filed.why, ledger_count_name(cases[i].count));
		if (strstr(filed.text, cases[i].text) == NULL)
			fail_msg("'%s' has no '%s'", filed.text, cases[i].text);
		assert_true(filed.counts[cases[i].count] >= 1);
		assert_int_equal(failed_requests(&filed), filed.counts[cases[i].count]);
		assert_int_equal(filed.counts[LEDGER_COUNT_GOOD], 0);
		assert_int_equal(filed.good, 0);
		assert_int_equal(filed.bad, filed.counts[LEDGER_COUNT_SCANS]);
		/* nobody knows how the sensors are */
		assert_int_equal(filed.bad_channels, 0);
	}
	server_misbehave(&plant.server, MANNER_HONEST, 0);
}

static void
a_block_that_is_refused_leaves_a_device_that_answers_in_part(void **state)
{
	(void)state;

	plant.server.hole_first = plant.server.hole_last = 100;
	struct filed filed = poll_and_file(4);
	assert_string_equal(filed.state, "in_part");
	assert_string_equal(filed.why, "illegal");
	assert_non_null(strstr(filed.text, "100"));
	assert_true(filed.counts[LEDGER_COUNT_ILLEGAL] >= 4);
	assert_int_equal(filed.bad_channels, 1);
	assert_string_equal(filed.bad_text, "surface_2 refused");
	assert_true(filed.counts[LEDGER_COUNT_GOOD] >= 4);
}

/* Its device answers: the sensors are told all the same. */
static void
sensors_without_a_value_are_named_while_their_device_answers(void **state)
{
	(void)state;

	plant.channels[0].max_si = -1; /* whatever it reads */
	plant.channels[1].sentinel_count = 1;
	plant.channels[1].sentinels[0] = server_register(1, 3, 100);
	struct filed filed = poll_and_file(20);
	assert_string_equal(filed.state, "ok");
	assert_string_equal(filed.text, "2 channels without a value: surface_1 out of "
					"range, surface_2 reports a fault");
	assert_string_equal(
	    filed.bad_text, "surface_1 out of range, surface_2 reports a fault");
	assert_int_equal(filed.bad_channels, 2);
	assert_true(filed.bad_since.ns > 0 && filed.bad_since.ns <= filed.at.ns);
	assert_int_equal(filed.bad, 0);
}

static void
a_connection_that_is_refused_is_told_with_its_reason(void **state)
{
	struct server gone;
	(void)state;

	server_start(&gone);
	plant.bus.port = gone.port;
	server_stop(&gone);
	struct filed filed = poll_and_file(3);
	assert_string_equal(filed.state, "silent");
	assert_string_equal(filed.why, "lost");
	assert_non_null(strstr(filed.text, "refused"));
	assert_int_equal(filed.counts[LEDGER_COUNT_OPENED], 0);
}

/* An adapter that is not plugged in: the daemon runs on and says so. */
static void
a_serial_port_that_is_not_there_is_told_with_its_path(void **state)
{
	(void)state;

	plant.bus = (struct bus_settings){.kind = BUS_SERIAL,
	    .name = "the-bus",
	    .baud = 19200,
	    .parity = PARITY_EVEN,
	    .stop_bits = 1};
	snprintf(plant.bus.path, sizeof(plant.bus.path), "%s/ttyUSB7", plant.folder);
	struct filed filed = poll_and_file(3);
	assert_string_equal(filed.state, "silent");
	assert_string_equal(filed.why, "lost");
	assert_non_null(strstr(filed.text, "ttyUSB7"));
	assert_non_null(strstr(filed.text, "there is no such port"));
	assert_string_equal(filed.port, plant.bus.path);
	assert_int_equal(failed_requests(&filed), 0);
}

static char ledger_text[512];

static int
take_ledger_row(void *arg, const struct ledger_health *health)
{
	(void)arg;
	if (strcmp(health->subject, "ledger") == 0)
		text_copy(ledger_text, sizeof(ledger_text), health->text);
	return 0;
}

static void
what_was_left_out_is_told(void **state)
{
	const struct recorder_status status = {.filing = {.writing = 0,
						   .waiting = 3,
						   .events_lost = 4,
						   .readings_lost = 5,
						   .text = "disk is full"}};
	char path[300];
	(void)state;

	health_begin(plant.health);
	health_recorder(plant.health, &status);
	assert_true(health_end(plant.health));
	snprintf(path, sizeof(path), "%s/ledger.db", plant.folder);
	struct ledger_read *read = ledger_read_open(path, &plant.error);
	assert_non_null(read);
	assert_int_equal(
	    ledger_read_health(read, take_ledger_row, NULL, &plant.error), 0);
	assert_string_equal(ledger_text, "3 waiting to be written: disk is full; 4 "
					 "events were left out; 5 intervals "
					 "of live readings were left out");
	ledger_read_close(read);
}

static char notify_state[32], notify_text[512];

static int
take_notify_row(void *arg, const struct ledger_health *health)
{
	(void)arg;
	if (strcmp(health->subject, "notify") != 0)
		return 0;
	text_copy(notify_state, sizeof(notify_state), health->state);
	text_copy(notify_text, sizeof(notify_text), health->text);
	return 0;
}

static void
assert_notify_row(
    const struct notifier_status *status, const char *state, const char *text)
{
	char path[300];

	health_begin(plant.health);
	health_notifier(plant.health, status);
	for (int i = 0; i < HEALTH_TICKS && !health_end(plant.health); i++)
		;
	snprintf(path, sizeof(path), "%s/ledger.db", plant.folder);
	struct ledger_read *read = ledger_read_open(path, &plant.error);
	assert_non_null(read);
	assert_int_equal(
	    ledger_read_health(read, take_notify_row, NULL, &plant.error), 0);
	ledger_read_close(read);
	assert_string_equal(notify_state, state);
	assert_string_equal(notify_text, text);
}

static void
a_program_that_cannot_be_run_is_told(void **state)
{
	(void)state;
	assert_notify_row(&(struct notifier_status){.works = -1}, "ok",
	    "there was nothing to tell yet");
	assert_notify_row(&(struct notifier_status){.works = 1, .waiting = 1}, "ok",
	    "1 event will be told");
	assert_notify_row(
	    &(struct notifier_status){.works = 0, .waiting = 2, .text = "it is gone"},
	    "failing", "it is gone");
}

/* Closing says so, and that nobody counts any more. */
static void
a_daemon_that_stops_leaves_no_counts(void **state)
{
	char path[300];
	struct filed filed = {0};
	(void)state;

	(void)poll_and_file(2);
	health_close(plant.health);
	snprintf(path, sizeof(path), "%s/ledger.db", plant.folder);
	struct ledger_read *read = ledger_read_open(path, &plant.error);
	assert_non_null(read);
	assert_int_equal(
	    ledger_read_devices(read, take_device, &filed, &plant.error), 0);
	assert_int_equal(filed.devices, 0);
	ledger_read_close(read);
	plant.health = NULL;
}

int
main(void)
{
#define TEST(name) cmocka_unit_test_setup_teardown(name, open_plant, close_plant)
	const struct CMUnitTest tests[] = {
	    TEST(a_device_that_answers_has_no_why),
	    TEST(each_way_of_failing_is_counted_and_named),
	    TEST(a_block_that_is_refused_leaves_a_device_that_answers_in_part),
	    TEST(sensors_without_a_value_are_named_while_their_device_answers),
	    TEST(a_connection_that_is_refused_is_told_with_its_reason),
	    TEST(a_serial_port_that_is_not_there_is_told_with_its_path),
	    TEST(what_was_left_out_is_told),
	    TEST(a_program_that_cannot_be_run_is_told),
	    TEST(a_daemon_that_stops_leaves_no_counts),
	};
	return cmocka_run_group_tests_name("health", tests, NULL, NULL);
}
