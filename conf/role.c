/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "conf/role.h"

#include <assert.h>

#include "conf/words.h"

#define MEASURE(what) .kind = ROLE_KIND_MEASURE, .dimension = DIMENSION_##what
#define OF_OVEN .oven = true, .gapless = true

static const struct role_traits traits[ROLE_COUNT] = {
    [ROLE_ROTATING] = {.kind = ROLE_KIND_BIT},
    [ROLE_FORM_CLOSED] = {.kind = ROLE_KIND_BIT},
    [ROLE_OVEN_IN] = {.kind = ROLE_KIND_BIT},
    [ROLE_CLAMP_CLOSED] = {.kind = ROLE_KIND_BIT},
    [ROLE_SHEET_IN_FRAME] = {.kind = ROLE_KIND_BIT},
    [ROLE_SAG_EYE] = {.kind = ROLE_KIND_BIT},
    [ROLE_SHEET_AT_LOAD] = {.kind = ROLE_KIND_BIT},
    [ROLE_SHEET_AT_FORM] = {.kind = ROLE_KIND_BIT},
    [ROLE_AUTOMATIC] = {.kind = ROLE_KIND_BIT},
    [ROLE_FAULT] = {.kind = ROLE_KIND_BIT},
    [ROLE_CYCLE_COUNT] = {.kind = ROLE_KIND_WORD},
    [ROLE_RECIPE] = {.kind = ROLE_KIND_WORD},
    [ROLE_SURFACE_TOP] = {MEASURE(TEMPERATURE), FEATURE_SURFACES_MAX, OF_OVEN},
    [ROLE_SURFACE_BOTTOM] = {MEASURE(TEMPERATURE), FEATURE_SURFACES_MAX, OF_OVEN},
    [ROLE_ZONE_TOP] = {MEASURE(RATIO), SETTINGS_POSITIONS, OF_OVEN},
    [ROLE_ZONE_BOTTOM] = {MEASURE(RATIO), SETTINGS_POSITIONS, OF_OVEN},
    [ROLE_OVEN_AIR] = {MEASURE(TEMPERATURE), .oven = true},
    [ROLE_TOOL] = {MEASURE(TEMPERATURE), SETTINGS_POSITIONS, .gapless = true},
    [ROLE_WATER_SUPPLY] = {MEASURE(TEMPERATURE), FEATURE_CIRCUITS_MAX, .common = true},
    [ROLE_WATER_RETURN] = {MEASURE(TEMPERATURE), FEATURE_CIRCUITS_MAX, .gapless = true},
    [ROLE_WATER_FLOW] = {MEASURE(FLOW), FEATURE_CIRCUITS_MAX},
    [ROLE_ENERGY_METER] = {MEASURE(ENERGY)},
    [ROLE_STACK] = {MEASURE(TEMPERATURE)},
    [ROLE_AMBIENT] = {MEASURE(TEMPERATURE)},
    [ROLE_SET_POINT] = {.kind = ROLE_KIND_ANY, .positions = SETTINGS_POSITIONS},
    [ROLE_OTHER] = {.kind = ROLE_KIND_ANY},
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
