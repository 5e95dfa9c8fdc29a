/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Events, live readings and old traces stand in no shot's way. */
#include <pthread.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "tests/unit/daemon/run/filing_fixture.h"

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

int
main(void)
{
	const struct CMUnitTest tests[] = {
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
