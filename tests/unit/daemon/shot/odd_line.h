/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * A line with all that can befall it, and shots held against each other in every bit.
 */
#ifndef TESTS_UNIT_DAEMON_SHOT_ODD_LINE_H
#define TESTS_UNIT_DAEMON_SHOT_ODD_LINE_H

#include "tests/unit/daemon/shot/player.h"

/* In every bit; a NAN is like another. */
static inline void
assert_same_number(double a, double b)
{
	if (!isnan(a) || !isnan(b))
		assert_memory_equal(&a, &b, sizeof(a));
}

static inline void
assert_same_channel(const struct shot_channel *a, const struct shot_channel *b)
{
	assert_int_equal(a->channel, b->channel);
	assert_int_equal(a->absent, b->absent);
	assert_same_number(a->min, b->min);
	assert_same_number(a->mean, b->mean);
	assert_same_number(a->max, b->max);
	assert_same_number(a->sd, b->sd);
	assert_same_number(a->last, b->last);
	assert_same_number(a->coverage, b->coverage);
}

static inline void
assert_same_shot(const struct shot *a, const struct shot *b)
{
	assert_int_equal(a->outcome, b->outcome);
	assert_int_equal(a->flags, b->flags);
	assert_string_equal(a->reason, b->reason);
	assert_int_equal(a->recipe, b->recipe);
	assert_int_equal(a->cycle_count, b->cycle_count);
	assert_true(a->set_points == b->set_points);
	assert_true(a->loaded_at.ns == b->loaded_at.ns &&
		    a->heat_start_at.ns == b->heat_start_at.ns &&
		    a->heat_end_at.ns == b->heat_end_at.ns &&
		    a->form_start_at.ns == b->form_start_at.ns &&
		    a->form_end_at.ns == b->form_end_at.ns &&
		    a->closed_at.ns == b->closed_at.ns);
	assert_same_number(a->uncertainty_s, b->uncertainty_s);
	for (int f = 0; f < FEATURE_COUNT; f++) {
		assert_int_equal(a->absent[f], b->absent[f]);
		assert_same_number(a->value[f], b->value[f]);
	}
	assert_int_equal(a->channel_count, b->channel_count);
	for (size_t i = 0; i < a->channel_count; i++)
		assert_same_channel(&a->channels[i], &b->channels[i]);
}

/* A line with all that can befall it, the same every time for a seed. */
static inline void
play_odd_line(struct player *player, unsigned seed)
{
	player_run(player, 20.0);
	for (int cycle = 0; cycle < 25; cycle++) {
		double sag_s = 90 + rand_r(&seed) % 60;
		double form_s = rand_r(&seed) % 8 ? 40 + rand_r(&seed) % 60 : 0;
		int oddity = rand_r(&seed) % 8;

		player->plc[PLC_FAULT] = oddity == 1;
		player->plc_silent = oddity == 2;
		player->io_silent = oddity == 3;
		player->io_fault[rand_r(&seed) % IO_CHANNELS] = oddity == 4;
		player->plc[PLC_AUTO] = oddity != 5;
		player->wall_offset_ms += oddity == 6 ? 3600000 : 0;
		player_run(player, rand_r(&seed) % 9);
		/* now and then for so long that nobody knows when the frames moved */
		if (rand_r(&seed) % 2)
			player->plc_silent = player->io_silent = false;
		else
			player_run(player, player->plc_silent ? 40.0 : 0.0);
		player->plc[PLC_FAULT] = 0;
		player->plc[PLC_AUTO] = 1;
		player_index(player, rand_r(&seed) % 9 > 0);
		player_run(player, player->plc_silent ? 30.0 : 0.0);
		player->plc_silent = player->io_silent = false;
		player_stay(player, form_s, sag_s, sag_s + 10 + rand_r(&seed) % 30);
		for (int i = 0; i < IO_CHANNELS; i++)
			player->io_fault[i] = false;
	}
}

#endif
