/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/notify/direct.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

static struct direct direct;
static int taken;

static int
set_up(void **state)
{
	(void)state;
	taken = 0;
	direct_init(&direct);
	return 0;
}

static int
tear_down(void **state)
{
	(void)state;
	direct_release(&direct);
	return 0;
}

static struct ledger_event
event(int number)
{
	struct ledger_event made = {.at = {1000 + number}, .kind = "shots_lost"};

	snprintf(made.text, sizeof made.text, "shot %d", number);
	return made;
}

static void
take(void *arg, const struct ledger_event *one)
{
	char text[32];

	assert_ptr_equal(arg, &direct);
	snprintf(text, sizeof text, "shot %d", taken++);
	assert_string_equal(one->text, text);
}

static void
put(int number)
{
	const struct ledger_event one = event(number);

	direct_put(&direct, &one);
}

static bool
knows(int number)
{
	const struct ledger_event one = event(number);

	return direct_knows(&direct, &one);
}

static void
an_event_is_known_from_when_it_is_put(void **state)
{
	struct ledger_event later = event(0);

	(void)state;
	assert_false(knows(0));
	put(0);
	assert_true(knows(0));
	assert_int_equal(direct_take(&direct, take, &direct), 0);
	assert_int_equal(taken, 1);
	assert_true(knows(0));
	later.at.ns++;
	assert_false(direct_knows(&direct, &later));
	assert_int_equal(direct_take(&direct, take, &direct), 0);
	assert_int_equal(taken, 1);
}

static void
what_has_no_room_is_counted(void **state)
{
	(void)state;
	for (int i = 0; i < DIRECT_MOST + 5; i++)
		put(i);
	assert_int_equal(direct_take(&direct, take, &direct), 5);
	assert_int_equal(taken, DIRECT_MOST);
	assert_int_equal(direct_take(&direct, take, &direct), 0);
}

static void
the_last_ones_stay_known(void **state)
{
	(void)state;
	for (int i = 0; i < 3 * DIRECT_MOST / 2; i++) {
		put(i);
		assert_int_equal(direct_take(&direct, take, &direct), 0);
	}
	assert_int_equal(taken, 3 * DIRECT_MOST / 2);
	assert_false(knows(DIRECT_MOST / 2 - 1));
	for (int i = DIRECT_MOST / 2; i < 3 * DIRECT_MOST / 2; i++)
		assert_true(knows(i));
}

static void
what_was_taken_can_be_forgotten_but_not_what_waits(void **state)
{
	(void)state;
	put(0);
	assert_int_equal(direct_take(&direct, take, &direct), 0);
	put(1);
	direct_forget(&direct);
	assert_false(knows(0));
	assert_true(knows(1));
	assert_int_equal(direct_take(&direct, take, &direct), 0);
	assert_int_equal(taken, 2);
	assert_true(knows(1));
}

int
main(void)
{
#define TEST(test) cmocka_unit_test_setup_teardown(test, set_up, tear_down)
	const struct CMUnitTest tests[] = {
	    TEST(an_event_is_known_from_when_it_is_put),
	    TEST(what_has_no_room_is_counted),
	    TEST(the_last_ones_stay_known),
	    TEST(what_was_taken_can_be_forgotten_but_not_what_waits),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
