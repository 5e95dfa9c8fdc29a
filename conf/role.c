/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "conf/role.h"

#include <assert.h>

#include "conf/words.h"

#define MEASURE(what) .kind = ROLE_KIND_MEASURE, .dimension = DIMENSION_##what
#define OF_OVEN .oven = true, .gapless = true

static const struct role_traits traits[ROLE_COUNT] = {
    [ROLE_ROTATING] = {.kind = ROLE_KIND_BIT,
	.meaning = "the bit that is 1 while the frames move on"},
    [ROLE_FORM_CLOSED] = {.kind = ROLE_KIND_BIT,
	.meaning = "the bit that is 1 while the platens are closed"},
    [ROLE_OVEN_IN] = {.kind = ROLE_KIND_BIT,
	.meaning = "the bit that is 1 while the sheet is in the oven"},
    [ROLE_CLAMP_CLOSED] = {.kind = ROLE_KIND_BIT,
	.meaning = "the bit that is 1 while the clamp holds a sheet"},
    [ROLE_SHEET_IN_FRAME] = {.kind = ROLE_KIND_BIT,
	.meaning = "the bit that is 1 while a sheet is in the frame"},
    [ROLE_SAG_EYE] = {.kind = ROLE_KIND_BIT,
	.meaning =
	    "the bit that is 1 while the sheet hangs into the light beam below it"},
    [ROLE_SHEET_AT_LOAD] = {.kind = ROLE_KIND_BIT,
	.meaning =
	    "the bit that is 1 while the frame at the load station holds a sheet"},
    [ROLE_SHEET_AT_FORM] = {.kind = ROLE_KIND_BIT,
	.meaning =
	    "the bit that is 1 while the frame at the form station holds a sheet"},
    [ROLE_AUTOMATIC] = {.kind = ROLE_KIND_BIT,
	.meaning = "the bit that is 1 while the machine runs by itself, not by hand"},
    [ROLE_FAULT] = {.kind = ROLE_KIND_BIT,
	.meaning = "the bit that is 1 while the machine is held by a fault"},
    [ROLE_CYCLE_COUNT] = {.kind = ROLE_KIND_WORD,
	.meaning = "the counter that goes up by 1 as the frames move on"},
    [ROLE_RECIPE] = {.kind = ROLE_KIND_WORD,
	.meaning = "the number of the recipe that the machine runs"},
    [ROLE_SURFACE_TOP] = {MEASURE(TEMPERATURE), .positions = FEATURE_SURFACES_MAX,
	OF_OVEN, .meaning = "a pyrometer that looks at the sheet from above"},
    [ROLE_SURFACE_BOTTOM] = {MEASURE(TEMPERATURE), .positions = FEATURE_SURFACES_MAX,
	OF_OVEN, .meaning = "a pyrometer that looks at the sheet from below"},
    [ROLE_ZONE_TOP] = {MEASURE(RATIO), .positions = SETTINGS_POSITIONS, OF_OVEN,
	.meaning = "the output of a heater zone above the sheet"},
    [ROLE_ZONE_BOTTOM] = {MEASURE(RATIO), .positions = SETTINGS_POSITIONS, OF_OVEN,
	.meaning = "the output of a heater zone below the sheet"},
    [ROLE_OVEN_AIR] = {MEASURE(TEMPERATURE), .oven = true,
	.meaning = "the air of a convection oven"},
    [ROLE_TOOL] = {MEASURE(TEMPERATURE), .positions = SETTINGS_POSITIONS,
	.gapless = true, .meaning = "a sensor in the forming tool"},
    [ROLE_WATER_SUPPLY] = {MEASURE(TEMPERATURE), .positions = FEATURE_CIRCUITS_MAX,
	.common = true,
	.meaning = "the water that goes to the tool: of one circuit, or without a "
		   "position of all"},
    [ROLE_WATER_RETURN] = {MEASURE(TEMPERATURE), .positions = FEATURE_CIRCUITS_MAX,
	.gapless = true,
	.meaning = "the water that comes back from a circuit of the tool"},
    [ROLE_WATER_FLOW] = {MEASURE(FLOW), .positions = FEATURE_CIRCUITS_MAX,
	.meaning = "the flow through a circuit of the tool"},
    [ROLE_ENERGY_METER] = {MEASURE(ENERGY),
	.meaning = "the meter of the oven's energy, which goes up"},
    [ROLE_STACK] = {MEASURE(TEMPERATURE),
	.meaning = "the stack of sheets that waits to be loaded"},
    [ROLE_AMBIENT] = {MEASURE(TEMPERATURE), .meaning = "the air of the hall"},
    [ROLE_SET_POINT] = {.kind = ROLE_KIND_ANY,
	.positions = SETTINGS_POSITIONS,
	.meaning = "what somebody has set on the machine; all together they are kept "
		   "as one mark a shot"},
    [ROLE_OTHER] = {.kind = ROLE_KIND_ANY,
	.meaning = "anything else to be kept with the shot"},
};

const struct role_traits *
role_get(enum role role)
{
	assert(role < ROLE_COUNT);
	return traits + role;
}

const char *
role_text(enum role role)
{
	assert(role < ROLE_COUNT);
	return words_role.list[role];
}
