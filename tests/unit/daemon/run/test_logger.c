/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The logger's own numbers go on over a reload, and tell of the files as they are. */
#include "daemon/run/logger.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/statvfs.h>
#include <unistd.h>

#include <cmocka.h>

#include "daemon/base/text.h"
#include "daemon/fieldbus/poller.h"
#include "daemon/run/recorder.h"

static struct logger logger;

static void
a_round(int64_t scans, const struct recorder_status *status)
{
	const struct device_status devices[2] = {
	    {.scans = scans, .failures = 2, .late = 1}, {.scans = 1, .failures = 1}};

	logger_begin(&logger);
	for (int i = 0; i < 2; i++)
		logger_add_device(&logger, &devices[i]);
	logger_put_recorder(&logger, status);
}

static void
devices_are_summed_anew_in_each_round(void **state)
{
	const struct recorder_status status = {
	    .filing = {.filed = 7, .waiting = 2}, .queued = 3, .queued_most = 9};

	(void)state;
	logger_init(&logger, "ledger.db");
	a_round(10, &status);
	a_round(20, &status);
	assert_int_equal(logger.row.polls, 21);
	assert_int_equal(logger.row.failures, 3);
	assert_int_equal(logger.row.late, 1);
	assert_int_equal(logger.row.queue, 3);
	assert_int_equal(logger.row.queue_most, 9);
	assert_int_equal(logger.row.waiting, 2);
	assert_int_equal(logger.row.filed, 7);
	assert_true(logger.row.started.ns > 0);
	assert_true(strlen(logger.row.host) > 0);
	assert_string_equal(logger.row.version, EVENSOAK_VERSION);
}

static void
counts_go_on_over_other_buses_and_another_recorder(void **state)
{
	const struct recorder_status first = {
	    .filing = {.filed = 7, .lost = 1}, .queued_most = 9, .dropped = 4};
	const struct recorder_status last = {
	    .filing = {.filed = 8, .lost = 1, .waiting = 2},
	    .queued_most = 9,
	    .dropped = 5};
	const struct recorder_status next = {
	    .filing = {.filed = 1}, .queued_most = 3, .dropped = 1};

	(void)state;
	logger_init(&logger, "ledger.db");
	a_round(10, &first);
	logger_carry(&logger, &last);
	a_round(5, &next);
	assert_int_equal(logger.row.polls, 11 + 6);
	assert_int_equal(logger.row.failures, 3 + 3);
	assert_int_equal(logger.row.filed, 8 + 1);
	assert_int_equal(logger.row.dropped, 5 + 1);
	assert_int_equal(logger.row.queue_most, 9);
	/* what it still had could not be written */
	assert_int_equal(logger.row.lost, 1 + 2);
	assert_int_equal(logger.row.waiting, 0);
}

static void
write_bytes(const char *path, size_t count)
{
	FILE *file = fopen(path, "w");

	assert_non_null(file);
	for (size_t i = 0; i < count; i++)
		fputc('x', file);
	assert_int_equal(fclose(file), 0);
}

static void
the_ledger_counts_with_its_wal(void **state)
{
	const char *temporary = getenv("TMPDIR");
	char folder[256], path[300], wal[320];
	struct statvfs disk;

	(void)state;
	snprintf(folder, sizeof(folder), "%s/evensoak-logger-XXXXXX",
	    temporary != NULL ? temporary : "/tmp");
	assert_non_null(mkdtemp(folder));
	snprintf(path, sizeof(path), "%s/ledger.db", folder);
	snprintf(wal, sizeof(wal), "%s-wal", path);
	write_bytes(path, 1000);
	logger_init(&logger, path);
	logger_look(&logger);
	assert_int_equal(logger.row.ledger_bytes, 1000);
	write_bytes(wal, 234);
	logger_look(&logger);
	assert_int_equal(logger.row.ledger_bytes, 1234);
	assert_true(logger.row.memory_bytes > 100000);
	assert_true(logger.row.at.ns >= logger.row.started.ns);
	assert_int_equal(statvfs(folder, &disk), 0);
	assert_int_equal(
	    logger.disk_bytes, (int64_t)disk.f_blocks * (int64_t)disk.f_frsize);
	assert_true(
	    logger.row.free_bytes > 0 && logger.row.free_bytes <= logger.disk_bytes);
	unlink(wal);
	unlink(path);
	rmdir(folder);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(devices_are_summed_anew_in_each_round),
	    cmocka_unit_test(counts_go_on_over_other_buses_and_another_recorder),
	    cmocka_unit_test(the_ledger_counts_with_its_wal),
	};

	return cmocka_run_group_tests_name("logger", tests, NULL, NULL);
}
