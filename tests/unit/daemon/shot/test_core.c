/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Ways of seeing a sheet, and several stays in an oven, against H. S. Carslaw and J. C.
 * Jaeger, Conduction of Heat in Solids, 2nd ed., Oxford 1959, 3.8 (a flux into both faces)
 * and 3.11 (air). */
#include "tests/unit/daemon/shot/heated.h"
#include "tests/unit/published.h"

#include "daemon/shot/core.h"

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

/* The sheet begins to leave at 510 s.  The pyrometers see the hot wall until after that, a
 * slot, a spot half of the wall and half of the sheet, and from 512 s on the sheet, with noise
 * of 1 K; then what there is behind it, and at the end a lamp. */
static double wall_until_s, wall_c;

static double
seen_going(const struct plant *plant, int channel, double s)
{
	double sheet_c = channel == TOP_1 ? 190.0 : channel == TOP_2 ? 194.0 : 180.0;

	(void)plant;
	if (channel == STACK)
		return START_C;
	if (channel == AMBIENT)
		return 30.0;
	if (s < wall_until_s)
		return wall_c + 0.5 * sin(s);
	if (s < 511.5)
		return 40.0;
	if (s < 512.0)
		return (wall_c + sheet_c) / 2.0 + 6.0;
	if (s < 516.0)
		return sheet_c + (fmod(s, 1.0) < 0.25 ? 1.0 : -1.0);
	return s < 517.5 ? 25.0 : s < 518.0 ? 240.0 : 25.0;
}

static void
going_init(struct plant *plant, double until_s, double c)
{
	wall_until_s = until_s;
	wall_c = c;
	ramp_init(plant, seen_going);
	plant->line.view = VIEW_EXIT;
}

static void
seen_only_as_it_leaves_a_constant_flux_brought_it_there(void **state)
{
	struct plant plant;
	double fourier = 400.0 / PLANT_RELAX_S, surface_c = (192.0 + 180.0) / 2.0;
	double core_c = START_C + (surface_c - START_C) * (fourier - 1.0 / 6.0) /
	                              (fourier + 1.0 / 3.0);

	(void)state;
	going_init(&plant, 511.0, 330.0);
	ramp_run(&plant);
	assert_near(plant_value(&plant, FEATURE_CORE_PYROMETERS_TOP), 2.0, 0.0);
	published(SOURCE_CARSLAW_PLATE, "core of a shot seen at the exit, by a flux, C",
	    plant_value(&plant, FEATURE_CORE_HEAT_END_C), core_c, 0.1);
	assert_near(plant_value(&plant, FEATURE_EXIT_TOP_C), 192.0, 1e-9);
	assert_near(plant_value(&plant, FEATURE_EXIT_TOP_FIRST + 1), 194.0, 1e-9);
	assert_near(plant_value(&plant, FEATURE_EXIT_BOTTOM_C), 180.0, 1e-9);
	assert_near(plant_value(&plant, FEATURE_EXIT_DIFFERENCE_DC), 12.0, 1e-9);
	assert_absent(&plant, FEATURE_RATE_TOP, ABSENT_NOT_CONFIGURED);
	plant_release(&plant);
}

static void
the_hot_wall_is_never_taken_for_the_sheet(void **state)
{
	struct plant plant;

	(void)state;
	for (double until_s = 505.0; until_s < 512.0; until_s += 0.5)
		for (double c = 205.0; c < 420.0; c += 25.0) {
			going_init(&plant, until_s, c);
			ramp_run(&plant);
			assert_near(
			    plant_value(&plant, FEATURE_EXIT_TOP_C), 192.0, 1e-9);
			assert_near(
			    plant_value(&plant, FEATURE_EXIT_BOTTOM_C), 180.0, 1e-9);
			plant_release(&plant);
		}
	/* Nothing but the wall, of a heat that a sheet could have. */
	going_init(&plant, 1000.0, 250.0);
	ramp_run(&plant);
	assert_absent(&plant, FEATURE_EXIT_TOP_C, ABSENT_LOW_COVERAGE);
	assert_all_absent(&plant, ABSENT_LOW_COVERAGE);
	plant_release(&plant);
}

static double
hotter(const struct plant *plant, int channel, double s)
{
	return seen_going(plant, channel, s) +
	       (channel < STACK && s >= 512.0 ? plant->shift[TOP_1] : 0.0);
}

static void
what_no_sheet_can_show_is_no_exit(void **state)
{
	struct plant plant;

	(void)state;
	going_init(&plant, 511.0, 430.0);
	plant.show = hotter;
	plant.shift[TOP_1] = 115.0; /* 295 and above */
	ramp_run(&plant);
	assert_absent(&plant, FEATURE_EXIT_TOP_C, ABSENT_OUT_OF_RANGE);
	assert_near(plant_value(&plant, FEATURE_EXIT_BOTTOM_C), 295.0, 1e-9);
	assert_all_absent(&plant, ABSENT_OUT_OF_RANGE);
	plant.material.limit_c =
	    190.0; /* 100 K over it is too much of the bottom too */
	plant_compute(&plant);
	assert_absent(&plant, FEATURE_EXIT_BOTTOM_C, ABSENT_OUT_OF_RANGE);
	plant_release(&plant);
}

/* A shuttle's sheet is at the form as it leaves the oven: it passes until the platens close. */
static void
of_a_shuttle_the_exit_ends_as_the_platens_close(void **state)
{
	struct plant plant;

	(void)state;
	going_init(&plant, 511.0, 330.0);
	plant.sheet.arrived = plant.sheet.stays[0].out;
	ramp_run(&plant);
	assert_near(plant_value(&plant, FEATURE_EXIT_TOP_C), 192.0, 1e-9);
	plant_release(&plant);
	going_init(&plant, 511.0, 330.0);
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
	if (channel == STACK)
		return 80.0;
	return channel < STACK && s >= 511.0 ? 65.0 : seen_going(plant, channel, s);
}

static void
what_no_heating_leads_to_is_out_of_range(void **state)
{
	struct plant plant;

	(void)state;
	going_init(&plant, 511.0, 330.0);
	plant.show = seen_cold;
	ramp_run(&plant);
	assert_near(plant_value(&plant, FEATURE_EXIT_TOP_C), 65.0, 1e-9);
	assert_all_absent(&plant, ABSENT_OUT_OF_RANGE);
	plant_release(&plant);
}

/* --- sensors that hang, and those that are missing ----------------------------------------- */

/* The first top pyrometer shows the same from `hung_from_s` to `hung_until_s`. */
static double hung_from_s, hung_until_s;

static double
hanging(const struct plant *plant, int channel, double s)
{
	if (channel == TOP_1 && s >= hung_from_s && s < hung_until_s)
		return ramp(plant, channel, hung_from_s);
	return ramp(plant, channel, s);
}

static void
hanging_run(struct plant *plant, double from_s, double until_s)
{
	hung_from_s = from_s;
	hung_until_s = until_s;
	ramp_init(plant, hanging);
	ramp_run(plant);
}

static void
a_pyrometer_that_hangs_is_a_faulty_one(void **state)
{
	struct plant plant;
	double core_c;

	(void)state;
	hanging_run(&plant, 0.0, 0.0);
	core_c = plant_value(&plant, FEATURE_CORE_HEAT_END_C);
	assert_near(plant_value(&plant, FEATURE_CORE_PYROMETERS_TOP), 2.0, 0.0);
	plant_release(&plant);
	hanging_run(&plant, 300.0, 1000.0);
	assert_absent(&plant, FEATURE_EXIT_TOP_FIRST, ABSENT_SENSOR_FAULT);
	assert_near(plant_value(&plant, FEATURE_EXIT_TOP_C), 220.0, 1e-6);
	assert_absent(&plant, FEATURE_EXIT_SPREAD_TOP_DC, ABSENT_SENSOR_FAULT);
	assert_near(plant_value(&plant, FEATURE_CORE_HEAT_END_C), core_c, 1e-6);
	assert_near(plant_value(&plant, FEATURE_CORE_PYROMETERS_TOP), 1.0, 0.0);
	assert_near(plant_value(&plant, FEATURE_CORE_PYROMETERS_BOTTOM), 2.0, 0.0);
	assert_near(plant_value(&plant, FEATURE_RATE_TOP), RAMP_K_S, 1e-9);
	plant_release(&plant);
	/* Only at the beginning: out of the core and the rate, but good at the end. */
	hanging_run(&plant, 115.0, 160.0);
	assert_near(plant_value(&plant, FEATURE_RATE_TOP), RAMP_K_S, 1e-9);
	assert_near(plant_value(&plant, FEATURE_EXIT_TOP_FIRST), 220.0, 1e-6);
	assert_near(plant_value(&plant, FEATURE_CORE_PYROMETERS_TOP), 1.0, 0.0);
	assert_near(plant_value(&plant, FEATURE_CORE_HEAT_END_C), core_c, 1e-6);
	plant_release(&plant);
	/* The others move by 10 K in 20 s: shorter than that is nothing. */
	hanging_run(&plant, 300.0, 319.0);
	assert_near(plant_value(&plant, FEATURE_CORE_PYROMETERS_TOP), 2.0, 0.0);
	plant_release(&plant);
}

static void
the_only_one_of_a_side_takes_the_core_along(void **state)
{
	struct plant plant;

	(void)state;
	hung_from_s = 300.0;
	hung_until_s = 1000.0;
	ramp_init(&plant, hanging);
	plant.channels[TOP_2].role = ROLE_OTHER;
	ramp_run(&plant);
	assert_all_absent(&plant, ABSENT_SENSOR_FAULT);
	assert_absent(&plant, FEATURE_EXIT_TOP_C, ABSENT_SENSOR_FAULT);
	assert_near(plant_value(&plant, FEATURE_EXIT_BOTTOM_C), 220.0, 1e-6);
	plant_release(&plant);
	/* Nothing to compare it with. */
	ramp_init(&plant, hanging);
	plant.channels[TOP_2].role = plant.channels[BOTTOM_1].role =
	    plant.channels[BOTTOM_2].role = ROLE_OTHER;
	ramp_run(&plant);
	assert_near(plant_value(&plant, FEATURE_EXIT_TOP_C), 115.0, 1e-6);
	plant_release(&plant);
}

static double
resting(const struct plant *plant, int channel, double s)
{
	(void)plant;
	return channel == STACK ? START_C
	                        : 170.0 + 0.01 * fmod(s, 7.0) * (channel != TOP_1);
}

static void
a_sheet_that_rests_makes_no_faulty_sensors(void **state)
{
	struct plant plant;

	(void)state;
	ramp_init(&plant, resting);
	ramp_run(&plant);
	assert_near(plant_value(&plant, FEATURE_CORE_PYROMETERS_TOP), 2.0, 0.0);
	assert_near(plant_value(&plant, FEATURE_EXIT_TOP_FIRST), 170.0, 1e-9);
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
	published(SOURCE_CARSLAW_PLATE, "core of a shot heated by air, Biot 1, C",
	    plant_value(&plant, FEATURE_CORE_HEAT_END_C), 175.0 - 155.0 * 0.533859,
	    0.05);
	published(SOURCE_CARSLAW_PLATE, "surface less core of that shot in air, K",
	    plant_value(&plant, FEATURE_SURFACE_CORE_DC), 155.0 * (0.533859 - 0.348177),
	    0.05);
	plant_release(&plant);
	plant_init(&plant, air);
	plant_add(&plant, ROLE_OVEN_AIR, 0, 0);
	plant.line.start_c = START_C; /* but nobody told how the air heats */
	plant_run(&plant);
	assert_all_absent(&plant, ABSENT_NOT_CONFIGURED);
	plant_release(&plant);
}

static double
band_in_air(double exchange, double air_dc)
{
	struct plant plant;
	double band_dc;

	plant_init(&plant, air);
	plant_add(&plant, ROLE_OVEN_AIR, 0, 0);
	plant.line.start_c = START_C;
	plant.line.oven_air_w_m2k = PLANT_CONDUCTIVITY / (PLANT_THICKNESS_M / 2.0);
	plant.line.oven_exchange_tolerance = exchange;
	plant.line.oven_air_tolerance_dc = air_dc;
	plant.sheet.stays[0].out = way_edge(110.0 + PLANT_RELAX_S);
	plant_run(&plant);
	band_dc = plant_value(&plant, FEATURE_CORE_HEAT_END_BAND_DC);
	plant_release(&plant);
	return band_dc;
}

/* The core follows the air by what is not left of the difference. */
static void
what_is_known_of_the_air_is_in_the_band(void **state)
{
	double plain_dc = band_in_air(0.0, 0.0), air_dc = band_in_air(0.0, 4.0);
	double half_dc = band_in_air(0.1, 0.0), whole_dc = band_in_air(0.2, 0.0);

	(void)state;
	assert_near(
	    sqrt(air_dc * air_dc - plain_dc * plain_dc), 4.0 * (1.0 - 0.533859), 0.01);
	assert_true(half_dc > plain_dc + 0.1);
	assert_near(sqrt(whole_dc * whole_dc - plain_dc * plain_dc) /
			sqrt(half_dc * half_dc - plain_dc * plain_dc),
	    2.0, 0.2);
}

static double
band_melting(double fusion)
{
	struct plant plant;
	double band_dc;

	ramp_init(&plant, ramp);
	plant.material.structure = STRUCTURE_SEMICRYSTALLINE;
	plant.material.fusion_j_kg = 190e3;
	plant.material.melting_c = 131.0;
	plant.material.melting_width_dc = 6.0;
	plant.material.fusion_tolerance = fusion;
	ramp_run(&plant);
	band_dc = plant_value(&plant, FEATURE_CORE_HEAT_END_BAND_DC);
	plant_release(&plant);
	return band_dc;
}

static void
what_is_known_of_the_fusion_is_in_the_band(void **state)
{
	double plain_dc = band_melting(0.0), told_dc = band_melting(0.1);

	(void)state;
	assert_true(told_dc > plain_dc + 0.1);
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

/* Out of the oven for an hour, and in again: what is not measured makes nothing coarser. */
static void
a_long_way_between_makes_the_steps_no_longer(void **state)
{
	static struct core core;
	struct plant plant;
	struct feature_source source = {.settings = &plant.settings,
	    .line = &plant.line,
	    .roles = &plant.roles,
	    .sheet = &plant.sheet,
	    .circumstances = &plant.told};

	(void)state;
	two_init(&plant);
	plant.sheet.stay_count = 0;
	way_stay(&plant.sheet, 0, 110.0, 200.0);
	way_stay(&plant.sheet, 0, 3800.0, 3890.0);
	plant.sheet.arrived = way_edge(3898.0);
	plant.sheet.form_start = way_edge(3902.0);
	plant_ready(&plant);
	plant_play(&plant, 50.0, 3950.0);
	plant_compute(&plant);
	source.history = plant.history;
	assert_int_equal(core_make(&source, plant.shot, &core), ABSENT_NOT);
	assert_near(core.soak.step_s, SOAK_STEP_S, 0.0);
	plant_release(&plant);
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
	    cmocka_unit_test(the_hot_wall_is_never_taken_for_the_sheet),
	    cmocka_unit_test(what_no_sheet_can_show_is_no_exit),
	    cmocka_unit_test(of_a_shuttle_the_exit_ends_as_the_platens_close),
	    cmocka_unit_test(what_no_heating_leads_to_is_out_of_range),
	    cmocka_unit_test(a_pyrometer_that_hangs_is_a_faulty_one),
	    cmocka_unit_test(the_only_one_of_a_side_takes_the_core_along),
	    cmocka_unit_test(a_sheet_that_rests_makes_no_faulty_sensors),
	    cmocka_unit_test(warm_air_heats_as_its_biot_number_says),
	    cmocka_unit_test(what_is_known_of_the_air_is_in_the_band),
	    cmocka_unit_test(what_is_known_of_the_fusion_is_in_the_band),
	    cmocka_unit_test(two_ovens_are_one_heat_with_a_way_between),
	    cmocka_unit_test(a_long_way_between_makes_the_steps_no_longer),
	    cmocka_unit_test(a_sheet_heated_eight_times_is_soaked_in_the_end),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
