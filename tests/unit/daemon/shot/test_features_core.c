/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What is computed of the inside of a sheet, against H. S. Carslaw and J. C. Jaeger,
 * Conduction of Heat in Solids, 2nd ed., Oxford 1959, 3.4: a ramp on both faces. */
#include "tests/unit/daemon/shot/heated.h"
#include "tests/unit/published.h"

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
	published(SOURCE_CARSLAW_PLATE,
	    "core of a shot at heat end, surfaces ramped, C",
	    plant_value(&plant, FEATURE_CORE_HEAT_END_C), 220.0 - lag_dc, 0.02);
	published(SOURCE_CARSLAW_PLATE, "surface less core of that shot, K",
	    plant_value(&plant, FEATURE_SURFACE_CORE_DC), lag_dc, 0.02);
	assert_near(
	    plant_value(&plant, FEATURE_SOAK_INDEX), 1.0 - lag_dc / 200.0, 2e-4);
	assert_near(plant_value(&plant, FEATURE_FOURIER), fourier, 1e-3);
	/* A parabola: its mean lies two thirds of the way down. */
	assert_near(plant_value(&plant, FEATURE_SHEET_MEAN_HEAT_END_C),
	    220.0 - lag_dc * 2.0 / 3.0, 0.1);
	assert_near(plant_value(&plant, FEATURE_SHEET_THICKNESS_MM), 6.35e-3, 1e-12);
	assert_near(plant_value(&plant, FEATURE_AMBIENT_C), 30.0, 1e-9);
	assert_string_equal(plant.shot->properties, "stuff 2 4c1a09e2");
	plant.material.version[0] = '\0';
	plant_compute(&plant);
	assert_string_equal(plant.shot->properties, "stuff 4c1a09e2");
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

/* One patch 25 K above the side's mean: from 420 s on it is over 200 C, the mean only from
 * 470 s on. */
static double
uneven(const struct plant *plant, int channel, double s)
{
	double more_dc = channel == TOP_1 ? 25.0 : channel == TOP_2 ? -25.0 : 0.0;

	return ramp(plant, channel, s) + more_dc;
}

static void
one_patch_above_the_limit_is_enough(void **state)
{
	struct plant plant;

	(void)state;
	ramp_init(&plant, uneven);
	plant.material.limit_c = 225.0; /* the mean never gets there */
	ramp_run(&plant);
	assert_near(plant_value(&plant, FEATURE_ABOVE_LIMIT_S), 40.0, 0.6);
	plant_release(&plant);
}

static double at_150_s = 150.0;

/* The stack sensor is read well once, and never again near the heat's start. */
static double
stack_once(const struct plant *plant, int channel, double s)
{
	if (channel == STACK)
		return fabs(s - at_150_s) < 0.1 ? 28.0 : NAN;
	return ramp(plant, channel, s);
}

static double
start_of(const struct plant *plant)
{
	double index = plant_value(plant, FEATURE_SOAK_INDEX);

	return 220.0 - plant_value(plant, FEATURE_SURFACE_CORE_DC) / (1.0 - index);
}

static void
a_stack_read_a_while_before_is_good_enough(void **state)
{
	static const struct {
		double s;
		bool good;
	} at[] = {
	    {60.0, false}, {75.0, true}, {105.0, true}, {165.0, true}, {172.0, false}};

	(void)state;
	for (size_t i = 0; i < sizeof(at) / sizeof(at[0]); i++) {
		struct plant plant;

		at_150_s = at[i].s;
		ramp_init(&plant, stack_once);
		plant.sheet.placed = way_at(70.0); /* what is before it is not kept */
		plant.sheet.left = way_at(640.0);
		ramp_run(&plant);
		assert_absent(&plant, FEATURE_STACK_C, ABSENT_SENSOR_FAULT);
		if (at[i].good)
			assert_near(start_of(&plant), 28.0, 1e-6);
		else
			assert_all_absent(&plant, ABSENT_SENSOR_FAULT);
		plant_release(&plant);
	}
	/* Loaded long before: the stack has changed since. */
	{
		struct plant plant;

		at_150_s = 75.0;
		ramp_init(&plant, stack_once);
		plant.sheet.stay_count = 0;
		way_stay(&plant.sheet, 0, 676.0, 900.0);
		plant.sheet.placed = way_at(70.0);
		plant.sheet.left = way_at(1000.0);
		plant_ready(&plant);
		plant_play(&plant, 60.0, 1000.0);
		plant_compute(&plant);
		assert_absent(&plant, FEATURE_CORE_HEAT_END_C, ABSENT_SENSOR_FAULT);
		plant_release(&plant);
	}
}

/* Of a heat so short that the start still shows in the core. */
static double
band_dc(double stack_c, double told_c, double start_c, double tolerance_dc)
{
	struct plant plant;
	double dc;

	ramp_init(&plant, stack_lost);
	if (isfinite(stack_c))
		plant.show = ramp;
	plant.told.stack_c = told_c;
	plant.line.start_c = start_c;
	plant.line.start_tolerance_dc = tolerance_dc;
	plant.sheet.stays[0].out = way_edge(150.0);
	plant.sheet.arrived = way_edge(158.0);
	plant.sheet.form_start = way_edge(162.0);
	ramp_run(&plant);
	dc = plant_value(&plant, FEATURE_CORE_HEAT_END_BAND_DC);
	plant_release(&plant);
	return dc;
}

static void
a_start_that_nobody_measured_is_less_sure(void **state)
{
	double exact_dc = band_dc(START_C, NAN, NAN, 0.0);
	double one_dc =
	    sqrt(pow(band_dc(START_C, NAN, NAN, 1.0), 2.0) - exact_dc * exact_dc);

	(void)state;
	assert_true(one_dc > 0.5);
	/* The lot's stack as measured as a sensor's. */
	assert_near(
	    band_dc(NAN, START_C, NAN, 4.0), hypot(exact_dc, 4.0 * one_dc), 0.01);
	/* 5 K at least, then two and a half times. */
	assert_near(
	    band_dc(NAN, NAN, START_C, 0.0), hypot(exact_dc, 5.0 * one_dc), 0.01);
	assert_near(
	    band_dc(NAN, NAN, START_C, 4.0), hypot(exact_dc, 10.0 * one_dc), 0.01);
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
	    cmocka_unit_test(a_thickness_told_of_the_lot_goes_before_the_recipes),
	    cmocka_unit_test(the_sheet_starts_as_the_nearest_witness_says),
	    cmocka_unit_test(a_way_that_was_not_seen_has_no_inside),
	    cmocka_unit_test(the_time_above_the_limit_is_counted),
	    cmocka_unit_test(one_patch_above_the_limit_is_enough),
	    cmocka_unit_test(a_stack_read_a_while_before_is_good_enough),
	    cmocka_unit_test(a_start_that_nobody_measured_is_less_sure),
	    cmocka_unit_test(without_figures_of_its_material_a_shot_is_as_it_was),
	    cmocka_unit_test(a_heat_of_two_hours_is_thinned_and_as_exact),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
