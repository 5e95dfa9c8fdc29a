/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/fieldbus/agenda.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <cmocka.h>

enum { TASKS = 8, MS = 1000000 };

/* A bus on which each request takes request_ms; a task needs requests[i] of them. */
struct bus {
	struct agenda *agenda;
	int64_t now_ms, request_ms;
	int requests[TASKS], left[TASKS];
	int done[TASKS];
	int64_t late_ms[TASKS]; /* the most */
	int between; /* requests of others within one task of task 0, the most */
	int others;
};

static struct mono
at(int64_t ms)
{
	return (struct mono){(ms + 1) * MS};
}

static void
open_bus(struct bus *bus, int64_t request_ms, size_t count, const int *periods_ms,
    const int *requests)
{
	*bus = (struct bus){.agenda = agenda_new(count), .request_ms = request_ms};
	for (size_t i = 0; i < count; i++) {
		bus->agenda->tasks[i] = (struct task){
		    .period_ns = (int64_t)periods_ms[i] * MS, .due = at(0)};
		bus->requests[i] = requests[i];
	}
}

static void
take_a_turn(struct bus *bus, size_t next)
{
	if (!bus->agenda->tasks[next].begun) {
		int64_t late_ns = agenda_begin(bus->agenda, next, at(bus->now_ms));

		bus->left[next] = bus->requests[next];
		if (late_ns / MS > bus->late_ms[next])
			bus->late_ms[next] = late_ns / MS;
	}
	bus->now_ms += bus->request_ms;
	if (--bus->left[next] == 0) {
		agenda_end(bus->agenda, next);
		bus->done[next]++;
	}
}

static void
run_until(struct bus *bus, int64_t end_ms)
{
	while (bus->now_ms < end_ms) {
		size_t next = agenda_next(bus->agenda, at(bus->now_ms));

		if (next < bus->agenda->count) {
			bool fast_is_due =
			    bus->agenda->tasks[0].begun ||
			    bus->agenda->tasks[0].due.ns <= at(bus->now_ms).ns;

			bus->others = fast_is_due && next ? bus->others + 1 : 0;
			if (bus->others > bus->between)
				bus->between = bus->others;
			take_a_turn(bus, next);
		} else {
			bus->now_ms = (agenda_due(bus->agenda).ns + MS - 1) / MS - 1;
		}
	}
}

static void
groups_keep_their_periods(void **state)
{
	struct bus bus;

	(void)state;
	open_bus(&bus, 5, 3, (int[]){100, 1000, 5000}, (int[]){1, 2, 4});
	run_until(&bus, 100000);
	assert_in_range(bus.done[0], 1000, 1001);
	assert_in_range(bus.done[1], 100, 101);
	assert_in_range(bus.done[2], 20, 21);
	free(bus.agenda);
}

/* 4 x 30 ms of a slow one go between two of a fast one, a request at a time. */
static void
a_slow_one_delays_a_fast_one_by_one_request_at_most(void **state)
{
	struct bus bus;

	(void)state;
	open_bus(&bus, 30, 3, (int[]){100, 3000, 5000}, (int[]){1, 4, 8});
	run_until(&bus, 60000);
	assert_in_range(bus.done[0], 599, 601);
	assert_in_range(bus.late_ms[0], 1, 30);
	assert_in_range(bus.done[1], 20, 21);
	assert_in_range(bus.done[2], 12, 13);
	free(bus.agenda);
}

/* 2 x 30 ms every 50 ms: nothing is left for others, who get a request in between. */
static void
on_a_late_bus_the_fast_go_first_and_nobody_starves(void **state)
{
	struct bus bus;

	(void)state;
	open_bus(&bus, 30, 3, (int[]){50, 1000, 5000}, (int[]){2, 3, 4});
	run_until(&bus, 60000);
	assert_int_equal(bus.between, 1);
	assert_true(bus.done[0] > 600); /* of 1,000 that the bus could do alone */
	/* Every other period: a whole one late is when their turn comes. */
	assert_true(bus.done[1] > 25);
	assert_true(bus.done[2] > 5);
	free(bus.agenda);
}

/* One request for all the slow ones together. */
static void
slow_ones_share_what_they_get(void **state)
{
	struct bus bus;

	(void)state;
	open_bus(&bus, 30, 4, (int[]){50, 200, 220, 240}, (int[]){2, 1, 1, 1});
	run_until(&bus, 60000);
	assert_int_equal(bus.between, 1);
	for (int i = 1; i < 4; i++)
		assert_true(bus.done[i] > 100);
	free(bus.agenda);
}

static void
those_of_one_period_take_turns_on_a_late_bus(void **state)
{
	struct bus bus;

	(void)state;
	open_bus(&bus, 30, 4, (int[]){100, 100, 100, 100}, (int[]){1, 1, 1, 1});
	run_until(&bus, 60000);
	for (int i = 0; i < 4; i++)
		assert_in_range(bus.done[i], 400, 600);
	free(bus.agenda);
}

/* So that the bus is not asked for everything at one time. */
static void
they_are_spread_from_the_second_time_on(void **state)
{
	struct bus bus;

	(void)state;
	open_bus(&bus, 3, 8, (int[]){100, 100, 100, 100, 100, 100, 100, 100},
	    (int[]){1, 1, 1, 1, 1, 1, 1, 1});
	run_until(&bus, 90);
	memset(bus.late_ms, 0, sizeof bus.late_ms);
	run_until(&bus, 10000);
	for (int i = 0; i < 8; i++) {
		assert_true(bus.late_ms[i] <= 3);
		assert_in_range(bus.done[i], 99, 101);
	}
	free(bus.agenda);
}

static void
a_shift_moves_the_phases_and_no_period(void **state)
{
	const double shifts[] = {0, 0.25, 0.5, 0.75};
	const int first_ms[] = {500, 750, 1000, 250};
	const int second_ms[] = {1000, 250, 500, 750};

	(void)state;
	for (size_t i = 0; i < sizeof shifts / sizeof shifts[0]; i++) {
		struct bus bus;

		open_bus(&bus, 1, 2, (int[]){1000, 1000}, (int[]){1, 1});
		bus.agenda->shift = shifts[i];
		take_a_turn(&bus, 0);
		take_a_turn(&bus, 1);
		assert_int_equal(bus.agenda->tasks[0].due.ns, at(first_ms[i]).ns);
		assert_int_equal(bus.agenda->tasks[1].due.ns, at(second_ms[i]).ns);
		run_until(&bus, 100000);
		assert_in_range(bus.done[0], 100, 101);
		assert_in_range(bus.done[1], 100, 101);
		free(bus.agenda);
	}
}

static void
one_that_is_too_late_leaves_periods_out(void **state)
{
	struct bus bus;
	struct task *task;

	(void)state;
	open_bus(&bus, 1, 1, (int[]){100}, (int[]){1});
	task = &bus.agenda->tasks[0];
	assert_int_equal(agenda_next(bus.agenda, at(750)), 0);
	assert_int_equal(agenda_begin(bus.agenda, 0, at(750)), 750 * MS);
	agenda_end(bus.agenda, 0);
	assert_int_equal(task->due.ns, at(800).ns);
	assert_int_equal(agenda_next(bus.agenda, at(799)), 1);
	free(bus.agenda);
}

/* It is read now, and on its schedule as if nothing had been. */
static void
what_is_wanted_goes_now_and_leaves_the_schedule(void **state)
{
	struct bus bus;
	struct task *slow;

	(void)state;
	open_bus(&bus, 5, 2, (int[]){100, 60000}, (int[]){1, 2});
	run_until(&bus, 1001);
	slow = &bus.agenda->tasks[1];
	assert_int_equal(bus.done[1], 1);
	assert_int_equal(slow->due.ns, at(60000).ns);
	slow->wanted = true;
	run_until(&bus, bus.now_ms + 20);
	assert_int_equal(bus.done[1], 2);
	assert_int_equal(slow->due.ns, at(60000).ns);
	/* Wanted in the middle of it: what was read before does not count. */
	slow->wanted = true;
	while (!slow->begun)
		take_a_turn(&bus, agenda_next(bus.agenda, at(bus.now_ms)));
	slow->wanted = true;
	run_until(&bus, bus.now_ms + 40);
	assert_int_equal(bus.done[1], 4);
	free(bus.agenda);
}

/* 2 x 30 ms every 50 ms: the bus is late for good, and others starve as well. */
static void
what_is_wanted_does_not_wait_for_a_late_bus(void **state)
{
	struct bus bus;
	struct task *slow;
	int64_t wanted_ms;
	int before;

	(void)state;
	open_bus(&bus, 30, 4, (int[]){50, 60, 70, 60000}, (int[]){2, 1, 1, 3});
	run_until(&bus, 5100);
	slow = &bus.agenda->tasks[3];
	before = bus.done[3];
	wanted_ms = bus.now_ms;
	slow->wanted = true;
	while (bus.done[3] == before && bus.now_ms < wanted_ms + 60000)
		run_until(&bus, bus.now_ms + 1);
	/* Three requests, and a fast task of two before each of them. */
	assert_in_range(bus.now_ms - wanted_ms, 90, 3 * (60 + 30) + 60);
	assert_int_equal(bus.between, 1);
	free(bus.agenda);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(groups_keep_their_periods),
	    cmocka_unit_test(a_slow_one_delays_a_fast_one_by_one_request_at_most),
	    cmocka_unit_test(on_a_late_bus_the_fast_go_first_and_nobody_starves),
	    cmocka_unit_test(slow_ones_share_what_they_get),
	    cmocka_unit_test(those_of_one_period_take_turns_on_a_late_bus),
	    cmocka_unit_test(they_are_spread_from_the_second_time_on),
	    cmocka_unit_test(a_shift_moves_the_phases_and_no_period),
	    cmocka_unit_test(one_that_is_too_late_leaves_periods_out),
	    cmocka_unit_test(what_is_wanted_goes_now_and_leaves_the_schedule),
	    cmocka_unit_test(what_is_wanted_does_not_wait_for_a_late_bus),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
