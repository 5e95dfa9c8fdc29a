/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How things are, and what the buses count: replaced whole, and small. */
#include "daemon/ledger/ledger.h"

#include <math.h>
#include <unistd.h>

#include "conf/settings.h"
#include "tests/unit/daemon/ledger/counting_vfs.h"
#include "tests/unit/daemon/ledger/ledger_pair.h"

static int
check_health(void *arg, const struct ledger_health *health)
{
	int *count = arg;

	assert_string_equal(health->subject, *count == 0 ? "device plc-1" : "daemon");
	assert_string_equal(health->state, "ok");
	assert_string_equal(health->text, "answers");
	assert_int_equal(health->since.ns, seconds(1).ns);
	assert_int_equal(health->at.ns, seconds(2).ns);
	assert_int_equal(health->good, 10);
	assert_int_equal(health->bad, 3);
	++*count;
	return 0;
}

static void
health_rows_replace_those_that_were_there(void **state)
{
	struct ledger_health rows[3] = {
	    {"device plc-1", "ok", "answers", seconds(1), seconds(2), 10, 3},
	    {"daemon", "ok", "answers", seconds(1), seconds(2), 10, 3},
	    {"store plant", "silent", "?", seconds(1), seconds(2), 0, 0},
	};
	int count = 0;
	(void)state;

	assert_int_equal(ledger_put_health(ledger, rows, 3, NULL, 0, &error), 0);
	assert_int_equal(ledger_put_health(ledger, rows, 2, NULL, 0, &error), 0);
	assert_int_equal(ledger_read_health(reader, check_health, &count, &error), 0);
	assert_int_equal(count, 2);
}

/* Every count another number; the second device has not been late yet. */
static struct ledger_device
device(int number)
{
	struct ledger_device one = {.device = number == 0 ? "plc-1" : "ovens",
	    .line = "line-1",
	    .bus = "10.0.0.5:502",
	    .state = number == 0 ? "silent" : "ok",
	    .why = number == 0 ? "none" : "",
	    .since = seconds(1),
	    .at = seconds(2 + number),
	    .late_p99_s = number == 0 ? 0.0025 : NAN,
	    .late_worst_s = number == 0 ? 0.125 : NAN,
	    .port = number == 0 ? "/dev/ttyUSB0" : "",
	    .period_s = 0.5 + number,
	    .state_since = seconds(3 + number),
	    .bad_channels = 3 * number,
	    .bad_since = number == 0 ? (struct wall){0} : seconds(4),
	    .bad_text = number == 0 ? "" : "surface_top_2 frozen, ...",
	    .recent_since = seconds(5 + number)};

	for (int i = 0; i < LEDGER_COUNTS; i++)
		one.counts[i] = INT64_C(5000000000) * number + 100 + i;
	for (int i = LEDGER_COUNT_GOOD; i < LEDGER_COUNTS; i++)
		one.recent[i] = 20 + number + i;
	return one;
}

static int
check_device(void *arg, const struct ledger_device *found)
{
	int *count = arg;
	struct ledger_device put = device((*count)++);

	assert_string_equal(found->device, put.device);
	assert_string_equal(found->line, put.line);
	assert_string_equal(found->bus, put.bus);
	assert_string_equal(found->state, put.state);
	assert_string_equal(found->why, put.why);
	assert_int_equal(found->since.ns, put.since.ns);
	assert_int_equal(found->at.ns, put.at.ns);
	assert_memory_equal(found->counts, put.counts, sizeof put.counts);
	assert_string_equal(found->port, put.port);
	assert_true(found->period_s == put.period_s);
	assert_int_equal(found->state_since.ns, put.state_since.ns);
	assert_int_equal(found->bad_channels, put.bad_channels);
	assert_int_equal(found->bad_since.ns, put.bad_since.ns);
	assert_string_equal(found->bad_text, put.bad_text);
	assert_int_equal(found->recent_since.ns, put.recent_since.ns);
	assert_memory_equal(found->recent, put.recent, sizeof put.recent);
	if (isnan(put.late_p99_s)) {
		assert_true(isnan(found->late_p99_s) && isnan(found->late_worst_s));
	} else {
		assert_true(found->late_p99_s == put.late_p99_s);
		assert_true(found->late_worst_s == put.late_worst_s);
	}
	return 0;
}

static void
what_is_counted_of_a_device_comes_back_and_is_replaced_with_the_health(void **state)
{
	struct ledger_health row = {
	    "daemon", "ok", "runs", seconds(1), seconds(2), 1, 0};
	struct ledger_device devices[3] = {device(0), device(1), device(0)};
	int count = 0;
	(void)state;

	assert_int_equal(ledger_put_health(ledger, &row, 1, devices, 3, &error), 0);
	assert_int_equal(ledger_put_health(ledger, &row, 1, devices, 2, &error), 0);
	assert_int_equal(ledger_read_devices(reader, check_device, &count, &error), 0);
	assert_int_equal(count, 2);
	assert_int_equal(ledger_put_health(ledger, &row, 1, NULL, 0, &error), 0);
	assert_int_equal(sql_integer("SELECT count(*) FROM device"), 0);
}

/* Whoever reads the table reads the same words as whoever reads the store. */
static void
every_count_is_a_column_of_its_name(void **state)
{
	struct ledger_device put = device(1);
	char sql[96];
	(void)state;

	assert_int_equal(ledger_put_health(ledger, NULL, 0, &put, 1, &error), 0);
	for (int i = 0; i < LEDGER_COUNTS; i++) {
		snprintf(sql, sizeof sql, "SELECT %s FROM device",
		    ledger_count_name((enum ledger_count)i));
		assert_int_equal(sql_integer(sql), put.counts[i]);
	}
}

/* 64 devices that count for years, four times a minute: every byte of WAL is one that a
 * flash disk has to take. */
static void
a_writing_for_64_devices_is_a_few_pages(void **state)
{
	enum { DEVICES = 64, WRITINGS = 20 };
	static struct ledger_health rows[DEVICES];
	static struct ledger_device devices[DEVICES];
	static char names[DEVICES][32], subjects[DEVICES][40];
	(void)state;

	for (int i = 0; i < DEVICES; i++) {
		snprintf(names[i], sizeof names[i], "oven-west-zones-%d", i);
		snprintf(
		    subjects[i], sizeof subjects[i], "device oven-west-zones-%d", i);
		rows[i] = (struct ledger_health){
		    subjects[i], "ok", "", seconds(1), seconds(2), 123456789, 12345};
		devices[i] = device(0);
		devices[i].device = names[i];
		for (int k = 0; k < LEDGER_COUNTS; k++)
			devices[i].counts[k] = 123456789;
		devices[i].recent[LEDGER_COUNT_GOOD] = 123456;
	}
	assert_int_equal(
	    ledger_put_health(ledger, rows, DEVICES, devices, DEVICES, &error), 0);
	counted.wal_bytes = 0;
	for (int i = 0; i < WRITINGS; i++)
		assert_int_equal(
		    ledger_put_health(ledger, rows, DEVICES, devices, DEVICES, &error),
		    0);
	print_message("%lld bytes of WAL a writing for %d devices\n",
	    (long long)counted.wal_bytes / WRITINGS, DEVICES);
	assert_in_range(counted.wal_bytes / WRITINGS, 8000, 28 * 1024);
}

/* Just after a start the rows on file are those of the run before. */
static void
rows_of_an_earlier_run_are_known_as_such(void **state)
{
	struct ledger_health row = {
	    "daemon", "stopped", "", seconds(1), seconds(2), 1, 0};
	struct ledger_summary summary;
	(void)state;

	assert_int_equal(ledger_put_health(ledger, &row, 1, NULL, 0, &error), 0);
	assert_int_equal(ledger_read_summary(reader, &summary, &error), 0);
	assert_false(summary.daemon_running || summary.health_current);
	assert_int_equal(ledger_lock(fixture.path, &error), 0);
	assert_int_equal(ledger_read_summary(reader, &summary, &error), 0);
	assert_true(summary.daemon_running);
	assert_false(summary.health_current);
	assert_int_equal(ledger_put_health(ledger, &row, 1, NULL, 0, &error), 0);
	assert_int_equal(ledger_read_summary(reader, &summary, &error), 0);
	assert_true(summary.daemon_running && summary.health_current);
	assert_int_equal(ledger_put_health(ledger, NULL, 0, NULL, 0, &error), 0);
	assert_int_equal(ledger_read_summary(reader, &summary, &error), 0);
	assert_false(summary.health_current);
}

/* What no daemon told of itself (its lock's file could not be written) is believed. */
static void
rows_beside_a_lock_without_a_number_are_current(void **state)
{
	struct ledger_health row = {"daemon", "ok", "", seconds(1), seconds(2), 1, 0};
	struct ledger_summary summary;
	char path[sizeof fixture.path + 8];
	(void)state;

	assert_int_equal(ledger_lock(fixture.path, &error), 0);
	assert_int_equal(ledger_put_health(ledger, &row, 1, NULL, 0, &error), 0);
	snprintf(path, sizeof path, "%s.lock", fixture.path);
	assert_int_equal(truncate(path, 0), 0);
	assert_int_equal(ledger_read_summary(reader, &summary, &error), 0);
	assert_true(summary.daemon_running && summary.health_current);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    TEST(health_rows_replace_those_that_were_there),
	    TEST(
		what_is_counted_of_a_device_comes_back_and_is_replaced_with_the_health),
	    TEST(every_count_is_a_column_of_its_name),
	    TEST(a_writing_for_64_devices_is_a_few_pages),
	    TEST(rows_of_an_earlier_run_are_known_as_such),
	    TEST(rows_beside_a_lock_without_a_number_are_current),
	};
	if (counting_vfs_register() != SQLITE_OK)
		return 1;
	return cmocka_run_group_tests_name("ledger health", tests, NULL, NULL);
}
