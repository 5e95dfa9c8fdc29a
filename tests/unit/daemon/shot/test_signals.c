/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Edges from bits, from a number with thresholds and from a counter, in the order in which
 * they happened whatever their debounce times.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <math.h>

#include "daemon/shot/signals.h"
#include "tests/unit/daemon/shot/player.h"
#include "tests/unit/near.h"

/* --- thresholds ------------------------------------------------------------------------ */

static void
a_number_is_a_bit_with_thresholds_and_stays_between_them(void **state)
{
	struct channel_settings pressure = {.on_si = 3.0, .off_si = 2.0};
	struct channel_settings vacuum = {.on_si = -0.3, .off_si = -0.2};
	static const double bar[] = {1.0, 2.5, 3.0, 2.5, 2.0, 2.5};
	static const bool on[] = {false, false, true, true, false, false};
	bool level = false, drawn = false;

	(void)state;
	for (size_t i = 0; i < sizeof(bar) / sizeof(bar[0]); i++) {
		level = bit_level(&pressure, bar[i], level);
		assert_int_equal(level, on[i]);
		drawn = bit_level(&vacuum, -bar[i] / 10.0, drawn);
		assert_int_equal(drawn, on[i]);
	}
}

static void
a_bit_proper_is_what_it_is(void **state)
{
	struct channel_settings bit = {.on_si = NAN, .off_si = NAN};

	(void)state;
	assert_true(bit_level(&bit, 1.0, false));
	assert_false(bit_level(&bit, 0.0, true));
}

/* --- order ----------------------------------------------------------------------------- */

/* One side's signals of the played rotary, with debounce times of its own. */
struct bench {
	struct player player;
	struct roles roles;
	struct signals signals;
	struct scan *scan;
};

static void
bench_init(struct bench *bench, double rotating_s, double form_s)
{
	player_init(&bench->player);
	bench->player.settings->channels[PLC_ROTATING].debounce_s = rotating_s;
	bench->player.settings->channels[PLC_FORM].debounce_s = form_s;
	assert_int_equal(roles_init(&bench->roles, bench->player.settings, 0, 0), 0);
	signals_init(
	    &bench->signals, bench->player.settings, &bench->roles, MACHINE_ROTARY);
	bench->scan = calloc(1, scan_bytes(PLC_CHANNELS));
	bench->scan->count = PLC_CHANNELS;
}

static void
bench_release(struct bench *bench)
{
	free(bench->scan);
	roles_release(&bench->roles);
	player_release(&bench->player);
}

/* A poll half a second later, as the player's signals stand. */
static void
poll(struct bench *bench, struct news *news)
{
	bench->player.now_ms += 500;
	bench->scan->sent.ns = bench->scan->at.ns = bench->player.now_ms * 1000000;
	bench->scan->wall = (struct wall){bench->scan->at.ns};
	for (int i = 0; i < PLC_CHANNELS; i++)
		bench->scan->readings[i] =
		    (struct reading){.value = bench->player.plc[i]};
	signals_take(&bench->signals, bench->scan, news);
}

static void
a_quick_bit_waits_for_a_slow_one_that_changed_before_it(void **state)
{
	struct bench bench;
	struct news news;
	int polls = 0;

	(void)state;
	bench_init(&bench, 2.0, 0.0);
	bench.player.plc[PLC_ROTATING] = 1;
	for (int i = 0; i < 20; i++)
		poll(&bench, &news);
	/* The frames arrive; the platens close a second later, before the debounce is over. */
	bench.player.plc[PLC_ROTATING] = 0;
	poll(&bench, &news);
	poll(&bench, &news);
	bench.player.plc[PLC_FORM] = 1;
	do {
		poll(&bench, &news);
		polls++;
	} while (news.count == 0 && polls < 20);
	assert_int_equal(news.count, 2);
	assert_int_equal(news.changes[0].bit, ROLE_ROTATING);
	assert_false(news.changes[0].rose);
	assert_int_equal(news.changes[1].bit, ROLE_FORM_CLOSED);
	assert_near(
	    edge_span_s(&news.changes[0].edge, &news.changes[1].edge), 1.0, 1e-9);
	bench_release(&bench);
}

static void
a_blink_that_comes_to_nothing_lets_the_others_go(void **state)
{
	struct bench bench;
	struct news news;

	(void)state;
	bench_init(&bench, 2.0, 0.0);
	for (int i = 0; i < 4; i++)
		poll(&bench, &news);
	bench.player.plc[PLC_ROTATING] = 1;
	poll(&bench, &news);
	bench.player.plc[PLC_FORM] = 1;
	poll(&bench, &news);
	assert_int_equal(news.count, 0);
	bench.player.plc[PLC_ROTATING] = 0;
	poll(&bench, &news);
	assert_int_equal(news.count, 1);
	assert_int_equal(news.changes[0].bit, ROLE_FORM_CLOSED);
	bench_release(&bench);
}

static void
in_one_poll_a_machine_opens_moves_and_closes_in_that_order(void **state)
{
	struct bench bench;
	struct news news;

	(void)state;
	bench_init(&bench, 0.0, 0.0);
	bench.player.plc[PLC_FORM] = 1;
	for (int i = 0; i < 4; i++)
		poll(&bench, &news);
	bench.player.plc[PLC_FORM] = 0;
	bench.player.plc[PLC_ROTATING] = 1;
	poll(&bench, &news);
	assert_int_equal(news.count, 2);
	assert_int_equal(news.changes[0].bit, ROLE_FORM_CLOSED);
	bench.player.plc[PLC_FORM] = 1;
	bench.player.plc[PLC_ROTATING] = 0;
	poll(&bench, &news);
	assert_int_equal(news.count, 2);
	assert_int_equal(news.changes[0].bit, ROLE_ROTATING);
	bench_release(&bench);
}

/* --- a counter alone --------------------------------------------------------------------- */

/* The player's line without its bit for the moving frames. */
static void
play_by_counter(struct player *player, int64_t first_count)
{
	char text[sizeof(player_ini)];
	char *from, *to;

	memcpy(text, player_ini, sizeof(text));
	from = strstr(text, "[channel plc.rotating]");
	to = strstr(text, "[channel plc.form]");
	memset(from, '\n', (size_t)(to - from));
	player_release(player);
	player_init_under(player, text);
	player->plc[PLC_COUNT] = (double)first_count;
	player->skip_rotating = true;
}

static void
a_counter_that_goes_up_by_one_is_an_index(void **state)
{
	struct player *player = *state;

	play_by_counter(player, 65530); /* it wraps on the way */
	player_run(player, 20.0);
	player_cycles(player, 12);
	for (int sheet = 2; sheet <= 9; sheet++) {
		const struct shot *shot = shot_of(player, sheet);

		assert_int_equal(shot->outcome, SHOT_COMPLETE);
		assert_near(
		    shot->value[FEATURE_EXIT_TOP_C] - shot->value[FEATURE_TOOL_MEAN_C],
		    92.0 - 0.5 / 3.0, 1e-9);
		/* The index belongs to the heat: nothing tells when it began. */
		assert_near(shot->value[FEATURE_HEAT_S], 150.0, 0.6);
	}
}

static void
a_counter_that_goes_up_by_two_moves_everybody_twice(void **state)
{
	struct player *player = *state;
	size_t aborted = 0;

	play_by_counter(player, 100);
	player_run(player, 20.0);
	player_cycles(player, 4);
	player->plc[PLC_LOAD] = 1;
	player_run(player, 2.0);
	player->plc[PLC_COUNT] += 1; /* and one more with the next index */
	player->form = player->oven;
	player->oven = ++player->next_sheet;
	player_cycles(player, 6);
	for (size_t i = 0; i < player->shot_count; i++) {
		const struct shot *shot = player->shots[i];

		if (shot->outcome == SHOT_COMPLETE)
			assert_near(shot->value[FEATURE_EXIT_TOP_C] -
					shot->value[FEATURE_TOOL_MEAN_C],
			    92.0 - 0.5 / 3.0, 1e-9);
		aborted += shot->outcome == SHOT_ABORTED &&
		           (shot->flags & SHOT_FLAG_DOUBLE_INDEX);
	}
	assert_true(aborted >= 1);
	assert_int_equal(player->shots[player->shot_count - 1]->outcome, SHOT_COMPLETE);
}

static void
with_a_counter_alone_the_eyes_still_tell_empty_frames_and_lost_sheets(void **state)
{
	struct player *player = *state;
	size_t empty = 0, scrapped = 0;

	play_by_counter(player, 100);
	player_run(player, 20.0);
	player_cycles(player, 4);
	player_index(player, false); /* nothing in the frame */
	player_stay(player, 100.0, 120.0, 140.0);
	player_cycles(player, 3);
	player_index(player, true);
	player->form = 0; /* pulled out on the way */
	player->plc[PLC_FORMED] = 0;
	player_stay(player, 0.0, 120.0, 140.0);
	player_cycles(player, 4);
	for (size_t i = 0; i < player->shot_count; i++) {
		empty += player->shots[i]->outcome == SHOT_EMPTY;
		scrapped += player->shots[i]->outcome == SHOT_SCRAPPED;
		if (i > 1 && player->shots[i]->outcome != SHOT_EMPTY &&
		    player->shots[i]->outcome != SHOT_SCRAPPED)
			assert_int_equal(player->shots[i]->outcome, SHOT_COMPLETE);
	}
	assert_int_equal(empty, 1);
	assert_int_equal(scrapped, 1);
}

static void
a_counter_that_is_set_leaves_nobody_vouched_for(void **state)
{
	struct player *player = *state;
	size_t before;

	play_by_counter(player, 100);
	player_run(player, 20.0);
	player_cycles(player, 4);
	before = player->shot_count;
	player->plc[PLC_COUNT] = 0;
	player_run(player, 2.0);
	assert_string_equal(player->last_event, "count_jump");
	player_cycles(player, 6);
	assert_int_equal(player->shots[before]->outcome, SHOT_PARTIAL);
	assert_int_equal(player->shots[player->shot_count - 1]->outcome, SHOT_COMPLETE);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(a_number_is_a_bit_with_thresholds_and_stays_between_them),
	    cmocka_unit_test(a_bit_proper_is_what_it_is),
	    cmocka_unit_test(a_quick_bit_waits_for_a_slow_one_that_changed_before_it),
	    cmocka_unit_test(a_blink_that_comes_to_nothing_lets_the_others_go),
	    cmocka_unit_test(
		in_one_poll_a_machine_opens_moves_and_closes_in_that_order),
	    PLAYED(a_counter_that_goes_up_by_one_is_an_index),
	    PLAYED(a_counter_that_goes_up_by_two_moves_everybody_twice),
	    PLAYED(
		with_a_counter_alone_the_eyes_still_tell_empty_frames_and_lost_sheets),
	    PLAYED(a_counter_that_is_set_leaves_nobody_vouched_for),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
