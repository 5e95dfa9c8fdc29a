/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The logger has the ledger open more than once, and others come and go beside it.  A
 * process that closes any descriptor of a file loses all its POSIX locks on it: then the
 * next to come takes the logger for gone and removes the WAL that it still writes.
 */
#include "daemon/ledger/ledger.h"

#include "daemon/ledger/ledger_lock.h"
#include "tests/unit/daemon/ledger/plain_file.h"

#include <signal.h>
#include <sys/inotify.h>
#include <sys/stat.h>
#include <sys/wait.h>

enum { BEFORE = 2, AFTER = 4 };

/* --- the logger: a process of its own ----------------------------------------------- */

struct logger {
	pid_t pid;
	int to, from; /* its pipes */
};

static void
or_exit(bool good, const char *what)
{
	if (good)
		return;
	print_error("%s: %s\n", what, error.text);
	_exit(1);
}

/* Writes a few shots, does something, says so, and as it is told writes a few more. */
static void
be_logger(void (*does)(void), int from, int to)
{
	struct ledger *ledger = ledger_open(fixture.path, NULL, &error);
	int64_t setup;
	char told;

	or_exit(ledger != NULL, "open");
	or_exit(ledger_put_setup(
		    ledger, &fixture.settings, fixture_time(0), &setup, &error) == 0 &&
		    fixture_write(&fixture, ledger, 0, 1, BEFORE, &error) == 0,
	    "write");
	does();
	or_exit(write(to, "r", 1) == 1, "tell");
	or_exit(read(from, &told, 1) == 1, "be told");
	or_exit(fixture_write(&fixture, ledger, 0, BEFORE + 1, AFTER, &error) == 0,
	    "write more");
	or_exit(write(to, "w", 1) == 1, "tell");
	or_exit(read(from, &told, 1) == 0, "be told"); /* killed, or the test is over */
	_exit(0);
}

static void
assert_says(const struct logger *logger, char what)
{
	char said;

	assert_int_equal(read(logger->from, &said, 1), 1);
	assert_int_equal(said, what);
}

static struct logger
start_logger(void (*does)(void))
{
	int to[2], from[2];

	assert_int_equal(pipe(to), 0);
	assert_int_equal(pipe(from), 0);
	pid_t pid = fork();
	assert_true(pid >= 0);
	if (pid == 0) {
		close(to[1]);
		close(from[0]);
		be_logger(does, to[0], from[1]);
	}
	close(to[0]);
	close(from[1]);
	struct logger logger = {pid, to[1], from[0]};
	assert_says(&logger, 'r');
	return logger;
}

static void
let_write(const struct logger *logger)
{
	assert_int_equal(write(logger->to, "x", 1), 1);
	assert_says(logger, 'w');
}

static void
kill_logger(const struct logger *logger)
{
	int status;

	assert_int_equal(kill(logger->pid, SIGKILL), 0);
	assert_int_equal(waitpid(logger->pid, &status, 0), logger->pid);
	close(logger->to);
	close(logger->from);
}

/* --- what the logger does beside writing -------------------------------------------- */

static void
nothing_else(void)
{
}

/* As its health and its publishers do. */
static void
opens_it_again(void)
{
	or_exit(ledger_open(fixture.path, NULL, &error) != NULL, "open again");
}

static void
opens_it_again_and_closes(void)
{
	struct ledger *again = ledger_open(fixture.path, NULL, &error);

	or_exit(again != NULL, "open again");
	ledger_close(again);
}

static void
opens_it_to_read_and_closes(void)
{
	struct ledger_read *reader = ledger_read_open(fixture.path, &error);

	or_exit(reader != NULL, "open to read");
	ledger_read_close(reader);
}

/* Also when no change waits in the WAL. */
static void
empties_the_wal_and_opens_it_again(void)
{
	struct ledger *again = ledger_open(fixture.path, NULL, &error);

	or_exit(again != NULL && ledger_checkpoint(again, &error) == 0, "checkpoint");
	ledger_close(again);
	opens_it_again_and_closes();
	opens_it_to_read_and_closes();
}

static void
locks_it_and_looks(void)
{
	or_exit(ledger_lock(fixture.path, &error) == 0, "lock");
	or_exit(ledger_lock(fixture.path, &error) == ERROR_BUSY, "lock twice");
	ledger_lock_held(fixture.path);
}

/* --- who comes and goes ------------------------------------------------------------- */

static bool
plainly(void)
{
	sqlite3 *db;
	int64_t count;

	return sqlite3_open(fixture.path, &db) == SQLITE_OK &&
	       database_integer(db, "SELECT count(*) FROM shot", &count, &error) == 0 &&
	       count >= BEFORE && sqlite3_close(db) == SQLITE_OK;
}

static bool
as_one_who_enters(void)
{
	struct ledger *ledger = ledger_open(fixture.path, NULL, &error);
	int64_t relabelled;

	if (ledger == NULL || ledger_put_context(ledger,
				  &(struct ledger_entry){"line-1", CONTEXT_TOOL, "T-1",
				      fixture_time(0), fixture_time(0)},
				  &relabelled, &error) != 0)
		return false;
	ledger_close(ledger);
	return true;
}

static bool
as_one_who_reads(void)
{
	struct ledger_read *reader = ledger_read_open(fixture.path, &error);
	struct ledger_summary summary;

	if (reader == NULL || ledger_read_summary(reader, &summary, &error) != 0)
		return false;
	ledger_read_close(reader);
	return summary.shots >= BEFORE;
}

static void
come_and_go(bool (*comes)(void))
{
	int status;
	pid_t pid = fork();

	assert_true(pid >= 0);
	if (pid == 0) {
		or_exit(comes(), "come and go");
		_exit(0);
	}
	assert_int_equal(waitpid(pid, &status, 0), pid);
	assert_int_equal(status, 0);
}

/* --- the tests ---------------------------------------------------------------------- */

static bool (*const visitors[])(void) = {plainly, as_one_who_enters, as_one_who_reads};

static ino_t
wal_inode(void)
{
	char wal[320];
	struct stat status;

	snprintf(wal, sizeof wal, "%s-wal", fixture.path);
	return stat(wal, &status) == 0 ? status.st_ino : 0;
}

static int64_t
shots_on_file(void)
{
	sqlite3 *db = open_plain();
	int64_t count = integer(db, "SELECT count(*) FROM shot");

	sqlite3_close(db);
	return count;
}

static void
assert_kept(void (*does)(void), bool (*comes)(void))
{
	struct logger logger = start_logger(does);
	ino_t inode = wal_inode();

	assert_true(inode != 0);
	come_and_go(comes);
	assert_int_equal(wal_inode(), inode);
	let_write(&logger);
	come_and_go(comes);
	assert_int_equal(wal_inode(), inode);
	kill_logger(&logger);
	come_and_go(as_one_who_reads); /* may not tidy up */
	assert_int_equal(wal_inode(), inode);
	assert_int_equal(shots_on_file(), AFTER);
}

static void
assert_kept_from_all(void (*does)(void))
{
	for (size_t i = 0; i < sizeof visitors / sizeof *visitors; i++) {
		fixture_release(&fixture);
		assert_true(fixture_init(&fixture));
		assert_kept(does, visitors[i]);
	}
}

static void
one_opening_keeps_the_wal(void **state)
{
	(void)state;

	assert_kept_from_all(nothing_else);
}

static void
a_second_opening_keeps_it(void **state)
{
	(void)state;

	assert_kept_from_all(opens_it_again);
	assert_kept_from_all(opens_it_again_and_closes);
}

static void
reading_beside_writing_keeps_it(void **state)
{
	(void)state;

	assert_kept_from_all(opens_it_to_read_and_closes);
}

static void
an_emptied_wal_is_kept(void **state)
{
	(void)state;

	assert_kept_from_all(empties_the_wal_and_opens_it_again);
}

static void
the_lock_of_the_daemon_leaves_those_of_the_ledger(void **state)
{
	(void)state;

	assert_kept_from_all(locks_it_and_looks);
}

/* --- the file itself ---------------------------------------------------------------- */

static int
watch_closing(void)
{
	int watch = inotify_init1(IN_NONBLOCK | IN_CLOEXEC);

	assert_true(watch >= 0);
	assert_true(inotify_add_watch(watch, fixture.directory, IN_CLOSE) >= 0);
	return watch;
}

/* How often a descriptor of the ledger's own file was closed since the last time. */
static int
closed(int watch)
{
	char room[8192] __attribute__((aligned(__alignof__(struct inotify_event))));
	const struct inotify_event *event;
	ssize_t length;
	int count = 0;

	while ((length = read(watch, room, sizeof room)) > 0)
		for (ssize_t at = 0; at < length;
		     at += (ssize_t)sizeof *event + event->len) {
			event = (const void *)(room + at);
			count += strcmp(event->name, "ledger.db") == 0;
		}
	return count;
}

/* Nor as it is made: another thread may have it open by then. */
static void
its_file_is_not_closed_while_one_has_it_open(void **state)
{
	(void)state;
	int watch = watch_closing();
	struct ledger *first = ledger_open(fixture.path, NULL, &error);

	assert_non_null(first);
	assert_int_equal(closed(watch), 0);
	opens_it_again_and_closes();
	opens_it_to_read_and_closes();
	assert_int_equal(ledger_checkpoint(first, &error), 0);
	opens_it_again_and_closes();
	opens_it_to_read_and_closes();
	assert_int_equal(closed(watch), 0);
	ledger_close(first);
	assert_true(closed(watch) >= 1);
	close(watch);
}

/* SQLite keeps its files beside the ledger, not beside a link to it: a reader that looks
 * in the wrong place reads without locks, and without what is in the WAL. */
static void
a_wal_is_found_through_a_link(void **state)
{
	(void)state;
	char link[320];
	struct ledger *ledger = ledger_open(fixture.path, NULL, &error);

	assert_non_null(ledger);
	snprintf(link, sizeof link, "%s/elsewhere", fixture.directory);
	assert_int_equal(symlink("ledger.db", link), 0);
	assert_true(database_has_wal(fixture.path));
	assert_true(database_has_wal(link));
	assert_int_equal(ledger_checkpoint(ledger, &error), 0); /* empties it */
	assert_false(database_has_wal(fixture.path));
	assert_false(database_has_wal(link));
	ledger_close(ledger);
	assert_false(database_has_wal(link));
}

static mode_t
mode_of(const char *path)
{
	struct stat status;

	assert_int_equal(stat(path, &status), 0);
	return status.st_mode & 07777;
}

static void
a_new_ledger_is_the_groups_where_the_umask_lets_it(void **state)
{
	(void)state;
	mode_t before = umask(0007);

	make_ledger();
	assert_int_equal(mode_of(fixture.path), 0660);
	unlink(fixture.path);
	umask(0022);
	make_ledger();
	assert_int_equal(mode_of(fixture.path), 0644);
	umask(before);
}

static void
a_ledger_that_is_there_keeps_its_mode(void **state)
{
	(void)state;
	mode_t before = umask(0);

	make_ledger();
	assert_int_equal(chmod(fixture.path, 0600), 0);
	make_ledger();
	assert_int_equal(mode_of(fixture.path), 0600);
	umask(before);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    TEST(one_opening_keeps_the_wal),
	    TEST(a_second_opening_keeps_it),
	    TEST(reading_beside_writing_keeps_it),
	    TEST(an_emptied_wal_is_kept),
	    TEST(the_lock_of_the_daemon_leaves_those_of_the_ledger),
	    TEST(its_file_is_not_closed_while_one_has_it_open),
	    TEST(a_wal_is_found_through_a_link),
	    TEST(a_new_ledger_is_the_groups_where_the_umask_lets_it),
	    TEST(a_ledger_that_is_there_keeps_its_mode),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
