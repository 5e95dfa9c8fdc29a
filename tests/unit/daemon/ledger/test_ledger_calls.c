/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Every single call that reaches the system fails, whatever the ledger is doing: openings,
 * readings, locks and shared memory too.  Once or for good; then what it was doing is
 * there whole or not at all, a sentence says why, and it can be done again.
 */
#include "daemon/ledger/ledger.h"

#include "tests/unit/daemon/ledger/failing_vfs.h"
#include "tests/unit/daemon/ledger/ledger_operations.h"

#include "daemon/ledger/ledger_inside.h"

enum { CALLS_MAX = 4000 };

static void
assert_sentence(const char *name, int code)
{
	if (code != ERROR_FULL && code != ERROR_IO && code != ERROR_BUSY &&
	    code != ERROR_DAMAGED)
		fail_msg("%s: %d: %s", name, code, error.text);
	if (strlen(error.text) < 10)
		fail_msg("%s: no sentence: '%s'", name, error.text);
}

/* Whether the call came; `again` tells that what was there is as it was. */
static bool
fail_call(const struct operation *operation, const struct failing_way *way, int place)
{
	static int64_t turn = 1000;
	int64_t before = digest();

	turn++;
	error.text[0] = '\0';
	sqlite3_db_release_memory(ledger->db); /* what it needs it has to read */
	failing_set(way->how, way->lasting, place);
	int code = operation->run(turn);
	if (!failing_end()) {
		assert_int_equal(code, 0);
		return false;
	}
	if (code == 0) { /* it hit a checkpoint, which can wait */
		assert_true(digest() != before);
		assert_int_equal(ledger_checkpoint(ledger, &error), 0);
		return true;
	}
	assert_sentence(operation->name, code);
	if (digest() != before)
		fail_msg(
		    "%s, %s at call %d: half done", operation->name, way->name, place);
	assert_intact();
	if (operation->run(turn) != 0)
		fail_msg("%s, %s at call %d, again: %s", operation->name, way->name,
		    place, error.text);
	assert_true(digest() != before);
	return true;
}

static void
whatever_call_fails_nothing_is_half_written_and_it_can_be_tried_again(void **state)
{
	(void)state;
	prepare_operations();
	for (int i = 0; i < OPERATIONS; i++) {
		print_message("%s:", operations[i].name);
		for (int k = 0; k < FAILING_WAYS; k++) {
			int place = 0, failed = 0;
			while (fail_call(&operations[i], &failing_ways[k], place)) {
				assert_true(place < CALLS_MAX);
				place += failing_ways[k].step * FIXTURE_SPARSELY;
				failed++;
			}
			print_message(" %d", failed);
			if (failing_ways[k].how == FAILING_IO)
				assert_true(failed >= (FIXTURE_SPARSELY > 1 ? 1 : 2));
		}
		print_message("\n");
		assert_intact();
	}
}

/* --- checkpoint, forgetting, closing, reading --------------------------------------- */

/* Calls `one` for every way and place in turn, until the place is past the last call. */
static void
fail_everywhere(const char *name, bool (*one)(const struct failing_way *way, int place))
{
	print_message("%s:", name);
	for (int k = 0; k < FAILING_WAYS; k++) {
		int place = 0, failed = 0;
		while (one(&failing_ways[k], place)) {
			assert_true(place < CALLS_MAX);
			place += failing_ways[k].step * FIXTURE_SPARSELY;
			failed++;
		}
		print_message(" %d", failed);
	}
	print_message("\n");
}

static int64_t next_no = 1; /* of the shot that comes next */

static void
write_one_more(void)
{
	write_shots(0, next_no, next_no);
	next_no++;
}

/* Each shot that was acknowledged is there once. */
static void
assert_all_there(void)
{
	assert_intact();
	assert_int_equal(sql_integer("SELECT count(*) FROM shot"), next_no - 1);
	assert_int_equal(
	    sql_integer("SELECT count(DISTINCT shot_no) FROM shot"), next_no - 1);
}

static bool
fail_checkpoint(const struct failing_way *way, int place)
{
	write_one_more();
	failing_set(way->how, way->lasting, place);
	int code = ledger_checkpoint(ledger, &error);
	bool came = failing_end();

	if (code != 0)
		assert_sentence("checkpoint", code);
	assert_true(came || code == 0);
	assert_all_there();
	assert_int_equal(ledger_checkpoint(ledger, &error), 0);
	return came;
}

static void
a_checkpoint_that_fails_loses_nothing(void **state)
{
	(void)state;
	next_no = 1;
	fail_everywhere("checkpoint", fail_checkpoint);
}

static bool
fail_forgetting(const struct failing_way *way, int place)
{
	bool more;

	write_one_more();
	sqlite3_db_release_memory(ledger->db);
	failing_set(way->how, way->lasting, place);
	int code =
	    ledger_forget_traces(ledger, fixture_time(next_no - 1), &more, &error);
	bool came = failing_end();

	if (code != 0)
		assert_sentence("forget", code);
	assert_true(came || code == 0);
	assert_int_equal(sql_integer("SELECT count(*) FROM trace"), code == 0 ? 1 : 2);
	assert_int_equal(sql_integer("SELECT count(*) FROM shot"), next_no - 1);
	assert_int_equal(
	    ledger_forget_traces(ledger, fixture_time(next_no - 1), &more, &error), 0);
	assert_int_equal(sql_integer("SELECT count(*) FROM trace"), 1);
	return came;
}

static void
forgetting_that_fails_forgets_nothing_else(void **state)
{
	(void)state;
	fixture.trace_bytes = 5000;
	next_no = 1;
	write_one_more();
	fail_everywhere("forget", fail_forgetting);
}

static bool
fail_closing(const struct failing_way *way, int place)
{
	int64_t id;

	write_one_more();
	failing_set(way->how, way->lasting, place);
	ledger_close(ledger); /* the last connection moves the WAL into the file */
	bool came = failing_end();
	ledger = ledger_open(fixture.path, NULL, &error);
	if (ledger == NULL ||
	    ledger_put_setup(ledger, &fixture.settings, seconds(0), &id, &error) != 0)
		fail_msg("%s, call %d: %s", way->name, place, error.text);
	assert_all_there();
	return came;
}

static void
a_ledger_that_cannot_be_closed_well_has_everything_all_the_same(void **state)
{
	(void)state;
	ledger_read_close(reader);
	reader = NULL;
	next_no = 1;
	fail_everywhere("close", fail_closing);
}

/* Of the shots that are read some are of the other line, and each lacks a value. */
static void
write_for_reading(void)
{
	for (int i = 0; i < 20; i++) {
		uint32_t line = i % 4 == 3;
		struct shot *shot = fixture_shot(&fixture, line, next_no++);
		shot->value[FEATURE_SAG_S] = NAN;
		shot->absent[FEATURE_SAG_S] = ABSENT_STALE;
		assert_int_equal(
		    ledger_put_shot(ledger, &fixture.settings, shot, &error), 0);
		shot_free(shot);
	}
}

static int
count_shot(void *arg, const struct ledger_shot *shot)
{
	int64_t no = ++*(int64_t *)arg;

	assert_int_equal(shot->shot_no, no);
	assert_string_equal(shot->line, no % 4 == 0 ? "line-2" : "line-1");
	assert_int_equal(shot->absent[FEATURE_SAG_S], ABSENT_STALE);
	return 0;
}

static int
read_all(void)
{
	static const struct ledger_filter all;
	struct ledger_summary summary;
	int64_t count = 0;
	struct ledger_read *mine = ledger_read_open(fixture.path, &error);

	if (mine == NULL)
		return ERROR_IO;
	int code = ledger_read_shots(mine, &all, true, count_shot, &count, &error);
	if (code == 0)
		code = ledger_read_summary(mine, &summary, &error);
	ledger_read_close(mine);
	if (code == 0)
		assert_true(count == next_no - 1 && summary.shots == count);
	return code;
}

static bool
fail_reading(const struct failing_way *way, int place)
{
	failing_set(way->how, way->lasting, place);
	int code = read_all();
	bool came = failing_end();

	if (code != 0)
		assert_sentence("read", code);
	assert_true(came || code == 0);
	assert_int_equal(read_all(), 0);
	return came;
}

static void
whatever_call_fails_a_reader_says_so_or_reads_all_of_it(void **state)
{
	(void)state;
	next_no = 1;
	write_for_reading();
	fail_everywhere("read beside the writer", fail_reading);
	ledger_close(ledger);
	ledger = NULL;
	ledger_read_close(reader);
	reader = NULL;
	fail_everywhere("read alone", fail_reading);
	/* A file that ends too early: what is missing reads as zeros. */
	static const struct failing_way cut = {"cut short", FAILING_SHORT, false, 1};
	int place = 0;
	while (fail_reading(&cut, place))
		place++;
	print_message("read cut short: %d\n", place);
	assert_in_range(place, 100, CALLS_MAX);
}

static void
a_shot_of_a_line_that_is_gone_is_an_error(void **state)
{
	(void)state;
	next_no = 1;
	write_for_reading();
	sql_run("DELETE FROM line WHERE id = 2");
	assert_int_equal(read_all(), ERROR_DAMAGED);
	assert_non_null(strstr(error.text, "shots of a line 2"));
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    TEST(whatever_call_fails_nothing_is_half_written_and_it_can_be_tried_again),
	    TEST(a_checkpoint_that_fails_loses_nothing),
	    TEST(forgetting_that_fails_forgets_nothing_else),
	    TEST(a_ledger_that_cannot_be_closed_well_has_everything_all_the_same),
	    TEST(whatever_call_fails_a_reader_says_so_or_reads_all_of_it),
	    TEST(a_shot_of_a_line_that_is_gone_is_an_error),
	};

	if (failing_vfs_register() != SQLITE_OK)
		return 1;
	return cmocka_run_group_tests_name("ledger, calls", tests, NULL, NULL);
}
