/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The meter against the outputs over the very same time. */
#include "tests/unit/daemon/shot/plant.h"

enum { ZONE_A, ZONE_B, ZONE_BELOW, METER };

/* 3, 2 and 1 kW at these outputs: 4.1 kW. */
static double mains = 1.0;
static double reset_at_s = INFINITY;

static double
power(const struct plant *plant, int channel, double s)
{
	(void)plant;
	switch (channel) {
	case ZONE_A:
		return 0.8;
	case ZONE_B:
		return 0.6;
	case ZONE_BELOW:
		return 0.5;
	default:
		return s < reset_at_s ? 1e6 + mains * 4100.0 * s : 0.0;
	}
}

static void
power_init(struct plant *plant)
{
	plant_init(plant, power);
	plant->line.oven_count = 2;
	plant->channels[plant_add(plant, ROLE_ZONE_TOP, 1, 0)].rated_w = 3000.0;
	plant->channels[plant_add(plant, ROLE_ZONE_TOP, 1, 1)].rated_w = 2000.0;
	plant->channels[plant_add(plant, ROLE_ZONE_BOTTOM, 1, 1)].rated_w = 1000.0;
	plant_add(plant, ROLE_ENERGY_METER, 0, 0);
	plant->sheet.stay_count = 0;
	way_stay(&plant->sheet, 0, 110.0, 180.0);
	way_stay(&plant->sheet, 1, 188.0, 250.0);
	mains = 1.0;
	reset_at_s = INFINITY;
}

static void
one_meter_of_two_ovens_is_held_against_both(void **state)
{
	struct plant plant;

	(void)state;
	power_init(&plant);
	plant_run(&plant);
	assert_near(plant_value(&plant, FEATURE_METER_RATIO), 1.0, 1e-9);
	/* While the sheet's own energy counts each oven for its stay. */
	assert_near(plant_value(&plant, FEATURE_ENERGY_KWH),
	    70.0 * 2400.0 + 62.0 * 1700.0, 1e-6);
	plant_release(&plant);
}

static void
low_mains_show_in_the_ratio(void **state)
{
	struct plant plant;

	(void)state;
	power_init(&plant);
	mains = 0.97 * 0.97; /* of the voltage */
	plant_run(&plant);
	assert_near(plant_value(&plant, FEATURE_METER_RATIO), 0.9409, 1e-9);
	plant_release(&plant);
}

static void
a_meter_that_cannot_be_compared_gives_none(void **state)
{
	struct plant plant;

	(void)state;
	power_init(&plant);
	plant.channels[ZONE_B].rated_w = 0.0; /* nobody told its power */
	plant_run(&plant);
	assert_absent(&plant, FEATURE_METER_RATIO, ABSENT_NOT_CONFIGURED);
	plant_release(&plant);
	/* The other side of a shuttle hangs on the same meter. */
	power_init(&plant);
	plant.line.side_count = 2;
	plant.channels[ZONE_B].side = 1;
	plant_run(&plant);
	assert_absent(&plant, FEATURE_METER_RATIO, ABSENT_NOT_CONFIGURED);
	plant_release(&plant);
	power_init(&plant);
	reset_at_s = 200.0;
	plant_run(&plant);
	assert_absent(&plant, FEATURE_METER_RATIO, ABSENT_OUT_OF_RANGE);
	plant_release(&plant);
	power_init(&plant);
	plant.sheet.stays[0].in.known = false;
	plant_run(&plant);
	assert_absent(&plant, FEATURE_METER_RATIO, ABSENT_NOT_APPLICABLE);
	plant_release(&plant);
	power_init(&plant);
	plant.settings.channel_count = plant.device.channel_count = METER;
	plant_run(&plant);
	assert_absent(&plant, FEATURE_METER_RATIO, ABSENT_NOT_CONFIGURED);
	plant_release(&plant);
}

static void
a_zone_without_its_power_leaves_its_side_without_energy(void **state)
{
	struct plant plant;

	(void)state;
	power_init(&plant);
	plant.channels[ZONE_B].rated_w = 0.0;
	plant_run(&plant);
	assert_absent(&plant, FEATURE_ENERGY_TOP_KWH, ABSENT_NOT_CONFIGURED);
	assert_near(plant_value(&plant, FEATURE_ENERGY_BOTTOM_KWH), 62.0 * 500.0, 1e-6);
	assert_absent(&plant, FEATURE_ENERGY_KWH, ABSENT_NOT_CONFIGURED);
	/* The zones are still told of by their outputs. */
	assert_near(plant_value(&plant, FEATURE_SATURATION_MAX), 0.0, 0.0);
	plant_release(&plant);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(one_meter_of_two_ovens_is_held_against_both),
	    cmocka_unit_test(low_mains_show_in_the_ratio),
	    cmocka_unit_test(a_meter_that_cannot_be_compared_gives_none),
	    cmocka_unit_test(a_zone_without_its_power_leaves_its_side_without_energy),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
