/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Heat into the water, heat out of the sheet, and how fast the tool recovers, as the daemon
 * computes them from readings, against the simulated plant's own heat.
 */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>

#include <cmocka.h>
#include <math.h>
#include <stdio.h>

#include "contrib/linesim/tool.h"
#include "tests/physics/player.h"
#include "tests/physics/sums.h"
#include "tests/unit/near.h"
#include "tests/unit/published.h"
#include "tests/unit/seed.h"

#define START_UNIX_S 1772427600 /* 2026-03-02T05:00:00Z */
#define SHIFT_S 28800.0
#define KJ_PER_KWH 3600.0
/* Of the simulated plant: contrib/linesim/README.md. */
#define DENSITY 1050.0
#define HEAT_CAPACITY 2050.0
#define SHEET_M2 (1.8 * 1.2)
#define ZONE_J_PER_K (31.0 * 900.0)
#define WATER_W_PER_K (8.0 * 68.5)
#define EXCHANGE_W_PER_K 900.0
#define ROOM_W_PER_K 4.0
#define SUPPLY_C 65.0
#define GIVEN_J 2.08e6

enum { FORM_STEPS = 1500, CYCLE_STEPS = 1803 };

static unsigned seed;

struct tally {
	double demould_c;
	struct sums removed, removed_each[PLANT_LINE_CIRCUITS], balance;
	struct sums brought, brought_seen; /* over the whole sheet's, over that of what
	                                      the pyrometers see */
	struct sums recovery, recovery_each[PLANT_LINE_CIRCUITS];
	struct sums resistance[PLANT_LINE_CIRCUITS];
	int absent;
};

static void
add_known(struct sums *sums, double value)
{
	if (!isnan(value))
		sums_add(sums, value);
}

static double
kj(const struct shot *shot, int feature)
{
	return feature_from_si(feature, shot->value[feature]) * KJ_PER_KWH;
}

static void
add_circuits(
    struct tally *tally, const struct shot *shot, const struct plant_line_sheet *sheet)
{
	double water_kj = 0;

	for (int i = 0; i < PLANT_LINE_CIRCUITS; i++) {
		water_kj += sheet->water_kj[i];
		sums_add(&tally->removed_each[i],
		    kj(shot, FEATURE_HEAT_REMOVED_FIRST + i) / sheet->water_kj[i]);
		add_known(
		    &tally->recovery_each[i], shot->value[FEATURE_RECOVERY_FIRST + i]);
		sums_add(&tally->resistance[i],
		    feature_from_si(FEATURE_RESISTANCE_FIRST + i,
			shot->value[FEATURE_RESISTANCE_FIRST + i]));
	}
	sums_add(&tally->removed, kj(shot, FEATURE_HEAT_REMOVED_KWH) / water_kj);
}

static void
take(void *arg, const struct shot *shot, const struct plant_line_sheet *sheet)
{
	struct tally *tally = arg;
	double kj_per_k;

	if (shot->outcome != SHOT_COMPLETE)
		return;
	assert_non_null(sheet);
	if (isnan(shot->value[FEATURE_HEAT_REMOVED_KWH]) ||
	    isnan(shot->value[FEATURE_HEAT_BROUGHT_KWH]) || isnan(sheet->water_kj[0])) {
		tally->absent++;
		return;
	}
	add_circuits(tally, shot, sheet);
	kj_per_k = DENSITY * SHEET_M2 * sheet->thickness_m * HEAT_CAPACITY / 1e3;
	sums_add(&tally->brought,
	    kj(shot, FEATURE_HEAT_BROUGHT_KWH) /
		(kj_per_k * (sheet->sheet_mean_form_start_c - tally->demould_c)));
	sums_add(&tally->brought_seen,
	    kj(shot, FEATURE_HEAT_BROUGHT_KWH) /
		(kj_per_k * (sheet->mean_form_start_c - tally->demould_c)));
	sums_add(&tally->balance, shot->value[FEATURE_HEAT_BALANCE]);
	add_known(&tally->recovery, shot->value[FEATURE_RECOVERY_S]);
}

static void
tell(const char *what, const struct sums *sums)
{
	printf("%s: mean %.4f, sd %.4f, %d shots\n", what, sums->mean, sums_sd(sums),
	    sums->count);
}

/* A shift with a script; what is told begins when the tool has settled. */
static struct tally
play(const char *script)
{
	struct settings *settings = player_settings();
	const struct recipe_settings *recipe = settings_recipe(settings, 12);
	struct tally tally = {.demould_c = recipe->demould_c};
	struct player *player;

	if (isnan(tally.demould_c))
		tally.demould_c =
		    settings_material(settings, recipe->material)->demould_c;
	player = player_new(&(struct player_setup){.settings = settings,
	    .line = {.seed = seed, .start_unix_s = START_UNIX_S, .script = script},
	    .take = take,
	    .arg = &tally});
	assert_non_null(player);
	player_run_s(player, SHIFT_S);
	player_free(player);
	settings_free(settings);
	assert_true(tally.removed.count > 100);
	assert_true(tally.absent <= 1); /* nothing was taken off the tool before */
	return tally;
}

static struct tally sound;

static int
play_sound(void **state)
{
	(void)state;
	seed = seed_take(1);
	sound = play(NULL);
	return 0;
}

static void
the_heat_in_the_water_is_the_heat_that_went_there(void **state)
{
	(void)state;
	tell("heat removed over truth", &sound.removed);
	published(SOURCE_PLANT,
	    "heat in the water over the plant's own, mean of a shift",
	    sound.removed.mean, 1, 0.02);
	assert_true(sums_sd(&sound.removed) < 0.03);
	for (int i = 0; i < PLANT_LINE_CIRCUITS; i++)
		assert_near(sound.removed_each[i].mean, 1, 0.04);
}

/* Of the whole sheet the pyrometers see the warmer middle, and some of the elements in it:
 * about a degree each of the 70 that it cools by. */
static void
the_heat_of_the_sheet_is_what_it_brought(void **state)
{
	(void)state;
	tell("heat brought over that of the whole sheet", &sound.brought);
	tell("heat brought over that of what is seen", &sound.brought_seen);
	tell("heat balance", &sound.balance);
	published(SOURCE_PLANT,
	    "heat of the sheet over the plant's own, mean of a shift",
	    sound.brought.mean, 1, 0.05);
	published(SOURCE_PLANT, "the same over that of what pyrometers see",
	    sound.brought_seen.mean, 1, 0.03);
	assert_true(sums_sd(&sound.brought) < 0.01);
}

/*
 * What the feature is, of the tool itself: how fast it goes towards its supply between 5 s
 * after the platens open and 1 s before they close, after many sheets.  Faster than its own
 * time constant, since the room draws it below the supply.
 */
static double
apparent_s(double exchange)
{
	struct tool tool;
	double even[TOOL_ZONES], first_dc = 0, last_dc = 0;

	tool_init(&tool, SUPPLY_C);
	for (int zone = 0; zone < TOOL_ZONES; zone++)
		even[zone] = tool.exchange[zone] = 1;
	tool.exchange[1] = exchange;
	for (int step = 0; step < 20 * CYCLE_STEPS; step++) {
		int place = step % CYCLE_STEPS;

		if (place == 0)
			tool_close(&tool, GIVEN_J, even);
		else if (place == FORM_STEPS)
			tool_open(&tool);
		tool_step(&tool, SUPPLY_C, 25);
		if (place == FORM_STEPS + 50)
			first_dc = tool.c[1] - SUPPLY_C;
		else if (place == CYCLE_STEPS - 10)
			last_dc = tool.c[1] - SUPPLY_C;
	}
	return (CYCLE_STEPS - 10 - FORM_STEPS - 50) * TOOL_STEP_S /
	       log(first_dc / last_dc);
}

static void
the_tool_recovers_as_fast_as_it_does(void **state)
{
	double exchange = 1 - exp(-EXCHANGE_W_PER_K / WATER_W_PER_K);
	struct sums each = {0};
	double own_s = ZONE_J_PER_K / (exchange * WATER_W_PER_K + ROOM_W_PER_K);

	(void)state;
	printf(
	    "recovery of sensor 2: the tool's own constant %.1f s, towards the supply "
	    "%.1f s\n",
	    own_s, apparent_s(1));
	tell("recovery of sensor 2", &sound.recovery_each[1]);
	tell("recovery, all sensors", &sound.recovery);
	/* Of a fall by a few tenths of a degree, with sensors off by one tenth; only those
	 * that stand out are told, which are rather the quick ones. */
	for (int i = 0; i < PLANT_LINE_CIRCUITS; i++)
		sums_add(&each, sound.recovery_each[i].mean / apparent_s(1));
	assert_near(each.mean, 0.85, 0.25);
}

static void
a_scaled_circuit_recovers_later_and_resists_more(void **state)
{
	struct tally scaled = play("at 0 scale circuit=2 factor=0.5\n");
	double later = scaled.recovery_each[1].mean / sound.recovery_each[1].mean;

	(void)state;
	printf("with half the UA in circuit 2: recovery times %.2f (the tool's own "
	       "%.2f), resistance times %.2f, next circuit's %.2f\n",
	    later, apparent_s(0.5) / apparent_s(1),
	    scaled.resistance[1].mean / sound.resistance[1].mean,
	    scaled.resistance[2].mean / sound.resistance[2].mean);
	assert_near(later, apparent_s(0.5) / apparent_s(1), 0.35);
	assert_true(scaled.resistance[1].mean > 1.2 * sound.resistance[1].mean);
	assert_near(scaled.resistance[2].mean / sound.resistance[2].mean, 1, 0.05);
	assert_near(scaled.removed_each[1].mean, 1, 0.04);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(the_heat_in_the_water_is_the_heat_that_went_there),
	    cmocka_unit_test(the_heat_of_the_sheet_is_what_it_brought),
	    cmocka_unit_test(the_tool_recovers_as_fast_as_it_does),
	    cmocka_unit_test(a_scaled_circuit_recovers_later_and_resists_more),
	};
	return cmocka_run_group_tests(tests, play_sound, NULL);
}
