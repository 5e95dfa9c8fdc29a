/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>

#include <cmocka.h>

#include "contrib/linesim/random.h"
#include "daemon/base/moments.h"
#include "tests/unit/near.h"
#include "tests/unit/published.h"

/* The reference implementation's output from the state 1, 2, 3, 4 (Blackman and Vigna,
 * xoshiro256starstar.c, public domain; the same vector stands in the tests of the
 * rand_xoshiro crate). */
static void
xoshiro_gives_the_published_numbers(void **state)
{
	(void)state;
	static const uint64_t first[] = {UINT64_C(11520), 0, UINT64_C(1509978240),
	    UINT64_C(1215971899390074240), UINT64_C(1216172134540287360),
	    UINT64_C(607988272756665600), UINT64_C(16172922978634559625)};
	struct random random = {{1, 2, 3, 4}};

	uint64_t got[sizeof first / sizeof first[0]];

	for (size_t i = 0; i < sizeof first / sizeof first[0]; i++)
		got[i] = random_next(&random);
	published_same(SOURCE_XOSHIRO,
	    "first numbers from the state 1, 2, 3, 4, bytes alike", got, first,
	    sizeof first);
}

/* splitmix64.c from the seed 1234567 (as Rosetta Code's task "Pseudo-random
 * numbers/Splitmix64" states it). */
static void
splitmix_gives_the_published_numbers(void **state)
{
	(void)state;
	static const uint64_t first[] = {UINT64_C(6457827717110365317),
	    UINT64_C(3203168211198807973), UINT64_C(9817491932198370423)};
	uint64_t fill = 1234567, got[3];

	for (int i = 0; i < 3; i++)
		got[i] = random_splitmix(&fill);
	published_same(SOURCE_SPLITMIX,
	    "first numbers from the seed 1234567, bytes alike", got, first,
	    sizeof first);
}

static void
the_same_seed_and_stream_repeat_and_others_do_not(void **state)
{
	(void)state;
	struct random a, b, other_stream, other_seed;
	int same_stream = 0, same_seed = 0;

	random_init(&a, 7, 1);
	random_init(&b, 7, 1);
	random_init(&other_stream, 7, 2);
	random_init(&other_seed, 8, 1);
	for (int i = 0; i < 1000; i++) {
		uint64_t value = random_next(&a);
		assert_true(value == random_next(&b));
		same_stream += value == random_next(&other_stream);
		same_seed += value == random_next(&other_seed);
	}
	assert_int_equal(same_stream, 0);
	assert_int_equal(same_seed, 0);
}

/* 40000 draws: the mean's deviation is 0.005, the deviation's own 0.0035. */
static void
normal_numbers_have_mean_0_and_deviation_1(void **state)
{
	(void)state;
	struct random random;
	struct moments moments;

	random_init(&random, 1, 1);
	moments_init(&moments);
	for (int i = 0; i < 40000; i++)
		moments_add(&moments, random_normal(&random));
	assert_near(moments_mean(&moments), 0, 0.02);
	assert_near(moments_sd(&moments), 1, 0.015);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(xoshiro_gives_the_published_numbers),
	    cmocka_unit_test(splitmix_gives_the_published_numbers),
	    cmocka_unit_test(the_same_seed_and_stream_repeat_and_others_do_not),
	    cmocka_unit_test(normal_numbers_have_mean_0_and_deviation_1),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
