/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/base/clock.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <time.h>
#include <unistd.h>

#include <cmocka.h>

#include "daemon/base/error.h"

/* The clock's rate is the process's: these tests run in the order of the table. */

static const struct wall start = {INT64_C(1772427600000000000)};

static int64_t
system_ns(clockid_t id)
{
	struct timespec now;

	clock_gettime(id, &now);
	return now.tv_sec * CLOCK_SECOND_NS + now.tv_nsec;
}

static void
check_between(int64_t low, int64_t value, int64_t high)
{
	if (value < low || value > high)
		fail_msg("%jd is not in %jd..%jd", (intmax_t)value, (intmax_t)low,
		    (intmax_t)high);
}

static void
the_clock_is_the_systems_at_first(void **state)
{
	int64_t wall_ns = system_ns(CLOCK_REALTIME);
	int64_t mono_ns = system_ns(CLOCK_MONOTONIC);

	(void)state;
	check_between(mono_ns, clock_mono().ns, mono_ns + CLOCK_SECOND_NS);
	check_between(wall_ns, clock_wall().ns, wall_ns + CLOCK_SECOND_NS);
	assert_int_equal(clock_origin_ns(), 0);
	assert_true(clock_rate() >= 1 && clock_rate() <= 1);
	assert_int_equal(clock_system_ns(1234), 1234);
}

static void
rates_that_cannot_be_meant_are_refused(void **state)
{
	static const double wrong[] = {0, -1, 0.09, 10001};
	struct error error;

	(void)state;
	for (size_t i = 0; i < sizeof(wrong) / sizeof(wrong[0]); i++)
		assert_int_equal(
		    clock_run_at(wrong[i], start, 0, &error), ERROR_INVALID);
	assert_int_equal(clock_run_at(1, (struct wall){-1}, 0, &error), ERROR_INVALID);
	assert_int_equal(clock_run_at(1, start, -1, &error), ERROR_INVALID);
	assert_int_equal(clock_origin_ns(), 0);
}

static void
a_clock_without_a_start_shows_the_true_time(void **state)
{
	int64_t wall_ns = system_ns(CLOCK_REALTIME);

	(void)state;
	assert_int_equal(clock_run_at(1, (struct wall){0}, 0, NULL), 0);
	check_between(wall_ns - 1000000, clock_wall().ns, wall_ns + CLOCK_SECOND_NS);
}

static void
both_times_advance_at_the_rate(void **state)
{
	int64_t origin_ns = system_ns(CLOCK_MONOTONIC) - CLOCK_SECOND_NS, after_ns;
	struct mono mono;
	struct wall wall;

	(void)state;
	assert_int_equal(clock_run_at(240, start, origin_ns, NULL), 0);
	assert_int_equal(clock_origin_ns(), origin_ns);
	clock_both(&mono, &wall);
	after_ns = system_ns(CLOCK_MONOTONIC) - origin_ns;
	assert_int_equal(mono.ns - origin_ns, wall.ns - start.ns);
	check_between(240 * CLOCK_SECOND_NS, wall.ns - start.ns, 240 * after_ns);
}

static void
each_nanosecond_counts_at_any_rate(void **state)
{
	/* Ten hours at the highest rate are 3.6e17 ns, past a double's 53 bits. */
	int64_t now_ns = system_ns(CLOCK_MONOTONIC);
	int64_t hours_ns = 36000 * CLOCK_SECOND_NS;

	(void)state;
	if (now_ns <= hours_ns + 1)
		hours_ns = now_ns / 2;
	assert_int_equal(clock_run_at(10000, start, now_ns - hours_ns, NULL), 0);
	for (int i = 0; i < 1000; i++) {
		int64_t since_ns = clock_mono().ns - clock_origin_ns();

		assert_int_equal(since_ns % 10000, 0);
		assert_true(since_ns >= hours_ns * 10000);
	}
}

static void
a_far_origin_does_not_wrap(void **state)
{
	(void)state;
	assert_int_equal(clock_run_at(10000, start, 1, NULL), 0);
	assert_true(clock_wall().ns > start.ns);
	assert_true(clock_mono().ns > 1);
}

static void
an_origin_to_come_counts_down_to_the_start(void **state)
{
	int64_t now_ns = system_ns(CLOCK_MONOTONIC);

	(void)state;
	assert_int_equal(
	    clock_run_at(100, start, now_ns + 10 * CLOCK_SECOND_NS, NULL), 0);
	check_between(start.ns - 1000 * CLOCK_SECOND_NS, clock_wall().ns,
	    start.ns - 500 * CLOCK_SECOND_NS);
}

static void
a_sleep_lasts_the_clocks_time(void **state)
{
	int64_t before_ns = system_ns(CLOCK_MONOTONIC);
	struct mono deadline;

	(void)state;
	assert_int_equal(clock_run_at(1000, start, 0, NULL), 0);
	deadline = clock_mono();
	deadline.ns += 20 * CLOCK_SECOND_NS;
	assert_int_equal(clock_sleep_until(deadline, -1), 0);
	assert_true(clock_mono().ns >= deadline.ns);
	check_between(
	    20000000, system_ns(CLOCK_MONOTONIC) - before_ns, 2 * CLOCK_SECOND_NS);
}

static void
a_descriptor_wakes_even_who_is_late(void **state)
{
	struct mono deadline = clock_mono();
	int ends[2];

	(void)state;
	assert_int_equal(pipe(ends), 0);
	assert_int_equal(clock_sleep_until(deadline, ends[0]), 0);
	assert_int_equal(write(ends[1], "x", 1), 1);
	assert_int_equal(clock_sleep_until(deadline, ends[0]), 1);
	deadline.ns += 3600 * CLOCK_SECOND_NS;
	assert_int_equal(clock_sleep_until(deadline, ends[0]), 1);
	close(ends[0]);
	close(ends[1]);
}

static void
time_outs_are_in_the_systems_time_and_never_negative(void **state)
{
	(void)state;
	assert_int_equal(clock_run_at(240, start, 0, NULL), 0);
	check_between(CLOCK_SECOND_NS, clock_system_ns(240 * CLOCK_SECOND_NS),
	    CLOCK_SECOND_NS + 1);
	assert_int_equal(clock_system_ns(-5), 0);
	assert_int_equal(clock_run_at(0.1, start, 0, NULL), 0);
	check_between(10 * CLOCK_SECOND_NS, clock_system_ns(CLOCK_SECOND_NS),
	    10 * CLOCK_SECOND_NS + 1);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(the_clock_is_the_systems_at_first),
	    cmocka_unit_test(rates_that_cannot_be_meant_are_refused),
	    cmocka_unit_test(a_clock_without_a_start_shows_the_true_time),
	    cmocka_unit_test(both_times_advance_at_the_rate),
	    cmocka_unit_test(each_nanosecond_counts_at_any_rate),
	    cmocka_unit_test(a_far_origin_does_not_wrap),
	    cmocka_unit_test(an_origin_to_come_counts_down_to_the_start),
	    cmocka_unit_test(a_sleep_lasts_the_clocks_time),
	    cmocka_unit_test(a_descriptor_wakes_even_who_is_late),
	    cmocka_unit_test(time_outs_are_in_the_systems_time_and_never_negative),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
