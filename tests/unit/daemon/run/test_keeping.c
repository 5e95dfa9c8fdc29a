/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The ledger forgets by the settings, a piece at a time, and not by a clock that may be
 * wrong. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "tests/unit/daemon/ledger/ledger_fixture.h"

#include "daemon/base/log.h"
#include "daemon/ledger/ledger_read.h"
#include "daemon/run/keeping.h"

#define HOUR_NS (3600 * CLOCK_SECOND_NS)
#define DAY_NS (24 * HOUR_NS)

static struct fixture fixture;
static struct ledger *ledger;
static struct keeping keeping;
static struct store_settings store;
static struct error error;
static int64_t passed_ns,
    set_ns; /* by the monotonic clock; how far the other was set */

static void
put_shots(int64_t first, int64_t last)
{
	for (int64_t no = first; no <= last; no++) {
		struct shot *shot = fixture_shot(&fixture, 0, no);

		assert_int_equal(
		    ledger_put_shot(ledger, &fixture.settings, shot, &error), 0);
		shot_free(shot);
	}
}

static int
begin(void **state)
{
	int64_t setup;

	(void)state;
	if (!fixture_init(&fixture))
		return -1;
	log_set_level(LOG_LEVEL_ERROR);
	keeping = (struct keeping){0};
	passed_ns = set_ns = 0;
	ledger = ledger_open(fixture.path, NULL, &error);
	if (ledger == NULL || ledger_put_setup(ledger, &fixture.settings,
				  fixture_time(0), &setup, &error) != 0)
		return -1;
	put_shots(1, 5);
	return 0;
}

static int
end(void **state)
{
	(void)state;
	ledger_close(ledger);
	fixture_release(&fixture);
	return 0;
}

/* So long after the shots. */
static void
go_on(int64_t ns)
{
	passed_ns += ns;
	keeping_go(&keeping, ledger, &fixture.settings, (struct mono){passed_ns},
	    (struct wall){fixture_time(5).ns + passed_ns + set_ns});
}

static int64_t
shots(void)
{
	struct ledger_read *read = ledger_read_open(fixture.path, &error);
	struct ledger_summary summary;

	assert_non_null(read);
	assert_int_equal(ledger_read_summary(read, &summary, &error), 0);
	ledger_read_close(read);
	return summary.shots;
}

static void
shots_go_when_they_are_old_and_the_newest_stays(void **state)
{
	(void)state;
	fixture.settings.keep_shots_days = 2;
	for (int hour = 0; hour < 47; hour++)
		go_on(HOUR_NS);
	assert_int_equal(shots(), 5);
	for (int hour = 0; hour < 3; hour++)
		go_on(HOUR_NS);
	assert_int_equal(shots(), 1);
}

static void
with_no_settings_nothing_goes(void **state)
{
	(void)state;
	for (int day = 0; day < 4000; day++)
		go_on(DAY_NS);
	assert_int_equal(shots(), 5);
}

static void
what_a_store_lacks_stays(void **state)
{
	struct ledger_delivered delivered = {0};

	(void)state;
	snprintf(store.name, sizeof(store.name), "plant");
	fixture.settings.stores = &store;
	fixture.settings.store_count = 1;
	fixture.settings.keep_shots_days = 2;
	for (int hour = 0; hour < 60; hour++)
		go_on(HOUR_NS);
	assert_int_equal(shots(), 5);
	delivered.change = 3;
	assert_int_equal(
	    ledger_set_delivered(ledger, "plant", "shot", &delivered, &error), 0);
	go_on(2 * HOUR_NS);
	assert_int_equal(shots(), 2);
}

static int
count_reading(void *arg, const struct ledger_reading *reading)
{
	(void)reading;
	++*(int *)arg;
	return 0;
}

/* Whose ring nobody empties any more. */
static void
a_store_that_is_gone_leaves_no_readings(void **state)
{
	const struct ledger_reading reading = {.line = "line-1",
	    .at = fixture_time(1),
	    .bytes = "packed",
	    .byte_count = 6};
	struct ledger_read *read;
	int count = 0;

	(void)state;
	assert_int_equal(
	    ledger_put_reading(ledger, "gone", &reading, fixture_time(0), &error), 0);
	for (int i = 0; i < 3; i++)
		go_on(HOUR_NS);
	read = ledger_read_open(fixture.path, &error);
	assert_non_null(read);
	assert_int_equal(
	    ledger_read_readings(read, "gone", 0, count_reading, &count, &error), 0);
	ledger_read_close(read);
	assert_int_equal(count, 0);
}

/* It would all be old, and it does not come back. */
static void
a_clock_far_ahead_at_the_start_takes_nothing_for_an_hour(void **state)
{
	(void)state;
	fixture.settings.keep_shots_days = 2;
	set_ns = 20 * 365 * DAY_NS;
	for (int minute = 0; minute < 59; minute++)
		go_on(60 * CLOCK_SECOND_NS);
	assert_int_equal(shots(), 5);
	set_ns = 0; /* and then it was put right */
	for (int minute = 0; minute < 300; minute++)
		go_on(60 * CLOCK_SECOND_NS);
	assert_int_equal(shots(), 5);
}

static void
a_clock_set_ahead_later_takes_nothing_for_an_hour_either(void **state)
{
	(void)state;
	fixture.settings.keep_shots_days = 2;
	for (int hour = 0; hour < 5; hour++)
		go_on(HOUR_NS);
	set_ns = 20 * 365 * DAY_NS;
	for (int minute = 0; minute < 60; minute++)
		go_on(60 * CLOCK_SECOND_NS);
	assert_int_equal(shots(), 5);
	for (int hour = 0; hour < 2; hour++)
		go_on(HOUR_NS);
	assert_int_equal(shots(), 1); /* it seems to be meant */
}

/* Slewing it for years is no step. */
static void
a_clock_that_runs_unevenly_is_trusted(void **state)
{
	(void)state;
	fixture.settings.keep_shots_days = 2;
	for (int hour = 0; hour < 60; hour++) {
		set_ns += 60 * CLOCK_SECOND_NS;
		go_on(HOUR_NS);
	}
	assert_int_equal(shots(), 1);
}

static void
many_go_in_pieces_with_a_pause_between(void **state)
{
	int64_t left;

	(void)state;
	put_shots(6, 500);
	fixture.settings.keep_shots_days = 2;
	go_on(HOUR_NS);
	go_on(100 * HOUR_NS); /* all are old by now */
	left = shots();
	assert_int_equal(left, 300);
	for (int i = 0; i < 100; i++) /* at once: not before its time */
		go_on(HOUR_NS);
	assert_int_equal(shots(), left);
	usleep(1100000);
	go_on(HOUR_NS);
	assert_int_equal(shots(), 100);
}

#define KEEPING(f) cmocka_unit_test_setup_teardown(f, begin, end)

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    KEEPING(shots_go_when_they_are_old_and_the_newest_stays),
	    KEEPING(with_no_settings_nothing_goes),
	    KEEPING(what_a_store_lacks_stays),
	    KEEPING(a_store_that_is_gone_leaves_no_readings),
	    KEEPING(a_clock_far_ahead_at_the_start_takes_nothing_for_an_hour),
	    KEEPING(a_clock_set_ahead_later_takes_nothing_for_an_hour_either),
	    KEEPING(a_clock_that_runs_unevenly_is_trusted),
	    KEEPING(many_go_in_pieces_with_a_pause_between),
	};

	return cmocka_run_group_tests_name("keeping", tests, NULL, NULL);
}
