/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <math.h>

#include "tests/unit/near.h"
#include "daemon/shot/counter.h"
#include "daemon/shot/edge.h"

static struct mono
ms(int64_t milliseconds)
{
	return (struct mono){milliseconds * 1000000};
}

static enum bit_change
take(struct bit *bit, bool level, int64_t at_ms, struct edge *edge)
{
	return bit_take(bit, level, ms(at_ms), ms(at_ms),
	    (struct wall){(at_ms + 5000) * 1000000}, edge);
}

static void
the_first_poll_sets_the_level_without_an_edge(void **state)
{
	struct edge edge;
	struct bit bit;

	(void)state;
	bit_init(&bit, 0.0);
	assert_int_equal(take(&bit, true, 0, &edge), BIT_SAME);
	assert_int_equal(take(&bit, true, 500, &edge), BIT_SAME);
}

static void
an_edge_lies_between_two_polls(void **state)
{
	struct edge edge;
	struct bit bit;

	(void)state;
	bit_init(&bit, 0.0);
	take(&bit, false, 0, &edge);
	take(&bit, false, 500, &edge);
	assert_int_equal(take(&bit, true, 1000, &edge), BIT_ROSE);
	assert_int_equal(edge_time(&edge).ns, ms(750).ns);
	assert_int_equal(edge.wall.ns, ms(5750).ns);
	assert_near(edge_uncertainty_s(&edge), 0.5, 1e-12);
}

static void
a_change_shorter_than_the_debounce_is_none(void **state)
{
	struct edge edge;
	struct bit bit;

	(void)state;
	bit_init(&bit, 0.4);
	take(&bit, false, 0, &edge);
	assert_int_equal(take(&bit, true, 100, &edge), BIT_SAME);
	assert_int_equal(take(&bit, true, 300, &edge), BIT_SAME);
	assert_int_equal(take(&bit, false, 400, &edge), BIT_SAME);
	assert_int_equal(take(&bit, true, 600, &edge), BIT_SAME);
	assert_int_equal(take(&bit, true, 1000, &edge), BIT_ROSE);
	/* The first edge of the stable change is kept. */
	assert_int_equal(edge.before.ns, ms(400).ns);
	assert_int_equal(edge.at.ns, ms(600).ns);
}

static void
a_span_of_an_unknown_edge_is_no_number(void **state)
{
	struct edge known = {.known = true, .before = ms(0), .at = ms(0)},
		    unknown = {0};

	(void)state;
	assert_true(isnan(edge_span_s(&known, &unknown)));
	assert_true(isnan(edge_span_s(&unknown, &known)));
	assert_near(edge_span_s(&known, &known), 0.0, 1e-12);
}

static void
the_counter_agrees_across_its_wrap(void **state)
{
	struct counter counter;
	int64_t missed;

	(void)state;
	counter_init(&counter, 65536);
	assert_int_equal(counter_take(&counter, 65535, ms(0), &missed), COUNTER_AGREES);
	counter_move(&counter);
	assert_int_equal(counter_take(&counter, 0, ms(100), &missed), COUNTER_AGREES);
	assert_false(counter.doubted);
}

static void
a_counter_that_is_late_by_a_poll_is_no_jump(void **state)
{
	struct counter counter;
	int64_t missed;

	(void)state;
	counter_init(&counter, 65536);
	counter_take(&counter, 10, ms(0), &missed);
	counter_move(&counter);
	assert_int_equal(counter_take(&counter, 10, ms(500), &missed), COUNTER_AGREES);
	assert_int_equal(counter_take(&counter, 11, ms(1000), &missed), COUNTER_AGREES);
}

static void
a_counter_that_counts_when_the_platens_close_agrees(void **state)
{
	struct counter counter;
	int64_t missed;

	(void)state;
	counter_init(&counter, 65536);
	counter_take(&counter, 10, ms(0), &missed);
	for (int64_t cycle = 1; cycle < 5; cycle++) {
		counter_move(&counter);
		for (int64_t t = 0; t < 20000; t += 500)
			assert_int_equal(counter_take(&counter, 10 + cycle - (t < 9000),
					     ms(cycle * 180000 + t), &missed),
			    COUNTER_AGREES);
	}
}

static void
after_a_gap_a_counter_ahead_tells_the_missed_indexes(void **state)
{
	struct counter counter;
	int64_t missed = 0;

	(void)state;
	counter_init(&counter, 65536);
	counter_take(&counter, 10, ms(0), &missed);
	counter_gap(&counter);
	assert_int_equal(
	    counter_take(&counter, 12, ms(60000), &missed), COUNTER_AGREES);
	assert_int_equal(counter_take(&counter, 12, ms(60500), &missed), COUNTER_AHEAD);
	assert_int_equal(missed, 2);
	counter_move(&counter);
	counter_move(&counter);
	assert_int_equal(
	    counter_take(&counter, 12, ms(61000), &missed), COUNTER_AGREES);
	assert_false(counter.doubted);
}

static void
a_counter_a_little_ahead_without_a_silence_is_astray(void **state)
{
	struct counter counter;
	int64_t missed = 0;

	(void)state;
	counter_init(&counter, 65536);
	counter_take(&counter, 10, ms(0), &missed);
	assert_int_equal(counter_take(&counter, 11, ms(500), &missed), COUNTER_AGREES);
	assert_int_equal(counter_take(&counter, 11, ms(4000), &missed), COUNTER_ASTRAY);
	assert_int_equal(missed, 0);
	counter_move(&counter);
	assert_int_equal(counter_take(&counter, 12, ms(9000), &missed), COUNTER_AGREES);
	assert_false(counter.doubted);
}

static void
a_counter_that_is_set_back_jumps_once(void **state)
{
	struct counter counter;
	int64_t missed = 0;

	(void)state;
	counter_init(&counter, INT64_C(1) << 32);
	counter_take(&counter, 1000, ms(0), &missed);
	assert_int_equal(counter_take(&counter, 0, ms(500), &missed), COUNTER_AGREES);
	assert_int_equal(counter_take(&counter, 0, ms(4000), &missed), COUNTER_JUMPED);
	assert_int_equal(counter_take(&counter, 0, ms(9000), &missed), COUNTER_AGREES);
	assert_false(counter.doubted);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(the_first_poll_sets_the_level_without_an_edge),
	    cmocka_unit_test(an_edge_lies_between_two_polls),
	    cmocka_unit_test(a_change_shorter_than_the_debounce_is_none),
	    cmocka_unit_test(a_span_of_an_unknown_edge_is_no_number),
	    cmocka_unit_test(the_counter_agrees_across_its_wrap),
	    cmocka_unit_test(a_counter_that_is_late_by_a_poll_is_no_jump),
	    cmocka_unit_test(a_counter_that_counts_when_the_platens_close_agrees),
	    cmocka_unit_test(after_a_gap_a_counter_ahead_tells_the_missed_indexes),
	    cmocka_unit_test(a_counter_a_little_ahead_without_a_silence_is_astray),
	    cmocka_unit_test(a_counter_that_is_set_back_jumps_once),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
