/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "conf/feature.h"

#include <assert.h>
#include <stddef.h>
#include <string.h>

#include "daemon/base/text.h"

#define TEMPERATURE DIMENSION_TEMPERATURE
#define DIFFERENCE DIMENSION_TEMPERATURE_DIFFERENCE
#define RATE DIMENSION_TEMPERATURE_RATE
#define TIME DIMENSION_TIME
#define RATIO DIMENSION_RATIO
#define ENERGY DIMENSION_ENERGY

#define EXIT_FIT                                                \
	" of the last oven shows at heat end: a straight line " \
	"fitted over the last 5 s in there, taken at that moment"
#define EXIT_TOP(n)                          \
	[FEATURE_EXIT_TOP_FIRST + (n)-1] = { \
	    "exit_top_" #n "_c", TEMPERATURE, 1, "what top pyrometer " #n EXIT_FIT}
#define EXIT_BOTTOM(n)                                                                 \
	[FEATURE_EXIT_BOTTOM_FIRST + (n)-1] = {"exit_bottom_" #n "_c", TEMPERATURE, 1, \
	    "what bottom pyrometer " #n EXIT_FIT}
#define WATER_RISE(n)                                                                \
	[FEATURE_WATER_RISE_FIRST + (n)-1] = {"water_rise_" #n "_dc", DIFFERENCE, 1, \
	    "time mean, while the platens are closed, of the return of water "       \
	    "circuit " #n " minus the measured supply"}

static const struct feature features[FEATURE_COUNT] = {
    [FEATURE_HEAT_S] = {"heat_s", TIME, 1,
	"time in the oven: from the moment the sheet is there (on a ring the end of "
	"the index that brought it) to the moment it begins to leave (the start of "
	"the next); from the first oven to the last where it was in several, or in "
	"one again"},
    [FEATURE_SAG_S] = {"sag_s", TIME, 1,
	"from heat start to the first moment in the last oven at which the sag eye "
	"stays on for its debounce time"},
    [FEATURE_SOAK_WAIT_S] = {"soak_wait_s", TIME, 1,
	"from the sag to heat end: the sheet was ready and went on heating"},
    [FEATURE_HEAT_GAP_S] = {"heat_gap_s", TIME, 1,
	"part of heat_s outside an oven: on the way from one to the next, or out "
	"before it was heated again; 0 when it went in once"},
    [FEATURE_EXIT_TOP_C] = {"exit_top_c", TEMPERATURE, 1,
	"mean over the good top pyrometers of the last oven of what each shows at "
	"heat end"},
    [FEATURE_EXIT_BOTTOM_C] = {"exit_bottom_c", TEMPERATURE, 1,
	"mean over the good bottom pyrometers of the last oven of what each shows at "
	"heat end"},
    [FEATURE_EXIT_DIFFERENCE_DC] = {"exit_difference_dc", DIFFERENCE, 1,
	"exit_top_c minus exit_bottom_c"},
    [FEATURE_EXIT_SPREAD_TOP_DC] = {"exit_spread_top_dc", DIFFERENCE, 1,
	"largest minus smallest of the top pyrometers of the last oven at heat end; "
	"absent when one of them is"},
    [FEATURE_EXIT_SPREAD_BOTTOM_DC] = {"exit_spread_bottom_dc", DIFFERENCE, 1,
	"largest minus smallest of the bottom pyrometers of the last oven at heat "
	"end; absent when one of them is"},
    [FEATURE_RATE_TOP] = {"rate_top_c_per_s", RATE, 1,
	"heating rate: least-squares slope of each top pyrometer of the first oven "
	"between rate_from_s and rate_to_s after heat start, mean over the good ones"},
    [FEATURE_RATE_BOTTOM] = {"rate_bottom_c_per_s", RATE, 1,
	"heating rate: least-squares slope of each bottom pyrometer of the first "
	"oven between rate_from_s and rate_to_s after heat start, mean over the good "
	"ones"},
    [FEATURE_STACK_C] = {"stack_c", TEMPERATURE, 1,
	"the stack sensor at heat start, in the first oven: how warm the sheet came "
	"in"},
    [FEATURE_ENERGY_KWH] = {"energy_kwh", ENERGY, 1,
	"energy_top_kwh plus energy_bottom_kwh: estimated from outputs, not measured"},
    [FEATURE_ENERGY_TOP_KWH] = {"energy_top_kwh", ENERGY, 1,
	"rated power times output of the top zones, integrated over the time that "
	"the sheet is in their oven: estimated from outputs, not measured"},
    [FEATURE_ENERGY_BOTTOM_KWH] = {"energy_bottom_kwh", ENERGY, 1,
	"rated power times output of the bottom zones, integrated over the time that "
	"the sheet is in their oven: estimated from outputs, not measured"},
    [FEATURE_METER_KWH] = {"meter_kwh", ENERGY, 1,
	"what the energy meter went up by from heat start to the arrival at the form "
	"station (on a ring from index to index): heating and idling together"},
    [FEATURE_SATURATION_MAX] = {"saturation_max", RATIO, 1,
	"share of the time with the sheet in its oven that a zone spent at an output "
	"of 99 % or more, the largest of all zones"},
    [FEATURE_SATURATED_ZONES] = {"saturated_zones", DIMENSION_NONE, 1,
	"zones that spent more than half of the time with the sheet in their oven at "
	"an output of 99 % or more"},
    [FEATURE_HEAT_COVERAGE] = {"heat_coverage", RATIO, 1,
	"share of the heat time with good readings, the smallest over the line's "
	"pyrometers, zones, stack and ambient sensor and energy meter"},
    [FEATURE_TRANSFER_S] = {"transfer_s", TIME, 1,
	"from heat end to the platens closed for the first time: the sheet cools "
	"meanwhile"},
    [FEATURE_FORM_S] = {"form_s", TIME, 1,
	"from the platens first closed on the sheet to the platens last opened"},
    [FEATURE_TOOL_MEAN_C] = {"tool_mean_c", TEMPERATURE, 1,
	"mean over the tool sensors of the time mean of each while the platens are "
	"closed"},
    [FEATURE_TOOL_SPREAD_START_DC] = {"tool_spread_start_dc", DIFFERENCE, 1,
	"largest minus smallest tool sensor when the platens close"},
    [FEATURE_TOOL_SPREAD_MEAN_DC] = {"tool_spread_mean_dc", DIFFERENCE, 1,
	"largest minus smallest tool sensor at each moment, its time mean while the "
	"platens are closed"},
    [FEATURE_TOOL_SPREAD_P95_DC] = {"tool_spread_p95_dc", DIFFERENCE, 1,
	"largest minus smallest tool sensor at each moment, its 95th percentile while "
	"the platens are closed"},
    [FEATURE_TOOL_SPREAD_OF_MEANS_DC] = {"tool_spread_of_means_dc", DIFFERENCE, 1,
	"largest minus smallest of the tool sensors' time means while the platens are "
	"closed: how even the tool is, with the noise averaged out"},
    [FEATURE_TOOL_SWING_DC] = {"tool_swing_dc", DIFFERENCE, 1,
	"highest minus lowest reading of one tool sensor while the platens are closed, "
	"the largest of all sensors: the tool's breathing in time, not in space"},
    [FEATURE_TOOL_DRIFT_DC] = {"tool_drift_dc", DIFFERENCE, 1,
	"tool_mean_c minus that of the shot formed before"},
    [FEATURE_WATER_SUPPLY_C] = {"water_supply_c", TEMPERATURE, 1,
	"time mean while the platens are closed of the water supply: the common one, "
	"or that of circuit 1 when it has its own"},
    [FEATURE_WATER_RISE_DC] = {"water_rise_dc", DIFFERENCE, 1,
	"mean over the water circuits of their return minus the measured supply while "
	"the platens are closed"},
    [FEATURE_FORM_COVERAGE] = {"form_coverage", RATIO, 1,
	"share of the form time with good readings, the smallest over the line's tool "
	"and water sensors"},
    [FEATURE_CYCLE_S] = {"cycle_s", TIME, 1,
	"from the platens closed on the sheet before, on the same side, to the "
	"platens closed on this one; the cycle parts add up to it"},
    [FEATURE_CYCLE_FORMING_S] = {"cycle_forming_s", TIME, 1,
	"part of the cycle with the platens closed on the sheet before"},
    [FEATURE_CYCLE_WAIT_SAG_S] = {"cycle_wait_sag_s", TIME, 1,
	"part of the cycle with the platens open while the next sheet has not sagged "
	"yet; on a machine with one frame that is loading and heating it"},
    [FEATURE_CYCLE_WAIT_LINE_S] = {"cycle_wait_line_s", TIME, 1,
	"part of the cycle with the platens open and the next sheet sagged: it waits "
	"for the operator or the line"},
    [FEATURE_CYCLE_INDEX_S] = {"cycle_index_s", TIME, 1,
	"part of the cycle from heat end to the arrival at the form station: on a "
	"ring, while the frames move on"},
    [FEATURE_CYCLE_CLOSING_S] = {"cycle_closing_s", TIME, 1,
	"part of the cycle from the arrival at the form station to the platens "
	"closed"},
    EXIT_TOP(1),
    EXIT_TOP(2),
    EXIT_TOP(3),
    EXIT_TOP(4),
    EXIT_TOP(5),
    EXIT_TOP(6),
    EXIT_TOP(7),
    EXIT_TOP(8),
    EXIT_BOTTOM(1),
    EXIT_BOTTOM(2),
    EXIT_BOTTOM(3),
    EXIT_BOTTOM(4),
    EXIT_BOTTOM(5),
    EXIT_BOTTOM(6),
    EXIT_BOTTOM(7),
    EXIT_BOTTOM(8),
    WATER_RISE(1),
    WATER_RISE(2),
    WATER_RISE(3),
    WATER_RISE(4),
    WATER_RISE(5),
    WATER_RISE(6),
    WATER_RISE(7),
    WATER_RISE(8),
    WATER_RISE(9),
    WATER_RISE(10),
    WATER_RISE(11),
    WATER_RISE(12),
    WATER_RISE(13),
    WATER_RISE(14),
    WATER_RISE(15),
    WATER_RISE(16),
    WATER_RISE(17),
    WATER_RISE(18),
    WATER_RISE(19),
    WATER_RISE(20),
    WATER_RISE(21),
    WATER_RISE(22),
    WATER_RISE(23),
    WATER_RISE(24),
};

const struct feature *
feature_get(int id)
{
	assert(id >= 0 && id < FEATURE_COUNT);
	return features + id;
}

int
feature_find(const char *name)
{
	for (int id = 0; id < FEATURE_COUNT; id++)
		if (strcmp(features[id].name, name) == 0)
			return id;
	return -1;
}

double
feature_from_si(int id, double value)
{
	return feature_get(id)->dimension == DIMENSION_ENERGY
	           ? unit_from_si(UNIT_KILOWATT_HOUR, DIMENSION_ENERGY, value)
	           : value;
}

const char *
feature_unit_text(int id)
{
	enum dimension dimension = feature_get(id)->dimension;

	return dimension == DIMENSION_ENERGY ? unit_text(UNIT_KILOWATT_HOUR)
	                                     : unit_si_text(dimension);
}

const char *
feature_nearest(const char *wrong)
{
	const char *names[FEATURE_COUNT];

	for (int id = 0; id < FEATURE_COUNT; id++)
		names[id] = features[id].name;
	return text_nearest(wrong, names, FEATURE_COUNT);
}
