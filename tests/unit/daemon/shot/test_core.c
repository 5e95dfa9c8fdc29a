/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Ways of seeing a sheet, and several stays in an oven, against H. S. Carslaw and J. C.
 * Jaeger, Conduction of Heat in Solids, 2nd ed., Oxford 1959, 3.8 (a flux into both faces)
 * and 3.11 (air). */
#include "tests/unit/daemon/shot/heated.h"

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

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(
		an_oven_that_sees_one_side_takes_it_for_both_and_is_less_sure),
	    cmocka_unit_test(seen_only_as_it_leaves_a_constant_flux_brought_it_there),
	    cmocka_unit_test(of_a_shuttle_the_exit_ends_as_the_platens_close),
	    cmocka_unit_test(what_no_heating_leads_to_is_out_of_range),
	    cmocka_unit_test(warm_air_heats_as_its_biot_number_says),
	    cmocka_unit_test(two_ovens_are_one_heat_with_a_way_between),
	    cmocka_unit_test(a_sheet_heated_eight_times_is_soaked_in_the_end),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
