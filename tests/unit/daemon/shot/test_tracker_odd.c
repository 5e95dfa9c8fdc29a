/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the tracker makes of sheets that fare oddly. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "tests/unit/daemon/shot/player.h"
#include "tests/unit/near.h"

static void
an_empty_frame_is_empty_and_shifts_nobody(void **state)
{
	struct player *player = *state;

	player_run(player, 20.0);
	player_cycles(player, 3);
	player_index(player, false);
	player_stay(player, 100.0, 0.0, 140.0);
	player_cycles(player, 5);
	assert_int_equal(shot_of(player, 4)->outcome, SHOT_EMPTY);
	for (int sheet = 4; sheet <= 5; sheet++) /* one frame later than its number */
		assert_near(shot_of(player, sheet + 1)->value[FEATURE_EXIT_TOP_C] -
				shot_of(player, sheet + 1)->value[FEATURE_TOOL_MEAN_C],
		    92.0 - 0.5 / 3.0, 1e-9);
	assert_int_equal(
	    shot_of(player, 5)->absent[FEATURE_CYCLE_S], ABSENT_NOT_APPLICABLE);
}

static void
a_sheet_pulled_out_in_the_transfer_is_scrapped(void **state)
{
	struct player *player = *state;

	player_run(player, 20.0);
	player_cycles(player, 3);
	player->plc[PLC_LOAD] = 1;
	player_index(player, true);
	player->form = 0; /* sheet 3 is gone; its frame came on */
	player->plc[PLC_FORMED] = 0;
	player_stay(player, 100.0, 120.0, 140.0);
	player_cycles(player, 3);
	assert_int_equal(shot_of(player, 3)->outcome, SHOT_SCRAPPED);
	assert_int_equal(shot_of(player, 4)->outcome, SHOT_COMPLETE);
	assert_string_equal(shot_of(player, 3)->reason, "gone before the form station");
}

static void
a_sheet_that_is_never_formed_is_aborted(void **state)
{
	struct player *player = *state;

	player_run(player, 20.0);
	player_cycles(player, 3);
	player_index(player, true);
	player_stay(player, 0.0, 120.0, 140.0);
	player_cycles(player, 3);
	assert_int_equal(shot_of(player, 3)->outcome, SHOT_ABORTED);
	assert_int_equal(
	    shot_of(player, 3)->absent[FEATURE_FORM_S], ABSENT_NOT_APPLICABLE);
	assert_int_equal(shot_of(player, 4)->outcome, SHOT_COMPLETE);
}

static void
a_double_index_aborts_those_that_skipped(void **state)
{
	struct player *player = *state;

	player_run(player, 20.0);
	player_cycles(player, 3);
	player_index(player, true); /* sheet 4 in, 3 to the form station */
	player_index(player,
	    false); /* at once: 4 unheated to the form station, 3 unformed out */
	player_stay(player, 100.0, 0.0, 140.0);
	player_cycles(player, 4);
	assert_int_equal(shot_of(player, 3)->outcome, SHOT_ABORTED);
	assert_int_equal(shot_of(player, 4)->outcome, SHOT_ABORTED);
	assert_true(shot_of(player, 4)->flags & SHOT_FLAG_SHORT_HEAT);
	assert_true(shot_of(player, 4)->flags & SHOT_FLAG_DOUBLE_INDEX);
	assert_int_equal(shot_of(player, 5)->outcome, SHOT_EMPTY);
	assert_int_equal(shot_of(player, 6)->outcome, SHOT_COMPLETE);
	assert_near(shot_of(player, 6)->value[FEATURE_EXIT_TOP_C] -
			shot_of(player, 6)->value[FEATURE_TOOL_MEAN_C],
	    92.0 - 0.5 / 3.0, 1e-9);
}

static void
a_sheet_that_never_sags_is_released_by_the_timer(void **state)
{
	struct player *player = *state;

	player_run(player, 20.0);
	player_cycles(player, 3);
	player_index(player, true);
	player_stay(player, 100.0, 0.0, 228.0);
	player_cycles(player, 3);
	assert_int_equal(shot_of(player, 4)->outcome, SHOT_TIMER_RELEASE);
	assert_int_equal(
	    shot_of(player, 4)->absent[FEATURE_SAG_S], ABSENT_NOT_APPLICABLE);
	assert_int_equal(shot_of(player, 3)->outcome, SHOT_COMPLETE);
}

static void
a_sag_eye_on_from_the_start_gives_no_sag_time(void **state)
{
	struct player *player = *state;

	player_run(player, 20.0);
	player_cycles(player, 3);
	player_index(player, true);
	player->plc[PLC_EYE] = 1;
	player_stay(player, 100.0, 0.0, 140.0);
	player_cycles(player, 3);
	/* The eye came on within the first poll: a sag time of nothing, or stuck. */
	assert_true(shot_of(player, 4)->flags & SHOT_FLAG_SAG_STUCK);
	assert_int_equal(
	    shot_of(player, 4)->absent[FEATURE_SAG_S], ABSENT_NOT_APPLICABLE);
}

static void
a_sag_that_releases_the_line_at_once_is_a_sag(void **state)
{
	struct player *player = *state;

	player_run(player, 20.0);
	player_cycles(player, 3);
	player_index(player, true);
	player_stay(player, 100.0, 0.0, 140.0);
	player->plc[PLC_LOAD] = 1;
	player->plc[PLC_EYE] = 1; /* seen by one poll, then the line moves */
	player_run(player, 0.5);
	player->plc[PLC_EYE] = 0;
	player->plc[PLC_ROTATING] = 1;
	player_run(player, 8.0);
	player->plc[PLC_COUNT] += 1;
	player->plc[PLC_ROTATING] = 0;
	player_stay(player, 100.0, 120.0, 140.0);
	player_cycles(player, 2);
	assert_near(shot_of(player, 4)->value[FEATURE_SAG_S], 140.0, 0.5);
	assert_int_equal(shot_of(player, 4)->outcome, SHOT_COMPLETE);
}

static void
a_fault_with_the_sheet_in_the_oven_interrupts_it(void **state)
{
	struct player *player = *state;

	player_run(player, 20.0);
	player_cycles(player, 3);
	player_index(player, true);
	player_stay(player, 100.0, 120.0, 130.0);
	player->plc[PLC_FAULT] = 1;
	player_run(player, 20.0);
	player->plc[PLC_FAULT] = 0;
	player_cycles(player, 3);
	assert_int_equal(shot_of(player, 4)->outcome, SHOT_INTERRUPTED);
	assert_int_equal(shot_of(player, 3)->outcome, SHOT_COMPLETE);
	assert_true(shot_of(player, 3)->flags & SHOT_FLAG_FAULT);
}

static void
a_short_fault_is_flagged_and_no_more(void **state)
{
	struct player *player = *state;

	player_run(player, 20.0);
	player_cycles(player, 3);
	player_index(player, true);
	player_stay(player, 100.0, 120.0, 130.0);
	player->plc[PLC_FAULT] = 1;
	player_run(player, 1.0);
	player->plc[PLC_FAULT] = 0;
	player_run(player, 9.0);
	player_cycles(player, 3);
	assert_int_equal(shot_of(player, 4)->outcome, SHOT_COMPLETE);
	assert_true(shot_of(player, 4)->flags & SHOT_FLAG_FAULT);
}

static void
a_fault_that_comes_with_the_index_interrupts_the_sheet_that_came_in(void **state)
{
	struct player *player = *state;

	player_run(player, 20.0);
	player_cycles(player, 3);
	player_index(player, true);
	player->plc[PLC_FAULT] = 1; /* in the very poll that shows the index done */
	player_run(player, 20.0);
	player->plc[PLC_FAULT] = 0;
	player_stay(player, 100.0, 120.0, 140.0);
	player_cycles(player, 3);
	assert_int_equal(shot_of(player, 4)->outcome, SHOT_INTERRUPTED);
	assert_int_equal(shot_of(player, 3)->outcome, SHOT_COMPLETE);
	assert_int_equal(shot_of(player, 5)->outcome, SHOT_COMPLETE);
}

static void
an_index_in_manual_loses_every_place(void **state)
{
	struct player *player = *state;

	player_run(player, 20.0);
	player_cycles(player, 4);
	player->plc[PLC_AUTO] = 0;
	player_run(player, 5.0);
	player_index(player, true);
	player->plc[PLC_AUTO] = 1;
	player_stay(player, 100.0, 120.0, 140.0);
	player_cycles(player, 6);
	for (int sheet = 3; sheet <= 5; sheet++)
		assert_int_equal(shot_of(player, sheet)->outcome, SHOT_PARTIAL);
	assert_int_equal(shot_of(player, 6)->outcome, SHOT_COMPLETE);
}

static void
manual_that_ends_with_the_index_loses_every_place_too(void **state)
{
	struct player *player = *state;

	player_run(player, 20.0);
	player_cycles(player, 4);
	player->plc[PLC_LOAD] = 1;
	player_run(player, 2.0);
	player->plc[PLC_ROTATING] = 1;
	player_run(player, 2.0);
	player->plc[PLC_AUTO] = 0; /* while they move ... */
	player_run(player, 6.0);
	player->plc[PLC_ROTATING] = 0;
	player_run(player, 3.0);
	player->plc[PLC_AUTO] = 1; /* ... until they stand */
	player_run(player, 120.0);
	player_cycles(player, 6);
	for (size_t i = 0; i < player->shot_count; i++) {
		const struct shot *shot = player->shots[i];

		if (shot->outcome == SHOT_COMPLETE)
			assert_near(shot->value[FEATURE_EXIT_TOP_C] -
					shot->value[FEATURE_TOOL_MEAN_C],
			    92.0 - 0.5 / 3.0, 1e-9);
	}
	for (int sheet = 3; sheet <= 5; sheet++)
		assert_int_equal(shot_of(player, sheet)->outcome, SHOT_PARTIAL);
}

static void
an_eye_that_falls_as_the_frames_move_off_still_saw_the_sheet(void **state)
{
	struct player *player = *state;

	player->settings->channels[PLC_ROTATING].debounce_s = 0.4;
	tracker_free(player->tracker);
	player->tracker = tracker_new(player->settings, 0, (struct tracker_start){0},
	    (struct tracker_sink){
		.shot = player_take, .event = player_event, .arg = player});
	player_run(player, 20.0);
	for (int i = 0; i < 6; i++) {
		player->plc[PLC_LOAD] = 1;
		player_run(player, 2.0);
		player->plc[PLC_ROTATING] = 1;
		player_run(player, 0.5);
		player->plc[PLC_LOAD] = 0; /* before the debounce time is over */
		player_index(player, false);
		player_stay(player, 100.0, 120.0, 140.0);
	}
	assert_int_not_equal(shot_of(player, 2)->outcome, SHOT_EMPTY);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    PLAYED(an_empty_frame_is_empty_and_shifts_nobody),
	    PLAYED(a_sheet_pulled_out_in_the_transfer_is_scrapped),
	    PLAYED(a_sheet_that_is_never_formed_is_aborted),
	    PLAYED(a_double_index_aborts_those_that_skipped),
	    PLAYED(a_sheet_that_never_sags_is_released_by_the_timer),
	    PLAYED(a_sag_eye_on_from_the_start_gives_no_sag_time),
	    PLAYED(a_sag_that_releases_the_line_at_once_is_a_sag),
	    PLAYED(a_fault_with_the_sheet_in_the_oven_interrupts_it),
	    PLAYED(a_short_fault_is_flagged_and_no_more),
	    PLAYED(a_fault_that_comes_with_the_index_interrupts_the_sheet_that_came_in),
	    PLAYED(an_index_in_manual_loses_every_place),
	    PLAYED(manual_that_ends_with_the_index_loses_every_place_too),
	    PLAYED(an_eye_that_falls_as_the_frames_move_off_still_saw_the_sheet),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
