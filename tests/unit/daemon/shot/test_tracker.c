/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the tracker makes of a line that runs, and of what it cannot see. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "tests/unit/daemon/shot/player.h"
#include "tests/unit/near.h"

static void
a_sheets_heat_and_forming_land_in_the_same_record(void **state)
{
	struct player *player = *state;

	player_run(player, 20.0);
	player_cycles(player, 20);
	for (int sheet = 1; sheet <= 17; sheet++) {
		const struct shot *shot = shot_of(player, sheet);

		assert_int_equal(shot->outcome, SHOT_COMPLETE);
		assert_int_equal(shot->shot_no, sheet + 2);
		assert_near(
		    shot->value[FEATURE_EXIT_TOP_C], 152.0 + player_mark(sheet), 1e-9);
		assert_near(shot->value[FEATURE_TOOL_MEAN_C],
		    60.0 + player_mark(sheet) + 0.5 / 3.0, 1e-9);
		assert_int_equal(shot->recipe, 7);
	}
}

static void
what_stood_in_the_machine_at_the_start_is_partial(void **state)
{
	struct player *player = *state;

	player_run(player, 20.0);
	player_cycles(player, 5);
	assert_int_equal(player->shots[0]->outcome, SHOT_PARTIAL);
	assert_int_equal(player->shots[1]->outcome, SHOT_PARTIAL);
	assert_true(player->shots[0]->flags & SHOT_FLAG_LOGGER_START);
	assert_int_equal(player->shots[2]->outcome, SHOT_COMPLETE);
	assert_int_equal(
	    player->shots[2]->absent[FEATURE_CYCLE_S], ABSENT_NOT_APPLICABLE);
}

static void
times_are_those_of_the_edges_and_the_cycle_adds_up(void **state)
{
	struct player *player = *state;

	player_run(player, 20.0);
	player_cycles(player, 8);
	for (int sheet = 2; sheet <= 5; sheet++) {
		const struct shot *shot = shot_of(player, sheet);
		const double *value = shot->value;

		/* stay 140 s and 2 s of loading; polls of 0.5 s */
		assert_near(value[FEATURE_HEAT_S], 142.0, 0.5);
		assert_near(value[FEATURE_SAG_S], 120.0, 0.5);
		assert_near(value[FEATURE_SOAK_WAIT_S], 22.0, 0.5);
		assert_near(value[FEATURE_TRANSFER_S], 11.0, 0.5);
		assert_near(value[FEATURE_FORM_S], 100.0, 0.5);
		assert_near(value[FEATURE_CYCLE_S], 150.0, 0.5);
		assert_near(value[FEATURE_CYCLE_WAIT_SAG_S], 17.0, 0.5);
		assert_near(
		    value[FEATURE_CYCLE_FORMING_S] + value[FEATURE_CYCLE_WAIT_SAG_S] +
			value[FEATURE_CYCLE_WAIT_LINE_S] +
			value[FEATURE_CYCLE_INDEX_S] + value[FEATURE_CYCLE_CLOSING_S],
		    value[FEATURE_CYCLE_S], 1e-9);
		assert_near(shot->uncertainty_s, 0.5, 1e-9);
		assert_true(shot->heat_start_at.ns < shot->heat_end_at.ns);
		assert_true(shot->heat_end_at.ns < shot->form_start_at.ns);
		assert_true(shot->form_end_at.ns < shot->closed_at.ns);
	}
}

static void
features_of_steady_readings_are_exact(void **state)
{
	struct player *player = *state;
	const struct shot *shot;

	player_run(player, 20.0);
	player_cycles(player, 6);
	shot = shot_of(player, 3);
	assert_near(shot->value[FEATURE_EXIT_DIFFERENCE_DC], 12.0, 1e-9);
	assert_near(shot->value[FEATURE_EXIT_SPREAD_TOP_DC], 4.0, 1e-9);
	assert_int_equal(
	    shot->absent[FEATURE_EXIT_SPREAD_BOTTOM_DC], ABSENT_NOT_CONFIGURED);
	assert_near(shot->value[FEATURE_RATE_TOP], 0.0, 1e-9);
	/* (0.5 + 1.0) x 3 kW over the heat */
	assert_near(shot->value[FEATURE_ENERGY_KWH],
	    4500.0 * shot->value[FEATURE_HEAT_S], 1e-6);
	assert_int_equal(
	    shot->absent[FEATURE_ENERGY_BOTTOM_KWH], ABSENT_NOT_CONFIGURED);
	assert_near(shot->value[FEATURE_SATURATION_MAX], 1.0, 1e-9);
	assert_near(shot->value[FEATURE_SATURATED_ZONES], 1.0, 1e-9);
	assert_near(shot->value[FEATURE_TOOL_SPREAD_START_DC], 1.5, 1e-9);
	assert_near(shot->value[FEATURE_TOOL_SPREAD_MEAN_DC], 1.5, 1e-9);
	assert_near(shot->value[FEATURE_TOOL_SPREAD_OF_MEANS_DC], 1.5, 1e-9);
	assert_near(shot->value[FEATURE_TOOL_SWING_DC], 0.0, 1e-9);
	assert_near(shot->value[FEATURE_TOOL_DRIFT_DC], 0.1, 1e-9);
	assert_near(shot->value[FEATURE_WATER_RISE_FIRST], 1.0, 1e-9);
	assert_near(shot->value[FEATURE_WATER_RISE_FIRST + 1], 2.0, 1e-9);
	assert_near(shot->value[FEATURE_WATER_RISE_DC], 1.5, 1e-9);
	assert_near(shot->value[FEATURE_HEAT_COVERAGE], 1.0, 0.02);
	assert_int_equal(shot->absent[FEATURE_METER_KWH], ABSENT_NOT_CONFIGURED);
}

static void
an_index_that_went_by_in_silence_is_caught_up_by_the_counter(void **state)
{
	struct player *player = *state;

	player_run(player, 20.0);
	player_cycles(player, 4);
	player->plc_silent = true;
	player_index(player, true);
	player_run(player, 1.5);
	player->plc_silent = false;
	player_stay(player, 100.0, 120.0, 140.0);
	player_cycles(player, 5);
	assert_int_equal(shot_of(player, 4)->outcome, SHOT_PARTIAL);
	assert_int_equal(shot_of(player, 5)->outcome, SHOT_PARTIAL);
	for (int sheet = 6; sheet <= 7; sheet++) {
		assert_int_equal(shot_of(player, sheet)->outcome, SHOT_COMPLETE);
		assert_near(shot_of(player, sheet)->value[FEATURE_EXIT_TOP_C],
		    152.0 + player_mark(sheet), 1e-9);
	}
}

static void
a_counter_set_back_is_an_event_and_moves_nobody(void **state)
{
	struct player *player = *state;

	player_run(player, 20.0);
	player_cycles(player, 4);
	player->plc[PLC_COUNT] = 0;
	player_cycles(player, 5);
	assert_int_equal(player->event_count, 1);
	assert_string_equal(player->last_event, "count_jump");
	assert_near(shot_of(player, 6)->value[FEATURE_EXIT_TOP_C],
	    152.0 + player_mark(6), 1e-9);
	assert_int_equal(shot_of(player, 6)->outcome, SHOT_COMPLETE);
}

static void
an_index_too_short_for_the_polls_leaves_nobody_complete(void **state)
{
	struct player *player = *state;

	player_run(player, 20.0);
	player_cycles(player, 4);
	player->form = player->oven; /* all at once, between two polls */
	player->oven = ++player->next_sheet;
	player_dress(player);
	player->plc[PLC_COUNT] += 1;
	player_stay(player, 100.0, 120.0, 140.0);
	player_cycles(player, 5);
	assert_string_equal(player->last_event, "count_astray");
	for (size_t i = 0; i < player->shot_count; i++) {
		const struct shot *shot = player->shots[i];

		if (shot->outcome == SHOT_COMPLETE)
			assert_near(shot->value[FEATURE_EXIT_TOP_C] -
					shot->value[FEATURE_TOOL_MEAN_C],
			    92.0 - 0.5 / 3.0, 1e-9);
	}
	assert_int_equal(player->shots[player->shot_count - 1]->outcome, SHOT_COMPLETE);
}

static void
the_counter_may_wrap(void **state)
{
	struct player *player = *state;

	player->plc[PLC_COUNT] = 65533;
	player_run(player, 20.0);
	for (int i = 0; i < 8; i++) {
		player_cycles(player, 1);
		player->plc[PLC_COUNT] = fmod(player->plc[PLC_COUNT], 65536.0);
	}
	assert_int_equal(player->event_count, 0);
	assert_int_equal(shot_of(player, 5)->outcome, SHOT_COMPLETE);
}

static void
a_broken_sensor_makes_its_figures_absent_with_the_reason(void **state)
{
	struct player *player = *state;
	const struct shot *shot;

	player_run(player, 20.0);
	player_cycles(player, 3);
	player->io_fault[IO_TOP_2] = true;
	player->io_fault[IO_TOOL_3] = true;
	player_cycles(player, 4);
	shot = shot_of(player, 4);
	assert_int_equal(shot->outcome, SHOT_COMPLETE);
	assert_near(shot->value[FEATURE_EXIT_TOP_C], 150.4, 1e-9);
	assert_int_equal(shot->absent[FEATURE_EXIT_SPREAD_TOP_DC], ABSENT_SENSOR_FAULT);
	assert_int_equal(shot->absent[FEATURE_EXIT_TOP_FIRST + 1], ABSENT_SENSOR_FAULT);
	assert_true(isnan(shot->value[FEATURE_TOOL_SPREAD_OF_MEANS_DC]));
	assert_int_equal(
	    shot->absent[FEATURE_TOOL_SPREAD_OF_MEANS_DC], ABSENT_SENSOR_FAULT);
}

static void
a_silent_device_costs_its_figures_and_not_the_shot(void **state)
{
	struct player *player = *state;
	const struct shot *shot;

	player_run(player, 20.0);
	player_cycles(player, 3);
	player_index(player, true);
	player->io_silent = true;
	player_stay(player, 100.0, 120.0, 140.0);
	player->io_silent = false;
	player_cycles(player, 3);
	shot = shot_of(player, 4);
	assert_int_equal(shot->outcome, SHOT_COMPLETE);
	assert_int_equal(shot->absent[FEATURE_EXIT_TOP_C], ABSENT_COMM_FAULT);
	assert_int_equal(shot->absent[FEATURE_ENERGY_KWH], ABSENT_COMM_FAULT);
	assert_near(shot->value[FEATURE_HEAT_S], 142.0, 0.5);
	assert_int_equal(shot->absent[FEATURE_TOOL_MEAN_C], ABSENT_NOT);
}

static void
the_first_after_a_stop_are_startup(void **state)
{
	struct player *player = *state;

	player->settings->lines[0].startup_shots = 2;
	player_run(player, 20.0);
	player_cycles(player, 4);
	player_run(player, 1000.0);
	player_cycles(player, 7);
	assert_int_equal(shot_of(player, 1)->outcome, SHOT_STARTUP);
	assert_int_equal(shot_of(player, 2)->outcome, SHOT_STARTUP);
	assert_int_equal(shot_of(player, 3)->outcome, SHOT_COMPLETE);
	assert_int_equal(
	    shot_of(player, 4)->outcome, SHOT_INTERRUPTED); /* stood in the oven */
	assert_int_equal(shot_of(player, 5)->outcome, SHOT_STARTUP);
	assert_int_equal(shot_of(player, 6)->outcome, SHOT_STARTUP);
	assert_int_equal(shot_of(player, 7)->outcome, SHOT_COMPLETE);
}

static void
a_clock_step_moves_labels_only(void **state)
{
	struct player *player = *state;

	player_run(player, 20.0);
	player_cycles(player, 3);
	player_index(player, true);
	player_run(player, 50.0);
	player->wall_offset_ms -= 3600000;
	player_stay(player, 80.0, 70.0, 92.0);
	player_cycles(player, 3);
	assert_near(shot_of(player, 4)->value[FEATURE_HEAT_S], 144.0, 0.5);
	assert_true(shot_of(player, 4)->flags & SHOT_FLAG_CLOCK_STEP);
	assert_string_equal(player->last_event, "clock_step");
}

static void
the_same_scans_give_the_same_shots_bit_for_bit(void **state)
{
	struct player *player = *state;
	struct player again;

	player_init(&again);
	player_run(player, 20.0);
	player_run(&again, 20.0);
	player_cycles(player, 10);
	player_cycles(&again, 10);
	assert_int_equal(player->shot_count, again.shot_count);
	for (size_t i = 0; i < again.shot_count; i++) {
		const struct shot *a = player->shots[i], *b = again.shots[i];

		assert_memory_equal(a->value, b->value, sizeof(a->value));
		assert_memory_equal(a->absent, b->absent, sizeof(a->absent));
		assert_int_equal(a->channel_count, b->channel_count);
		for (size_t c = 0; c < a->channel_count; c++)
			assert_memory_equal(&a->channels[c].mean, &b->channels[c].mean,
			    sizeof(a->channels[c].mean));
	}
	player_release(&again);
}

static void
finishing_gives_out_what_has_left_and_no_more(void **state)
{
	struct player *player = *state;
	size_t before;

	player_run(player, 20.0);
	player_cycles(player, 3);
	player_index(player, true);
	player_run(player, 0.5); /* sheet 2 has left, its last readings are awaited */
	before = player->shot_count;
	tracker_finish(player->tracker);
	assert_int_equal(player->shot_count, before + 1);
	tracker_finish(player->tracker);
	assert_int_equal(player->shot_count, before + 1);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    PLAYED(a_sheets_heat_and_forming_land_in_the_same_record),
	    PLAYED(what_stood_in_the_machine_at_the_start_is_partial),
	    PLAYED(times_are_those_of_the_edges_and_the_cycle_adds_up),
	    PLAYED(features_of_steady_readings_are_exact),
	    PLAYED(an_index_that_went_by_in_silence_is_caught_up_by_the_counter),
	    PLAYED(a_counter_set_back_is_an_event_and_moves_nobody),
	    PLAYED(an_index_too_short_for_the_polls_leaves_nobody_complete),
	    PLAYED(the_counter_may_wrap),
	    PLAYED(a_broken_sensor_makes_its_figures_absent_with_the_reason),
	    PLAYED(a_silent_device_costs_its_figures_and_not_the_shot),
	    PLAYED(the_first_after_a_stop_are_startup),
	    PLAYED(a_clock_step_moves_labels_only),
	    PLAYED(the_same_scans_give_the_same_shots_bit_for_bit),
	    PLAYED(finishing_gives_out_what_has_left_and_no_more),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
