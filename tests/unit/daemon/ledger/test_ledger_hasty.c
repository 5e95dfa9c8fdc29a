/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Writing in haste, as a replay does: many shots a transaction, no waiting. */
#include "daemon/ledger/ledger.h"

#include "tests/unit/daemon/ledger/counting_vfs.h"
#include "tests/unit/daemon/ledger/ledger_pair.h"
#include "tests/unit/seed.h"

#include <signal.h>
#include <sys/wait.h>
#include <time.h>

enum { BATCH = 500 };

static void
set_hasty(bool hasty)
{
	if (ledger_set_hasty(ledger, hasty, &error) != 0)
		fail_msg("%s", error.text);
}

static int64_t
shots_seen_by_others(void)
{
	return sql_integer("SELECT count(*) FROM shot");
}

static void
haste_waits_for_no_disk_and_its_end_does(void **state)
{
	(void)state;

	fixture.trace_bytes = 2000;
	set_hasty(true);
	counted.syncs = 0;
	write_shots(0, 1, 2 * BATCH + 100); /* checkpoints among them */
	assert_int_equal(counted.syncs, 0);
	set_hasty(false);
	assert_in_range(counted.syncs, 2, 8); /* the WAL and the file */
	assert_int_equal(shots_seen_by_others(), 2 * BATCH + 100);
	assert_intact();
	counted.syncs = 0;
	write_shots(0, 2 * BATCH + 101, 2 * BATCH + 101);
	assert_true(counted.syncs >= 1);
	set_hasty(false); /* as it is already */
	assert_int_equal(shots_seen_by_others(), 2 * BATCH + 101);
}

static void
shots_go_in_transactions_of_many(void **state)
{
	(void)state;

	set_hasty(true);
	write_shots(0, 1, BATCH - 1);
	assert_int_equal(shots_seen_by_others(), 0);
	write_shots(0, BATCH, BATCH + 1);
	assert_int_equal(shots_seen_by_others(), BATCH);
	set_hasty(true); /* as it is already */
	assert_int_equal(shots_seen_by_others(), BATCH);
	assert_int_equal(ledger_checkpoint(ledger, &error), 0); /* ends one too */
	assert_int_equal(shots_seen_by_others(), BATCH + 1);
	write_shots(0, BATCH + 2, BATCH + 2);
	set_hasty(false);
	assert_int_equal(shots_seen_by_others(), BATCH + 2);
}

static void
closing_puts_the_rest_on_file(void **state)
{
	(void)state;

	fixture.trace_bytes = 100;
	set_hasty(true);
	write_shots(0, 1, 7);
	ledger_close(ledger);
	ledger = NULL;
	assert_int_equal(shots_seen_by_others(), 7);
	assert_intact();
}

static void
a_ledger_in_haste_knows_what_it_has_gathered(void **state)
{
	struct wall closed_at;
	int64_t no = 0;
	(void)state;

	set_hasty(true);
	write_shots(0, 1, 3);
	assert_int_equal(
	    ledger_last_shot(ledger, "line-1", &no, &closed_at, &error), 0);
	assert_int_equal(no, 3);
	write_shots(0, 2, 3); /* once more: they are there */
	set_hasty(false);
	assert_int_equal(shots_seen_by_others(), 3);
}

/* Everything that a daemon writes, in one transaction, one after the other. */
static void
the_order_of_what_is_written_stays(void **state)
{
	static char other[] = "[site]\nname = other\n";
	struct ledger_health row = {
	    "daemon", "ok", "runs", seconds(0), seconds(0), 1, 0};
	int64_t id, relabelled = 0;
	(void)state;

	set_hasty(true);
	for (int64_t no = 1; no <= 3; no++) {
		write_shots(0, no, no);
		assert_int_equal(ledger_put_event(ledger, "line-1", fixture_time(no),
				     "note", "something", &error),
		    0);
		assert_int_equal(ledger_put_in_flight(ledger, "line-1", &no, sizeof no,
				     fixture_time(no), &error),
		    0);
		assert_int_equal(
		    ledger_put_health(ledger, &row, 1, NULL, 0, &error), 0);
		assert_int_equal(ledger_set_delivered(ledger, "plant", "shot",
				     &(struct ledger_delivered){.change = no}, &error),
		    0);
	}
	assert_int_equal(ledger_put_context(ledger,
			     &(struct ledger_entry){"line-1", CONTEXT_TOOL, "T-1",
				 fixture_time(2), fixture_time(9)},
			     &relabelled, &error),
	    0);
	assert_int_equal(relabelled, 2);
	fixture_text(&fixture, other);
	assert_int_equal(
	    ledger_put_setup(ledger, &fixture.settings, seconds(5), &id, &error), 0);
	write_shots(0, 4, 4);
	assert_int_equal(sql_integer("SELECT count(*) FROM health"), 0);
	set_hasty(false);

	/* shot 1: 1, event: 2, shots 2 and 3: 3, 5, labelled anew 7, 8; shot 4: 9 */
	const struct shots *shots = read_shots((struct ledger_filter){0});
	static const int64_t order[] = {1, 2, 3, 4}, changes[] = {1, 7, 8, 9};
	assert_int_equal(shots->count, 4);
	for (int i = 0; i < 4; i++) {
		assert_int_equal(shots->list[i].shot_no, order[i]);
		assert_int_equal(shots->list[i].change, changes[i]);
		assert_string_equal(shots->list[i].tool, i == 0 ? "" : "T-1");
		assert_int_equal(shots->list[i].setup, i < 3 ? 1 : 2);
	}
	assert_int_equal(sql_integer("SELECT sum(change) FROM event"), 2 + 4 + 6);
	assert_int_equal(sql_integer("SELECT at FROM in_flight"), fixture_time(3).ns);
	assert_int_equal(sql_integer("SELECT change FROM delivery"), 3);
	assert_int_equal(sql_integer("SELECT count(*) FROM health"), 1);
}

static void
what_is_refused_takes_nothing_else_with_it(void **state)
{
	(void)state;

	set_hasty(true);
	write_shots(0, 1, 2);
	assert_int_equal(
	    ledger_put_event(ledger, "no such line", seconds(0), "note", "x", &error),
	    ERROR_NOT_FOUND);
	write_shots(0, 3, 3);
	set_hasty(false);
	assert_int_equal(shots_seen_by_others(), 3);
	assert_int_equal(sql_integer("SELECT count(*) FROM event"), 0);
	assert_intact();
}

static _Noreturn void
write_in_haste_until_killed(int64_t first)
{
	int64_t id;

	ledger = ledger_open(fixture.path, NULL, &error);
	if (ledger == NULL ||
	    ledger_put_setup(ledger, &fixture.settings, seconds(0), &id, &error) != 0 ||
	    ledger_set_hasty(ledger, true, &error) != 0)
		_exit(1);
	for (int64_t no = first;; no++)
		if (fixture_write(&fixture, ledger, 0, no, no, &error) != 0)
			_exit(2);
}

static void
sleep_s(double s)
{
	nanosleep(&(struct timespec){.tv_nsec = (long)(1e9 * s)}, NULL);
}

static void
a_killed_replay_leaves_whole_transactions(void **state)
{
	struct fixture dice = {.random = seed_take((unsigned)time(NULL)) | 1};
	int64_t there = 0;
	int status;
	(void)state;

	ledger_read_close(reader);
	ledger_close(ledger);
	reader = NULL;
	ledger = NULL;
	fixture.trace_bytes = 300;
	for (int round = 0; round < 4; round++) {
		pid_t child = fork();
		assert_true(child >= 0);
		if (child == 0)
			write_in_haste_until_killed(there + 1);
		/* Somewhere behind its first transaction. */
		while (shots_seen_by_others() == there) {
			assert_int_equal(waitpid(child, &status, WNOHANG), 0);
			sleep_s(0.002);
		}
		sleep_s(0.1 * fixture_random(&dice));
		assert_int_equal(kill(child, SIGKILL), 0);
		assert_int_equal(waitpid(child, &status, 0), child);
		assert_true(WIFSIGNALED(status));
		there = shots_seen_by_others();
		assert_int_equal(there % BATCH, 0);
		assert_intact();
	}
	print_message("%lld shots\n", (long long)there);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    TEST(haste_waits_for_no_disk_and_its_end_does),
	    TEST(shots_go_in_transactions_of_many),
	    TEST(closing_puts_the_rest_on_file),
	    TEST(a_ledger_in_haste_knows_what_it_has_gathered),
	    TEST(the_order_of_what_is_written_stays),
	    TEST(what_is_refused_takes_nothing_else_with_it),
	    TEST(a_killed_replay_leaves_whole_transactions),
	};

	if (counting_vfs_register() != SQLITE_OK)
		return 1;
	return cmocka_run_group_tests_name("ledger, hasty", tests, NULL, NULL);
}
