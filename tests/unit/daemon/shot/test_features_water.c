/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Heat into the water and out of the sheet, against arithmetic on steady flows. */
#include "tests/unit/daemon/shot/plant.h"
#include "tests/unit/seed.h"

#include "daemon/heat/water.h"
#include "daemon/shot/recovery.h"

enum { SUPPLY, BACK_1, BACK_2, FLOW_1, FLOW_2, TOOL_1, TOOL_2 };

/* Platens open from 200 to 262 s, closed on this sheet until 362. */
#define OPENED_S 200.0
#define CYCLE_S (362.0 - OPENED_S)
#define TAU_S 45.0
#define L_MIN (1e-3 / 60.0)

static double
steady(const struct plant *plant, int channel, double s)
{
	double shift = plant->shift[channel];

	switch (channel) {
	case SUPPLY:
		return 60.0 + shift;
	case BACK_1:
		return 62.0 + shift;
	case BACK_2:
		return 63.0 + shift;
	case FLOW_1:
		return 8.0 * L_MIN + shift;
	case FLOW_2:
		return 6.0 * L_MIN + shift;
	case TOOL_1: /* falls towards its water while the platens are open */
		return s < OPENED_S || s >= 262.0
		           ? 72.0
		           : 60.0 + 12.0 * exp(-(s - OPENED_S) / TAU_S);
	default:
		return s < OPENED_S || s >= 262.0
		           ? 70.0
		           : 60.0 + 10.0 * exp(-(s - OPENED_S) / 30.0);
	}
}

static void
water_init(struct plant *plant, plant_show *show)
{
	plant_init(plant, show);
	plant_add(plant, ROLE_WATER_SUPPLY, 0, 0);
	plant_add(plant, ROLE_WATER_RETURN, 1, 0);
	plant_add(plant, ROLE_WATER_RETURN, 2, 0);
	plant_add(plant, ROLE_WATER_FLOW, 1, 0);
	plant_add(plant, ROLE_WATER_FLOW, 2, 0);
	plant_add(plant, ROLE_TOOL, 1, 0);
	plant_add(plant, ROLE_TOOL, 2, 0);
	plant->sheet.last_form_start = way_edge(100.0);
	plant->sheet.last_form_end = way_edge(OPENED_S);
}

/* J that a steady flow takes away. */
static double
heat_j(double flow_l_min, double rise_dc)
{
	double water_c = 60.0 + rise_dc / 2.0;

	return water_density(water_c) * water_capacity(water_c) * flow_l_min * L_MIN *
	       rise_dc * CYCLE_S;
}

static void
a_steady_flow_takes_away_what_its_water_holds(void **state)
{
	struct plant plant;

	(void)state;
	water_init(&plant, steady);
	plant_run(&plant);
	assert_near(plant_value(&plant, FEATURE_WATER_FLOW_FIRST), 8.0 * L_MIN, 1e-12);
	assert_near(plant_value(&plant, FEATURE_HEAT_REMOVED_FIRST), heat_j(8.0, 2.0),
	    1e-9 * heat_j(8.0, 2.0));
	assert_near(plant_value(&plant, FEATURE_HEAT_REMOVED_FIRST + 1),
	    heat_j(6.0, 3.0), 1e-9 * heat_j(6.0, 3.0));
	assert_near(plant_value(&plant, FEATURE_HEAT_REMOVED_KWH),
	    heat_j(8.0, 2.0) + heat_j(6.0, 3.0), 1e-9 * heat_j(8.0, 2.0));
	/* 8 L/min and 2 K are 1.1 kW: 1 L/min and 1 K are 0.0686 kW at 60 C. */
	assert_near(plant_value(&plant, FEATURE_HEAT_REMOVED_FIRST) / CYCLE_S,
	    16.0 * 68.6, 16.0 * 0.2);
	plant.line.coolant_heat_ratio = 0.9;
	plant_compute(&plant);
	assert_near(plant_value(&plant, FEATURE_HEAT_REMOVED_FIRST),
	    0.9 * heat_j(8.0, 2.0), 1e-6);
	plant_release(&plant);
}

/* Flow and return that move together: the product is meaned, not the factors. */
static double
breathing(const struct plant *plant, int channel, double s)
{
	double wave = sin(2.0 * M_PI * (s - OPENED_S) / CYCLE_S);

	if (channel == FLOW_1)
		return L_MIN * (8.0 + 4.0 * wave);
	if (channel == BACK_1)
		return 62.0 + wave;
	return steady(plant, channel, s);
}

static void
what_flow_and_rise_do_together_counts(void **state)
{
	struct plant plant;
	double joules;

	(void)state;
	water_init(&plant, breathing);
	plant_run(&plant);
	/* The mean of (8 + 4 w)(2 + w) over whole waves is 16 + 2. */
	joules = water_density(61.0) * water_capacity(61.0) * L_MIN * 18.0 * CYCLE_S;
	assert_near(
	    plant_value(&plant, FEATURE_HEAT_REMOVED_FIRST), joules, 2e-3 * joules);
	plant_release(&plant);
}

static void
the_supply_that_drifts_is_measured_not_assumed(void **state)
{
	struct plant plant;

	(void)state;
	water_init(&plant, steady);
	plant.shift[SUPPLY] = plant.shift[BACK_1] = plant.shift[BACK_2] = 1.0;
	plant_run(&plant);
	assert_near(plant_value(&plant, FEATURE_HEAT_REMOVED_FIRST), heat_j(8.0, 2.0),
	    1e-3 * heat_j(8.0, 2.0));
	plant_release(&plant);
}

static double
one_flow_lost(const struct plant *plant, int channel, double s)
{
	return channel == FLOW_2 && s > 250.0 && s < 300.0 ? NAN
	                                                   : steady(plant, channel, s);
}

static double
supply_blinks(const struct plant *plant, int channel, double s)
{
	return channel == SUPPLY && s > 250.0 && s < 262.0 ? NAN
	                                                   : steady(plant, channel, s);
}

static void
a_circuit_that_is_not_read_says_why_and_takes_the_sum_along(void **state)
{
	struct plant plant;

	(void)state;
	water_init(&plant, one_flow_lost);
	plant_run(&plant);
	assert_near(
	    plant_value(&plant, FEATURE_HEAT_REMOVED_FIRST), heat_j(8.0, 2.0), 1e-6);
	assert_absent(&plant, FEATURE_WATER_FLOW_FIRST + 1, ABSENT_SENSOR_FAULT);
	assert_absent(&plant, FEATURE_HEAT_REMOVED_FIRST + 1, ABSENT_SENSOR_FAULT);
	assert_absent(&plant, FEATURE_RESISTANCE_FIRST + 1, ABSENT_SENSOR_FAULT);
	assert_absent(&plant, FEATURE_REYNOLDS_FIRST + 1, ABSENT_SENSOR_FAULT);
	assert_absent(&plant, FEATURE_HEAT_REMOVED_KWH, ABSENT_SENSOR_FAULT);
	assert_absent(&plant, FEATURE_HEAT_REMOVED_FIRST + 2, ABSENT_NOT_CONFIGURED);
	plant_release(&plant);
	/* A short hole is bridged. */
	water_init(&plant, supply_blinks);
	plant_run(&plant);
	assert_near(
	    plant_value(&plant, FEATURE_HEAT_REMOVED_FIRST), heat_j(8.0, 2.0), 1e-6);
	plant_release(&plant);
}

/* The return after the platens have closed: 4 K more that fade away; read with a hole. */
static double hole_from_s, hole_until_s;

static double
fading(const struct plant *plant, int channel, double s)
{
	if (channel == BACK_1 && s > hole_from_s && s < hole_until_s)
		return NAN;
	if (channel == BACK_1)
		return s < 262.0 ? 61.0 : 61.0 + 4.0 * exp(-(s - 262.0) / TAU_S);
	return steady(plant, channel, s);
}

static double
removed_with(double from_s, double until_s, enum absent *absent)
{
	struct plant plant;
	double joules;

	hole_from_s = from_s;
	hole_until_s = until_s;
	water_init(&plant, fading);
	plant_run(&plant);
	joules = plant.shot->value[FEATURE_HEAT_REMOVED_FIRST];
	*absent = (enum absent)plant.shot->absent[FEATURE_HEAT_REMOVED_FIRST];
	plant_release(&plant);
	return joules;
}

static void
a_hole_is_bridged_where_it_is_and_not_by_the_mean(void **state)
{
	enum absent absent;
	double whole_j = removed_with(0.0, 0.0, &absent);

	(void)state;
	assert_int_equal(absent, ABSENT_NOT);
	/* Under the peak, and in the level part: the line across misses the bend alone. */
	assert_near(removed_with(263.0, 280.0, &absent), whole_j, 0.01 * whole_j);
	assert_int_equal(absent, ABSENT_NOT);
	assert_near(removed_with(210.0, 220.0, &absent), whole_j, 1e-4 * whole_j);
	assert_int_equal(absent, ABSENT_NOT);
	/* More than the line allows of the loaded part or of the unloaded one, though not of
	 * both together. */
	removed_with(264.0, 294.0, &absent);
	assert_int_equal(absent, ABSENT_SENSOR_FAULT);
	removed_with(215.0, 245.0, &absent);
	assert_int_equal(absent, ABSENT_SENSOR_FAULT);
}

/* As traces were once kept: nothing of the water before the platens closed. */
static void
readings_of_the_loaded_part_alone_are_no_cycle(void **state)
{
	struct plant plant;

	(void)state;
	water_init(&plant, steady);
	plant.sheet.last_form_end = way_edge(250.0); /* 89 % of the cycle are covered */
	plant_ready(&plant);
	plant_play(&plant, 261.0, 450.0);
	plant_compute(&plant);
	assert_absent(&plant, FEATURE_HEAT_REMOVED_FIRST, ABSENT_LOW_COVERAGE);
	assert_absent(&plant, FEATURE_HEAT_REMOVED_KWH, ABSENT_LOW_COVERAGE);
	plant_release(&plant);
}

static void
without_flow_meters_nothing_is_guessed(void **state)
{
	struct plant plant;

	(void)state;
	water_init(&plant, steady);
	plant.settings.channel_count = plant.device.channel_count = 4; /* to FLOW_1 */
	plant_run(&plant);
	assert_near(
	    plant_value(&plant, FEATURE_HEAT_REMOVED_FIRST), heat_j(8.0, 2.0), 1e-6);
	assert_absent(&plant, FEATURE_HEAT_REMOVED_FIRST + 1, ABSENT_NOT_CONFIGURED);
	assert_absent(&plant, FEATURE_HEAT_REMOVED_KWH, ABSENT_NOT_CONFIGURED);
	assert_absent(&plant, FEATURE_HEAT_BALANCE, ABSENT_NOT_CONFIGURED);
	assert_absent(&plant, FEATURE_RESISTANCE_FIRST, ABSENT_NOT_CONFIGURED);
	assert_absent(&plant, FEATURE_RECOVERY_S, ABSENT_NOT_CONFIGURED);
	plant_release(&plant);
}

static void
a_stop_between_is_no_cycle(void **state)
{
	static const int of_cycle[] = {FEATURE_WATER_FLOW_FIRST,
	    FEATURE_HEAT_REMOVED_FIRST, FEATURE_HEAT_REMOVED_KWH,
	    FEATURE_RESISTANCE_FIRST, FEATURE_REYNOLDS_FIRST, FEATURE_RECOVERY_FIRST,
	    FEATURE_RECOVERY_S};
	struct plant plant;

	(void)state;
	water_init(&plant, steady);
	plant.line.startup_after_s = 61.0; /* they stood open for 62 */
	plant_run(&plant);
	for (size_t i = 0; i < sizeof(of_cycle) / sizeof(of_cycle[0]); i++)
		assert_absent(&plant, of_cycle[i], ABSENT_NOT_APPLICABLE);
	assert_near(plant_value(&plant, FEATURE_TOOL_MEAN_FIRST), 72.0, 1e-9);
	assert_near(plant_value(&plant, FEATURE_WATER_RISE_FIRST), 2.0, 1e-9);
	plant.line.startup_after_s = 63.0;
	plant_compute(&plant);
	for (size_t i = 0; i < sizeof(of_cycle) / sizeof(of_cycle[0]); i++)
		assert_absent(&plant, of_cycle[i], ABSENT_NOT);
	plant.sheet.last_form_end.known = false; /* the first of a run */
	plant_compute(&plant);
	for (size_t i = 0; i < sizeof(of_cycle) / sizeof(of_cycle[0]); i++)
		assert_absent(&plant, of_cycle[i], ABSENT_NOT_APPLICABLE);
	plant_release(&plant);
}

static void
resistance_is_the_tool_above_its_water_over_the_power(void **state)
{
	struct plant plant;
	double tool_c, falling_s = 262.0 - OPENED_S;

	(void)state;
	water_init(&plant, steady);
	plant_run(&plant);
	tool_c =
	    60.0 +
	    (12.0 * TAU_S * (1.0 - exp(-falling_s / TAU_S)) + 12.0 * 100.0) / CYCLE_S;
	assert_near(plant_value(&plant, FEATURE_RESISTANCE_FIRST),
	    (tool_c - 61.0) / (heat_j(8.0, 2.0) / CYCLE_S), 2e-5);
	/* A rise that is within what two sensors differ by tells nothing. */
	plant_release(&plant);
	water_init(&plant, steady);
	plant.shift[BACK_1] = -1.9;
	plant_run(&plant);
	assert_absent(&plant, FEATURE_RESISTANCE_FIRST, ABSENT_NOT_APPLICABLE);
	assert_absent(&plant, FEATURE_RESISTANCE_FIRST + 1, ABSENT_NOT);
	plant_release(&plant);
}

static void
reynolds_is_that_of_the_tools_bore(void **state)
{
	struct plant plant;

	(void)state;
	water_init(&plant, steady);
	plant_run(&plant);
	/* 4 V / (pi D nu), nu of water at 61 C 0.466e-6 m2/s within 1 %. */
	assert_near(plant_value(&plant, FEATURE_REYNOLDS_FIRST),
	    4.0 * 8.0 * L_MIN / (M_PI * 12.7e-3 * 0.466e-6), 400.0);
	plant.line.coolant_viscosity_ratio = 3.0;
	plant_compute(&plant);
	assert_near(plant_value(&plant, FEATURE_REYNOLDS_FIRST) * 3.0,
	    4.0 * 8.0 * L_MIN / (M_PI * 12.7e-3 * 0.466e-6), 400.0);
	snprintf(plant.told.tool, sizeof(plant.told.tool), "T-2");
	plant_compute(&plant);
	assert_absent(&plant, FEATURE_REYNOLDS_FIRST, ABSENT_NOT_CONFIGURED);
	plant_release(&plant);
}

/* --- recovery -------------------------------------------------------------------------- */

static void
an_exponential_gives_back_its_time_constant(void **state)
{
	struct plant plant;

	(void)state;
	water_init(&plant, steady);
	plant_run(&plant);
	assert_near(plant_value(&plant, FEATURE_RECOVERY_FIRST), TAU_S, 1e-6);
	assert_near(plant_value(&plant, FEATURE_RECOVERY_FIRST + 1), 30.0, 1e-6);
	assert_near(plant_value(&plant, FEATURE_RECOVERY_S), 37.5, 1e-6);
	plant_release(&plant);
}

static unsigned noise_seed;
static double noise_dc, noise_fall_dc, noise_water_dc;

static double
normal(void)
{
	double sum = 0.0;

	for (int i = 0; i < 12; i++)
		sum += (double)rand_r(&noise_seed) / RAND_MAX;
	return sum - 6.0;
}

/* Noise, in steps of a tenth of a degree as registers have it. */
static double
noisy(const struct plant *plant, int channel, double s)
{
	if (channel == SUPPLY)
		return round((60.0 + noise_water_dc * normal()) * 10.0) / 10.0;
	if (channel < TOOL_1)
		return steady(plant, channel, s);
	return round((62.0 + noise_fall_dc * exp(-(s - OPENED_S) / TAU_S) +
			 noise_dc * normal()) *
		     10.0) /
	       10.0;
}

/* Of many shots: how many have a time constant, its mean and deviation. */
static int
many(int shots, double *mean_s, double *sd_s)
{
	double sum = 0.0, squares = 0.0;
	int found = 0;

	for (int i = 0; i < shots; i++) {
		struct plant plant;

		water_init(&plant, noisy);
		plant.device.period_s = 1.0;
		plant_run(&plant);
		if (plant.shot->absent[FEATURE_RECOVERY_FIRST] == ABSENT_NOT) {
			double one = plant.shot->value[FEATURE_RECOVERY_FIRST];

			found++;
			sum += one;
			squares += one * one;
		}
		plant_release(&plant);
	}
	*mean_s = sum / found;
	*sd_s = sqrt(fmax(squares / found - *mean_s * *mean_s, 0.0));
	return found;
}

static void
noise_alone_has_no_time_constant(void **state)
{
	double mean_s, sd_s;

	(void)state;
	noise_seed = seed_take(20261);
	noise_fall_dc = 0.0;
	for (noise_dc = 0.05; noise_dc < 2.0; noise_dc *= 2.0) {
		noise_water_dc = noise_dc / 2.0;
		assert_int_equal(many(300, &mean_s, &sd_s), 0);
	}
}

static void
a_noisy_fall_is_found_and_not_bent_by_its_noise(void **state)
{
	double mean_s, sd_s;
	int found;

	(void)state;
	noise_seed = seed_take(20262);
	noise_fall_dc = 10.0;
	noise_dc = 0.1;
	noise_water_dc = 0.05;
	found = many(200, &mean_s, &sd_s);
	assert_int_equal(found, 200);
	/* It goes towards 62 here, 2 K above its water: the constant comes out longer, and
	 * the same each time. */
	assert_true(sd_s < 0.02 * mean_s);
	assert_true(mean_s > TAU_S && mean_s < 1.8 * TAU_S);
}

/* Of a tool near its water the fall is small; a noisy supply must not hide it. */
static void
a_small_fall_is_found_mostly(void **state)
{
	double mean_s, sd_s;
	int found;

	(void)state;
	noise_seed = seed_take(20263);
	noise_fall_dc = 1.0;
	noise_dc = 0.17; /* 0.3 F */
	noise_water_dc = 0.17;
	found = many(200, &mean_s, &sd_s);
	assert_true(found > 180);
}

static void
an_opening_too_short_has_none(void **state)
{
	struct plant plant;

	(void)state;
	water_init(&plant, steady);
	plant.sheet.last_form_end = way_edge(
	    262.0 - RECOVERY_AFTER_S - RECOVERY_BEFORE_S - RECOVERY_LEAST_S + 0.5);
	plant_run(&plant);
	assert_absent(&plant, FEATURE_RECOVERY_FIRST, ABSENT_NOT_APPLICABLE);
	assert_absent(&plant, FEATURE_RECOVERY_S, ABSENT_NOT_APPLICABLE);
	plant_release(&plant);
}

/* --- the balance ----------------------------------------------------------------------- */

enum { TOP = TOOL_2 + 1, BOTTOM };

static double
soaked(const struct plant *plant, int channel, double s)
{
	return channel >= TOP ? 170.0 : steady(plant, channel, s);
}

/* A sheet soaked through at 170 C that loses nothing on its way. */
static void
soaked_init(struct plant *plant)
{
	water_init(plant, soaked);
	plant_add(plant, ROLE_SURFACE_TOP, 1, 0);
	plant_add(plant, ROLE_SURFACE_BOTTOM, 1, 0);
	plant->line.start_c = 169.999;
	plant->line.transfer_w_m2k = 0.0;
	plant->material.emissivity = 0.0;
}

static void
the_sheet_brings_its_mass_times_its_enthalpy(void **state)
{
	struct plant plant;
	double brought_j = 1.8 * 1.2 * PLANT_THICKNESS_M * PLANT_DENSITY *
	                   PLANT_CAPACITY * (170.0 - 80.0);

	(void)state;
	soaked_init(&plant);
	plant_run(&plant);
	assert_near(
	    plant_value(&plant, FEATURE_HEAT_BROUGHT_KWH), brought_j, 1e-4 * brought_j);
	assert_near(plant_value(&plant, FEATURE_HEAT_BALANCE),
	    (heat_j(8.0, 2.0) + heat_j(6.0, 3.0)) / brought_j, 1e-4);
	/* The material's demould temperature where the recipe has none. */
	plant.recipe.demould_c = NAN;
	plant_compute(&plant);
	assert_absent(&plant, FEATURE_HEAT_BROUGHT_KWH, ABSENT_NOT_CONFIGURED);
	plant.material.demould_c = 125.0;
	plant_compute(&plant);
	assert_near(plant_value(&plant, FEATURE_HEAT_BROUGHT_KWH), brought_j / 2.0,
	    1e-4 * brought_j);
	/* A part taken off hotter than it came brings nothing to divide by. */
	plant.recipe.demould_c = 175.0;
	plant_compute(&plant);
	assert_true(plant_value(&plant, FEATURE_HEAT_BROUGHT_KWH) < 0.0);
	assert_absent(&plant, FEATURE_HEAT_BALANCE, ABSENT_NOT_APPLICABLE);
	plant.recipe.sheet_width_m = NAN;
	plant_compute(&plant);
	assert_absent(&plant, FEATURE_HEAT_BROUGHT_KWH, ABSENT_NOT_CONFIGURED);
	assert_absent(&plant, FEATURE_HEAT_BALANCE, ABSENT_NOT_CONFIGURED);
	plant_release(&plant);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(a_steady_flow_takes_away_what_its_water_holds),
	    cmocka_unit_test(what_flow_and_rise_do_together_counts),
	    cmocka_unit_test(the_supply_that_drifts_is_measured_not_assumed),
	    cmocka_unit_test(
		a_circuit_that_is_not_read_says_why_and_takes_the_sum_along),
	    cmocka_unit_test(a_hole_is_bridged_where_it_is_and_not_by_the_mean),
	    cmocka_unit_test(readings_of_the_loaded_part_alone_are_no_cycle),
	    cmocka_unit_test(without_flow_meters_nothing_is_guessed),
	    cmocka_unit_test(a_stop_between_is_no_cycle),
	    cmocka_unit_test(resistance_is_the_tool_above_its_water_over_the_power),
	    cmocka_unit_test(reynolds_is_that_of_the_tools_bore),
	    cmocka_unit_test(an_exponential_gives_back_its_time_constant),
	    cmocka_unit_test(noise_alone_has_no_time_constant),
	    cmocka_unit_test(a_noisy_fall_is_found_and_not_bent_by_its_noise),
	    cmocka_unit_test(a_small_fall_is_found_mostly),
	    cmocka_unit_test(an_opening_too_short_has_none),
	    cmocka_unit_test(the_sheet_brings_its_mass_times_its_enthalpy),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
