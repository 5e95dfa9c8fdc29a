/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The inside of the sheet and the tool's water made again from the trace: the same bits
 * under what was told then, other figures under what is told now. */
#include "tests/unit/daemon/shot/odd_line.h"

#include "daemon/base/error.h"
#include "daemon/shot/circumstances.h"
#include "daemon/shot/pack.h"
#include "daemon/shot/trace.h"
#include "tests/unit/near.h"
#include "tests/unit/seed.h"

enum { ROOM = PLC_CHANNELS + IO_ROOM };

/* What people have told, and asked for each record. */
static struct circumstances told;
static double corrections[ROOM];

static void
tell(void *arg, int recipe, struct wall at, struct circumstances *circumstances)
{
	(void)arg;
	(void)at;
	*circumstances = told;
	circumstances->recipe = recipe;
}

static const char *
whole_ini(void)
{
	static char text[sizeof(player_ini) + sizeof(player_inside)];

	snprintf(text, sizeof(text), "%s%s", player_ini, player_inside);
	return text;
}

static void
begin(struct player *player, const char *ini)
{
	player_init_as(player, ini, ini);
	tracker_free(player->tracker);
	player->tracker = tracker_new(player->settings, 0, (struct tracker_start){0},
	    (struct tracker_sink){.shot = player_take,
		.event = player_event,
		.circumstances = tell,
		.arg = player});
	player->io[IO_FLOW_1] = 8.0e-3 / 60.0;
	player->io[IO_FLOW_2] = 6.0e-3 / 60.0;
	player->io[IO_STACK] = 21.0;
	player->io[IO_AMBIENT] = 28.0;
	told = (struct circumstances){
	    .material = "stuff", .tool = "T-1", .thickness_m = NAN, .stack_c = NAN};
	for (int i = 0; i < ROOM; i++)
		corrections[i] = 0.0;
}

static int
set_up(void **state)
{
	*state = malloc(sizeof(struct player));
	begin(*state, whole_ini());
	return 0;
}

static struct shot *
again(const struct player *player, const struct shot *shot)
{
	struct shot *copy = shot_new(ROOM);
	struct circumstances now = told;
	struct error error;

	copy->line = shot->line;
	copy->side = shot->side;
	now.recipe = shot->recipe;
	if (trace_recompute(
		&(struct trace_kept){shot->trace, shot->trace_bytes, player->settings},
		player->settings, &now, copy, &error) != 0)
		fail_msg("shot %lld: %s", (long long)shot->shot_no, error.text);
	return copy;
}

static void
the_inside_comes_out_of_the_trace_in_every_bit(void **state)
{
	static const int of_interest[] = {FEATURE_CORE_FORM_START_C,
	    FEATURE_CORE_FORM_START_BAND_DC, FEATURE_SOAK_INDEX,
	    FEATURE_HEAT_REMOVED_KWH, FEATURE_HEAT_BALANCE, FEATURE_REYNOLDS_FIRST,
	    FEATURE_TOOL_MEAN_FIRST + 1, FEATURE_METER_RATIO, FEATURE_AMBIENT_C};
	enum { INTERESTS = sizeof(of_interest) / sizeof(of_interest[0]) };
	struct player *player = *state;
	unsigned seed = seed_take(7);
	int there[INTERESTS] = {0};

	corrections[PLC_CHANNELS + IO_TOP_1] = -1.25;
	told.correction = corrections;
	play_odd_line(player, seed);
	for (size_t i = 0; i < player->shot_count; i++) {
		const struct shot *shot = player->shots[i];
		struct shot *same = again(player, shot);

		assert_same_shot(shot, same);
		assert_string_equal(shot->properties, same->properties);
		for (int k = 0; k < INTERESTS; k++)
			there[k] += shot->absent[of_interest[k]] == ABSENT_NOT;
		shot_free(same);
	}
	for (int k = 0; k < INTERESTS; k++)
		if (there[k] < 5)
			fail_msg("%s was there %d times",
			    feature_get(of_interest[k])->name, there[k]);
}

/* What a pyrometer at the exit shows between the oven and the form is in the trace too. */
static void
what_was_seen_at_the_exit_alone_comes_out_as_well(void **state)
{
	static char ini[sizeof(player_ini) + sizeof(player_inside) + 32];
	struct player player;
	unsigned seed = seed_take(8);
	const char *whole = whole_ini();
	const char *line = strstr(whole, "[line r]\n") + strlen("[line r]\n");
	int there = 0;

	(void)state;
	snprintf(ini, sizeof(ini), "%.*spyrometers = exit\n%s", (int)(line - whole),
	    whole, line);
	begin(&player, ini);
	player.at_exit = true;
	play_odd_line(&player, seed);
	for (size_t i = 0; i < player.shot_count; i++) {
		struct shot *same = again(&player, player.shots[i]);

		assert_same_shot(player.shots[i], same);
		there += same->absent[FEATURE_CORE_FORM_START_C] == ABSENT_NOT;
		shot_free(same);
	}
	assert_true(there > 5);
	player_release(&player);
}

/* A calibration of the tool told later, of every shot alike: the drift from shot to shot is
 * what it was. */
static void
a_calibration_told_later_makes_no_drift(void **state)
{
	struct player *player = *state;
	int drifts = 0;

	play_odd_line(player, seed_take(9));
	corrections[PLC_CHANNELS + IO_TOOL_1] = 3.0;
	corrections[PLC_CHANNELS + IO_TOOL_2] = -0.75;
	told.correction = corrections;
	for (size_t i = 0; i < player->shot_count; i++) {
		const struct shot *shot = player->shots[i];
		struct shot *now = again(player, shot);

		assert_int_equal(now->absent[FEATURE_TOOL_DRIFT_DC],
		    shot->absent[FEATURE_TOOL_DRIFT_DC]);
		if (shot->absent[FEATURE_TOOL_DRIFT_DC] == ABSENT_NOT) {
			assert_near(now->value[FEATURE_TOOL_DRIFT_DC],
			    shot->value[FEATURE_TOOL_DRIFT_DC], 1e-9);
			assert_near(now->value[FEATURE_TOOL_MEAN_C],
			    shot->value[FEATURE_TOOL_MEAN_C] + 0.75, 1e-9);
			drifts++;
		}
		shot_free(now);
	}
	assert_true(drifts > 5);
}

/* As it is told between two sheets: the first one after it drifts by no more. */
static void
a_calibration_told_between_two_sheets_makes_no_drift(void **state)
{
	struct player *player = *state;
	size_t before;

	player_cycles(player, 6);
	before = player->shot_count;
	corrections[PLC_CHANNELS + IO_TOOL_1] = 3.0;
	told.correction = corrections;
	player_cycles(player, 4);
	assert_true(player->shot_count > before + 2);
	for (size_t i = before - 1; i < player->shot_count; i++)
		assert_near(player->shots[i]->value[FEATURE_TOOL_DRIFT_DC], 0.1, 1e-6);
}

struct raws {
	uint64_t sum;
	size_t count;
};

static int
add_raws(void *arg, const struct scan *scan)
{
	struct raws *raws = arg;

	for (uint32_t i = 0; i < scan->count; i++) {
		raws->sum = raws->sum * 31 + scan->readings[i].raw;
		raws->count++;
	}
	return 0;
}

static struct raws
raws_of(const struct player *player, const struct shot *shot)
{
	struct raws raws = {0};
	struct error error;

	assert_int_equal(trace_scans(shot->trace, shot->trace_bytes,
			     &(struct pack_reader){
				 player->settings, player->settings, add_raws, &raws},
			     &error),
	    0);
	return raws;
}

static void
what_is_told_late_changes_the_figures_and_no_register(void **state)
{
	struct player *player = *state;
	const struct shot *shot;
	struct shot *late;
	double core_c, water_k = 0.5;

	player_run(player, 20.0);
	player_cycles(player, 5);
	shot = shot_of(player, 3);
	core_c = shot->value[FEATURE_CORE_HEAT_END_C];
	assert_int_equal(shot->absent[FEATURE_CORE_HEAT_END_C], ABSENT_NOT);
	assert_int_equal(shot->absent[FEATURE_HEAT_REMOVED_KWH], ABSENT_NOT);
	/* A thickness told of the lot afterwards. */
	told.thickness_m = 6e-3;
	late = again(player, shot);
	assert_near(late->value[FEATURE_SHEET_THICKNESS_MM], 6e-3, 1e-12);
	assert_true(late->value[FEATURE_CORE_HEAT_END_C] < core_c - 2.0);
	shot_free(late);
	/* Found in a calibration: the pyrometers show 3 K too much, the supply half a
	 * kelvin too little. */
	told.thickness_m = NAN;
	corrections[PLC_CHANNELS + IO_TOP_1] = corrections[PLC_CHANNELS + IO_TOP_2] =
	    corrections[PLC_CHANNELS + IO_BOTTOM] = -3.0;
	corrections[PLC_CHANNELS + IO_SUPPLY] = water_k;
	corrections[PLC_CHANNELS + IO_TOOL_1] = 2.0;
	told.correction = corrections;
	late = again(player, shot);
	assert_near(late->value[FEATURE_EXIT_TOP_C],
	    shot->value[FEATURE_EXIT_TOP_C] - 3.0, 1e-9);
	assert_true(late->value[FEATURE_CORE_HEAT_END_C] < core_c - 2.0 &&
		    late->value[FEATURE_CORE_HEAT_END_C] > core_c - 3.01);
	assert_near(late->value[FEATURE_WATER_RISE_FIRST],
	    shot->value[FEATURE_WATER_RISE_FIRST] - water_k, 1e-9);
	/* 1 K less half a kelvin: half of the heat, but for the water's own figures. */
	assert_near(late->value[FEATURE_HEAT_REMOVED_FIRST] /
			shot->value[FEATURE_HEAT_REMOVED_FIRST],
	    0.5, 1e-3);
	assert_near(late->value[FEATURE_TOOL_SPREAD_MEAN_DC],
	    shot->value[FEATURE_TOOL_SPREAD_MEAN_DC] + 1.0, 1e-9);
	assert_near(late->value[FEATURE_TOOL_MEAN_FIRST],
	    shot->value[FEATURE_TOOL_MEAN_FIRST] + 2.0, 1e-9);
	assert_true(late->trace == NULL);
	shot_free(late);
}

static void
a_trace_holds_the_registers_whatever_is_known_of_the_sensors(void **state)
{
	struct player *player = *state;
	void *other;

	player_run(player, 20.0);
	player_cycles(player, 4);
	set_up(&other); /* the same line again */
	corrections[PLC_CHANNELS + IO_TOP_1] = -40.0;
	told.correction = corrections;
	player_run(other, 20.0);
	player_cycles(other, 4);
	for (size_t i = 0; i < player->shot_count; i++) {
		const struct shot *shot = player->shots[i];
		const struct shot *moved = ((struct player *)other)->shots[i];
		struct raws a = raws_of(player, shot), b = raws_of(player, moved);

		assert_int_equal(a.count, b.count);
		assert_true(a.sum == b.sum);
		assert_int_equal(shot->trace_bytes, moved->trace_bytes);
		if (shot->absent[FEATURE_EXIT_TOP_FIRST] == ABSENT_NOT)
			assert_near(moved->value[FEATURE_EXIT_TOP_FIRST],
			    shot->value[FEATURE_EXIT_TOP_FIRST] - 40.0, 1e-9);
	}
	player_release(other);
	free(other);
}

/* So long a stop between two sheets that the readings of the time before are let go. */
static void
a_stop_gives_the_next_sheet_no_cycle(void **state)
{
	struct player *player = *state;
	const struct shot *shot;

	player_run(player, 20.0);
	player_cycles(player, 4);
	assert_int_equal(
	    shot_of(player, 2)->absent[FEATURE_HEAT_REMOVED_FIRST], ABSENT_NOT);
	player_run(player, 1000.0); /* with sheet 4 in the oven and 3 at the form */
	player_cycles(player, 4);
	assert_int_equal(
	    shot_of(player, 3)->absent[FEATURE_HEAT_REMOVED_FIRST], ABSENT_NOT);
	shot = shot_of(player, 4);
	assert_int_equal(
	    shot->absent[FEATURE_HEAT_REMOVED_FIRST], ABSENT_NOT_APPLICABLE);
	assert_int_equal(shot->absent[FEATURE_WATER_RISE_FIRST], ABSENT_NOT);
	assert_int_equal(
	    shot_of(player, 5)->absent[FEATURE_HEAT_REMOVED_FIRST], ABSENT_NOT);
}

#define INSIDE(f) cmocka_unit_test_setup_teardown(f, set_up, player_teardown)

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    INSIDE(the_inside_comes_out_of_the_trace_in_every_bit),
	    cmocka_unit_test(what_was_seen_at_the_exit_alone_comes_out_as_well),
	    INSIDE(a_calibration_told_later_makes_no_drift),
	    INSIDE(a_calibration_told_between_two_sheets_makes_no_drift),
	    INSIDE(what_is_told_late_changes_the_figures_and_no_register),
	    INSIDE(a_trace_holds_the_registers_whatever_is_known_of_the_sensors),
	    INSIDE(a_stop_gives_the_next_sheet_no_cycle),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
