/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "contrib/linesim/event_forms.h"

#include <math.h>

#include "contrib/linesim/registers.h"

static const char *const faces[] = {"top", "bottom", NULL};
static const char *const eyes[] = {"sound", "stuck", "bouncing", "dead", NULL};

#define AT(member) offsetof(struct event, member)
#define FOR_S                                                         \
	{                                                             \
		"for_s", VALUE_NUMBER, 0.1, 1e6, NAN, NULL, AT(for_s) \
	}
#define OVER_S                                                      \
	{                                                           \
		"over_s", VALUE_NUMBER, 0, 1e7, 0, NULL, AT(over_s) \
	}
#define SIDE                                                     \
	{                                                        \
		"side", VALUE_CHOICE, 0, 0, NAN, faces, AT(face) \
	}
#define OVEN                                                          \
	{                                                             \
		"oven", VALUE_WHOLE, 1, OVENS_MAX, 1, NULL, AT(place) \
	}
#define DEVICE                                                              \
	{                                                                   \
		"device", VALUE_CHOICE, 0, 0, NAN, device_names, AT(device) \
	}
#define BY(key, limit)                                                \
	{                                                             \
		key, VALUE_NUMBER, -(limit), limit, NAN, NULL, AT(by) \
	}
#define CIRCUIT                                                              \
	{                                                                    \
		"circuit", VALUE_WHOLE, 1, TOOL_ZONES, NAN, NULL, AT(number) \
	}
#define TOOL                                                          \
	{                                                             \
		"tool", VALUE_WHOLE, 1, SIDES_MAX, 1, NULL, AT(place) \
	}
#define FACTOR(least, most)                                                \
	{                                                                  \
		"factor", VALUE_NUMBER, least, most, NAN, NULL, AT(factor) \
	}
#define CHANNEL                                                    \
	{                                                          \
		"channel", VALUE_POINT, 0, 0, NAN, NULL, AT(point) \
	}
#define ZONE                                                              \
	{                                                                 \
		"zone", VALUE_WHOLE, 1, OVEN_ZONES, NAN, NULL, AT(number) \
	}

const struct event_form event_forms[EVENT_KIND_COUNT] = {
    [EVENT_LOT] = {"lot",
	{{"name", VALUE_WORD, 0, 0, NAN, NULL, AT(lot)},
	    {"melt_flow", VALUE_NUMBER, 0.2, 5, 1, NULL, AT(melt_flow)},
	    {"thickness", VALUE_NUMBER, 0.75, 2, 1, NULL, AT(thickness)},
	    {"conductivity", VALUE_NUMBER, 0.3, 2, 1, NULL, AT(conductivity)},
	    {"emissivity", VALUE_NUMBER, 0.5, 1, SHEET_EMISSIVITY, NULL,
		AT(emissivity)}}},
    [EVENT_COLD] = {"cold",
	{{"start_c", VALUE_NUMBER, -40, 100, NAN, NULL, AT(start_c)}}},
    [EVENT_EMPTY] = {"empty", {{0}}},
    [EVENT_SCRAP] = {"scrap", {{0}}},
    [EVENT_ABORT] = {"abort", {{0}}},
    [EVENT_SAG_EYE] = {"sag-eye", {{"state", VALUE_CHOICE, 0, 0, NAN, eyes, AT(eye)}}},
    [EVENT_REHEAT] = {"reheat", {{0}}},
    [EVENT_DOUBLE_INDEX] = {"double-index", {{0}}},
    [EVENT_FAULT] = {"fault", {FOR_S}},
    [EVENT_JOG] = {"jog", {{"for_s", VALUE_NUMBER, 12, 1e6, 30, NULL, AT(for_s)}}},
    [EVENT_COUNTER] = {"counter",
	{{"value", VALUE_WHOLE, 0, 4294967295.0, 0, NULL, AT(value)}}},
    [EVENT_DEAD_ZONE] = {"dead-zone",
	{SIDE, ZONE, OVEN,
	    {"output_percent", VALUE_NUMBER, 0, 100, -1, NULL, AT(output_percent)}}},
    [EVENT_WEAK_ZONE] = {"weak-zone",
	{SIDE, ZONE, OVEN, {"factor", VALUE_NUMBER, 0, 1, NAN, NULL, AT(factor)}}},
    [EVENT_SET_POINT] = {"set-point",
	{SIDE, ZONE, OVEN, {"percent", VALUE_NUMBER, 0, 100, NAN, NULL, AT(percent)}}},
    [EVENT_WINDOW] = {"window",
	{SIDE, {"pyrometer", VALUE_WHOLE, 1, PYROMETERS_A_SIDE, NAN, NULL, AT(number)},
	    OVEN, {"transmission", VALUE_NUMBER, 0.05, 1, NAN, NULL, AT(factor)},
	    OVER_S}},
    [EVENT_CLOG] = {"clog", {CIRCUIT, TOOL, FACTOR(0.01, 2), OVER_S}},
    [EVENT_OPEN] = {"open", {CHANNEL, FOR_S}},
    [EVENT_FREEZE] = {"freeze", {CHANNEL, FOR_S}},
    [EVENT_SILENT] = {"silent", {DEVICE, FOR_S}},
    [EVENT_EXCEPTION] = {"exception",
	{DEVICE, {"code", VALUE_WHOLE, 1, 255, 11, NULL, AT(code)}, FOR_S}},
    [EVENT_LATE] = {"late",
	{DEVICE, {"delay_s", VALUE_NUMBER, 0.1, 3600, NAN, NULL, AT(delay_s)}, FOR_S}},
    [EVENT_STACK] = {"stack", {BY("by_c", 30.0), FOR_S}},
    [EVENT_MAINS] = {"mains", {FACTOR(0.5, 1.2), FOR_S}},
    [EVENT_DRAUGHT] = {"draught",
	{{"air_c", VALUE_NUMBER, -20, 250, NAN, NULL, AT(air_c)}, OVEN, FOR_S}},
    [EVENT_SUPPLY] = {"supply", {BY("by_c", 50.0), OVER_S}},
    [EVENT_PUMP] = {"pump", {TOOL, FACTOR(0.01, 2), OVER_S}},
    [EVENT_SCALE] = {"scale", {CIRCUIT, TOOL, FACTOR(0.01, 2), OVER_S}},
    [EVENT_CONTACT] = {"contact",
	{{"zone", VALUE_WHOLE, 1, TOOL_ZONES, NAN, NULL, AT(number)}, TOOL,
	    FACTOR(0.0, 2), OVER_S}},
    [EVENT_OFFSET] = {"offset", {CHANNEL, BY("by", 1000.0), OVER_S}},
    [EVENT_SWAP] = {"swap",
	{CHANNEL, {"with", VALUE_POINT, 0, 0, NAN, NULL, AT(other_point)}, FOR_S}},
};

const char *
event_name(int kind)
{
	return event_forms[kind].name;
}
