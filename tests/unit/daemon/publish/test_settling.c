/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>

#include <stdio.h>
#include <stdlib.h>

#include "daemon/publish/settling.h"
#include "tests/unit/seed.h"

#define SECOND INT64_C(1000000000)

static void
add(struct settling *settling, int64_t change, int64_t now_ns)
{
	settling_add(settling, &(struct settling_mark){change, 0, 1}, now_ns);
}

static void
without_a_time_it_is_settled_at_once(void **state)
{
	struct settling settling;
	(void)state;

	settling_init(&settling, 0);
	assert_null(settling_look(&settling, 5));
	add(&settling, 7, 5);
	const struct settling_entry *entry = settling_look(&settling, 5);
	assert_non_null(entry);
	assert_int_equal(entry->mark.change, 7);
	assert_int_equal(entry->mark.pieces, 1);
	assert_int_equal(entry->end_count, 1);
	assert_int_equal(entry->ends[0], 7);
	settling_drop(&settling);
	assert_null(settling_look(&settling, 5));
}

static void
a_mark_is_settled_when_its_time_is_over(void **state)
{
	struct settling settling;
	(void)state;

	settling_init(&settling, 12);
	add(&settling, 7, 100 * SECOND);
	add(&settling, 9, 105 * SECOND);
	assert_null(settling_look(&settling, 112 * SECOND - 1));
	const struct settling_entry *entry = settling_look(&settling, 112 * SECOND);
	assert_non_null(entry);
	assert_int_equal(entry->mark.change, 7);
	assert_int_equal(settling_due_ns(&settling), 112 * SECOND);
	settling_drop(&settling);
	assert_int_equal(settling_due_ns(&settling), 117 * SECOND);
	assert_int_equal(settling_pieces(&settling), 1);
	entry = settling_look(&settling, 200 * SECOND);
	assert_non_null(entry);
	assert_int_equal(entry->mark.change, 9);
	settling_clear(&settling);
	assert_null(settling_look(&settling, 200 * SECOND));
	assert_true(settling_due_ns(&settling) == INT64_MAX);
}

/* Between two of them a store may have been away. */
static void
the_ends_of_batches_within_an_entry_are_remembered(void **state)
{
	struct settling settling;
	(void)state;

	settling_init(&settling, 14); /* a second an entry, 62.5 ms an end */
	add(&settling, 1, 100 * SECOND);
	add(&settling, 2, 100 * SECOND + SECOND / 100);
	add(&settling, 3, 100 * SECOND + SECOND / 2);
	add(&settling, 4, 101 * SECOND - 1);
	const struct settling_entry *entry = settling_look(&settling, 200 * SECOND);
	assert_int_equal(settling.count, 1);
	assert_int_equal(entry->mark.change, 4);
	assert_int_equal(entry->mark.pieces, 4);
	const int64_t ends[] = {2, 3, 4};
	assert_int_equal(entry->end_count, 3);
	assert_memory_equal(entry->ends, ends, sizeof(ends));
	/* With no room left the last one goes with its entry. */
	for (int64_t i = 0; i < 40; i++)
		add(&settling, 5 + i, (102 + 2 * i) * SECOND);
	assert_int_equal(settling.count, SETTLING_ENTRIES);
	assert_int_equal(settling_pieces(&settling), 44);
}

/* However many there are: nothing is called settled too early, nor much too late, and no
 * piece is forgotten. */
static void
nothing_settles_too_early_or_much_too_late(void **state)
{
	enum { ADDED = 20000, PARTS = SETTLING_PARTS };
	static int64_t at_ns[ADDED + 1];
	unsigned short random[3] = {(unsigned short)seed_take(1), 2, 3};
	struct settling settling;
	int64_t now = SECOND, settled = 0, pieces = 0;
	(void)state;

	settling_init(&settling, 12);
	for (int64_t change = 1; change <= ADDED; change++) {
		const struct settling_entry *entry;
		now += nrand48(random) % (change / 1000 % 2 == 0 ? 2000000 : SECOND);
		at_ns[change] = now;
		add(&settling, change, now);
		assert_true(settling.count <= SETTLING_ENTRIES);
		assert_int_equal(pieces + settling_pieces(&settling), change);
		if (nrand48(random) % 3 != 0 || settling_look(&settling, now) == NULL)
			continue;
		while ((entry = settling_look(&settling, now)) != NULL) {
			assert_true(entry->mark.change > settled);
			assert_true(entry->ends[0] > settled);
			settled = entry->mark.change;
			assert_int_equal(entry->ends[entry->end_count - 1], settled);
			pieces += entry->mark.pieces;
			settling_drop(&settling);
		}
		assert_int_equal(pieces, settled);
		assert_true(at_ns[settled] + 12 * SECOND <= now);
		/* The next one is not older than the span of an entry. */
		assert_true(
		    settled == change ||
		    at_ns[settled + 1] + 12 * SECOND + 12 * SECOND / PARTS > now);
	}
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(without_a_time_it_is_settled_at_once),
	    cmocka_unit_test(a_mark_is_settled_when_its_time_is_over),
	    cmocka_unit_test(the_ends_of_batches_within_an_entry_are_remembered),
	    cmocka_unit_test(nothing_settles_too_early_or_much_too_late),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
