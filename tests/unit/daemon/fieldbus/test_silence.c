/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/fieldbus/silence.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <cmocka.h>

#include "tests/unit/near.h"

/* A bus whose units are asked every 0.1 s; asking a dead one costs `cost_s`. */
struct bus {
	struct silence *silence;
	double now_s;
	bool dead[32];
	double cost_s[32];
	int answers_every[32]; /* so manyth attempt; 0: each */
	int attempts[32];
	double spent_s; /* on dead ones */
};

static struct mono
at(double s)
{
	return (struct mono){(int64_t)(s * 1e9)};
}

static void
open_bus(struct bus *bus, size_t units)
{
	*bus = (struct bus){.silence = silence_new(units)};
	assert_non_null(bus->silence);
	for (size_t i = 0; i < units; i++)
		bus->cost_s[i] = 1;
}

static void
ask(struct bus *bus, size_t unit)
{
	if (silence_holds(bus->silence, unit, at(bus->now_s)))
		return;
	bus->attempts[unit]++;
	if (!bus->dead[unit] &&
	    (bus->answers_every[unit] == 0 ||
		bus->attempts[unit] % bus->answers_every[unit] == 0)) {
		silence_end(bus->silence, unit, at(bus->now_s));
		return;
	}
	bus->now_s += bus->cost_s[unit];
	bus->spent_s += bus->cost_s[unit];
	silence_fail(
	    bus->silence, unit, at(bus->now_s), (int64_t)(bus->cost_s[unit] * 1e9));
}

/* Asks everybody in turn, until so long later. */
static void
run_for(struct bus *bus, double s)
{
	double end_s = bus->now_s + s;

	while (bus->now_s < end_s) {
		for (size_t i = 0; i < bus->silence->count; i++)
			ask(bus, i);
		bus->now_s += 0.1;
	}
}

static void
a_unit_alone_is_never_left_alone(void **state)
{
	struct bus bus;

	(void)state;
	open_bus(&bus, 1);
	bus.dead[0] = true;
	run_for(&bus, 1100);
	assert_int_equal(bus.attempts[0], 1000);
	free(bus.silence);
}

static void
a_dead_one_among_others_takes_less_than_a_hundredth_of_the_bus(void **state)
{
	const double costs_s[] = {0.001, 0.1, 0.5, 1, 5};

	(void)state;
	for (size_t i = 0; i < sizeof costs_s / sizeof costs_s[0]; i++) {
		struct bus bus;

		open_bus(&bus, 32);
		bus.dead[7] = true;
		bus.cost_s[7] = costs_s[i];
		run_for(&bus, 1200);
		bus.spent_s = 0;
		bus.attempts[7] = 0;
		run_for(&bus, 12100 * costs_s[i] + 3000);
		assert_true(bus.spent_s < (12100 * costs_s[i] + 3000) / 119);
		assert_true(bus.attempts[7] >= 15); /* and it is asked */
		free(bus.silence);
	}
}

/* By hand: no pause after the first and the second, then 4 s, 16 s, 64 s and 120 s. */
static void
pauses_grow_from_the_third_failure_on(void **state)
{
	const double pauses_s[] = {0, 0, 4, 16, 64, 120, 120};
	struct bus bus;

	(void)state;
	open_bus(&bus, 2);
	ask(&bus, 0);
	bus.dead[1] = true;
	for (size_t i = 0; i < sizeof pauses_s / sizeof pauses_s[0]; i++) {
		ask(&bus, 1);
		assert_near((double)bus.silence->units[1].until.ns / 1e9 - bus.now_s,
		    pauses_s[i], 1e-6);
		bus.now_s += pauses_s[i];
		assert_false(silence_holds(bus.silence, 1, at(bus.now_s)));
	}
	bus.dead[1] = false;
	assert_int_equal(silence_end(bus.silence, 1, at(bus.now_s)), 7);
	assert_int_equal(silence_end(bus.silence, 1, at(bus.now_s)), 0);
	free(bus.silence);
}

/* Then there is time for 120 attempts each, and not for one more. */
static void
dead_ones_share_what_they_may_cost(void **state)
{
	struct bus bus;

	(void)state;
	open_bus(&bus, 32);
	for (int i = 10; i < 14; i++)
		bus.dead[i] = true;
	run_for(&bus, 3000);
	bus.spent_s = 0;
	memset(bus.attempts, 0, sizeof bus.attempts);
	run_for(&bus, 48000);
	assert_true(bus.spent_s < 48000 / 119.0);
	assert_true(bus.attempts[10] >= 90);
	free(bus.silence);
}

static double
pause_among_31_dead_ones_s(double cost_s)
{
	struct bus bus;
	double s;

	open_bus(&bus, 32);
	for (int i = 1; i < 32; i++) {
		bus.dead[i] = true;
		bus.cost_s[i] = cost_s;
	}
	run_for(&bus, 20000);
	silence_fail(bus.silence, 7, at(0), (int64_t)(cost_s * 1e9));
	s = (double)bus.silence->units[7].until.ns / 1e9;
	free(bus.silence);
	return s;
}

/* 31 x 120 x 0.01 s, but for 1 s and 10 s of cost: there the limit and 120 x 10 s hold. */
static void
none_is_left_alone_for_over_ten_minutes_for_the_others_sake(void **state)
{
	(void)state;
	assert_near(pause_among_31_dead_ones_s(0.01), 37.2, 1e-6);
	assert_near(pause_among_31_dead_ones_s(1), 600, 1e-6);
	assert_near(pause_among_31_dead_ones_s(10), 1200, 1e-6);
}

/* Never three failures in a row, and yet most of the time would be lost to it. */
static void
one_that_answers_now_and_then_takes_a_twentieth_at_most(void **state)
{
	const int every[] = {2, 3, 4};

	(void)state;
	for (size_t i = 0; i < sizeof every / sizeof every[0]; i++) {
		struct bus bus;

		open_bus(&bus, 8);
		bus.answers_every[3] = every[i];
		run_for(&bus, 100);
		bus.spent_s = 0;
		bus.attempts[3] = 0;
		run_for(&bus, 10000);
		assert_true(bus.spent_s < 10000 / 19.0);
		assert_true(bus.attempts[3] > 300);
		free(bus.silence);
	}
}

/* A bad plug is a matter of the next attempt. */
static void
one_that_failed_once_or_twice_is_asked_at_once(void **state)
{
	struct bus bus;

	(void)state;
	open_bus(&bus, 8);
	run_for(&bus, 1);
	for (int k = 0; k < 20; k++) {
		silence_fail(bus.silence, 3, at(bus.now_s), 1000000000);
		assert_false(silence_holds(bus.silence, 3, at(bus.now_s)));
		silence_fail(bus.silence, 3, at(bus.now_s), 1000000000);
		assert_false(silence_holds(bus.silence, 3, at(bus.now_s)));
		run_for(&bus, 60);
	}
	free(bus.silence);
}

/* 0.4 s is the shortest period of the others that answer. */
static void
a_long_attempt_has_its_pause_from_the_first_failure_on(void **state)
{
	const double periods_s[] = {0.5, 0.1, 0.4, 0.05};
	const double pauses_s[] = {0.9, 1.8, 3.6};
	struct silence *silence = silence_new(4);

	(void)state;
	assert_non_null(silence);
	for (size_t i = 0; i < 4; i++) {
		silence->units[i].period_ns = (int64_t)(periods_s[i] * 1e9);
		if (i != 3)
			silence_end(silence, i, at(0));
	}
	for (int i = 0; i < 3; i++) {
		silence_fail(silence, 1, at(1), 900000000);
		assert_near(
		    (double)silence->units[1].until.ns / 1e9 - 1, pauses_s[i], 1e-6);
	}
	silence_end(silence, 1, at(1000));
	silence_fail(silence, 1, at(1000), 800000000);
	assert_false(silence_holds(silence, 1, at(1000)));
	free(silence);
}

static bool
one_answers(const struct bus *bus)
{
	for (size_t i = 0; i < bus->silence->count; i++)
		if (bus->silence->units[i].answers)
			return true;
	return false;
}

/* As every night: then all are found soon after the line is switched on. */
static void
a_bus_that_was_all_silent_is_found_soon(void **state)
{
	struct bus bus;
	double on_s;

	(void)state;
	open_bus(&bus, 32);
	run_for(&bus, 10);
	for (int i = 0; i < 32; i++)
		bus.dead[i] = true;
	run_for(&bus, 8 * 3600);
	for (int i = 0; i < 31; i++)
		bus.dead[i] = false;
	for (int i = 0; i < 32; i++)
		bus.attempts[i] = 0;
	on_s = bus.now_s;
	while (!one_answers(&bus))
		run_for(&bus, 0.1);
	assert_true(bus.now_s < on_s + 65); /* twice what asking all takes */
	run_for(&bus, 5);
	for (int i = 0; i < 31; i++)
		assert_true(bus.silence->units[i].answers);
	/* The one that stays dead does not hold them up for long. */
	assert_true(bus.attempts[31] <= 3);
	/* Its pauses have grown anew: 4 s, 16 s and 64 s. */
	bus.attempts[31] = 0;
	run_for(&bus, 120);
	assert_in_range(bus.attempts[31], 2, 4);
	run_for(&bus, 200);
	bus.spent_s = 0;
	on_s = bus.now_s;
	run_for(&bus, 2400);
	assert_true(bus.spent_s < (bus.now_s - on_s) / 100);
	free(bus.silence);
}

static void
what_a_night_cost_is_not_held_against_a_unit(void **state)
{
	struct bus bus;

	(void)state;
	open_bus(&bus, 2);
	bus.dead[0] = bus.dead[1] = true;
	run_for(&bus, 3600);
	bus.dead[0] = bus.dead[1] = false;
	run_for(&bus, 10);
	silence_fail(bus.silence, 1, at(bus.now_s), 1000000000);
	assert_false(silence_holds(bus.silence, 1, at(bus.now_s)));
	free(bus.silence);
}

/* Else a bad plug would have all the dead ones asked again and again. */
static void
a_slip_of_the_only_one_that_answers_changes_nothing(void **state)
{
	struct bus bus;
	int before;

	(void)state;
	open_bus(&bus, 8);
	for (int i = 1; i < 8; i++)
		bus.dead[i] = true;
	run_for(&bus, 3000);
	before = bus.attempts[7];
	for (int i = 0; i < 100; i++) {
		silence_fail(bus.silence, 0, at(bus.now_s), 1000000);
		silence_fail(bus.silence, 0, at(bus.now_s), 1000000);
		run_for(&bus, 1);
	}
	assert_true(bus.silence->units[0].answers);
	assert_true(bus.attempts[7] - before <= 2);
	free(bus.silence);
}

/* Gone for half a minute every minute. */
static void
the_only_one_that_answers_revives_nobody_by_coming_and_going(void **state)
{
	struct bus bus;

	(void)state;
	open_bus(&bus, 8);
	for (int i = 1; i < 8; i++)
		bus.dead[i] = true;
	run_for(&bus, 3000);
	memset(bus.attempts, 0, sizeof bus.attempts);
	for (int i = 0; i < 50; i++) {
		bus.dead[0] = true;
		run_for(&bus, 30);
		assert_false(bus.silence->units[0].answers);
		bus.dead[0] = false;
		run_for(&bus, 60);
		assert_true(bus.silence->units[0].answers);
	}
	/* 4500 s at ten minutes each, were it there all the time. */
	assert_true(bus.attempts[7] <= 25);
	free(bus.silence);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(a_unit_alone_is_never_left_alone),
	    cmocka_unit_test(
		a_dead_one_among_others_takes_less_than_a_hundredth_of_the_bus),
	    cmocka_unit_test(pauses_grow_from_the_third_failure_on),
	    cmocka_unit_test(dead_ones_share_what_they_may_cost),
	    cmocka_unit_test(
		none_is_left_alone_for_over_ten_minutes_for_the_others_sake),
	    cmocka_unit_test(one_that_answers_now_and_then_takes_a_twentieth_at_most),
	    cmocka_unit_test(one_that_failed_once_or_twice_is_asked_at_once),
	    cmocka_unit_test(a_long_attempt_has_its_pause_from_the_first_failure_on),
	    cmocka_unit_test(a_bus_that_was_all_silent_is_found_soon),
	    cmocka_unit_test(what_a_night_cost_is_not_held_against_a_unit),
	    cmocka_unit_test(a_slip_of_the_only_one_that_answers_changes_nothing),
	    cmocka_unit_test(
		the_only_one_that_answers_revives_nobody_by_coming_and_going),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
