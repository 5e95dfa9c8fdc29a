/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The ledger under a full disk, a killed writer, a second writer; what a shot costs. */
#include "daemon/ledger/ledger.h"
#include "daemon/ledger/ledger_lock.h"

#include "tests/unit/daemon/ledger/counting_vfs.h"
#include "tests/unit/daemon/ledger/ledger_pair.h"
#include "tests/unit/seed.h"

#include <fcntl.h>
#include <sched.h>
#include <signal.h>
#include <sys/mount.h>
#include <sys/wait.h>
#include <time.h>

#include "daemon/ledger/ledger_inside.h"

enum { KILLS = 30, KILL_WITHIN_US = 100000 };

/* --- what a shot costs ------------------------------------------------------------------ */

static void
a_shot_costs_two_fsyncs_and_32_kilobytes_of_wal_at_most(void **state)
{
	enum { BEFORE = 300, SHOTS_COUNTED = 200 };
	(void)state;

	write_shots(0, 1, BEFORE);
	counted.syncs = counted.wal_bytes = 0;
	write_shots(0, BEFORE + 1, BEFORE + SHOTS_COUNTED);
	print_message("%.2f fsync and %lld bytes of WAL a shot\n",
	    (double)counted.syncs / SHOTS_COUNTED,
	    (long long)counted.wal_bytes / SHOTS_COUNTED);
	assert_in_range(counted.syncs, SHOTS_COUNTED, 2 * SHOTS_COUNTED);
	assert_in_range(
	    counted.wal_bytes, 8000 * SHOTS_COUNTED, 32 * 1024 * SHOTS_COUNTED);
}

static void
a_trace_costs_its_own_bytes_and_no_fsync(void **state)
{
	enum { BEFORE = 100, SHOTS_COUNTED = 100, TRACE = 20000 };
	(void)state;

	fixture.trace_bytes = TRACE;
	write_shots(0, 1, BEFORE);
	counted.syncs = counted.wal_bytes = 0;
	write_shots(0, BEFORE + 1, BEFORE + SHOTS_COUNTED);
	print_message("%.2f fsync and %lld bytes of WAL a shot with a trace of %d\n",
	    (double)counted.syncs / SHOTS_COUNTED,
	    (long long)counted.wal_bytes / SHOTS_COUNTED, TRACE);
	assert_in_range(counted.syncs, SHOTS_COUNTED, 2 * SHOTS_COUNTED);
	assert_in_range(counted.wal_bytes, TRACE * SHOTS_COUNTED,
	    (32 * 1024 + TRACE * 5 / 4) * SHOTS_COUNTED);
}

static void
health_cursors_and_sheets_in_flight_wait_for_no_disk_but_shots_do(void **state)
{
	struct ledger_health row = {
	    "daemon", "ok", "runs", seconds(0), seconds(0), 1, 0};
	(void)state;

	write_shots(0, 1, 1);
	counted.syncs = 0;
	for (int i = 0; i < 10; i++) {
		assert_int_equal(
		    ledger_put_health(ledger, &row, 1, NULL, 0, &error), 0);
		assert_int_equal(ledger_set_delivered(ledger, "plant", "shot",
				     &(struct ledger_delivered){.change = i}, &error),
		    0);
		assert_int_equal(ledger_put_in_flight(
				     ledger, "line-1", "sheets", 6, seconds(i), &error),
		    0);
	}
	assert_int_equal(counted.syncs, 0);
	write_shots(0, 2, 2);
	assert_true(counted.syncs >= 1);
}

static void
the_wal_does_not_grow_without_end(void **state)
{
	char wal[400];
	(void)state;

	write_shots(0, 1, 500); /* 13 MB of WAL if nothing were moved out of it */
	snprintf(wal, sizeof wal, "%s-wal", fixture.path);
	FILE *file = fopen(wal, "r");
	assert_non_null(file);
	fseek(file, 0, SEEK_END);
	assert_in_range(ftell(file), 1, 4 << 20);
	fclose(file);
}

/* --- a full disk -------------------------------------------------------------------------- */

/* Whether a file system of 1.5 MB now covers the fixture's directory, for us alone. */
static bool
mount_small(void)
{
	return geteuid() == 0 && unshare(CLONE_NEWNS) == 0 &&
	       mount("none", "/", NULL, MS_REC | MS_PRIVATE, NULL) == 0 &&
	       mount("none", fixture.directory, "tmpfs", 0, "size=1536k") == 0;
}

static bool full_by_mount;

static int
open_small(void **state)
{
	(void)state;
	if (!fixture_init(&fixture))
		return -1;
	fixture.trace_bytes = 3000;
	full_by_mount = mount_small();
	ledger = ledger_open(fixture.path, NULL, &error);
	if (ledger == NULL || ledger_put_setup(ledger, &fixture.settings, seconds(0),
				  &setup_id, &error) != 0)
		return -1;
	reader = NULL;
	return 0;
}

static int
close_small(void **state)
{
	(void)state;
	ledger_close(ledger);
	if (full_by_mount)
		umount(fixture.directory);
	fixture_release(&fixture);
	return 0;
}

/* Takes nearly all the space there is, and gives it back. */
static void
take_space(const char *name)
{
	static const char zeros[4096];
	int fd = open(name, O_CREAT | O_WRONLY, 0600);

	assert_true(fd >= 0);
	for (int i = 0; i < 100; i++)
		if (write(fd, zeros, sizeof zeros) != sizeof zeros)
			break;
	close(fd);
}

static void
limit_pages(int64_t pages)
{
	char sql[64];

	snprintf(sql, sizeof sql, "PRAGMA max_page_count = %lld", (long long)pages);
	assert_int_equal(database_run(ledger->db, sql, &error), 0);
}

static void
a_full_disk_loses_nothing_that_was_written_and_is_got_over(void **state)
{
	char ballast[300];
	struct wall closed_at;
	int64_t written = 0, last;
	int code;
	(void)state;

	snprintf(ballast, sizeof ballast, "%s/ballast", fixture.directory);
	print_message(
	    "full by %s\n", full_by_mount ? "a small file system" : "page count");
	if (full_by_mount)
		take_space(ballast);
	else
		limit_pages(200);
	while ((code = fixture_write(
		    &fixture, ledger, 0, written + 1, written + 1, &error)) == 0)
		assert_true(++written < 1000);
	assert_int_equal(code, ERROR_FULL);
	assert_non_null(strstr(error.text, "full"));
	assert_true(written > 0);
	/* Again and again, as the daemon would. */
	for (int i = 0; i < 3; i++) {
		assert_int_equal(fixture_write(&fixture, ledger, 0, written + 1,
				     written + 1, &error),
		    ERROR_FULL);
		assert_int_equal(sqlite3_get_autocommit(ledger->db), 1);
	}
	assert_int_equal(
	    ledger_last_shot(ledger, "line-1", &last, &closed_at, &error), 0);
	assert_int_equal(last, written);

	if (full_by_mount)
		unlink(ballast);
	else
		limit_pages(1000000);
	assert_int_equal(
	    fixture_write(&fixture, ledger, 0, written + 1, written + 2, &error), 0);
	assert_int_equal(sql_integer("SELECT count(*) FROM shot"), written + 2);
	assert_int_equal(sql_integer("SELECT max(shot_no) FROM shot"), written + 2);
	assert_intact();
}

/* --- kill -9 ---------------------------------------------------------------------------------- */

/* Before a fork: a child must not find its parent's connections. */
static void
close_connections(void)
{
	ledger_read_close(reader);
	ledger_close(ledger);
	reader = NULL;
	ledger = NULL;
}

/* Makes a shot again with other values, and tells where the sheets stand. */
static int
write_beside(struct ledger *mine, int64_t no)
{
	struct shot *again = fixture_shot(&fixture, 0, no);
	bool changed;
	int code =
	    ledger_put_recomputed(mine, &fixture.settings, no, again, &changed, &error);

	shot_free(again);
	if (code != 0)
		return code;
	return ledger_put_in_flight(
	    mine, "line-1", &no, sizeof no, fixture_time(no), &error);
}

/* Writes shots for ever; tells each number through the pipe once it is written. */
static void
write_until_killed(int acknowledge, int64_t first)
{
	struct ledger *mine = ledger_open(fixture.path, NULL, &error);
	int64_t id;

	if (mine == NULL ||
	    ledger_put_setup(mine, &fixture.settings, seconds(0), &id, &error) != 0)
		_exit(1);
	for (int64_t no = first;; no++) {
		if (fixture_write(&fixture, mine, 0, no, no, &error) != 0)
			_exit(2);
		if (write(acknowledge, &no, sizeof no) != sizeof no)
			_exit(3);
		if (write_beside(mine, no) != 0)
			_exit(4);
	}
}

/* The number of the last shot that a writer acknowledged before it was killed. */
static int64_t
run_and_kill(int64_t first, int64_t after_us)
{
	int ends[2];
	int64_t no, last = first - 1;

	assert_int_equal(pipe(ends), 0);
	pid_t child = fork();
	assert_true(child >= 0);
	if (child == 0) {
		close(ends[0]);
		write_until_killed(ends[1], first);
	}
	close(ends[1]);
	nanosleep(&(struct timespec){.tv_nsec = after_us * 1000}, NULL);
	assert_int_equal(kill(child, SIGKILL), 0);
	while (read(ends[0], &no, sizeof no) == sizeof no)
		last = no;
	close(ends[0]);
	int status;
	assert_int_equal(waitpid(child, &status, 0), child);
	assert_true(WIFSIGNALED(status)); /* it did not end by an error of its own */
	return last;
}

static void
a_writer_killed_at_any_instant_loses_no_shot_and_doubles_none(void **state)
{
	struct fixture dice = {.random = seed_take((unsigned)time(NULL)) | 1};
	int64_t acknowledged = 0;
	(void)state;

	close_connections();
	fixture.trace_bytes = 3000;
	for (int round = 0; round < KILLS; round++) {
		int64_t last = run_and_kill(acknowledged + 1,
		    (int64_t)(fixture_random(&dice) * KILL_WITHIN_US));
		/* One more may be there: written, but killed before it could say so. */
		int64_t there = sql_integer("SELECT count(*) FROM shot");
		assert_in_range(there, last, last + 1);
		assert_int_equal(
		    sql_integer("SELECT coalesce(max(shot_no), 0) FROM shot"), there);
		assert_int_equal(
		    sql_integer("SELECT count(DISTINCT shot_no) FROM shot"), there);
		assert_intact();
		/* A shot was made again whole, or not at all: the last of each round. */
		int64_t again = sql_integer("SELECT count(DISTINCT shot) FROM earlier");
		assert_true(again <= there && again + round + 1 >= there);
		assert_int_equal(sql_integer("SELECT count(*) FROM earlier"),
		    FIXTURE_FEATURES * again);
		acknowledged = there;
	}
	print_message("%lld shots, %d kills\n", (long long)acknowledged, KILLS);
	assert_true(acknowledged > 0);
}

/* --- others beside us ------------------------------------------------------------------------- */

/* Opens the ledger and writes 100 shots of a line; the exit code of a process. */
static int
write_a_hundred(uint32_t line)
{
	int64_t id;
	struct ledger *mine = ledger_open(fixture.path, NULL, &error);

	if (mine == NULL ||
	    ledger_put_setup(mine, &fixture.settings, seconds(0), &id, &error) != 0)
		return 1;
	int code = fixture_write(&fixture, mine, line, 1, 100, &error);
	ledger_close(mine);
	return code == 0 ? 0 : 2;
}

static void
two_writers_at_once_both_get_everything_in(void **state)
{
	int status;
	(void)state;

	close_connections();
	pid_t child = fork();
	assert_true(child >= 0);
	if (child == 0)
		_exit(write_a_hundred(1));
	assert_int_equal(write_a_hundred(0), 0);
	assert_int_equal(waitpid(child, &status, 0), child);
	assert_int_equal(status, 0);
	assert_int_equal(sql_integer("SELECT count(*) FROM shot"), 200);
	assert_int_equal(sql_integer("SELECT count(DISTINCT change) FROM shot"), 200);
	assert_int_equal(sql_integer("SELECT max(change) FROM shot"), 200);
}

static void
one_process_is_the_daemon_until_it_dies(void **state)
{
	struct ledger_summary summary;
	int up[2], down[2];
	char byte, told[LEDGER_LOCK_TOLD];
	(void)state;

	assert_int_equal(pipe(up), 0);
	assert_int_equal(pipe(down), 0);
	pid_t child = fork();
	assert_true(child >= 0);
	if (child == 0) {
		close(down[1]);
		byte = ledger_lock(fixture.path, &error) == 0 ? 'y' : 'n';
		ledger_lock_tell("the disk is full");
		if (write(up[1], &byte, 1) != 1)
			_exit(1);
		_exit(read(down[0], &byte, 1) == 0 ? 0 : 1);
	}
	close(down[0]);
	assert_int_equal(read(up[0], &byte, 1), 1);
	assert_int_equal(byte, 'y');
	ledger_lock_told(fixture.path, told);
	assert_string_equal(told, "the disk is full");
	for (int i = 0; i < 2; i++) { /* asking does not take it */
		assert_int_equal(ledger_read_summary(reader, &summary, &error), 0);
		assert_true(summary.daemon_running);
	}
	assert_int_equal(ledger_lock(fixture.path, &error), ERROR_BUSY);
	assert_non_null(strstr(error.text, "in use"));

	close(down[1]);
	int status;
	assert_int_equal(waitpid(child, &status, 0), child);
	assert_int_equal(ledger_read_summary(reader, &summary, &error), 0);
	assert_false(summary.daemon_running);
	ledger_lock_told(fixture.path, told);
	assert_string_equal(told, "");
	assert_int_equal(ledger_lock(fixture.path, &error), 0);
	assert_int_equal(ledger_lock(fixture.path, &error), ERROR_BUSY);
	close(up[0]);
	close(up[1]);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    TEST(a_shot_costs_two_fsyncs_and_32_kilobytes_of_wal_at_most),
	    TEST(a_trace_costs_its_own_bytes_and_no_fsync),
	    TEST(health_cursors_and_sheets_in_flight_wait_for_no_disk_but_shots_do),
	    TEST(the_wal_does_not_grow_without_end),
	    TEST(a_writer_killed_at_any_instant_loses_no_shot_and_doubles_none),
	    TEST(two_writers_at_once_both_get_everything_in),
	    TEST(one_process_is_the_daemon_until_it_dies),
	    /* Last: it may give this process a mount table of its own. */
	    cmocka_unit_test_setup_teardown(
		a_full_disk_loses_nothing_that_was_written_and_is_got_over, open_small,
		close_small),
	};

	if (counting_vfs_register() != SQLITE_OK)
		return 1;
	return cmocka_run_group_tests_name("ledger faults", tests, NULL, NULL);
}
