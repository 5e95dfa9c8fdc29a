/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Copies of a ledger that is being written, and what becomes of one that is put back. */
#include "daemon/ledger/ledger_backup.h"

#include "tests/unit/daemon/ledger/ledger_pair.h"

#include <fcntl.h>
#include <math.h>
#include <pthread.h>
#include <pwd.h>
#include <stdatomic.h>
#include <sched.h>
#include <sys/mount.h>
#include <sys/stat.h>
#include <sys/wait.h>

#include "daemon/ledger/ledger_inside.h"

static char copy_path[400];

static int
open_three(void **state)
{
	int code = open_both(state);

	snprintf(copy_path, sizeof copy_path, "%s/copy.db", fixture.directory);
	fixture.trace_bytes = 3000;
	return code;
}
#define BACKUP_TEST(name) cmocka_unit_test_setup_teardown(name, open_three, close_both)

static struct ledger_backup made;

static void
copy_it(bool over)
{
	if (ledger_backup(fixture.path, copy_path, over, NULL, &made, &error) != 0)
		fail_msg("%s", error.text);
}

static bool
is_there(const char *suffix)
{
	char name[420];
	struct stat status;

	snprintf(name, sizeof name, "%s%s", copy_path, suffix);
	return stat(name, &status) == 0;
}

/* Of the copy, opened as from a disc: nothing can be written beside it. */
static int64_t
of_copy(const char *sql)
{
	sqlite3 *db;
	int64_t value = -1;

	assert_int_equal(
	    database_open(copy_path, DATABASE_READ_IMMUTABLE, &db, &error), 0);
	if (database_integer(db, sql, &value, &error) != 0)
		fail_msg("%s", error.text);
	sqlite3_close(db);
	return value;
}

static int
count_shot(void *arg, const struct ledger_shot *shot)
{
	(void)shot;
	++*(int64_t *)arg;
	return 0;
}

/* --- the copy --------------------------------------------------------------------------- */

static void
a_copy_has_everything_and_needs_nothing_beside_it(void **state)
{
	static const struct ledger_filter all;
	int64_t count = 0;
	(void)state;

	write_shots(0, 1, 30);
	assert_int_equal(
	    ledger_put_in_flight(ledger, "line-1", "sheets", 6, seconds(1), &error), 0);
	copy_it(false);
	assert_int_equal(made.shots, 30);
	assert_true(made.bytes > 30 * 3000);
	assert_true(made.first.ns == fixture_time(1).ns);
	assert_true(made.last.ns == fixture_time(30).ns);
	assert_false(is_there("-wal") || is_there("-shm") || is_there("-journal") ||
		     is_there(".part"));
	assert_int_equal(of_copy("SELECT count(*) FROM shot_channel"), 30 * 90);
	assert_int_equal(of_copy("SELECT count(*) FROM trace"), 30);
	assert_int_equal(of_copy("SELECT count(*) FROM in_flight"), 0);
	assert_int_equal(of_copy("SELECT count(*) FROM pragma_journal_mode"
				 " WHERE journal_mode = 'wal'"),
	    0);
	/* And the commands read it like a ledger. */
	struct ledger_read *copy = ledger_read_open(copy_path, &error);
	assert_non_null(copy);
	assert_int_equal(
	    ledger_read_shots(copy, &all, true, count_shot, &count, &error), 0);
	assert_int_equal(count, 30);
	ledger_read_close(copy);
	assert_false(is_there("-wal") || is_there("-shm"));
	/* The ledger itself has no mark. */
	assert_int_equal(sql_integer("SELECT count(*) FROM copied"), 0);
	assert_int_equal(sql_integer("SELECT count(*) FROM in_flight"), 1);
}

static void
what_is_there_is_not_written_over_unless_that_is_asked_for(void **state)
{
	(void)state;
	write_shots(0, 1, 2);
	copy_it(false);
	write_shots(0, 3, 4);
	assert_int_equal(
	    ledger_backup(fixture.path, copy_path, false, NULL, &made, &error),
	    ERROR_INVALID);
	assert_non_null(strstr(error.text, "--force"));
	assert_int_equal(of_copy("SELECT count(*) FROM shot"), 2);
	copy_it(true);
	assert_int_equal(of_copy("SELECT count(*) FROM shot"), 4);

	/* Never over itself, also by another name, nor over a ledger in use. */
	char link_path[420];
	snprintf(link_path, sizeof link_path, "%s/link.db", fixture.directory);
	assert_int_equal(symlink(fixture.path, link_path), 0);
	for (int i = 0; i < 2; i++)
		assert_int_equal(
		    ledger_backup(fixture.path, i == 0 ? fixture.path : link_path, true,
			NULL, &made, &error),
		    ERROR_INVALID);
	struct ledger *other = ledger_open(copy_path, NULL, &error);
	assert_non_null(other);
	assert_int_equal(database_run(other->db, "DELETE FROM copied", &error), 0);
	assert_int_equal(
	    ledger_backup(fixture.path, copy_path, true, NULL, &made, &error),
	    ERROR_INVALID);
	assert_non_null(strstr(error.text, "in use"));
	ledger_close(other);
	assert_int_equal(of_copy("SELECT count(*) FROM shot"), 4);
}

static void
a_copy_that_cannot_be_made_leaves_nothing(void **state)
{
	(void)state;
	write_shots(0, 1, 2);
	assert_int_equal(
	    ledger_backup(fixture.path, "/nowhere/copy.db", false, NULL, &made, &error),
	    ERROR_IO);
	assert_non_null(strstr(error.text, "/nowhere/copy.db"));
	assert_int_equal(
	    ledger_backup("/nowhere/ledger.db", copy_path, false, NULL, &made, &error),
	    ERROR_IO);
	assert_false(is_there("") || is_there(".part"));
	/* One that was left by a kill is no hindrance. */
	char part[420];
	snprintf(part, sizeof part, "%s.part", copy_path);
	FILE *file = fopen(part, "w");
	assert_non_null(file);
	fputs("left", file);
	fclose(file);
	copy_it(false);
	assert_false(is_there(".part"));
}

/* On a file system of 1.5 MB, for us alone. */
static void
a_disk_too_small_is_told_before_anything_is_written(void **state)
{
	char small[] = "/tmp/evensoak-small-XXXXXX", to[64];
	(void)state;

	assert_non_null(mkdtemp(small));
	if (geteuid() != 0 || unshare(CLONE_NEWNS) != 0 ||
	    mount("none", "/", NULL, MS_REC | MS_PRIVATE, NULL) != 0 ||
	    mount("none", small, "tmpfs", 0, "size=1536k") != 0) {
		rmdir(small);
		skip();
	}
	write_shots(0, 1, 160); /* 2 MB */
	snprintf(to, sizeof to, "%s/copy.db", small);
	int code = ledger_backup(fixture.path, to, false, NULL, &made, &error);
	snprintf(to, sizeof to, "%s/copy.db.part", small);
	bool left = access(to, F_OK) == 0;
	umount(small);
	rmdir(small);
	assert_int_equal(code, ERROR_FULL);
	assert_non_null(strstr(error.text, "needs"));
	assert_false(left);
}

/* --- beside a writer ----------------------------------------------------------------------- */

static atomic_bool enough;
static atomic_llong written, slowest_ns;

static int64_t
now_ns(void)
{
	struct timespec now;

	clock_gettime(CLOCK_MONOTONIC, &now);
	return (int64_t)now.tv_sec * 1000000000 + now.tv_nsec;
}

static void *
write_on(void *arg)
{
	struct fixture own = fixture;
	struct error trouble;
	int64_t id;
	struct ledger *mine = ledger_open(fixture.path, NULL, &trouble);

	(void)arg;
	if (mine == NULL ||
	    ledger_put_setup(mine, &own.settings, seconds(0), &id, &trouble) != 0)
		return NULL;
	while (!atomic_load(&enough)) {
		int64_t begun = now_ns(), no = atomic_load(&written) + 1;
		if (fixture_write(&own, mine, 0, no, no, &trouble) != 0)
			break;
		int64_t took = now_ns() - begun;
		if (took > atomic_load(&slowest_ns))
			atomic_store(&slowest_ns, took);
		atomic_store(&written, no);
	}
	ledger_close(mine);
	return NULL;
}

static void
a_copy_is_of_one_instant_and_holds_up_no_writer(void **state)
{
	enum { COPIES = 5 };
	pthread_t writer;
	(void)state;

	write_shots(0, 1, 300); /* more than one step of pages */
	atomic_store(&written, 300);
	assert_int_equal(pthread_create(&writer, NULL, write_on, NULL), 0);
	for (int i = 0; i < COPIES; i++) {
		int64_t before = atomic_load(&written);
		copy_it(true);
		int64_t after = atomic_load(&written) + 1;
		/* All up to some number, and nothing of the next. */
		int64_t shots = of_copy("SELECT count(*) FROM shot");
		assert_in_range(shots, before, after);
		assert_int_equal(of_copy("SELECT max(shot_no) FROM shot"), shots);
		assert_int_equal(
		    of_copy("SELECT count(*) FROM shot_channel"), 90 * shots);
		assert_int_equal(of_copy("SELECT count(*) FROM trace"), shots);
		assert_int_equal(made.shots, shots);
	}
	atomic_store(&enough, true);
	assert_int_equal(pthread_join(writer, NULL), 0);
	print_message("%lld shots meanwhile, the slowest in %.0f ms\n",
	    atomic_load(&written) - 300LL, (double)atomic_load(&slowest_ns) / 1e6);
	assert_true(atomic_load(&written) > 300 + COPIES);
	assert_intact();
}

/* A reader that takes long, as a copy does. */
static void
a_checkpoint_beside_a_copy_keeps_no_writer_waiting(void **state)
{
	sqlite3 *db;
	int64_t count;
	(void)state;

	write_shots(0, 1, 20);
	assert_int_equal(database_open(fixture.path, DATABASE_READ, &db, &error), 0);
	assert_int_equal(database_run(db, "BEGIN", &error), 0);
	assert_int_equal(
	    database_integer(db, "SELECT count(*) FROM shot", &count, &error), 0);
	write_shots(0, 21, 22);
	int64_t begun = now_ns();
	assert_int_equal(ledger_checkpoint(ledger, &error), ERROR_BUSY);
	assert_true(now_ns() - begun < 2 * CLOCK_SECOND_NS);
	write_shots(0, 23, 24);
	assert_int_equal(sqlite3_close(db), SQLITE_OK);
	assert_int_equal(ledger_checkpoint(ledger, &error), 0);
}

/* A member of the group who may read the ledger's files, and write nothing there. */
static void
whoever_may_only_read_the_ledger_can_copy_it(void **state)
{
	char own[] = "/tmp/evensoak-copies-XXXXXX";
	int status;
	(void)state;

	if (geteuid() != 0)
		skip();
	write_shots(0, 1, 3);
	chmod(fixture.directory, 0755);
	assert_non_null(mkdtemp(own));
	chmod(own, 0777);
	pid_t child = fork();
	assert_true(child >= 0);
	if (child == 0) {
		char to[420];
		snprintf(to, sizeof to, "%s/copy.db", own);
		if (setgid(65534) != 0 || setuid(65534) != 0)
			_exit(1);
		_exit(
		    ledger_backup(fixture.path, to, false, NULL, &made, &error) == 0 &&
			    made.shots == 3
			? 0
			: 2);
	}
	assert_int_equal(waitpid(child, &status, 0), child);
	snprintf(copy_path, sizeof copy_path, "%s/copy.db", own);
	unlink(copy_path);
	rmdir(own);
	assert_int_equal(status, 0);
}

/* --- put back --------------------------------------------------------------------------------- */

static int64_t
last_no(const char *line)
{
	struct wall closed_at;
	int64_t no = -1;

	assert_int_equal(ledger_last_shot(ledger, line, &no, &closed_at, &error), 0);
	return no;
}

static int64_t
ledger_value(const char *sql)
{
	int64_t value = -1;

	if (database_integer(ledger->db, sql, &value, &error) != 0)
		fail_msg("%s", error.text);
	return value;
}

static void
a_copy_in_the_ledgers_place_gives_no_number_again(void **state)
{
	const struct wall day_later = {
	    fixture_time(40).ns + 100 * CLOCK_SECOND_NS + 86400 * CLOCK_SECOND_NS};
	(void)state;

	write_shots(0, 1, 40);
	copy_it(false);
	ledger_close(ledger);
	ledger = ledger_open(copy_path, NULL, &error);
	assert_non_null(ledger);
	assert_int_equal(last_no("line-1"), 40); /* whoever only looks at it */
	assert_int_equal(ledger_settle_copy(ledger, day_later, &error), 0);
	/* A sheet every ten seconds would have been 8640. */
	assert_int_equal(last_no("line-1"), 9000);
	assert_int_equal(last_no("line-2"), 9000);
	assert_int_equal(ledger_value("SELECT count(*) FROM event WHERE kind ="
				      " 'restored' AND text LIKE '%last shot is 40,"
				      " numbers go on from 9001'"),
	    1);
	assert_int_equal(ledger_value("SELECT max(change) FROM event"), 42);
	/* Once. */
	assert_int_equal(ledger_settle_copy(ledger, seconds(1 << 30), &error), 0);
	assert_int_equal(last_no("line-1"), 9000);
	/* And from there on as ever. */
	assert_int_equal(
	    ledger_put_setup(ledger, &fixture.settings, seconds(0), &setup_id, &error),
	    0);
	write_shots(0, 9001, 9002);
	assert_int_equal(last_no("line-1"), 9002);
}

static void
a_clock_that_is_behind_still_leaves_room(void **state)
{
	(void)state;
	write_shots(0, 1, 950);
	copy_it(false);
	ledger_close(ledger);
	ledger = ledger_open(copy_path, NULL, &error);
	assert_non_null(ledger);
	assert_int_equal(ledger_settle_copy(ledger, (struct wall){1}, &error), 0);
	assert_int_equal(last_no("line-1"), 2000);
	assert_int_equal(last_no("line-2"), 1000);
}

static void
a_shot_labelled_after_a_restore_gets_a_revision_that_no_store_has(void **state)
{
	int64_t relabelled;
	(void)state;

	write_shots(0, 1, 2);
	copy_it(false);
	ledger_close(ledger);
	ledger = ledger_open(copy_path, NULL, &error);
	assert_non_null(ledger);
	assert_int_equal(ledger_settle_copy(ledger, seconds(0), &error), 0);
	for (int i = 0; i < 2; i++) {
		assert_int_equal(
		    ledger_put_context(ledger,
			&(struct ledger_entry){"line-1", CONTEXT_TOOL,
			    i == 0 ? "T-1" : "T-2", fixture_time(0), seconds(i)},
			&relabelled, &error),
		    0);
		assert_int_equal(relabelled, 2);
	}
	assert_int_equal(ledger_value("SELECT min(revision) FROM shot"), 1001);
	assert_int_equal(ledger_value("SELECT max(revision) FROM shot"), 1001);
	assert_int_equal(
	    ledger_value("SELECT count(*) FROM superseded WHERE revision IN (0, 1000)"),
	    4);
}

/* Only who has the ledger's lock numbers on. */
static void
the_daemon_takes_a_copy_over_as_it_opens_it(void **state)
{
	(void)state;
	write_shots(0, 1, 2);
	copy_it(false);
	assert_int_equal(ledger_lock(copy_path, &error), 0);
	ledger_close(ledger);
	ledger = ledger_open(copy_path, NULL, &error);
	assert_non_null(ledger);
	assert_true(last_no("line-1") >= 1000);
	assert_int_equal(ledger_value("SELECT count(*) FROM copied"), 0);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    BACKUP_TEST(a_copy_has_everything_and_needs_nothing_beside_it),
	    BACKUP_TEST(what_is_there_is_not_written_over_unless_that_is_asked_for),
	    BACKUP_TEST(a_copy_that_cannot_be_made_leaves_nothing),
	    BACKUP_TEST(a_copy_is_of_one_instant_and_holds_up_no_writer),
	    BACKUP_TEST(a_checkpoint_beside_a_copy_keeps_no_writer_waiting),
	    BACKUP_TEST(whoever_may_only_read_the_ledger_can_copy_it),
	    BACKUP_TEST(a_copy_in_the_ledgers_place_gives_no_number_again),
	    BACKUP_TEST(a_clock_that_is_behind_still_leaves_room),
	    BACKUP_TEST(
		a_shot_labelled_after_a_restore_gets_a_revision_that_no_store_has),
	    /* It may give this process a mount table of its own. */
	    BACKUP_TEST(a_disk_too_small_is_told_before_anything_is_written),
	    /* Last: this process is a daemon from then on. */
	    BACKUP_TEST(the_daemon_takes_a_copy_over_as_it_opens_it),
	};

	return cmocka_run_group_tests_name("ledger backup", tests, NULL, NULL);
}
