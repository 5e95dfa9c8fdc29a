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
	struct settling_mark mark;
	(void)state;

	settling_init(&settling, 0);
	assert_false(settling_look(&settling, 5, &mark));
	add(&settling, 7, 5);
	assert_true(settling_look(&settling, 5, &mark));
	assert_int_equal(mark.change, 7);
	assert_int_equal(mark.pieces, 1);
	settling_drop(&settling, 5);
	assert_false(settling_look(&settling, 5, &mark));
}

static void
a_mark_is_settled_when_its_time_is_over(void **state)
{
	struct settling settling;
	struct settling_mark mark;
	(void)state;

	settling_init(&settling, 12);
	add(&settling, 7, 100 * SECOND);
	add(&settling, 9, 105 * SECOND);
	assert_false(settling_look(&settling, 112 * SECOND - 1, &mark));
	assert_true(settling_look(&settling, 112 * SECOND, &mark));
	assert_int_equal(mark.change, 7);
	assert_int_equal(settling_due_ns(&settling), 112 * SECOND);
	settling_drop(&settling, 112 * SECOND);
	assert_int_equal(settling_due_ns(&settling), 117 * SECOND);
	assert_int_equal(settling_pieces(&settling), 1);
	assert_true(settling_look(&settling, 200 * SECOND, &mark));
	assert_int_equal(mark.change, 9);
	settling_clear(&settling);
	assert_false(settling_look(&settling, 200 * SECOND, &mark));
	assert_true(settling_due_ns(&settling) == INT64_MAX);
}

/* However many there are: nothing is called settled too early, nor much too late, and no
 * piece is forgotten. */
static void
nothing_settles_too_early_or_much_too_late(void **state)
{
	enum { ADDED = 20000 };
	static int64_t at_ns[ADDED + 1];
	unsigned short random[3] = {(unsigned short)seed_take(1), 2, 3};
	struct settling settling;
	int64_t now = SECOND, settled = 0, pieces = 0;
	(void)state;

	settling_init(&settling, 12);
	for (int64_t change = 1; change <= ADDED; change++) {
		struct settling_mark mark;
		now += nrand48(random) % (change / 1000 % 2 == 0 ? 2000000 : SECOND);
		at_ns[change] = now;
		add(&settling, change, now);
		assert_true(settling.count <= SETTLING_ENTRIES);
		assert_int_equal(pieces + settling_pieces(&settling), change);
		if (nrand48(random) % 3 != 0 || !settling_look(&settling, now, &mark))
			continue;
		settling_drop(&settling, now);
		assert_true(mark.change > settled);
		settled = mark.change;
		pieces += mark.pieces;
		assert_int_equal(pieces, settled);
		assert_true(at_ns[settled] + 12 * SECOND <= now);
		/* The next one is not older than the span of an entry. */
		assert_true(settled == change ||
			    at_ns[settled + 1] + 12 * SECOND + 12 * SECOND / 32 > now);
	}
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(without_a_time_it_is_settled_at_once),
	    cmocka_unit_test(a_mark_is_settled_when_its_time_is_over),
	    cmocka_unit_test(nothing_settles_too_early_or_much_too_late),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
