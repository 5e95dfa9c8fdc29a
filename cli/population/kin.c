/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/population/kin.h"

/* What a feature rests on; a feature may rest on several. */
enum {
	TOP_FACE = 1,    /* pyrometers above */
	BOTTOM_FACE = 2, /* and below */
	HEAT_TIME = 4,
	ENERGY = 8,
	TOOL = 16,
	WATER = 32,
	CYCLE = 64,
	FORM_TIME = 128,
	TRANSFER = 256,
	STACK = 512,
	QUALITY = 1024, /* how well something was read, how sure it is */
	INSIDE = TOP_FACE | BOTTOM_FACE | HEAT_TIME, /* computed of the whole heat */
};

static unsigned
family_rests_on(int first)
{
	switch (first) {
	case FEATURE_EXIT_TOP_FIRST:
		return TOP_FACE;
	case FEATURE_EXIT_BOTTOM_FIRST:
		return BOTTOM_FACE;
	case FEATURE_TOOL_MEAN_FIRST:
	case FEATURE_RECOVERY_FIRST:
		return TOOL;
	default: /* all others are of water circuits */
		return WATER;
	}
}

static const unsigned fixed[FEATURE_FIXED_COUNT] = {
    [FEATURE_HEAT_S] = HEAT_TIME,
    [FEATURE_SAG_S] = HEAT_TIME,
    [FEATURE_SOAK_WAIT_S] = HEAT_TIME | CYCLE | TRANSFER,
    [FEATURE_HEAT_GAP_S] = HEAT_TIME,
    [FEATURE_EXIT_TOP_C] = TOP_FACE,
    [FEATURE_EXIT_BOTTOM_C] = BOTTOM_FACE,
    [FEATURE_EXIT_DIFFERENCE_DC] = TOP_FACE | BOTTOM_FACE,
    [FEATURE_EXIT_SPREAD_TOP_DC] = TOP_FACE,
    [FEATURE_EXIT_SPREAD_BOTTOM_DC] = BOTTOM_FACE,
    [FEATURE_STACK_C] = STACK,
    [FEATURE_ENERGY_KWH] = ENERGY | HEAT_TIME,
    [FEATURE_ENERGY_TOP_KWH] = ENERGY | HEAT_TIME,
    [FEATURE_ENERGY_BOTTOM_KWH] = ENERGY | HEAT_TIME,
    [FEATURE_METER_KWH] = ENERGY | HEAT_TIME,
    [FEATURE_METER_RATIO] = ENERGY,
    [FEATURE_HEAT_COVERAGE] = QUALITY,
    [FEATURE_CORE_HEAT_END_C] = INSIDE,
    [FEATURE_CORE_HEAT_END_BAND_DC] = QUALITY,
    [FEATURE_SHEET_MEAN_HEAT_END_C] = INSIDE,
    [FEATURE_SHEET_MEAN_HEAT_END_BAND_DC] = QUALITY,
    [FEATURE_SURFACE_CORE_DC] = INSIDE,
    [FEATURE_SURFACE_CORE_BAND_DC] = QUALITY,
    [FEATURE_SOAK_INDEX] = INSIDE,
    [FEATURE_FOURIER] = HEAT_TIME,
    [FEATURE_CORE_PYROMETERS_TOP] = QUALITY,
    [FEATURE_CORE_PYROMETERS_BOTTOM] = QUALITY,
    [FEATURE_CORE_FORM_START_C] = INSIDE,
    [FEATURE_CORE_FORM_START_BAND_DC] = QUALITY,
    [FEATURE_SHEET_MEAN_FORM_START_C] = INSIDE,
    [FEATURE_SHEET_MEAN_FORM_START_BAND_DC] = QUALITY,
    [FEATURE_ABOVE_LIMIT_S] = INSIDE,
    [FEATURE_TRANSFER_S] = TRANSFER,
    [FEATURE_FORM_S] = FORM_TIME,
    [FEATURE_TOOL_MEAN_C] = TOOL,
    [FEATURE_TOOL_SPREAD_START_DC] = TOOL,
    [FEATURE_TOOL_SPREAD_MEAN_DC] = TOOL,
    [FEATURE_TOOL_SPREAD_P95_DC] = TOOL,
    [FEATURE_TOOL_SPREAD_OF_MEANS_DC] = TOOL,
    [FEATURE_TOOL_SWING_DC] = TOOL,
    [FEATURE_TOOL_DRIFT_DC] = TOOL,
    [FEATURE_WATER_RISE_DC] = WATER,
    [FEATURE_WATER_SUPPLY_C] = WATER,
    [FEATURE_HEAT_REMOVED_KWH] = WATER,
    [FEATURE_HEAT_BROUGHT_KWH] = INSIDE,
    [FEATURE_HEAT_BALANCE] = WATER | INSIDE,
    [FEATURE_RECOVERY_S] = TOOL,
    [FEATURE_FORM_COVERAGE] = QUALITY,
    [FEATURE_CYCLE_S] = CYCLE | HEAT_TIME | FORM_TIME | TRANSFER,
    [FEATURE_CYCLE_FORMING_S] = CYCLE | FORM_TIME,
    [FEATURE_CYCLE_WAIT_SAG_S] = CYCLE | HEAT_TIME,
    [FEATURE_CYCLE_WAIT_LINE_S] = CYCLE | TRANSFER,
    [FEATURE_CYCLE_INDEX_S] = CYCLE | TRANSFER,
    [FEATURE_CYCLE_CLOSING_S] = CYCLE | TRANSFER,
};

static unsigned
rests_on(int feature)
{
	int first;

	return feature_family(feature, &first) == FAMILY_NONE ? fixed[feature]
	                                                      : family_rests_on(first);
}

bool
kin_are(int a, int b)
{
	return a == b || (rests_on(a) & rests_on(b)) != 0;
}

/* The place among a family that has a figure each; 0: one of the whole line. */
static int
position_of(int feature)
{
	int first;

	switch (feature_family(feature, &first)) {
	case FAMILY_NONE:
	case FAMILY_SURFACES_TOP:
	case FAMILY_SURFACES_BOTTOM:
		return 0; /* a side's pyrometers see one sheet */
	case FAMILY_TOOLS:
	case FAMILY_CIRCUITS:
		return feature - first + 1;
	}
	return 0;
}

bool
kin_tell_the_same(int a, int b)
{
	return kin_are(a, b) && position_of(a) == position_of(b);
}

bool
kin_is_input(int feature)
{
	return (rests_on(feature) & QUALITY) == 0;
}

static int
positions(const struct line_settings *line, enum feature_family family)
{
	switch (family) {
	case FAMILY_NONE:
		return 0;
	case FAMILY_SURFACES_TOP:
		return line->surfaces_top;
	case FAMILY_SURFACES_BOTTOM:
		return line->surfaces_bottom;
	case FAMILY_TOOLS:
		return line->tools;
	case FAMILY_CIRCUITS:
		return line->circuits;
	}
	return 0;
}

void
kin_add_inputs(struct population_features *features, const struct line_settings *line)
{
	for (int id = 0; id < FEATURE_COUNT; id++) {
		int first;
		enum feature_family family = feature_family(id, &first);
		if (family != FAMILY_NONE &&
		    (!line || id - first >= positions(line, family)))
			continue;
		if (kin_is_input(id))
			population_features_add(features, id);
	}
}
