/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>

#include <cmocka.h>

#include "cli/source/store_walk.h"
#include "tests/unit/seed.h"

enum { MOST = 100, FIRST_S = 100 };
#define NOW_S INT64_C(1772427600)

static struct wall
second(int64_t s)
{
	return (struct wall){s * CLOCK_SECOND_NS};
}

/* Walks over things that stand `every_s` apart in begin_s <= t < end_s; checks that steps
 * lie one behind the other, and returns how many there were. */
static int
walk_over(struct store_walk *walk, int64_t begin_s, int64_t end_s, int64_t every_s)
{
	int64_t edge_s = walk->back ? walk->high_s : walk->low_s;
	struct store_span span;
	int steps = 0;

	for (; store_walk_next(walk, &span); steps++) {
		assert_true(steps < 10000);
		assert_true(span.from_s < span.to_s);
		int64_t from_s = span.from_s > begin_s ? span.from_s : begin_s;
		int64_t to_s = span.to_s < end_s ? span.to_s : end_s;
		int64_t count = to_s > from_s ? (to_s - from_s) / every_s : 0;
		if (count > MOST) {
			assert_true(store_walk_shorten(walk, &span));
			continue;
		}
		assert_int_equal(walk->back ? span.to_s : span.from_s, edge_s);
		edge_s = walk->back ? span.from_s : span.to_s;
		store_walk_pass(walk, &span, (size_t)count, MOST);
	}
	assert_int_equal(edge_s, walk->back ? walk->low_s : walk->high_s);
	return steps;
}

static void
all_of_a_span_is_gone_through_once(void **state)
{
	(void)state;
	srand48((long)seed_take(8));
	for (int i = 0; i < 2000; i++) {
		struct wall from = {
		    lrand48() % 3 ? NOW_S * CLOCK_SECOND_NS - lrand48() : 0};
		struct wall to = {
		    lrand48() % 3 ? from.ns + 1 + lrand48() * (lrand48() % 100000) : 0};
		struct store_walk walk;
		store_walk_init(&walk, from, to, lrand48() % 2, FIRST_S);
		if (lrand48() % 2)
			store_walk_start_back(&walk, second(NOW_S));
		walk_over(
		    &walk, NOW_S, NOW_S + lrand48() % 100000, 1 + lrand48() % 100);
	}
}

static void
a_step_has_all_of_its_first_and_last_second(void **state)
{
	struct store_walk walk;
	struct store_span span;

	(void)state;
	store_walk_init(&walk, (struct wall){10500000000}, (struct wall){12000000001},
	    false, FIRST_S);
	assert_true(store_walk_next(&walk, &span));
	assert_int_equal(span.from_s, 10);
	assert_int_equal(span.to_s, 13);
	store_walk_init(&walk, second(10), (struct wall){12000000000}, false, FIRST_S);
	assert_true(store_walk_next(&walk, &span));
	assert_int_equal(span.to_s, 12);
}

static void
the_newest_are_found_without_reading_a_year(void **state)
{
	struct store_walk walk;
	struct store_span span;
	int64_t read_s = 0, year_s = 365 * 86400;

	(void)state;
	/* a shot a minute until now; twenty are wanted */
	store_walk_init(&walk, second(0), second(0), true, 6 * 3600);
	store_walk_start_back(&walk, second(NOW_S));
	while (store_walk_next(&walk, &span) && read_s / 60 < 20) {
		int64_t from_s =
		    span.from_s > NOW_S - year_s ? span.from_s : NOW_S - year_s;
		int64_t there_s = span.from_s < NOW_S ? NOW_S - from_s : 0;
		there_s -= read_s;
		read_s += there_s > 0 ? there_s : 0;
		store_walk_pass(
		    &walk, &span, there_s > 0 ? (size_t)there_s / 60 : 0, 8000);
	}
	assert_in_range(read_s, 1, 2 * 86400);
}

static void
a_long_empty_time_takes_few_steps(void **state)
{
	struct store_walk walk;

	(void)state;
	store_walk_init(&walk, second(0), second(0), true, 6 * 3600);
	store_walk_start_back(&walk, second(NOW_S));
	assert_in_range(walk_over(&walk, 0, 0, 1), 1, 20);
	store_walk_init(&walk, second(0), second(0), false, 6 * 3600);
	assert_in_range(walk_over(&walk, 0, 0, 1), 1, 20);
}

static void
a_single_second_cannot_be_shortened(void **state)
{
	struct store_walk walk;
	struct store_span span;

	(void)state;
	store_walk_init(&walk, second(NOW_S), second(NOW_S + 5), false, FIRST_S);
	assert_true(store_walk_next(&walk, &span));
	assert_true(store_walk_shorten(&walk, &span));
	assert_true(store_walk_next(&walk, &span));
	assert_int_equal(span.to_s - span.from_s, 1);
	assert_false(store_walk_shorten(&walk, &span));
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(all_of_a_span_is_gone_through_once),
	    cmocka_unit_test(a_step_has_all_of_its_first_and_last_second),
	    cmocka_unit_test(the_newest_are_found_without_reading_a_year),
	    cmocka_unit_test(a_long_empty_time_takes_few_steps),
	    cmocka_unit_test(a_single_second_cannot_be_shortened),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
