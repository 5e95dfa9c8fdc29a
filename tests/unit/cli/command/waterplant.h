/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * For tests of findings: shots of the demo plant with figures of its eight water circuits
 * and of the inside of the sheet.
 */
#ifndef TESTS_UNIT_CLI_COMMAND_WATERPLANT_H
#define TESTS_UNIT_CLI_COMMAND_WATERPLANT_H

#include "tests/unit/cli/command/plant.h"

enum { WATERPLANT_CIRCUITS = 8 };

static inline void
waterplant_set(
    struct plant *plant, struct shot *shot, int feature, double value, double sd)
{
	/* in the unit of the feature's name */
	shot->value[feature] = feature_to_si(feature, value + sd * plant_normal(plant));
	shot->absent[feature] = ABSENT_NOT;
}

/* Circuit `blocked` (from 1; 0: none) has half its flow: its water warms up by twice as
 * much, its part of the tool is warmer. */
static inline struct shot *
waterplant_shot(struct plant *plant, int64_t shot_no, int blocked)
{
	struct shot *shot = plant_shot(plant, shot_no);

	waterplant_set(plant, shot, FEATURE_WATER_SUPPLY_C, 65, 0.05);
	waterplant_set(plant, shot, FEATURE_CORE_HEAT_END_C, 147, 0.5);
	waterplant_set(plant, shot, FEATURE_CORE_HEAT_END_BAND_DC, 7.6, 0.05);
	waterplant_set(plant, shot, FEATURE_CORE_FORM_START_C, 151.2, 0.5);
	waterplant_set(plant, shot, FEATURE_CORE_FORM_START_BAND_DC, 7.5, 0.05);
	waterplant_set(plant, shot, FEATURE_SURFACE_CORE_DC, 34, 0.5);
	waterplant_set(plant, shot, FEATURE_SURFACE_CORE_BAND_DC, 6, 0.05);
	waterplant_set(plant, shot, FEATURE_SOAK_INDEX, 0.78, 0.002);
	waterplant_set(plant, shot, FEATURE_FOURIER, 1.27, 0.01);
	waterplant_set(plant, shot, FEATURE_SHEET_THICKNESS_MM, 6.35, 0);
	waterplant_set(plant, shot, FEATURE_HEAT_REMOVED_KWH, 0.41, 0.003);
	waterplant_set(plant, shot, FEATURE_HEAT_BROUGHT_KWH, 0.68, 0.003);
	waterplant_set(plant, shot, FEATURE_HEAT_BALANCE, 0.6, 0.005);
	for (int k = 0; k < WATERPLANT_CIRCUITS; k++) {
		bool down = k + 1 == blocked;
		double flow_l_min = down ? 4 : 8, rise_dc = down ? 2.9 : 1.6;
		waterplant_set(
		    plant, shot, FEATURE_WATER_FLOW_FIRST + k, flow_l_min, 0.05);
		waterplant_set(
		    plant, shot, FEATURE_WATER_RISE_FIRST + k, rise_dc, 0.04);
		waterplant_set(
		    plant, shot, FEATURE_TOOL_MEAN_FIRST + k, down ? 68.4 : 67, 0.05);
		waterplant_set(
		    plant, shot, FEATURE_HEAT_REMOVED_FIRST + k, 0.05, 0.001);
		waterplant_set(
		    plant, shot, FEATURE_REYNOLDS_FIRST + k, down ? 8000 : 16000, 50);
		waterplant_set(plant, shot, FEATURE_RESISTANCE_FIRST + k, 1.2, 0.05);
		waterplant_set(plant, shot, FEATURE_RECOVERY_FIRST + k, 31, 1);
	}
	snprintf(shot->properties, sizeof shot->properties, "abs demo-1 4c1a09e2");
	return shot;
}

static inline void
waterplant_run(struct plant *plant, int64_t first, int64_t count, int blocked)
{
	for (int64_t no = first; no < first + count; no++)
		plant_write(plant, waterplant_shot(plant, no, blocked));
}

#endif
