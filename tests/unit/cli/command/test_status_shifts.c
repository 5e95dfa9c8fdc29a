/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What `status` tells of shifts that nobody closes. */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>

#include "daemon/base/calendar.h"
#include "daemon/ledger/ledger_lock.h"
#include "tests/unit/cli/command/changed.h"

static struct plant plant;

static int
open_plant(void **state)
{
	(void)state;
	setenv("COLUMNS", "400", 1);
	plant_open(&plant);
	assert_int_equal(ledger_lock(plant.ledger_path, NULL), 0);
	plant_run(&plant, 1, 30); /* to 06:30 UTC; the early shift ends at 13:00 */
	return 0;
}

static int
close_plant(void **state)
{
	(void)state;
	plant_close(&plant);
	return 0;
}

/* With the clock at that time; the daemon is well. */
static void
ask_at(const char *time)
{
	struct wall at;

	assert_int_equal(calendar_parse(time, &at, NULL), 0);
	assert_int_equal(clock_run_at(1, at, 0, NULL), 0);
	const struct ledger_health row = {
	    "daemon", "ok", "", plant_time(0), clock_wall(), 1, 0};
	assert_int_equal(ledger_put_health(plant.ledger, &row, 1, NULL, 0, NULL), 0);
	plant_run_command(&plant, "status", "--ledger", plant.ledger_path);
}

static const char remark[] =
    "shifts are not closed, so dashboards lack them: early of line-3, from 2026-03-02 "
    "06:00:00; is evensoak-shifts.timer running? 'sudo systemctl enable --now";

static void
assert_remarks(bool remarks)
{
	if (remarks)
		assert_says(plant.out, remark);
	else
		assert_tells_not(plant.out, "not closed");
}

static void
a_shift_that_nobody_has_closed_for_an_hour_is_told_and_not_wrong(void **state)
{
	(void)state;
	ask_at("2026-03-02T13:59:00Z");
	assert_remarks(false);
	ask_at("2026-03-02T14:01:00Z");
	assert_remarks(true);
	assert_int_equal(plant.code, COMMAND_DONE);
	/* nor has anybody since; of the shifts without shots nothing is missed */
	ask_at("2026-03-05T12:00:00Z");
	assert_remarks(true);
	/* that is not the timer's any more */
	ask_at("2026-04-10T12:00:00Z");
	assert_remarks(false);
}

static void
of_closed_shifts_nothing_is_told(void **state)
{
	(void)state;
	plant_run_command(&plant, "close-shifts", "--ledger", plant.ledger_path,
	    "--clock-start", "2026-03-02T13:20:00Z");
	assert_int_equal(plant.code, COMMAND_DONE);
	ask_at("2026-03-02T14:01:00Z");
	assert_remarks(false);
	plant_run(&plant, 200, 5); /* from 15:00 on, in the late one */
	ask_at("2026-03-02T22:30:00Z");
	assert_says(plant.out, "late of line-3, from 2026-03-02 14:00:00");
}

static void
a_set_up_without_shifts_needs_no_timer(void **state)
{
	(void)state;
	ask_at("2026-03-02T14:01:00Z");
	assert_remarks(true);
	changed_set_up(&plant,
	    "[shift early]\nstart = 06:00\nend = 14:00\n\n"
	    "[shift late]\nstart = 14:00\nend = 22:00\n\n"
	    "[shift night]\nstart = 22:00\nend = 06:00\n",
	    "", 31);
	ask_at("2026-03-02T14:01:00Z");
	assert_remarks(false);
}

#define with_plant(test) cmocka_unit_test_setup_teardown(test, open_plant, close_plant)

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    with_plant(
		a_shift_that_nobody_has_closed_for_an_hour_is_told_and_not_wrong),
	    with_plant(of_closed_shifts_nothing_is_told),
	    with_plant(a_set_up_without_shifts_needs_no_timer),
	};
	return cmocka_run_group_tests_name("status of shifts", tests, NULL, NULL);
}
