/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The tracker fed with what no machine would do: random bits, silences, counters and
 * clocks.  It must not crash, nor call a sheet complete that it did not see heated and
 * formed, nor give out parts of a cycle that do not add up to it.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "tests/unit/daemon/shot/player.h"
#include "tests/unit/near.h"
#include "tests/unit/seed.h"

static void
check(const struct shot *shot, int64_t shot_no)
{
	const double *value = shot->value;

	assert_int_equal(shot->shot_no, shot_no);
	if (shot->outcome == SHOT_COMPLETE || shot->outcome == SHOT_STARTUP ||
	    shot->outcome == SHOT_TIMER_RELEASE) {
		assert_true(value[FEATURE_HEAT_S] >= 30.0);
		assert_true(shot->heat_end_at.ns != 0 && shot->form_start_at.ns != 0);
		assert_true(shot->uncertainty_s <= 5.0);
	}
	if (!isnan(value[FEATURE_CYCLE_S]))
		assert_near(
		    value[FEATURE_CYCLE_FORMING_S] + value[FEATURE_CYCLE_WAIT_SAG_S] +
			value[FEATURE_CYCLE_WAIT_LINE_S] +
			value[FEATURE_CYCLE_INDEX_S] + value[FEATURE_CYCLE_CLOSING_S],
		    value[FEATURE_CYCLE_S], 1e-6);
	for (int f = 0; f < FEATURE_COUNT; f++)
		assert_true(isnan(value[f]) == (shot->absent[f] != ABSENT_NOT));
}

static void
random_signals_never_make_a_false_record(void **state)
{
	unsigned seed = seed_take(4711);
	size_t seen = 0, whole = 0;

	(void)state;
	for (int run = 0; run < 40; run++) {
		struct player player;
		int64_t shot_no = 0;

		player_init(&player);
		for (int i = 0; i < 4000; i++) {
			double rotating = player.plc[PLC_ROTATING];
			int bit = rand_r(&seed) % (PLC_FAULT + 3);

			if (bit <= PLC_FAULT &&
			    (bit < PLC_AUTO || rand_r(&seed) % 10 == 0))
				player.plc[bit] = rand_r(&seed) % 2;
			/* Mostly the counter counts as it should. */
			if (rotating > player.plc[PLC_ROTATING] &&
			    rand_r(&seed) % 20 > 0)
				player.plc[PLC_COUNT] += 1;
			if (bit == PLC_FAULT + 1 && rand_r(&seed) % 20 == 0)
				player.plc[PLC_COUNT] = rand_r(&seed) % 4 == 0
				                            ? rand_r(&seed) % 65536
				                            : player.plc[PLC_COUNT] + 1;
			player.plc_silent = rand_r(&seed) % 50 == 0;
			player.io_silent = rand_r(&seed) % 50 == 0;
			for (int c = 0; c < IO_CHANNELS; c++)
				player.io[c] = rand_r(&seed) % 2000 / 10.0;
			if (rand_r(&seed) % 500 == 0)
				player.wall_offset_ms +=
				    rand_r(&seed) % 7200000 - 3600000;
			/* Some runs are calm enough for a sheet to get through now and then. */
			player_run(&player,
			    (rand_r(&seed) % (run % 4 == 0 ? 600 : 100)) / 10.0);
			while (player.shot_count > 0) {
				check(player.shots[0], ++shot_no);
				whole += player.shots[0]->outcome == SHOT_COMPLETE;
				shot_free(player.shots[0]);
				player.shot_count--;
				memmove(player.shots, player.shots + 1,
				    player.shot_count * sizeof(player.shots[0]));
			}
		}
		seen += (size_t)shot_no;
		player_release(&player);
	}
	print_message("%zu shots, %zu of them complete\n", seen, whole);
	assert_true(seen > 1000 && whole > 0);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(random_signals_never_make_a_false_record),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
