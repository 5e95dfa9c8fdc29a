/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * A sheet heated by a ramp on both faces, two pyrometers a side, for the tests of what is
 * computed of its inside.  Invented plant.
 */
#ifndef TESTS_UNIT_DAEMON_SHOT_HEATED_H
#define TESTS_UNIT_DAEMON_SHOT_HEATED_H

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
    FEATURE_CORE_PYROMETERS_TOP, FEATURE_CORE_PYROMETERS_BOTTOM,
    FEATURE_CORE_FORM_START_C, FEATURE_CORE_FORM_START_BAND_DC,
    FEATURE_SHEET_MEAN_FORM_START_C, FEATURE_SHEET_MEAN_FORM_START_BAND_DC};
enum { FIGURES = sizeof(figures) / sizeof(figures[0]) };

static inline void
assert_all_absent(const struct plant *plant, enum absent why)
{
	for (int i = 0; i < FIGURES; i++) {
		assert_absent(plant, figures[i], why);
		assert_true(isnan(plant->shot->value[figures[i]]));
	}
	assert_absent(plant, FEATURE_ABOVE_LIMIT_S, why);
	assert_string_equal(plant->shot->properties, "");
}

static inline double
ramp(const struct plant *plant, int channel, double s)
{
	if (channel == STACK)
		return START_C;
	if (channel == AMBIENT)
		return 30.0;
	return START_C + RAMP_K_S * (s - HEAT_START_S) + plant->shift[channel];
}

/* Two pyrometers a side, a stack and a hall sensor, heated from 110 to 510 s. */
static inline void
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

static inline void
ramp_run(struct plant *plant)
{
	plant_ready(plant);
	plant_play(plant, 60.0, 650.0);
	plant_compute(plant);
}

#endif
