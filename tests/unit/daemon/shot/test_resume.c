/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A logger that stops with sheets in the machine, and the next one that goes on. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "tests/unit/daemon/shot/player.h"
#include "tests/unit/near.h"

static unsigned char saved[TRACKER_SAVED_MAX];
static size_t saved_bytes;

static void
save(void *arg)
{
	const struct player *player = arg;

	saved_bytes = tracker_save(player->tracker, saved, sizeof(saved));
	assert_true(saved_bytes > 0);
}

/* The tracker is gone at once; the next one starts with what was saved last. */
static void
start_again(struct player *player, int64_t last_shot_no)
{
	struct tracker_start start = {
	    .last_shot_no = last_shot_no, .saved = saved, .saved_bytes = saved_bytes};

	if (player->tracker != NULL)
		tracker_free(player->tracker);
	player->tracker = tracker_new(player->settings, 0, start,
	    (struct tracker_sink){.shot = player_take,
		.event = player_event,
		.moved = save,
		.arg = player});
	assert_non_null(player->tracker);
}

static void
begin(struct player *player)
{
	saved_bytes = 0;
	start_again(player, 0);
	player_run(player, 20.0);
	player_cycles(player, 4);
	player_run(player, 30.0);
}

static void
after_a_short_pause_the_sheets_are_where_they_were(void **state)
{
	struct player *player = *state;
	int64_t before;

	begin(player);
	before = (int64_t)player->shot_count;
	player->now_ms += 4000;
	start_again(player, before);
	player_run(player, 30.0);
	assert_string_equal(player->last_event, "resume");
	player_cycles(player, 6);
	for (size_t i = 0; i < player->shot_count; i++) {
		const struct shot *shot = player->shots[i];
		int sheet = (int)i - 1;

		assert_int_equal(shot->shot_no, i + 1);
		if (sheet < 1)
			continue;
		assert_int_equal(shot->outcome, SHOT_COMPLETE);
		/* two sheets were in flight */
		assert_int_equal((shot->flags & SHOT_FLAG_LOGGER_START) != 0,
		    sheet == 3 || sheet == 4);
		assert_int_equal(
		    (shot->flags & SHOT_FLAG_GAP) != 0, sheet == 3 || sheet == 4);
		if (shot->absent[FEATURE_EXIT_TOP_C] == ABSENT_NOT &&
		    shot->absent[FEATURE_TOOL_MEAN_C] == ABSENT_NOT)
			assert_near(shot->value[FEATURE_EXIT_TOP_C] -
					shot->value[FEATURE_TOOL_MEAN_C],
			    92.0 - 0.5 / 3.0, 1e-9);
	}
	/* what was read before is gone with the logger: no figure is made of half a heat */
	assert_int_equal(
	    player->shots[5]->absent[FEATURE_ENERGY_KWH], ABSENT_LOW_COVERAGE);
}

static void
after_a_long_pause_they_are_partial_each_once(void **state)
{
	struct player *player = *state;
	size_t before;

	begin(player);
	before = player->shot_count;
	player_run(player, 60.0);
	saved_bytes = tracker_save(player->tracker, saved, sizeof(saved));
	player->now_ms += 100000;
	start_again(player, (int64_t)before);
	player_run(player, 3.0); /* the frame at the load station is seen to be empty */
	player_cycles(player, 5);
	assert_int_equal(player->shots[before]->outcome, SHOT_PARTIAL);
	assert_int_equal(player->shots[before + 1]->outcome, SHOT_PARTIAL);
	assert_int_equal(player->shots[before + 2]->outcome, SHOT_COMPLETE);
	assert_int_equal(player->shots[before + 2]->flags, 0);
}

static void
a_clock_that_was_set_meanwhile_is_no_base_to_go_on_from(void **state)
{
	struct player *player = *state;
	size_t before;

	begin(player);
	before = player->shot_count;
	player->now_ms += 2000;
	player->wall_offset_ms += 3600000;
	start_again(player, (int64_t)before);
	player_cycles(player, 5);
	assert_int_equal(player->shots[before]->outcome, SHOT_PARTIAL);
}

static void
an_index_in_the_pause_is_caught_up_by_the_counter(void **state)
{
	struct player *player = *state;
	size_t before;

	begin(player);
	before = player->shot_count;
	tracker_free(player->tracker);
	player->tracker = NULL;
	/* the ring turns while nobody looks */
	player->now_ms += 10000;
	player->form = player->oven;
	player->oven = ++player->next_sheet;
	player->plc[PLC_COUNT] += 1;
	player_dress(player);
	start_again(player, (int64_t)before);
	player_stay(player, 100.0, 120.0, 140.0);
	player_cycles(player, 5);
	for (size_t i = before; i < player->shot_count; i++) {
		const struct shot *shot = player->shots[i];

		assert_int_equal(shot->shot_no, i + 1);
		if (i > before && shot->outcome == SHOT_COMPLETE)
			assert_near(shot->value[FEATURE_EXIT_TOP_C] -
					shot->value[FEATURE_TOOL_MEAN_C],
			    92.0 - 0.5 / 3.0, 1e-9);
	}
	/* formed before the pause, but its readings are gone; heated or loaded into it */
	assert_true(player->shots[before]->flags & SHOT_FLAG_GAP);
	assert_true(isnan(player->shots[before]->value[FEATURE_TOOL_MEAN_C]));
	assert_int_equal(player->shots[before + 1]->outcome, SHOT_PARTIAL);
	assert_int_equal(player->shots[before + 2]->outcome, SHOT_PARTIAL);
	assert_int_equal(player->shots[before + 3]->outcome, SHOT_COMPLETE);
}

static void
a_sheet_that_left_is_filed_once_whenever_the_logger_died(void **state)
{
	struct player *player = *state;
	size_t before;

	begin(player);
	player_index(player, true);
	player_run(player, 1.0);
	/* it has left and waits for its last readings; its shot was filed after the save */
	before = player->shot_count;
	start_again(player, (int64_t)before + 1);
	player_run(player, 20.0);
	assert_int_equal(player->shot_count, before);
	player_stay(player, 100.0, 120.0, 140.0);
	player_cycles(player, 1);
	assert_int_equal(player->shots[before]->shot_no, before + 2);
	/* and once more, not filed yet */
	player_index(player, true);
	player_run(player, 1.0);
	before = player->shot_count;
	start_again(player, (int64_t)before + 1);
	player_run(player, 20.0);
	assert_int_equal(player->shot_count, before + 1);
	assert_true(player->shots[before]->flags & SHOT_FLAG_LOGGER_START);
	assert_true(player->shots[before]->form_start_at.ns != 0);
}

static void
bytes_that_are_no_saved_state_are_as_good_as_none(void **state)
{
	struct player *player = *state;
	size_t before;

	begin(player);
	before = player->shot_count;
	for (size_t i = 0; i < saved_bytes; i += 7)
		saved[i] ^= 0xff;
	start_again(player, (int64_t)before);
	player_cycles(player, 5);
	assert_int_equal(player->shots[before]->outcome, SHOT_PARTIAL);
	assert_int_equal(player->shots[player->shot_count - 1]->outcome, SHOT_COMPLETE);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    PLAYED(after_a_short_pause_the_sheets_are_where_they_were),
	    PLAYED(after_a_long_pause_they_are_partial_each_once),
	    PLAYED(a_clock_that_was_set_meanwhile_is_no_base_to_go_on_from),
	    PLAYED(an_index_in_the_pause_is_caught_up_by_the_counter),
	    PLAYED(a_sheet_that_left_is_filed_once_whenever_the_logger_died),
	    PLAYED(bytes_that_are_no_saved_state_are_as_good_as_none),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
