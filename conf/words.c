/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "conf/words.h"

#include <stdio.h>
#include <string.h>

#include "conf/settings.h"

#define COUNT_OF(array) (sizeof(array) / sizeof((array)[0]))

static const char *const temperatures[] = {
    [UNIT_CELSIUS] = "C", [UNIT_FAHRENHEIT] = "F"};

static const char *const machines[MACHINE_COUNT] = {
    [MACHINE_ROTARY] = "rotary",
    [MACHINE_SHUTTLE] = "shuttle",
    [MACHINE_SINGLE] = "single-station",
};

static const char *const stations[STATION_KIND_COUNT] = {
    [STATION_LOAD] = "load",
    [STATION_OVEN] = "oven",
    [STATION_FORM] = "form",
    [STATION_UNLOAD] = "unload",
};

static const char *const roles[ROLE_COUNT] = {
    [ROLE_ROTATING] = "rotating",
    [ROLE_FORM_CLOSED] = "form_closed",
    [ROLE_OVEN_IN] = "oven_in",
    [ROLE_CLAMP_CLOSED] = "clamp_closed",
    [ROLE_SHEET_IN_FRAME] = "sheet_in_frame",
    [ROLE_SAG_EYE] = "sag_eye",
    [ROLE_SHEET_AT_LOAD] = "sheet_at_load",
    [ROLE_SHEET_AT_FORM] = "sheet_at_form",
    [ROLE_AUTOMATIC] = "automatic",
    [ROLE_FAULT] = "fault",
    [ROLE_CYCLE_COUNT] = "cycle_count",
    [ROLE_RECIPE] = "recipe",
    [ROLE_SURFACE_TOP] = "surface_top",
    [ROLE_SURFACE_BOTTOM] = "surface_bottom",
    [ROLE_ZONE_TOP] = "zone_top",
    [ROLE_ZONE_BOTTOM] = "zone_bottom",
    [ROLE_OVEN_AIR] = "oven_air",
    [ROLE_TOOL] = "tool",
    [ROLE_WATER_SUPPLY] = "water_supply",
    [ROLE_WATER_RETURN] = "water_return",
    [ROLE_WATER_FLOW] = "water_flow",
    [ROLE_ENERGY_METER] = "energy_meter",
    [ROLE_STACK] = "stack",
    [ROLE_AMBIENT] = "ambient",
    [ROLE_SET_POINT] = "set_point",
    [ROLE_OTHER] = "other",
};

static const char *const tables[] = {
    [TABLE_COIL] = "coil",
    [TABLE_DISCRETE] = "discrete",
    [TABLE_HOLDING] = "holding",
    [TABLE_INPUT] = "input",
};

static const char *const encodings[] = {
    [ENCODING_BIT] = "bit",
    [ENCODING_INT16] = "int16",
    [ENCODING_UINT16] = "uint16",
    [ENCODING_INT32] = "int32",
    [ENCODING_UINT32] = "uint32",
    [ENCODING_FLOAT32] = "float32",
};

static const char *const orders[] = {
    [WORD_ORDER_ABCD] = "abcd",
    [WORD_ORDER_BADC] = "badc",
    [WORD_ORDER_CDAB] = "cdab",
    [WORD_ORDER_DCBA] = "dcba",
};

static const char *const parities[] = {
    [PARITY_NONE] = "none", [PARITY_EVEN] = "even", [PARITY_ODD] = "odd"};

static const char *const views[] = {[VIEW_OVEN] = "oven", [VIEW_EXIT] = "exit"};

static const char *const structures[] = {
    [STRUCTURE_AMORPHOUS] = "amorphous",
    [STRUCTURE_SEMICRYSTALLINE] = "semicrystalline",
};

static const char *const stores[] = {[STORE_INFLUXDB1] = "influxdb1",
    [STORE_INFLUXDB2] = "influxdb2",
    [STORE_INFLUXDB3] = "influxdb3",
    [STORE_VICTORIAMETRICS] = "victoriametrics"};

/* Kinds of event, as whoever files them calls them; a place is a bit of a mask. */
static const char *const events[EVENT_KIND_COUNT] = {
    "device_silent",
    "device_answers",
    "finding",
    "store_failing",
    "store_delivering",
    "ledger_failing",
    "ledger_writing",
    "ledger_damaged",
    "ledger_whole",
    "shots_lost",
    "readings_lost",
    "disk_low",
    "disk_free",
    "clock_step",
    "configuration_refused",
    "configuration_taken_over",
    "logger_started",
    "logger_stopped",
    "restored",
    "start",
    "end",
    "stop",
    "resume",
    "fault",
    "manual",
    "lost",
    "missed_index",
    "count_jump",
    "count_astray",
    "set_points",
};

const struct words words_temperature = {temperatures, COUNT_OF(temperatures)};
const struct words words_machine = {machines, COUNT_OF(machines)};
const struct words words_station = {stations, COUNT_OF(stations)};
const struct words words_role = {roles, COUNT_OF(roles)};
const struct words words_table = {tables, COUNT_OF(tables)};
const struct words words_encoding = {encodings, COUNT_OF(encodings)};
const struct words words_order = {orders, COUNT_OF(orders)};
const struct words words_parity = {parities, COUNT_OF(parities)};
const struct words words_view = {views, COUNT_OF(views)};
const struct words words_structure = {structures, COUNT_OF(structures)};
const struct words words_store = {stores, COUNT_OF(stores)};
const struct words words_event = {events, COUNT_OF(events)};

int
words_find(const struct words *words, const char *word)
{
	for (size_t i = 0; i < words->count; i++)
		if (words->list[i] && strcmp(words->list[i], word) == 0)
			return (int)i;
	return -1;
}

/* Adds one word; `left` more will follow it. */
static void
add_word(
    char text[static WORDS_TEXT], const char *before, const char *word, size_t left)
{
	size_t length = strlen(text);

	snprintf(text + length, WORDS_TEXT - length, "%s%s%s", before, word,
	    left > 1    ? ", "
	    : left == 1 ? " or "
			: "");
}

void
words_list(const struct words *words, char text[static WORDS_TEXT])
{
	text[0] = '\0';
	for (size_t i = 0; i < words->count; i++)
		if (words->list[i])
			add_word(text, "", words->list[i], words->count - 1 - i);
}

void
words_units(enum dimension dimension, const char *before, char text[static WORDS_TEXT])
{
	size_t left = 0;

	for (int unit = UNIT_ONE + 1; unit < UNIT_COUNT; unit++)
		left += unit_measures((enum unit)unit, dimension);
	text[0] = '\0';
	for (int unit = UNIT_ONE + 1; unit < UNIT_COUNT; unit++)
		if (unit_measures((enum unit)unit, dimension))
			add_word(text, before, unit_text((enum unit)unit), --left);
}
