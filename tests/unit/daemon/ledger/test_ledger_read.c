/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Reading the ledger: which shots, in what order, beside a writer, without rights. */
#include "daemon/ledger/ledger_read.h"

#include "tests/unit/daemon/ledger/ledger_pair.h"
#include "tests/unit/seed.h"

#include <sys/stat.h>
#include <sys/wait.h>

/* Shots without channels are quick to write: more than two batches of them. */
enum { MANY = 600, NOBODY = 65534 };

static void
write_bare(uint32_t line, int64_t first, int64_t last)
{
	for (int64_t no = first; no <= last; no++) {
		struct shot *shot = fixture_shot(&fixture, line, no);
		shot->channel_count = 0;
		write_shot_and_free(shot);
	}
}

/* A ledger of MANY shots on two lines, the first third with new labels, opened once. */
static int
open_many(void **state)
{
	if (open_both(state) != 0)
		return -1;
	write_bare(0, 1, MANY / 2);
	write_bare(1, 1, MANY / 2);
	const struct ledger_entry entry = {
	    "line-1", CONTEXT_LOT, "L-1", fixture_time(1), seconds(0)};
	int64_t n;
	return ledger_put_context(ledger, &entry, &n, &error);
}

struct list {
	int count, stop_after;
	struct key {
		int64_t change, id, shot_no, at;
		char line;
	} keys[MANY + 1];
};

static int
keep_key(void *arg, const struct ledger_shot *shot)
{
	struct list *list = arg;

	assert_true(list->count < MANY);
	list->keys[list->count++] = (struct key){
	    shot->change, shot->id, shot->shot_no, shot->filed_at.ns, shot->line[5]};
	return list->count == list->stop_after;
}

static void
read_keys(const struct ledger_filter *filter, struct list *list)
{
	list->count = 0;
	if (ledger_read_shots(reader, filter, false, keep_key, list, &error) != 0)
		fail_msg("%s", error.text);
}

static bool
passes(const struct ledger_filter *filter, const struct key *key)
{
	return (filter->line == NULL || filter->line[5] == key->line) &&
	       (filter->from.ns == 0 || key->at >= filter->from.ns) &&
	       (filter->to.ns == 0 || key->at < filter->to.ns) &&
	       key->change > filter->after_change &&
	       (filter->shot_no == 0 || filter->shot_no == key->shot_no);
}

static int
by_change(const void *a, const void *b)
{
	const struct key *x = a, *y = b;
	return (x->change > y->change) - (x->change < y->change);
}

static int
by_time(const void *a, const void *b)
{
	const struct key *x = a, *y = b;
	if (x->at != y->at)
		return x->at < y->at ? -1 : 1;
	return (x->line > y->line) - (x->line < y->line);
}

static int
by_time_down(const void *a, const void *b)
{
	return by_time(b, a);
}

/* What a filter should give, found the slow way from the list of all. */
static void
expect(const struct ledger_filter *filter, const struct list *all, struct list *list)
{
	list->count = 0;
	for (int i = 0; i < all->count; i++)
		if (passes(filter, &all->keys[i]))
			list->keys[list->count++] = all->keys[i];
	qsort(list->keys, (size_t)list->count, sizeof list->keys[0],
	    filter->newest_first ? by_time_down
	    : filter->by_time    ? by_time
				 : by_change);
	if (filter->limit != 0 && (size_t)list->count > filter->limit)
		list->count = (int)filter->limit;
}

static int
below(int limit)
{
	return (int)(fixture_random(&fixture) * limit);
}

static struct ledger_filter
random_filter(void)
{
	return (struct ledger_filter){
	    .line = below(2) == 0   ? NULL
	            : below(2) == 0 ? "line-1"
	                            : "line-2",
	    .from = below(2) == 0 ? (struct wall){0} : fixture_time(below(MANY / 2)),
	    .to = below(2) == 0 ? (struct wall){0} : fixture_time(below(MANY / 2 + 9)),
	    .after_change = below(2) == 0 ? 0 : below(MANY + MANY / 2),
	    .shot_no = below(4) == 0 ? below(MANY / 2) : 0,
	    .limit = below(2) == 0 ? 0 : (size_t)below(MANY),
	    .newest_first = below(3) == 0,
	    .by_time = below(2) == 0,
	};
}

static void
any_filter_gives_what_a_slow_search_gives(void **state)
{
	static struct list all, wanted, got;
	unsigned seed = seed_take(20260302);
	(void)state;

	read_keys(&(struct ledger_filter){0}, &all);
	assert_int_equal(all.count, MANY);
	fixture.random = seed | 1;
	for (int round = 0; round < 300; round++) {
		struct ledger_filter filter = random_filter();
		expect(&filter, &all, &wanted);
		read_keys(&filter, &got);
		if (got.count != wanted.count)
			fail_msg(
			    "round %d: %d, not %d", round, got.count, wanted.count);
		for (int i = 0; i < got.count; i++)
			assert_int_equal(got.keys[i].change, wanted.keys[i].change);
	}
}

static void
a_take_that_has_enough_ends_the_reading(void **state)
{
	static struct list list;
	(void)state;

	list.stop_after = 300; /* in the second batch */
	read_keys(&(struct ledger_filter){0}, &list);
	assert_int_equal(list.count, 300);
	list.stop_after = 0;
}

static void
a_line_that_is_not_there_has_no_shots(void **state)
{
	static struct list list;
	(void)state;

	read_keys(&(struct ledger_filter){.line = "line-9"}, &list);
	assert_int_equal(list.count, 0);
}

static int
cut_the_wal(void *arg, const struct ledger_shot *shot)
{
	int *calls = arg;
	(void)shot;

	/* A transaction held open by the reader would make this wait, and fail. */
	if (++*calls % 100 == 1) {
		write_bare(0, MANY + *calls, MANY + *calls);
		assert_int_equal(ledger_checkpoint(ledger, &error), 0);
	}
	return *calls == MANY;
}

static void
no_transaction_is_open_while_the_caller_has_a_shot(void **state)
{
	int calls = 0;
	(void)state;

	assert_int_equal(ledger_read_shots(reader, &(struct ledger_filter){0}, true,
			     cut_the_wal, &calls, &error),
	    0);
	assert_int_equal(calls, MANY);
}

static void
only_the_features_asked_for_are_read(void **state)
{
	const int features[] = {FEATURE_CYCLE_S, FEATURE_EXIT_TOP_FIRST + 1};
	struct ledger_filter filter = {.features = features, .feature_count = 2};
	(void)state;

	write_shots(0, 1, 1);
	const struct ledger_shot all = read_shots((struct ledger_filter){0})->list[0];
	const struct ledger_shot *few = &read_shots(filter)->list[0];
	for (int i = 0; i < FEATURE_COUNT; i++) {
		if (i == features[0] || i == features[1])
			assert_true(few->value[i] == all.value[i]);
		else
			assert_true(isnan(few->value[i]));
		assert_true((few->absent[i] == ABSENT_NOT) == !isnan(few->value[i]));
	}
}

static void
values_only_leaves_the_labels_out(void **state)
{
	struct ledger_filter filter = {.values_only = true};
	(void)state;

	write_shots(1, 1, 1);
	const struct ledger_shot all = read_shots((struct ledger_filter){0})->list[0];
	const struct ledger_shot *few = &read_shots(filter)->list[0];
	assert_memory_equal(few->value, all.value, sizeof all.value);
	assert_memory_equal(few->absent, all.absent, sizeof all.absent);
	assert_int_equal(few->id, all.id);
	assert_int_equal(few->change, all.change);
	assert_int_equal(few->filed_at.ns, all.filed_at.ns);
	assert_int_equal(few->outcome, all.outcome);
	assert_string_equal(few->line, "line-2");
	assert_string_equal(few->recipe, "");
	assert_int_equal(few->cycle_count, -1);
	filter.labels = true;
	few = &read_shots(filter)->list[0];
	assert_memory_equal(few->value, all.value, sizeof all.value);
	assert_int_equal(few->shot_no, all.shot_no);
	assert_string_equal(few->recipe, all.recipe);
	assert_string_equal(few->tool, all.tool);
	assert_string_equal(few->lot, all.lot);
	assert_string_not_equal(few->recipe, "");
	assert_int_equal(few->cycle_count, -1);
}

static int
check_without_reasons(void *arg, const struct ledger_shot *shot)
{
	int *count = arg;

	++*count;
	assert_int_equal(shot->absent[FEATURE_SAG_S], ABSENT_NOT_CONFIGURED);
	assert_int_equal(shot->absent[FEATURE_HEAT_S], ABSENT_NOT);
	return 0;
}

static void
reasons_are_read_only_when_asked_for(void **state)
{
	struct shot *shot = fixture_shot(&fixture, 0, 1);
	int count = 0;
	(void)state;

	shot->absent[FEATURE_SAG_S] = ABSENT_STALE;
	write_shot_and_free(shot);
	assert_int_equal(ledger_read_shots(reader, &(struct ledger_filter){0}, false,
			     check_without_reasons, &count, &error),
	    0);
	assert_int_equal(count, 1);
	assert_int_equal(
	    read_shots((struct ledger_filter){0})->list[0].absent[FEATURE_SAG_S],
	    ABSENT_STALE);
}

static void
a_column_of_a_later_version_is_passed_over(void **state)
{
	sqlite3 *db;
	(void)state;

	write_shots(0, 1, 1);
	assert_int_equal(sqlite3_open(fixture.path, &db), SQLITE_OK);
	assert_int_equal(sqlite3_exec(db, "ALTER TABLE shot ADD COLUMN unheard_of REAL",
			     NULL, NULL, NULL),
	    SQLITE_OK);
	sqlite3_close(db);
	assert_int_equal(read_shots((struct ledger_filter){0})->count, 1);
	write_shots(0, 2, 2); /* and the writer goes on too */
	assert_int_equal(read_shots((struct ledger_filter){0})->count, 2);
}

/* As the publisher's reader meets it after a new configuration. */
static void
a_feature_that_came_since_the_reader_was_opened_is_read_at_once(void **state)
{
	static char text[] = "[site]\nname = one circuit more\n";
	const int feature = FEATURE_WATER_RISE_FIRST + 16;
	(void)state;

	write_shots(0, 1, 1);
	assert_int_equal(read_shots((struct ledger_filter){0})->count, 1);
	fixture.lines[0].circuits = 17;
	fixture_text(&fixture, text);
	assert_int_equal(
	    ledger_put_setup(ledger, &fixture.settings, seconds(0), &setup_id, &error),
	    0);
	write_shots(0, 2, 2);
	const struct shots *shots = read_shots((struct ledger_filter){0});
	assert_int_equal(shots->list[0].absent[feature], ABSENT_NOT_CONFIGURED);
	assert_int_equal(shots->list[1].absent[feature], ABSENT_NOT);
	fixture.lines[0].circuits = 16;
}

static void
a_summary_tells_what_there_is(void **state)
{
	struct ledger_summary summary;
	(void)state;

	assert_int_equal(ledger_read_summary(reader, &summary, &error), 0);
	assert_int_equal(summary.shots, 0);
	assert_int_equal(summary.first.ns, 0);
	write_shots(0, 3, 9);
	assert_int_equal(
	    ledger_put_event(ledger, NULL, seconds(0), "start", "x", &error), 0);
	assert_int_equal(ledger_read_summary(reader, &summary, &error), 0);
	assert_int_equal(summary.shots, 7);
	assert_int_equal(summary.events, 1);
	assert_int_equal(summary.first.ns, fixture_time(3).ns);
	assert_int_equal(summary.last.ns, fixture_time(9).ns);
	assert_true(summary.bytes > 7 * 90 * 48);
	assert_false(summary.daemon_running);
}

/* --- as a user who may only read --------------------------------------------------- */

static int
count_only(void *arg, const struct ledger_shot *shot)
{
	(void)shot;
	++*(int *)arg;
	return 0;
}

enum { CANNOT_OPEN = 202, CANNOT_READ = 203 };

/* In a process of its own: connections to SQLite do not outlive a fork. */
static _Noreturn void
be_nobody(int wait_for)
{
	char byte;
	int count = 0;

	if (geteuid() == 0 && setresuid(NOBODY, NOBODY, NOBODY) != 0)
		_exit(1);
	if (read(wait_for, &byte, 1) != 1)
		_exit(1);
	struct ledger_read *mine = ledger_read_open(fixture.path, &error);
	if (mine == NULL)
		_exit(CANNOT_OPEN);
	int code = ledger_read_shots(
	    mine, &(struct ledger_filter){0}, true, count_only, &count, &error);
	ledger_read_close(mine);
	_exit(code == 0 ? 100 + count : CANNOT_READ);
}

/* 100 and the shots that a user without rights reads, or why not; while this process
 * has the ledger open for writing, or not. */
static int
read_as_nobody(bool beside_writer)
{
	int go[2], status;

	ledger_read_close(reader);
	ledger_close(ledger);
	reader = NULL;
	ledger = NULL;
	assert_int_equal(pipe(go), 0);
	pid_t child = fork();
	assert_true(child >= 0);
	if (child == 0)
		be_nobody(go[0]);
	if (beside_writer) {
		ledger = ledger_open(fixture.path, NULL, &error);
		assert_non_null(ledger);
		assert_int_equal(
		    ledger_put_event(ledger, NULL, seconds(0), "x", "y", &error), 0);
	}
	assert_int_equal(write(go[1], "g", 1), 1);
	assert_int_equal(waitpid(child, &status, 0), child);
	assert_true(WIFEXITED(status));
	close(go[0]);
	close(go[1]);
	return WEXITSTATUS(status);
}

/* A writer that dies without closing leaves the -wal and -shm files behind. */
static void
die_while_writing(int64_t shot_no)
{
	int status;

	ledger_close(ledger);
	ledger = NULL;
	pid_t child = fork();
	assert_true(child >= 0);
	if (child == 0) {
		int64_t id;
		ledger = ledger_open(fixture.path, NULL, &error);
		if (ledger == NULL || ledger_put_setup(ledger, &fixture.settings,
					  seconds(0), &id, &error) != 0)
			_exit(1);
		_exit(
		    fixture_write(&fixture, ledger, 0, shot_no, shot_no, &error) != 0);
	}
	assert_int_equal(waitpid(child, &status, 0), child);
	assert_int_equal(status, 0);
}

static void
a_user_who_may_only_read_reads_with_and_without_the_daemon(void **state)
{
	(void)state;

	write_shots(0, 1, 3);
	chmod(fixture.directory, 0555);
	assert_int_equal(read_as_nobody(true), 103);
	assert_int_equal(read_as_nobody(false), 103); /* after a clean end: no -wal */
	die_while_writing(4);
	assert_int_equal(read_as_nobody(false), 104); /* what is in the -wal too */
	chmod(fixture.path, 0400);
	if (geteuid() == 0)
		assert_int_equal(read_as_nobody(false), CANNOT_OPEN);
	chmod(fixture.directory, 0755);
}

int
main(void)
{
	const struct CMUnitTest many[] = {
	    cmocka_unit_test(any_filter_gives_what_a_slow_search_gives),
	    cmocka_unit_test(a_take_that_has_enough_ends_the_reading),
	    cmocka_unit_test(a_line_that_is_not_there_has_no_shots),
	    cmocka_unit_test(no_transaction_is_open_while_the_caller_has_a_shot),
	};
	const struct CMUnitTest fresh[] = {
	    TEST(only_the_features_asked_for_are_read),
	    TEST(values_only_leaves_the_labels_out),
	    TEST(reasons_are_read_only_when_asked_for),
	    TEST(a_column_of_a_later_version_is_passed_over),
	    TEST(a_feature_that_came_since_the_reader_was_opened_is_read_at_once),
	    TEST(a_summary_tells_what_there_is),
	    TEST(a_user_who_may_only_read_reads_with_and_without_the_daemon),
	};
	return cmocka_run_group_tests_name("ledger read", many, open_many, close_both) +
	       cmocka_run_group_tests_name("ledger read", fresh, NULL, NULL);
}
