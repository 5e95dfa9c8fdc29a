/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What is given to the filing gets into the ledger once, in order, whatever the disk does. */
#include <pthread.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "tests/unit/daemon/ledger/counting_vfs.h"
#include "tests/unit/daemon/ledger/ledger_fixture.h"

#include "daemon/base/log.h"
#include "daemon/ledger/ledger_read.h"
#include "daemon/run/filing.h"
#include "daemon/shot/circumstances.h"
#include "daemon/shot/tracker.h"

static struct fixture fixture;
static struct filing *filing;
static struct error error;

static int
begin(void **state)
{
	(void)state;
	if (!fixture_init(&fixture) || counting_vfs_register() != SQLITE_OK)
		return -1;
	log_set_level(LOG_LEVEL_ERROR - 1);
	text_copy(
	    fixture.settings.ledger, sizeof(fixture.settings.ledger), fixture.path);
	fixture.settings.memory_shots = 5;
	fixture.settings.keep_traces_days = 30;
	filing = filing_open(&fixture.settings, &error);
	return filing != NULL ? 0 : -1;
}

static int
end(void **state)
{
	(void)state;
	fault.code = SQLITE_OK;
	filing_free(filing);
	filing = NULL;
	fixture_release(&fixture);
	return 0;
}

static void
put_shot(int64_t shot_no)
{
	filing_put_shot(filing, 0, fixture_shot(&fixture, 0, shot_no));
}

static void
put_standing(const char *text)
{
	filing_put_standing(filing, 0, fixture_time(0), text, strlen(text));
}

static struct filing_status
status(void)
{
	struct filing_status now;

	filing_status(filing, &now);
	return now;
}

/* The integer that an SQL statement gives, asked by another connection. */
static int64_t
sql_integer(const char *sql)
{
	sqlite3 *db;
	sqlite3_stmt *statement;
	int64_t value;

	assert_int_equal(
	    sqlite3_open_v2(fixture.path, &db, SQLITE_OPEN_READONLY, NULL), SQLITE_OK);
	assert_int_equal(sqlite3_prepare_v2(db, sql, -1, &statement, NULL), SQLITE_OK);
	assert_int_equal(sqlite3_step(statement), SQLITE_ROW);
	value = sqlite3_column_int64(statement, 0);
	sqlite3_finalize(statement);
	sqlite3_close(db);
	return value;
}

/* What the next logger would start from. */
static void
assert_start(int64_t last_shot_no, const char *saved)
{
	struct tracker_start start;

	assert_int_equal(filing_start(filing, 0, &start, &error), 0);
	assert_int_equal(start.last_shot_no, last_shot_no);
	assert_int_equal(start.saved_bytes, saved == NULL ? 0 : strlen(saved));
	if (saved != NULL)
		assert_memory_equal(start.saved, saved, start.saved_bytes);
	assert_false(start.no_traces);
}

static void
all_that_was_put_is_in_the_ledger(void **state)
{
	(void)state;
	assert_start(0, NULL);
	filing_put_event(filing, 1, fixture_time(0), "start", "logging begins");
	put_shot(1);
	put_standing("one");
	put_shot(2);
	put_standing("two");
	assert_int_equal(status().waiting, 2);
	assert_true(filing_write(filing, false));
	assert_int_equal(status().waiting, 0);
	assert_int_equal(status().filed, 2);
	assert_start(2, "two");
	assert_int_equal(sql_integer("SELECT count(*) FROM event"), 1);
}

static void
who_stands_where_is_written_after_the_shots_given_out_before(void **state)
{
	(void)state;
	put_standing("before");
	assert_true(filing_write(filing, false));
	put_standing("older");
	put_shot(1);
	put_standing("newer");
	/* a write fails: nothing of what comes behind it may be there */
	fault.code = SQLITE_FULL;
	fault.left = 3;
	assert_false(filing_write(filing, false));
	if (sql_integer("SELECT count(*) FROM shot") == 0)
		assert_start(0, "before");
	assert_true(filing_write(filing, true));
	assert_start(1, "newer");
}

static void
a_refusal_is_tried_again_later_and_loses_nothing(void **state)
{
	(void)state;
	for (int fail_at = 0; fail_at < 60; fail_at++) {
		int64_t first = 3 * fail_at + 1;

		for (int64_t no = first; no < first + 3; no++)
			put_shot(no);
		filing_put_event(filing, 0, fixture_time(first), "fault", "a fault");
		put_standing("somebody");
		fault.code = SQLITE_FULL;
		fault.left = fail_at;
		if (!filing_write(filing, false)) {
			assert_int_equal(status().writing, 0);
			assert_true(strlen(status().text) > 0);
			/* not before its time */
			assert_false(filing_write(filing, false));
			assert_int_equal(status().writing, 0);
		}
		fault.code = SQLITE_OK;
		assert_true(filing_write(filing, true));
		assert_int_equal(status().writing, 1);
		assert_int_equal(sql_integer("SELECT count(*) FROM shot"), first + 2);
		assert_int_equal(
		    sql_integer("SELECT count(*) FROM event"), fail_at + 1);
	}
	assert_int_equal(status().lost, 0);
}

/* The file system went read-only, the disk fails, a page is damaged, another program holds
 * the ledger: what can be put right outside is waited for. */
static void
shots_wait_whatever_the_ledger_says(void **state)
{
	static const int codes[] = {SQLITE_READONLY, SQLITE_IOERR_WRITE,
	    SQLITE_IOERR_FSYNC, SQLITE_CORRUPT, SQLITE_CANTOPEN};
	int64_t no = 0;

	(void)state;
	for (size_t i = 0; i < sizeof(codes) / sizeof(codes[0]); i++) {
		put_shot(++no);
		put_shot(++no);
		fault.code = codes[i];
		fault.left = 0;
		assert_false(filing_write(filing, true));
		assert_int_equal(status().waiting, 2);
		assert_int_equal(status().writing, 0);
		assert_true(strlen(status().text) > 0);
		fault.code = codes[i]; /* it goes on failing */
		fault.left = 0;
		assert_false(filing_write(filing, true));
		fault.code = SQLITE_OK;
		assert_true(filing_write(filing, true));
		assert_int_equal(status().writing, 1);
		assert_int_equal(sql_integer("SELECT count(*) FROM shot"), no);
	}
	assert_int_equal(status().lost, 0);
	assert_int_equal(status().filed, no);
}

static void
what_waits_has_a_bound_and_what_is_lost_is_counted(void **state)
{
	(void)state;
	for (int64_t no = 1; no <= 8; no++) {
		put_shot(no);
		put_standing("somebody");
		for (int i = 0; i < 300; i++)
			filing_put_event(
			    filing, 0, fixture_time(no), "fault", "a fault");
	}
	assert_int_equal(status().waiting, 5);
	assert_int_equal(status().lost, 3);
	assert_true(filing_write(filing, false));
	assert_int_equal(sql_integer("SELECT max(shot_no) FROM shot"), 5);
	assert_int_equal(sql_integer("SELECT count(*) FROM event"), 1000);
}

/* --- a ledger that is opened late ---------------------------------------------------- */

static int64_t found[2];

static void
take_found(void *arg, uint32_t line, int64_t last_shot_no)
{
	(void)arg;
	found[line] = last_shot_no;
	filing_put_standing(filing, line, fixture_time(9), "new", 3);
}

static void
a_ledger_opened_late_is_numbered_on(void **state)
{
	struct tracker_start start;
	char aside[400];

	(void)state;
	put_shot(1);
	put_shot(2);
	assert_true(filing_write(filing, false));
	filing_free(filing);
	/* the disk is so full that the ledger cannot be seen */
	snprintf(aside, sizeof(aside), "%s.aside", fixture.path);
	assert_int_equal(rename(fixture.path, aside), 0);
	fault.code = SQLITE_FULL;
	fault.left = 0;
	filing = filing_open(&fixture.settings, &error);
	assert_non_null(filing);
	assert_int_equal(status().open, 0);
	assert_int_equal(status().writing, 0);
	filing_set_hook(filing, (struct filing_hook){take_found, NULL});
	assert_int_equal(filing_start(filing, 0, &start, &error), 0);
	assert_int_equal(start.last_shot_no, 0);
	assert_null(start.saved);
	put_standing("old");
	put_shot(1);
	put_shot(2);
	assert_false(filing_write(filing, false));
	assert_int_equal(rename(aside, fixture.path), 0);
	assert_true(filing_write(filing, true));
	assert_int_equal(status().open, 1);
	assert_int_equal(found[0], 2);
	assert_int_equal(found[1], 0);
	assert_start(4, "new");
}

/* --- what people told ---------------------------------------------------------------- */

static struct circumstances
told(void)
{
	struct circumstances circumstances = {.recipe = 4711};

	filing_circumstances(filing, 0, 12, fixture_time(5), &circumstances);
	return circumstances;
}

static void
assert_untold(void)
{
	struct circumstances nothing = told();

	assert_int_equal(nothing.recipe, 12);
	assert_string_equal(nothing.material, "abs");
	assert_string_equal(nothing.tool, "");
	assert_true(isnan(nothing.thickness_m));
	assert_null(nothing.correction);
}

static void
assert_told(void)
{
	struct circumstances now = told();

	assert_string_equal(now.tool, "T-7");
	assert_non_null(now.correction);
	assert_true(now.correction[1] == -1.5 && now.correction[0] == 0);
}

/* As a command does, while the daemon has the ledger open. */
static void
tell_from_outside(void)
{
	struct ledger *ledger = ledger_open(fixture.path, NULL, &error);
	int64_t relabelled;

	assert_non_null(ledger);
	assert_int_equal(ledger_put_context(ledger,
			     &(struct ledger_entry){"line-1", CONTEXT_TOOL, "T-7",
				 fixture_time(0), fixture_time(0)},
			     &relabelled, &error),
	    0);
	assert_int_equal(ledger_put_calibration(ledger,
			     &(struct ledger_calibration){.line = "line-1",
				 .device = "plc-1",
				 .channel = "tool_2",
				 .at = fixture_time(0),
				 .as_found = NAN,
				 .as_left = 1.5},
			     &error),
	    0);
	ledger_close(ledger);
}

static void
what_was_entered_holds_from_the_next_record_on(void **state)
{
	(void)state;
	assert_untold(); /* the line is not even on file */
	put_shot(1);
	assert_true(filing_write(filing, false));
	assert_untold();
	tell_from_outside();
	assert_told();
}

static void
run_outside(const char *sql)
{
	sqlite3 *db;

	assert_int_equal(sqlite3_open(fixture.path, &db), SQLITE_OK);
	assert_int_equal(sqlite3_exec(db, sql, NULL, NULL, NULL), SQLITE_OK);
	sqlite3_close(db);
}

/* The lines on the log while `run` runs. */
static int
logged(void (*run)(void))
{
	FILE *log = tmpfile();
	int before = dup(STDERR_FILENO), lines = 0, c;

	assert_non_null(log);
	assert_true(before >= 0 && dup2(fileno(log), STDERR_FILENO) >= 0);
	log_set_level(LOG_LEVEL_INFO);
	run();
	log_set_level(LOG_LEVEL_ERROR - 1);
	fflush(stderr);
	assert_true(dup2(before, STDERR_FILENO) >= 0);
	close(before);
	rewind(log);
	while ((c = fgetc(log)) != EOF)
		lines += c == '\n';
	fclose(log);
	return lines;
}

static void
ask_three_times(void)
{
	for (int i = 0; i < 3; i++)
		assert_untold();
}

static void
a_ledger_that_cannot_tell_fails_no_shot_and_is_told_once(void **state)
{
	(void)state;
	put_shot(1);
	assert_true(filing_write(filing, false));
	tell_from_outside();
	assert_int_equal(logged(assert_told), 0);
	run_outside("ALTER TABLE calibration RENAME TO away");
	assert_int_equal(logged(ask_three_times), 1);
	put_shot(2);
	assert_true(filing_write(filing, false));
	run_outside("ALTER TABLE away RENAME TO calibration");
	assert_int_equal(logged(assert_told), 1); /* again */
	assert_int_equal(logged(assert_told), 0);
}

static void
a_ledger_that_is_not_open_yet_has_nothing_to_tell(void **state)
{
	(void)state;
	filing_free(filing);
	unlink(fixture.path);
	fault.code = SQLITE_FULL;
	fault.left = 0;
	filing = filing_open(&fixture.settings, &error);
	assert_non_null(filing);
	assert_int_equal(status().open, 0);
	assert_int_equal(logged(ask_three_times), 0);
}

/* --- what must not stand in the way of shots ------------------------------------------- */

/* As where pages of that table are damaged. */
static void
events_that_are_refused_hold_up_no_shot(void **state)
{
	(void)state;
	put_shot(1);
	assert_true(filing_write(filing, false));
	run_outside("CREATE TRIGGER refuse BEFORE INSERT ON event BEGIN "
		    "SELECT RAISE(ABORT, 'damaged'); END");
	filing_put_event(filing, 0, fixture_time(2), "fault", "a fault");
	put_shot(2);
	put_standing("somebody");
	assert_false(filing_write(filing, true));
	assert_int_equal(status().writing, 0);
	assert_int_equal(status().filed, 2);
	assert_int_equal(status().waiting, 0);
	assert_start(2, "somebody");
	run_outside("DROP TRIGGER refuse");
	assert_true(filing_write(filing, true));
	assert_int_equal(status().writing, 1);
	assert_int_equal(sql_integer("SELECT count(*) FROM event"), 1);
}

static void
the_logger_has_events_of_its_own(void **state)
{
	(void)state;
	filing_put_event(
	    filing, FILING_LOGGER, fixture_time(1), "disk_low", "little room");
	assert_true(filing_write(filing, false));
	assert_int_equal(sql_integer("SELECT count(*) FROM event WHERE line IS NULL "
				     "AND kind = 'disk_low'"),
	    1);
}

enum { PUTTERS = 4, PUT_EACH = 200 };

static void *
put_events(void *arg)
{
	(void)arg;
	for (int i = 0; i < PUT_EACH; i++)
		filing_put_event(
		    filing, FILING_LOGGER, fixture_time(i), "disk_low", "little room");
	return NULL;
}

static void
events_come_from_any_thread(void **state)
{
	pthread_t threads[PUTTERS];

	(void)state;
	for (int i = 0; i < PUTTERS; i++)
		assert_int_equal(
		    pthread_create(&threads[i], NULL, put_events, NULL), 0);
	for (int64_t no = 1; no < 50; no++) {
		put_shot(no);
		(void)filing_write(filing, true);
	}
	for (int i = 0; i < PUTTERS; i++)
		pthread_join(threads[i], NULL);
	assert_true(filing_write(filing, true));
	assert_int_equal(sql_integer("SELECT count(*) FROM event"), PUTTERS * PUT_EACH);
	assert_int_equal(status().events_lost, 0);
}

/* --- live readings ---------------------------------------------------------------------- */

static struct store_settings stores[2];

static void
want_readings(void)
{
	for (int i = 0; i < 2; i++) {
		snprintf(stores[i].name, SETTINGS_NAME, "store-%d", i);
		stores[i].reading_period_s = 10;
		stores[i].reading_keep_s = 3600;
	}
	fixture.settings.stores = stores;
	fixture.settings.store_count = 2;
}

static void
put_readings(int count)
{
	struct wall now = clock_wall();

	for (int i = 0; i < count; i++)
		filing_put_reading(filing, (size_t)i % 2, 0,
		    (struct wall){now.ns + i * CLOCK_SECOND_NS}, "packed", 6);
}

static void
live_readings_get_into_the_ring_of_their_store(void **state)
{
	(void)state;
	want_readings();
	put_readings(5);
	assert_true(filing_write(filing, false));
	assert_int_equal(sql_integer("SELECT count(*) FROM reading JOIN ring ON "
				     "ring.id = ring WHERE destination = 'store-0'"),
	    3);
	assert_int_equal(sql_integer("SELECT count(*) FROM reading"), 5);
	assert_int_equal(status().readings_lost, 0);
}

static void
live_readings_wait_for_no_ledger_and_hold_up_no_shot(void **state)
{
	(void)state;
	want_readings();
	for (int64_t no = 1; no <= 3; no++)
		put_shot(no);
	put_readings(7);
	fault.code = SQLITE_FULL;
	fault.left = 0;
	assert_false(filing_write(filing, false));
	assert_int_equal(status().readings_lost, 7);
	put_readings(2);
	assert_false(filing_write(filing, false)); /* not tried again yet */
	assert_int_equal(status().readings_lost, 9);
	fault.code = SQLITE_OK;
	assert_true(filing_write(filing, true));
	assert_int_equal(status().filed, 3);
	assert_int_equal(sql_integer("SELECT count(*) FROM reading"), 0);
}

/* Shots and events go on as if nothing had been. */
static void
a_ring_that_cannot_be_written_costs_readings_alone(void **state)
{
	(void)state;
	want_readings();
	put_shot(1);
	assert_true(filing_write(filing, false));
	run_outside("ALTER TABLE reading RENAME TO away");
	put_readings(3);
	put_shot(2);
	assert_true(filing_write(filing, false));
	assert_int_equal(status().writing, 1);
	assert_int_equal(status().filed, 2);
	assert_int_equal(status().readings_lost, 3);
}

static void
live_readings_have_a_bound_of_their_own(void **state)
{
	(void)state;
	want_readings();
	put_readings(1000);
	put_shot(1);
	filing_put_event(filing, 0, fixture_time(1), "fault", "a fault");
	assert_true(status().readings_lost > 0);
	assert_int_equal(status().lost + status().events_lost, 0);
	assert_true(filing_write(filing, false));
	assert_int_equal(
	    sql_integer("SELECT count(*) FROM reading"), 1000 - status().readings_lost);
}

/* --- old traces ------------------------------------------------------------------------ */

static void
old_traces_go_once_an_hour(void **state)
{
	int64_t day_ns = 86400 * CLOCK_SECOND_NS;
	struct wall now = fixture_time(10);

	(void)state;
	fixture.trace_bytes = 100;
	for (int64_t no = 1; no <= 5; no++)
		put_shot(no);
	filing_tidy(filing, now); /* what waits goes first */
	assert_true(filing_write(filing, false));
	filing_tidy(filing, now);
	assert_int_equal(sql_integer("SELECT count(*) FROM trace"), 5);
	now.ns += 30 * day_ns;
	filing_tidy(
	    filing, (struct wall){now.ns - 40 * day_ns}); /* the clock was set */
	assert_int_equal(sql_integer("SELECT count(*) FROM trace"), 5);
	filing_tidy(filing, now);
	assert_int_equal(sql_integer("SELECT count(*) FROM trace"), 0);
	put_shot(6);
	assert_true(filing_write(filing, false));
	filing_tidy(filing, (struct wall){now.ns + 1800 * CLOCK_SECOND_NS});
	assert_int_equal(sql_integer("SELECT count(*) FROM trace"), 1);
	filing_tidy(filing, (struct wall){now.ns + 3601 * CLOCK_SECOND_NS});
	assert_int_equal(sql_integer("SELECT count(*) FROM trace"), 0);
	assert_int_equal(sql_integer("SELECT count(*) FROM shot"), 6);
}

#define FILED(f) cmocka_unit_test_setup_teardown(f, begin, end)

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    FILED(all_that_was_put_is_in_the_ledger),
	    FILED(who_stands_where_is_written_after_the_shots_given_out_before),
	    FILED(a_refusal_is_tried_again_later_and_loses_nothing),
	    FILED(shots_wait_whatever_the_ledger_says),
	    FILED(what_waits_has_a_bound_and_what_is_lost_is_counted),
	    FILED(a_ledger_opened_late_is_numbered_on),
	    FILED(what_was_entered_holds_from_the_next_record_on),
	    FILED(a_ledger_that_cannot_tell_fails_no_shot_and_is_told_once),
	    FILED(a_ledger_that_is_not_open_yet_has_nothing_to_tell),
	    FILED(events_that_are_refused_hold_up_no_shot),
	    FILED(the_logger_has_events_of_its_own),
	    FILED(events_come_from_any_thread),
	    FILED(live_readings_get_into_the_ring_of_their_store),
	    FILED(live_readings_wait_for_no_ledger_and_hold_up_no_shot),
	    FILED(a_ring_that_cannot_be_written_costs_readings_alone),
	    FILED(live_readings_have_a_bound_of_their_own),
	    FILED(old_traces_go_once_an_hour),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
