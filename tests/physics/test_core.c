/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The core that the daemon computes from what the pyrometers show, against the core of
 * the simulated sheet, which another scheme reckons: explicit, 15 nodes, steps of 0.1 s,
 * heated by its oven and not by its surfaces.
 */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>

#include <cmocka.h>
#include <math.h>
#include <stdio.h>

#include "contrib/linesim/random.h"
#include "tests/physics/player.h"
#include "tests/physics/sums.h"
#include "tests/unit/published.h"
#include "tests/unit/seed.h"

#define START_UNIX_S 1772427600 /* 2026-03-02T05:00:00Z */
#define SHIFT_S 28800.0
/* What the simulated sheet is made of: contrib/linesim/README.md. */
#define THICKNESS_M 6.35e-3
#define DENSITY 1050.0
#define HEAT_CAPACITY 2050.0
#define CONDUCTIVITY 0.18
#define EMISSIVITY 0.94
#define PYROMETER_EMISSIVITY 0.95
#define THICKNESS_SD 0.003 /* from sheet to sheet of a lot */
#define START_SD_C 0.4
#define CHANCE 3.2905 /* 99.9 % of a normal distribution, in standard deviations */
#define HALF_OF_95 1.959964 /* of a normal distribution, in standard deviations */

enum { SHIFTS = 3, DRAWS = 400, STREAM_DRAWS = 80 };

static unsigned seed;

enum moment { HEAT_END, FORM_START, MOMENTS };

static const struct {
	const char *name;
	int core, band;
} moments[MOMENTS] = {
    {"heat end", FEATURE_CORE_HEAT_END_C, FEATURE_CORE_HEAT_END_BAND_DC},
    {"form start", FEATURE_CORE_FORM_START_C, FEATURE_CORE_FORM_START_BAND_DC},
};

/* Errors of the computed core, estimate minus truth. */
struct tally {
	struct sums error[MOMENTS], band[MOMENTS];
	int inside[MOMENTS], absent;
	bool last_only; /* of what is given out only the last counts */
	double error_dc[MOMENTS], band_dc[MOMENTS];
	int seen;
};

static void
count(struct tally *tally)
{
	for (int moment = 0; moment < MOMENTS; moment++) {
		sums_add(&tally->error[moment], tally->error_dc[moment]);
		sums_add(&tally->band[moment], tally->band_dc[moment]);
		tally->inside[moment] +=
		    fabs(tally->error_dc[moment]) <= tally->band_dc[moment];
	}
}

static void
take(void *arg, const struct shot *shot, const struct plant_line_sheet *sheet)
{
	struct tally *tally = arg;

	if (shot->outcome != SHOT_COMPLETE)
		return;
	assert_non_null(sheet);
	for (int moment = 0; moment < MOMENTS; moment++) {
		double core_c = shot->value[moments[moment].core];
		double true_c = moment == HEAT_END ? sheet->core_heat_end_c
		                                   : sheet->core_form_start_c;

		tally->band_dc[moment] = shot->value[moments[moment].band];
		tally->error_dc[moment] = core_c - true_c;
	}
	if (isnan(tally->error_dc[HEAT_END]) || isnan(tally->error_dc[FORM_START])) {
		tally->absent++;
		return;
	}
	tally->seen++;
	if (!tally->last_only)
		count(tally);
}

static void
tell(const char *what, const struct tally *tally)
{
	for (int moment = 0; moment < MOMENTS; moment++)
		printf("%s, core at %s: %d of %d inside the band (%.1f %%); error mean "
		       "%+.2f K, sd %.2f K; band %.2f K\n",
		    what, moments[moment].name, tally->inside[moment],
		    tally->error[moment].count,
		    100.0 * tally->inside[moment] / tally->error[moment].count,
		    tally->error[moment].mean, sums_sd(&tally->error[moment]),
		    tally->band[moment].mean);
}

static const char *const whole_shifts[MOMENTS] = {
    "share of shots whose core is inside its band at heat end, three shifts",
    "share of shots whose core is inside its band at form start"};
static const char *const mean_errors[MOMENTS] = {
    "mean error of the core at heat end, held against the mean band, K",
    "mean error of the core at form start, held against the mean band, K"};
static const char *const drawn_plants[MOMENTS] = {
    "share whose core is inside its band of 95 % at heat end",
    "share whose core is inside its band of 95 % at form start"};

static void
over_whole_shifts_the_core_is_inside_its_band(void **state)
{
	struct settings *settings = player_settings();
	struct tally tally = {0};

	(void)state;
	for (int shift = 0; shift < SHIFTS; shift++) {
		struct player *player =
		    player_new(&(struct player_setup){.settings = settings,
			.line = {.seed = seed + (unsigned)shift,
			    .start_unix_s = START_UNIX_S + (int64_t)(shift * SHIFT_S)},
			.take = take,
			.arg = &tally});

		player_run_s(player, SHIFT_S);
		player_free(player);
	}
	settings_free(settings);
	tell("three shifts as configured", &tally);
	assert_int_equal(tally.absent, 0);
	assert_true(tally.seen > SHIFTS * 100);
	for (int moment = 0; moment < MOMENTS; moment++) {
		/* as configured the tolerances are wider than the plant needs */
		published(SOURCE_PLANT, whole_shifts[moment],
		    (double)tally.inside[moment] / tally.error[moment].count, 1, 0.05);
		published(SOURCE_PLANT, mean_errors[moment], tally.error[moment].mean,
		    0, tally.band[moment].mean);
	}
}

/* The daemon knows the sheet as the simulation has it. */
static void
know_the_sheet(struct settings *settings)
{
	struct line_settings *line = &settings->lines[0];

	for (size_t i = 0; i < settings->material_count; i++) {
		struct material_settings *material = &settings->materials[i];

		material->structure = STRUCTURE_AMORPHOUS;
		material->density = DENSITY;
		material->heat_capacity =
		    (struct material_curve){1, {23}, {HEAT_CAPACITY}};
		material->conductivity =
		    (struct material_curve){1, {23}, {CONDUCTIVITY}};
		material->emissivity = EMISSIVITY;
	}
	for (size_t i = 0; i < settings->recipe_count; i++)
		settings->recipes[i].thickness_m = THICKNESS_M;
	line->startup_shots = 0;
}

/* Standard deviation of what is drawn here, when the plant draws some of it itself. */
static double
draw_sd(double tolerance, double drawn_already)
{
	double sd = tolerance / HALF_OF_95;

	assert_true(sd > drawn_already);
	return sqrt(sd * sd - drawn_already * drawn_already);
}

/* How far off one plant is: each from its tolerance alone. */
struct draw {
	double thickness, conductivity, offset_dc, gain, start_dc, lag_s;
};

static struct draw
draw_plant(struct random *random, const struct settings *settings)
{
	const struct line_settings *line = &settings->lines[0];
	const struct recipe_settings *recipe = settings_recipe(settings, 12);
	const struct material_settings *material =
	    settings_material(settings, recipe->material);

	return (struct draw){
	    .thickness = 1 + random_normal(random) *
	                         draw_sd(recipe->thickness_tolerance, THICKNESS_SD),
	    .conductivity =
		1 + random_normal(random) * draw_sd(material->diffusivity_tolerance, 0),
	    .offset_dc =
		random_normal(random) * draw_sd(line->pyrometer_tolerance_dc, 0),
	    .gain = random_normal(random) * draw_sd(line->pyrometer_gain_tolerance, 0),
	    .start_dc =
		random_normal(random) * draw_sd(line->start_tolerance_dc, START_SD_C),
	    .lag_s =
		random_normal(random) * draw_sd(line->pyrometer_lag_tolerance_s, 0)};
}

/* The pyrometers and the stack's sensor read as they would be off. */
static void
put_off(struct settings *settings, const struct draw *draw, double stack_c)
{
	for (size_t i = 0; i < settings->channel_count; i++) {
		struct channel_settings *channel = &settings->channels[i];

		if (channel->role == ROLE_SURFACE_TOP ||
		    channel->role == ROLE_SURFACE_BOTTOM) {
			channel->scale *= 1 + draw->gain;
			channel->offset = draw->offset_dc - draw->gain * stack_c;
		} else if (channel->role == ROLE_STACK)
			channel->offset = draw->start_dc;
	}
}

/*
 * Pyrometers set to the emissivity of the sheet, and nothing mirrored in it: what they
 * read wrongly here is their tolerance and nothing else.
 */
static void
play_draw(struct random *random, struct tally *tally, unsigned number)
{
	struct settings *settings = player_settings();
	struct draw draw = draw_plant(random, settings);
	/* What is configured is off: the plant's own lag stays above 0. */
	struct plant_line_optics optics = {.heater_share = 0, .lag_s = 2};
	char script[100];

	know_the_sheet(settings);
	put_off(settings, &draw, 22);
	settings->lines[0].pyrometer_lag_s = optics.lag_s + draw.lag_s;
	snprintf(script, sizeof script,
	    "at 0 lot name=drawn thickness=%.5f conductivity=%.5f emissivity=%.2f\n",
	    draw.thickness, draw.conductivity, PYROMETER_EMISSIVITY);
	player_play(&(struct player_setup){.settings = settings,
			.line = {.seed = seed + number,
			    .start_unix_s = START_UNIX_S,
			    .script = script,
			    .optics = &optics},
			.take = take,
			.arg = tally},
	    2);
	settings_free(settings);
}

/* 95 %, within what chance does once in a thousand times. */
static void
the_band_covers_what_it_claims(void **state)
{
	struct tally tally = {.last_only = true};
	struct random random;

	(void)state;
	random_init(&random, seed, STREAM_DRAWS);
	for (unsigned number = 0; number < DRAWS; number++) {
		tally.seen = 0;
		play_draw(&random, &tally, number);
		assert_true(tally.seen > 0);
		count(&tally);
	}
	tell("plants drawn from the tolerances", &tally);
	assert_int_equal(tally.absent, 0);
	for (int moment = 0; moment < MOMENTS; moment++) {
		published(SOURCE_PLANT_DRAWN, drawn_plants[moment],
		    (double)tally.inside[moment] / DRAWS, 0.95,
		    CHANCE * sqrt(0.95 * 0.05 / DRAWS));
	}
}

static int
take_seed(void **state)
{
	(void)state;
	seed = seed_take(1);
	return 0;
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(over_whole_shifts_the_core_is_inside_its_band),
	    cmocka_unit_test(the_band_covers_what_it_claims),
	};
	return cmocka_run_group_tests(tests, take_seed, NULL);
}
