/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What is computed of the inside of a sheet, against solutions on paper: H. S. Carslaw and
 * J. C. Jaeger, Conduction of Heat in Solids, 2nd ed., Oxford 1959, 3.4 (a ramp on both
 * faces), 3.8 (a flux into both), 3.11 (air). */
#include "tests/unit/daemon/shot/plant.h"

#define RAMP_K_S 0.5
#define START_C 20.0
#define HEAT_START_S 110.0

/* Of the plant's channels. */
enum { TOP_1, TOP_2, BOTTOM_1, BOTTOM_2, STACK, AMBIENT };

static const int figures[] = {FEATURE_SHEET_THICKNESS_MM, FEATURE_CORE_HEAT_END_C,
    FEATURE_CORE_HEAT_END_BAND_DC, FEATURE_SHEET_MEAN_HEAT_END_C,
    FEATURE_SHEET_MEAN_HEAT_END_BAND_DC, FEATURE_SURFACE_CORE_DC,
    FEATURE_SURFACE_CORE_BAND_DC, FEATURE_SOAK_INDEX, FEATURE_FOURIER,
    FEATURE_CORE_FORM_START_C, FEATURE_CORE_FORM_START_BAND_DC,
    FEATURE_SHEET_MEAN_FORM_START_C, FEATURE_SHEET_MEAN_FORM_START_BAND_DC};
enum { FIGURES = sizeof(figures) / sizeof(figures[0]) };

static void
assert_all_absent(const struct plant *plant, enum absent why)
{
	for (int i = 0; i < FIGURES; i++) {
		assert_absent(plant, figures[i], why);
		assert_true(isnan(plant->shot->value[figures[i]]));
	}
	assert_absent(plant, FEATURE_ABOVE_LIMIT_S, why);
	assert_string_equal(plant->shot->properties, "");
}

static double
ramp(const struct plant *plant, int channel, double s)
{
	if (channel == STACK)
		return START_C;
	if (channel == AMBIENT)
		return 30.0;
	return START_C + RAMP_K_S * (s - HEAT_START_S) + plant->shift[channel];
}

/* Two pyrometers a side, a stack and a hall sensor, heated from 110 to 510 s. */
static void
ramp_init(struct plant *plant, plant_show *show)
{
	plant_init(plant, show);
	plant_add(plant, ROLE_SURFACE_TOP, 1, 0);
	plant_add(plant, ROLE_SURFACE_TOP, 2, 0);
	plant_add(plant, ROLE_SURFACE_BOTTOM, 1, 0);
	plant_add(plant, ROLE_SURFACE_BOTTOM, 2, 0);
	plant_add(plant, ROLE_STACK, 0, 0);
	plant_add(plant, ROLE_AMBIENT, 0, 0);
	plant->sheet.stay_count = 0;
	way_stay(&plant->sheet, 0, HEAT_START_S, 510.0);
	plant->sheet.arrived = way_edge(518.0);
	plant->sheet.form_start = way_edge(522.0);
	plant->sheet.form_end = way_edge(600.0);
}

static void
ramp_run(struct plant *plant)
{
	plant_ready(plant);
	plant_play(plant, 60.0, 650.0);
	plant_compute(plant);
}

static void
the_core_lags_behind_a_ramp_by_the_square_of_half_the_thickness(void **state)
{
	struct plant plant;
	double fourier = 400.0 / PLANT_RELAX_S;
	/* Of the series the first term is left after Fourier 1. */
	double lag_dc = RAMP_K_S * PLANT_RELAX_S *
	                (0.5 - 16.0 / pow(M_PI, 3) * exp(-M_PI * M_PI / 4.0 * fourier));

	(void)state;
	ramp_init(&plant, ramp);
	ramp_run(&plant);
	assert_near(plant_value(&plant, FEATURE_CORE_HEAT_END_C), 220.0 - lag_dc, 0.02);
	assert_near(plant_value(&plant, FEATURE_SURFACE_CORE_DC), lag_dc, 0.02);
	assert_near(
	    plant_value(&plant, FEATURE_SOAK_INDEX), 1.0 - lag_dc / 200.0, 2e-4);
	assert_near(plant_value(&plant, FEATURE_FOURIER), fourier, 1e-3);
	/* A parabola: its mean lies two thirds of the way down. */
	assert_near(plant_value(&plant, FEATURE_SHEET_MEAN_HEAT_END_C),
	    220.0 - lag_dc * 2.0 / 3.0, 0.1);
	assert_near(plant_value(&plant, FEATURE_SHEET_THICKNESS_MM), 6.35e-3, 1e-12);
	assert_near(plant_value(&plant, FEATURE_AMBIENT_C), 30.0, 1e-9);
	assert_string_equal(plant.shot->properties, "stuff 2 4c1a09e2");
	assert_absent(&plant, FEATURE_ABOVE_LIMIT_S, ABSENT_NOT_CONFIGURED);
	plant_release(&plant);
}

/* In the open the core goes on warming up while the surfaces cool: by how much is the
 * solver's own test; that it is in it, and heeds the hall, is this one's. */
static void
on_the_way_to_the_form_the_surfaces_cool(void **state)
{
	struct plant plant;
	double core_c, mean_c;

	(void)state;
	ramp_init(&plant, ramp);
	ramp_run(&plant);
	core_c = plant_value(&plant, FEATURE_CORE_FORM_START_C);
	mean_c = plant_value(&plant, FEATURE_SHEET_MEAN_FORM_START_C);
	assert_true(core_c > plant_value(&plant, FEATURE_CORE_HEAT_END_C) + 0.5);
	assert_true(mean_c < plant_value(&plant, FEATURE_SHEET_MEAN_HEAT_END_C) - 2.0);
	plant_release(&plant);
	/* Neither air nor radiation: its mean stays as it is. */
	ramp_init(&plant, ramp);
	plant.line.transfer_w_m2k = 0.0;
	plant.material.emissivity = 0.0;
	ramp_run(&plant);
	assert_near(plant_value(&plant, FEATURE_SHEET_MEAN_FORM_START_C),
	    plant_value(&plant, FEATURE_SHEET_MEAN_HEAT_END_C), 0.02);
	plant_release(&plant);
}

static void
the_band_comes_from_the_tolerances(void **state)
{
	struct plant plant;
	double band_dc;

	(void)state;
	ramp_init(&plant, ramp);
	ramp_run(&plant);
	band_dc = plant_value(&plant, FEATURE_CORE_HEAT_END_BAND_DC);
	/* The thickness 2 %, the diffusivity 15 %: lag / (1 - 0.15), lag x 1.02^2. */
	assert_true(band_dc > 0.15 * 30.0 && band_dc < 15.0);
	plant_release(&plant);
	ramp_init(&plant, ramp);
	plant.recipe.thickness_tolerance = plant.material.diffusivity_tolerance = 0.0;
	plant.line.pyrometer_gain_tolerance = plant.line.pyrometer_lag_tolerance_s =
	    0.0;
	plant.line.start_tolerance_dc = 0.0;
	ramp_run(&plant);
	/* What both surfaces are off by all along, the core is off by, as it is soaked. */
	assert_near(plant_value(&plant, FEATURE_CORE_HEAT_END_BAND_DC), 2.0, 0.01);
	plant_release(&plant);
}

/* --- the mean of a side ---------------------------------------------------------------- */

static double hole_from_s, hole_to_s;
static int hole_of;

static double
ramp_with_hole(const struct plant *plant, int channel, double s)
{
	if (channel == hole_of && s >= hole_from_s && s < hole_to_s)
		return NAN;
	return ramp(plant, channel, s);
}

static double
core_with_hole(int channel, double from_s, double to_s)
{
	struct plant plant;
	double core_c;

	ramp_init(&plant, ramp_with_hole);
	plant.shift[TOP_1] = -12.0;
	plant.shift[TOP_2] = 8.0;
	hole_of = channel;
	hole_from_s = from_s;
	hole_to_s = to_s;
	ramp_run(&plant);
	core_c = plant_value(&plant, FEATURE_CORE_HEAT_END_C);
	plant_release(&plant);
	return core_c;
}

/* Pyrometers that differ by 20 K: where one is missing for a while the mean must not step
 * to the other. */
static void
a_pyrometer_that_is_missing_for_a_while_moves_nothing(void **state)
{
	double whole_c = core_with_hole(-1, 0.0, 0.0);

	(void)state;
	/* The midplane knows the mean of both faces alone: the top ones show -12 and +8. */
	assert_near(whole_c, 189.9 - 1.0, 0.1);
	for (int channel = TOP_1; channel <= TOP_2; channel++) {
		assert_near(core_with_hole(channel, 100.0, 160.0), whole_c, 0.02);
		assert_near(core_with_hole(channel, 300.0, 360.0), whole_c, 1e-3);
		assert_near(core_with_hole(channel, 440.0, 495.0), whole_c, 1e-3);
	}
}

static void
one_that_fails_at_the_end_is_left_out_of_all_of_the_heat(void **state)
{
	struct plant plant;

	(void)state;
	ramp_init(&plant, ramp_with_hole);
	plant.shift[TOP_2] = 40.0;
	hole_of = TOP_2;
	hole_from_s = 503.0; /* 7 s: a tenth of what coverage forgives */
	hole_to_s = 600.0;
	ramp_run(&plant);
	assert_near(plant_value(&plant, FEATURE_CORE_HEAT_END_C), 189.9, 0.1);
	plant_release(&plant);
}

static void
a_side_without_a_good_pyrometer_says_why(void **state)
{
	struct plant plant;

	(void)state;
	ramp_init(&plant, ramp_with_hole);
	plant.settings.channel_count = 0;
	plant.device.channel_count = 0;
	plant_add(&plant, ROLE_SURFACE_TOP, 1, 0);
	plant_add(&plant, ROLE_SURFACE_TOP, 2, 0);
	plant_add(&plant, ROLE_SURFACE_BOTTOM, 1, 0);
	plant.line.start_c = START_C;
	hole_of = BOTTOM_1;
	hole_from_s = 200.0;
	hole_to_s = 400.0;
	ramp_run(&plant);
	assert_all_absent(&plant, ABSENT_SENSOR_FAULT);
	plant_release(&plant);
	/* Enough of it, but not at the end. */
	ramp_init(&plant, ramp_with_hole);
	plant.settings.channel_count = 0;
	plant.device.channel_count = 0;
	plant_add(&plant, ROLE_SURFACE_TOP, 1, 0);
	plant_add(&plant, ROLE_SURFACE_TOP, 2, 0);
	plant_add(&plant, ROLE_SURFACE_BOTTOM, 1, 0);
	plant.line.start_c = START_C;
	hole_from_s = 501.0;
	hole_to_s = 507.0;
	ramp_run(&plant);
	assert_all_absent(&plant, ABSENT_LOW_COVERAGE);
	plant_release(&plant);
}

/* --- other ways of seeing it ----------------------------------------------------------- */

static void
an_oven_that_sees_one_side_takes_it_for_both_and_is_less_sure(void **state)
{
	struct plant both, one;

	(void)state;
	ramp_init(&both, ramp);
	ramp_run(&both);
	ramp_init(&one, ramp);
	one.settings.channel_count = one.device.channel_count = 2; /* the top alone */
	one.line.start_c = START_C;
	ramp_run(&one);
	assert_near(plant_value(&one, FEATURE_CORE_HEAT_END_C),
	    plant_value(&both, FEATURE_CORE_HEAT_END_C), 1e-6);
	/* The midplane feels half of what the other side may differ by, 15 K. */
	assert_near(plant_value(&one, FEATURE_CORE_HEAT_END_BAND_DC),
	    hypot(plant_value(&both, FEATURE_CORE_HEAT_END_BAND_DC), 7.5), 0.1);
	plant_release(&both);
	plant_release(&one);
}

/* The sheet passes the pyrometers from 510 to 518 s; before it they see the hot wall. */
static double
seen_going(const struct plant *plant, int channel, double s)
{
	double peak = channel == TOP_1 ? 190.0 : channel == TOP_2 ? 194.0 : 180.0;

	(void)plant;
	if (channel == STACK)
		return START_C;
	if (channel == AMBIENT)
		return 30.0;
	if (s < 509.0)
		return 330.0;
	return s < 519.0 ? peak - 3.0 * fabs(s - 513.0) : 25.0;
}

static void
seen_only_as_it_leaves_a_constant_flux_brought_it_there(void **state)
{
	struct plant plant;
	double fourier = 400.0 / PLANT_RELAX_S, surface_c = (192.0 + 180.0) / 2.0;
	double core_c = START_C + (surface_c - START_C) * (fourier - 1.0 / 6.0) /
	                              (fourier + 1.0 / 3.0);

	(void)state;
	ramp_init(&plant, seen_going);
	plant.line.view = VIEW_EXIT;
	ramp_run(&plant);
	assert_near(plant_value(&plant, FEATURE_CORE_HEAT_END_C), core_c, 0.1);
	assert_near(plant_value(&plant, FEATURE_EXIT_TOP_C), 192.0, 1e-9);
	assert_near(plant_value(&plant, FEATURE_EXIT_TOP_FIRST + 1), 194.0, 1e-9);
	assert_near(plant_value(&plant, FEATURE_EXIT_BOTTOM_C), 180.0, 1e-9);
	assert_near(plant_value(&plant, FEATURE_EXIT_DIFFERENCE_DC), 12.0, 1e-9);
	assert_absent(&plant, FEATURE_RATE_TOP, ABSENT_NOT_CONFIGURED);
	plant_release(&plant);
}

/* A shuttle's sheet is at the form as it leaves the oven: it passes until the platens close. */
static void
of_a_shuttle_the_exit_ends_as_the_platens_close(void **state)
{
	struct plant plant;

	(void)state;
	ramp_init(&plant, seen_going);
	plant.line.view = VIEW_EXIT;
	plant.sheet.arrived = plant.sheet.stays[0].out;
	ramp_run(&plant);
	assert_near(plant_value(&plant, FEATURE_EXIT_TOP_C), 192.0, 1e-9);
	plant_release(&plant);
	ramp_init(&plant, seen_going);
	plant.line.view = VIEW_EXIT;
	plant.sheet.arrived.known = plant.sheet.form_start.known = false;
	ramp_run(&plant);
	assert_all_absent(&plant, ABSENT_NOT_APPLICABLE);
	assert_absent(&plant, FEATURE_EXIT_TOP_C, ABSENT_NOT_APPLICABLE);
	plant_release(&plant);
}

/* Surfaces at the exit colder than the sheet came in: no heating does that. */
static double
seen_cold(const struct plant *plant, int channel, double s)
{
	return channel < STACK ? 5.0 : seen_going(plant, channel, s);
}

static void
what_no_heating_leads_to_is_out_of_range(void **state)
{
	struct plant plant;

	(void)state;
	ramp_init(&plant, seen_cold);
	plant.line.view = VIEW_EXIT;
	ramp_run(&plant);
	assert_all_absent(&plant, ABSENT_OUT_OF_RANGE);
	plant_release(&plant);
}

static double
air(const struct plant *plant, int channel, double s)
{
	(void)plant;
	(void)channel;
	(void)s;
	return 175.0;
}

static void
warm_air_heats_as_its_biot_number_says(void **state)
{
	struct plant plant;

	(void)state;
	plant_init(&plant, air);
	plant_add(&plant, ROLE_OVEN_AIR, 0, 0);
	plant.line.start_c = START_C;
	plant.line.oven_air_w_m2k = PLANT_CONDUCTIVITY / (PLANT_THICKNESS_M / 2.0);
	plant.sheet.stays[0].out = way_edge(110.0 + PLANT_RELAX_S);
	plant_run(&plant);
	/* Biot 1, Fourier 1: 0.533859 of the difference is left in the middle and 0.348177
	 * at the surface, by the series. */
	assert_near(plant_value(&plant, FEATURE_CORE_HEAT_END_C),
	    175.0 - 155.0 * 0.533859, 0.05);
	assert_near(plant_value(&plant, FEATURE_SURFACE_CORE_DC),
	    155.0 * (0.533859 - 0.348177), 0.05);
	plant_release(&plant);
	plant_init(&plant, air);
	plant_add(&plant, ROLE_OVEN_AIR, 0, 0);
	plant.line.start_c = START_C; /* but nobody told how the air heats */
	plant_run(&plant);
	assert_all_absent(&plant, ABSENT_NOT_CONFIGURED);
	plant_release(&plant);
}

/* --- several stays --------------------------------------------------------------------- */

/* Ovens A (channels 0, 1) and B (2, 3): the surfaces go up in both, and in the gap they are
 * not seen. */
static double
in_two_ovens(const struct plant *plant, int channel, double s)
{
	(void)plant;
	if (channel < 2)
		return s < 202.0 ? START_C + 1.0 * (s - 110.0) : 320.0;
	return s < 206.0 ? 330.0 : 100.0 + 0.6 * (s - 208.0);
}

static void
two_init(struct plant *plant)
{
	plant_init(plant, in_two_ovens);
	plant->line.oven_count = 2;
	plant->line.station_count = 4;
	plant->line.start_c = START_C;
	plant_add(plant, ROLE_SURFACE_TOP, 1, 0);
	plant_add(plant, ROLE_SURFACE_BOTTOM, 1, 0);
	plant_add(plant, ROLE_SURFACE_TOP, 1, 1);
	plant_add(plant, ROLE_SURFACE_BOTTOM, 1, 1);
	plant->sheet.stay_count = 0;
	way_stay(&plant->sheet, 0, 110.0, 200.0);
	way_stay(&plant->sheet, 1, 208.0, 300.0);
	plant->sheet.arrived = way_edge(308.0);
	plant->sheet.form_start = way_edge(312.0);
	plant->sheet.form_end = way_edge(412.0);
}

static void
two_ovens_are_one_heat_with_a_way_between(void **state)
{
	struct plant plant, hot;
	double core_c;

	(void)state;
	two_init(&plant);
	plant_run(&plant);
	core_c = plant_value(&plant, FEATURE_CORE_HEAT_END_C);
	/* Between the core of one ramp and the surface. */
	assert_true(core_c > 110.0 && core_c < 155.2 - 20.0);
	assert_near(core_c + plant_value(&plant, FEATURE_SURFACE_CORE_DC), 155.2, 0.05);
	/* The way between is in it: without a loss on it the core is warmer. */
	two_init(&hot);
	hot.line.transfer_w_m2k = 0.0;
	hot.material.emissivity = 0.0;
	plant_run(&hot);
	assert_true(plant_value(&hot, FEATURE_CORE_HEAT_END_C) > core_c + 0.02);
	plant_release(&plant);
	plant_release(&hot);
}

static double
level(const struct plant *plant, int channel, double s)
{
	(void)plant;
	(void)channel;
	(void)s;
	return 150.0;
}

static void
a_sheet_heated_eight_times_is_soaked_in_the_end(void **state)
{
	struct plant plant;

	(void)state;
	plant_init(&plant, level);
	plant_add(&plant, ROLE_SURFACE_TOP, 1, 0);
	plant_add(&plant, ROLE_SURFACE_BOTTOM, 1, 0);
	plant.line.start_c = START_C;
	plant.line.transfer_w_m2k = 0.0;
	plant.material.emissivity = 0.0;
	plant.sheet.stay_count = 0;
	for (int i = 0; i < SHEET_STAYS_MAX; i++)
		way_stay(&plant.sheet, 0, 100.0 + 120.0 * i, 200.0 + 120.0 * i);
	plant.sheet.form_start = way_edge(1060.0);
	plant_ready(&plant);
	plant_play(&plant, 50.0, 1100.0);
	plant_compute(&plant);
	assert_near(plant_value(&plant, FEATURE_CORE_HEAT_END_C), 150.0, 0.01);
	assert_near(plant_value(&plant, FEATURE_CORE_FORM_START_C), 150.0, 0.01);
	/* Once more than there is room for: one of its heats is lost. */
	plant.sheet.unseen = true;
	plant_compute(&plant);
	assert_all_absent(&plant, ABSENT_NOT_APPLICABLE);
	plant_release(&plant);
}

/* --- what it rests on ------------------------------------------------------------------ */

static void
a_thickness_told_of_the_lot_goes_before_the_recipes(void **state)
{
	struct plant plant;
	double thin_dc;

	(void)state;
	ramp_init(&plant, ramp);
	ramp_run(&plant);
	thin_dc = plant_value(&plant, FEATURE_SURFACE_CORE_DC);
	plant.told.thickness_m = PLANT_THICKNESS_M * 1.1;
	plant_compute(&plant);
	assert_near(plant_value(&plant, FEATURE_SHEET_THICKNESS_MM), 6.985e-3, 1e-9);
	assert_near(plant_value(&plant, FEATURE_SURFACE_CORE_DC), thin_dc * 1.21, 0.2);
	plant.recipe.thickness_m = NAN;
	plant_compute(&plant);
	assert_near(plant_value(&plant, FEATURE_SHEET_THICKNESS_MM), 6.985e-3, 1e-9);
	plant.told.thickness_m = NAN;
	plant_compute(&plant);
	assert_all_absent(&plant, ABSENT_NOT_CONFIGURED);
	plant_release(&plant);
}

static double
stack_lost(const struct plant *plant, int channel, double s)
{
	return channel == STACK ? NAN : ramp(plant, channel, s);
}

static void
the_sheet_starts_as_the_nearest_witness_says(void **state)
{
	struct plant plant;
	double core_c;

	(void)state;
	ramp_init(&plant, stack_lost);
	ramp_run(&plant);
	assert_all_absent(&plant, ABSENT_SENSOR_FAULT);
	plant.line.start_c = 30.0;
	plant_compute(&plant);
	core_c = 220.0 - plant_value(&plant, FEATURE_SURFACE_CORE_DC);
	assert_near(plant_value(&plant, FEATURE_SOAK_INDEX),
	    1.0 - (220.0 - core_c) / 190.0, 1e-3);
	plant.told.stack_c = 10.0;
	plant_compute(&plant);
	assert_near(plant_value(&plant, FEATURE_SOAK_INDEX),
	    1.0 - plant_value(&plant, FEATURE_SURFACE_CORE_DC) / 210.0, 1e-3);
	plant_release(&plant);
	/* The sensor goes before both. */
	ramp_init(&plant, ramp);
	plant.line.start_c = 30.0;
	plant.told.stack_c = 10.0;
	ramp_run(&plant);
	assert_near(plant_value(&plant, FEATURE_SOAK_INDEX),
	    1.0 - plant_value(&plant, FEATURE_SURFACE_CORE_DC) / 200.0, 1e-3);
	plant_release(&plant);
}

static void
a_way_that_was_not_seen_has_no_inside(void **state)
{
	struct plant plant;

	(void)state;
	ramp_init(&plant, ramp);
	ramp_run(&plant);
	plant.sheet.empty = true;
	plant_compute(&plant);
	assert_all_absent(&plant, ABSENT_NOT_APPLICABLE);
	plant.sheet.empty = false;
	plant.sheet.stays[0].in.known = false;
	plant_compute(&plant);
	assert_all_absent(&plant, ABSENT_NOT_APPLICABLE);
	plant.sheet.stays[0].in.known = true;
	plant.sheet.form_start.known = false; /* scrapped: its heat is all there is */
	plant_compute(&plant);
	assert_near(plant_value(&plant, FEATURE_CORE_HEAT_END_C), 189.9, 0.1);
	assert_absent(&plant, FEATURE_CORE_FORM_START_C, ABSENT_NOT_APPLICABLE);
	assert_absent(&plant, FEATURE_CORE_FORM_START_BAND_DC, ABSENT_NOT_APPLICABLE);
	plant.sheet.stay_count = 0;
	plant_compute(&plant);
	assert_all_absent(&plant, ABSENT_NOT_APPLICABLE);
	plant_release(&plant);
}

static void
the_time_above_the_limit_is_counted(void **state)
{
	struct plant plant;

	(void)state;
	ramp_init(&plant, ramp);
	plant.material.limit_c = 200.0;
	plant.line.transfer_w_m2k = 0.0;
	plant.material.emissivity = 0.0;
	ramp_run(&plant);
	/* The last 40 s of the ramp; on the way the surface falls below it within a few. */
	assert_true(plant_value(&plant, FEATURE_ABOVE_LIMIT_S) >= 39.9);
	assert_true(plant_value(&plant, FEATURE_ABOVE_LIMIT_S) <= 52.1);
	plant.material.limit_c = 230.0;
	plant_compute(&plant);
	assert_near(plant_value(&plant, FEATURE_ABOVE_LIMIT_S), 0.0, 0.0);
	plant_release(&plant);
}

/* Nothing else of a shot hangs on them. */
static void
without_figures_of_its_material_a_shot_is_as_it_was(void **state)
{
	struct plant with, without;

	(void)state;
	ramp_init(&with, ramp);
	ramp_run(&with);
	ramp_init(&without, ramp);
	without.material.density = NAN;
	without.material.heat_capacity.count = 0;
	without.material.conductivity.count = 0;
	ramp_run(&without);
	assert_all_absent(&without, ABSENT_NOT_CONFIGURED);
	assert_absent(&without, FEATURE_HEAT_BROUGHT_KWH, ABSENT_NOT_CONFIGURED);
	for (int f = 0; f < FEATURE_COUNT; f++) {
		bool of_inside =
		    f == FEATURE_ABOVE_LIMIT_S || f == FEATURE_HEAT_BROUGHT_KWH;

		for (int i = 0; i < FIGURES; i++)
			of_inside |= f == figures[i];
		if (of_inside)
			continue;
		assert_int_equal(with.shot->absent[f], without.shot->absent[f]);
		if (with.shot->absent[f] == ABSENT_NOT)
			assert_memory_equal(&with.shot->value[f],
			    &without.shot->value[f], sizeof(double));
	}
	assert_int_equal(with.shot->channel_count, without.shot->channel_count);
	plant_release(&with);
	ramp_init(&with, ramp);
	with.told.material[0] = '\0';
	ramp_run(&with);
	assert_all_absent(&with, ABSENT_NOT_CONFIGURED);
	plant_release(&with);
	plant_release(&without);
}

/* --- long heats ------------------------------------------------------------------------ */

static double
slow(const struct plant *plant, int channel, double s)
{
	(void)plant;
	(void)channel;
	return START_C + 0.02 * (s - 100.0);
}

/* 14 000 readings a pyrometer, of a sheet of 25 mm: thinned, and as exact. */
static void
a_heat_of_two_hours_is_thinned_and_as_exact(void **state)
{
	struct plant plant;
	double relax_s = PLANT_RELAX_S * (25.4 / 6.35) * (25.4 / 6.35);
	double lag_dc =
	    0.02 * relax_s *
	    (0.5 - 16.0 / pow(M_PI, 3) * exp(-M_PI * M_PI / 4.0 * 7000.0 / relax_s));

	(void)state;
	plant_init(&plant, slow);
	plant_add(&plant, ROLE_SURFACE_TOP, 1, 0);
	plant_add(&plant, ROLE_SURFACE_TOP, 2, 0);
	plant_add(&plant, ROLE_SURFACE_BOTTOM, 1, 0);
	plant.line.start_c = START_C;
	plant.recipe.thickness_m = 25.4e-3;
	plant.sheet.stay_count = 0;
	way_stay(&plant.sheet, 0, 100.0, 7100.0);
	plant.sheet.form_start = way_edge(7110.0);
	plant_ready(&plant);
	plant_play(&plant, 0.0, 7120.0);
	plant_compute(&plant);
	assert_near(plant_value(&plant, FEATURE_SURFACE_CORE_DC), lag_dc, 0.01);
	assert_near(plant_value(&plant, FEATURE_CORE_HEAT_END_C), 160.0 - lag_dc, 0.01);
	plant_release(&plant);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(
		the_core_lags_behind_a_ramp_by_the_square_of_half_the_thickness),
	    cmocka_unit_test(on_the_way_to_the_form_the_surfaces_cool),
	    cmocka_unit_test(the_band_comes_from_the_tolerances),
	    cmocka_unit_test(a_pyrometer_that_is_missing_for_a_while_moves_nothing),
	    cmocka_unit_test(one_that_fails_at_the_end_is_left_out_of_all_of_the_heat),
	    cmocka_unit_test(a_side_without_a_good_pyrometer_says_why),
	    cmocka_unit_test(
		an_oven_that_sees_one_side_takes_it_for_both_and_is_less_sure),
	    cmocka_unit_test(seen_only_as_it_leaves_a_constant_flux_brought_it_there),
	    cmocka_unit_test(of_a_shuttle_the_exit_ends_as_the_platens_close),
	    cmocka_unit_test(what_no_heating_leads_to_is_out_of_range),
	    cmocka_unit_test(warm_air_heats_as_its_biot_number_says),
	    cmocka_unit_test(two_ovens_are_one_heat_with_a_way_between),
	    cmocka_unit_test(a_sheet_heated_eight_times_is_soaked_in_the_end),
	    cmocka_unit_test(a_thickness_told_of_the_lot_goes_before_the_recipes),
	    cmocka_unit_test(the_sheet_starts_as_the_nearest_witness_says),
	    cmocka_unit_test(a_way_that_was_not_seen_has_no_inside),
	    cmocka_unit_test(the_time_above_the_limit_is_counted),
	    cmocka_unit_test(without_figures_of_its_material_a_shot_is_as_it_was),
	    cmocka_unit_test(a_heat_of_two_hours_is_thinned_and_as_exact),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
