/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The catalogue of features: the numbers that one shot has.
 *
 * Limits, charts, columns of the ledger and fields in the store all use these
 * names; a name never changes its meaning: a changed definition gets a higher
 * version.  Constant data; any thread.
 */
#ifndef CONF_FEATURE_H
#define CONF_FEATURE_H

#include "daemon/base/unit.h"

enum {
	FEATURE_SURFACES_MAX = 8,  /* pyrometers a side */
	FEATURE_CIRCUITS_MAX = 24, /* water circuits, and tool sensors with figures of
	                              their own */
};

enum feature_id {
	/* heat */
	FEATURE_HEAT_S,
	FEATURE_SAG_S,
	FEATURE_SOAK_WAIT_S,
	FEATURE_HEAT_GAP_S,
	FEATURE_EXIT_TOP_C,
	FEATURE_EXIT_BOTTOM_C,
	FEATURE_EXIT_DIFFERENCE_DC,
	FEATURE_EXIT_SPREAD_TOP_DC,
	FEATURE_EXIT_SPREAD_BOTTOM_DC,
	FEATURE_RATE_TOP,
	FEATURE_RATE_BOTTOM,
	FEATURE_STACK_C,
	FEATURE_ENERGY_KWH,
	FEATURE_ENERGY_TOP_KWH,
	FEATURE_ENERGY_BOTTOM_KWH,
	FEATURE_METER_KWH,
	FEATURE_SATURATION_MAX,
	FEATURE_SATURATED_ZONES,
	FEATURE_METER_RATIO,
	FEATURE_AMBIENT_C,
	FEATURE_HEAT_COVERAGE,
	/* the inside of the sheet, computed; a band is half of the 95 % interval */
	FEATURE_SHEET_THICKNESS_MM,
	FEATURE_CORE_HEAT_END_C,
	FEATURE_CORE_HEAT_END_BAND_DC,
	FEATURE_SHEET_MEAN_HEAT_END_C,
	FEATURE_SHEET_MEAN_HEAT_END_BAND_DC,
	FEATURE_SURFACE_CORE_DC,
	FEATURE_SURFACE_CORE_BAND_DC,
	FEATURE_SOAK_INDEX,
	FEATURE_FOURIER,
	FEATURE_CORE_PYROMETERS_TOP,
	FEATURE_CORE_PYROMETERS_BOTTOM,
	FEATURE_CORE_FORM_START_C,
	FEATURE_CORE_FORM_START_BAND_DC,
	FEATURE_SHEET_MEAN_FORM_START_C,
	FEATURE_SHEET_MEAN_FORM_START_BAND_DC,
	FEATURE_ABOVE_LIMIT_S,
	/* transfer, form, tool */
	FEATURE_TRANSFER_S,
	FEATURE_FORM_S,
	FEATURE_TOOL_MEAN_C,
	FEATURE_TOOL_SPREAD_START_DC,
	FEATURE_TOOL_SPREAD_MEAN_DC,
	FEATURE_TOOL_SPREAD_P95_DC,
	FEATURE_TOOL_SPREAD_OF_MEANS_DC,
	FEATURE_TOOL_SWING_DC,
	FEATURE_TOOL_DRIFT_DC,
	FEATURE_WATER_SUPPLY_C,
	FEATURE_WATER_RISE_DC,
	FEATURE_HEAT_REMOVED_KWH,
	FEATURE_HEAT_BROUGHT_KWH,
	FEATURE_HEAT_BALANCE,
	FEATURE_RECOVERY_S,
	FEATURE_FORM_COVERAGE,
	/* cycle: form start to form start, and its parts, which add up to it */
	FEATURE_CYCLE_S,
	FEATURE_CYCLE_FORMING_S,
	FEATURE_CYCLE_WAIT_SAG_S,
	FEATURE_CYCLE_WAIT_LINE_S,
	FEATURE_CYCLE_INDEX_S,
	FEATURE_CYCLE_CLOSING_S,
	FEATURE_FIXED_COUNT,

	/* families: one a position, from 1 */
	FEATURE_EXIT_TOP_FIRST = FEATURE_FIXED_COUNT,
	FEATURE_EXIT_BOTTOM_FIRST = FEATURE_EXIT_TOP_FIRST + FEATURE_SURFACES_MAX,
	FEATURE_WATER_RISE_FIRST = FEATURE_EXIT_BOTTOM_FIRST + FEATURE_SURFACES_MAX,
	FEATURE_TOOL_MEAN_FIRST = FEATURE_WATER_RISE_FIRST + FEATURE_CIRCUITS_MAX,
	FEATURE_RECOVERY_FIRST = FEATURE_TOOL_MEAN_FIRST + FEATURE_CIRCUITS_MAX,
	FEATURE_WATER_FLOW_FIRST = FEATURE_RECOVERY_FIRST + FEATURE_CIRCUITS_MAX,
	FEATURE_HEAT_REMOVED_FIRST = FEATURE_WATER_FLOW_FIRST + FEATURE_CIRCUITS_MAX,
	FEATURE_RESISTANCE_FIRST = FEATURE_HEAT_REMOVED_FIRST + FEATURE_CIRCUITS_MAX,
	FEATURE_REYNOLDS_FIRST = FEATURE_RESISTANCE_FIRST + FEATURE_CIRCUITS_MAX,
	FEATURE_COUNT = FEATURE_REYNOLDS_FIRST + FEATURE_CIRCUITS_MAX
};

/* What a family has one of for each position. */
enum feature_family {
	FAMILY_NONE, /* a feature that stands alone */
	FAMILY_SURFACES_TOP,
	FAMILY_SURFACES_BOTTOM,
	FAMILY_TOOLS,
	FAMILY_CIRCUITS,
};

struct feature {
	const char *name; /* "heat_s", "water_rise_3_dc": also the ledger's column */
	enum dimension dimension;
	int version;
	const char *meaning; /* one sentence: how it is computed */
};

/* What the feature is one of, and the first of them (itself under FAMILY_NONE). */
enum feature_family feature_family(int id, int *first);

/* 0 <= id < FEATURE_COUNT. */
const struct feature *feature_get(int id);

/* The id, or -1. */
int feature_find(const char *name);

/*
 * From the inside's SI to the unit in the feature's name (s, C, K, kWh, K/s, mm, L/min,
 * K/kW, 1) and back: the ledger and the store hold that one.  Energies, lengths, flows
 * and thermal resistances differ.
 */
double feature_from_si(int id, double value);
double feature_to_si(int id, double value);

/* That unit: "s", "C", "K", "kWh", "K/s", "mm", "L/min", "K/kW" or "1". */
const char *feature_unit_text(int id);

/* The nearest feature name, or NULL. */
const char *feature_nearest(const char *wrong);

#endif
