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
#define FLOW DIMENSION_FLOW
#define RESISTANCE_DIMENSION DIMENSION_THERMAL_RESISTANCE

#define EXIT_FIT                                                                   \
	" of the last oven shows at heat end: a straight line "                    \
	"fitted over the last 5 s in there, taken at that moment; where it sees "  \
	"the sheet only as it leaves, the mean of its readings of the sheet "      \
	"passing by: the highest of those after the sheet has begun to move, and " \
	"all within 5 K of it in a row, but for those that go on from what it "    \
	"saw before; a fault of the sensor while it hangs (common practice, no "   \
	"source: not a bit of change for 15 s and 8 readings while half of the "   \
	"oven's others move by over 10 K)"
#define EXIT_TOP(n)                          \
	[FEATURE_EXIT_TOP_FIRST + (n)-1] = { \
	    "exit_top_" #n "_c", TEMPERATURE, 2, "what top pyrometer " #n EXIT_FIT},
#define EXIT_BOTTOM(n)                                                                 \
	[FEATURE_EXIT_BOTTOM_FIRST + (n)-1] = {"exit_bottom_" #n "_c", TEMPERATURE, 2, \
	    "what bottom pyrometer " #n EXIT_FIT},
#define WATER_RISE(n)                                                                \
	[FEATURE_WATER_RISE_FIRST + (n)-1] = {"water_rise_" #n "_dc", DIFFERENCE, 1, \
	    "time mean, while the platens are closed, of the return of water "       \
	    "circuit " #n " minus the measured supply"},
#define TOOL_MEAN(n)                                                               \
	[FEATURE_TOOL_MEAN_FIRST + (n)-1] = {"tool_mean_" #n "_c", TEMPERATURE, 1, \
	    "time mean of tool sensor " #n " while the platens are closed"},
#define RECOVERY(n)                                                             \
	[FEATURE_RECOVERY_FIRST + (n)-1] = {"recovery_" #n "_s", TIME, 1,       \
	    "time constant of tool sensor " #n " in the unloaded interval "     \
	    "before the platens close on the sheet: an exponential that goes "  \
	    "towards the measured water supply, fitted to its readings there; " \
	    "not applicable where no fall stands out of the noise"},
#define WATER_FLOW(n)                                                              \
	[FEATURE_WATER_FLOW_FIRST + (n)-1] = {"water_flow_" #n "_l_min", FLOW, 1,  \
	    "time mean of the flow of water circuit " #n " over the tool's cycle " \
	    "(from the platens opened on the sheet before to opened on this one)"},
#define HEAT_REMOVED(n)                                                                \
	[FEATURE_HEAT_REMOVED_FIRST + (n)-1] = {"heat_removed_" #n "_kwh", ENERGY, 1,  \
	    "heat that water circuit " #n " took away over the tool's cycle: density " \
	    "times heat capacity times flow times return minus measured supply; "      \
	    "absent unless the platens' time closed and their time open are both "     \
	    "covered"},
#define RESISTANCE(n)                                                                \
	[FEATURE_RESISTANCE_FIRST + (n)-1] = {"water_resistance_" #n "_k_per_kw",    \
	    RESISTANCE_DIMENSION, 1,                                                 \
	    "tool sensor " #n " minus the mean of supply and return of circuit " #n  \
	    ", over the heat that the circuit took away in a second, both "          \
	    "over the tool's cycle: it rises as the circuit scales up; only where "  \
	    "the line has as many tool sensors as circuits, and the water rises by " \
	    "0.2 K or more"},
#define REYNOLDS(n)                                                                \
	[FEATURE_REYNOLDS_FIRST + (n)-1] = {"reynolds_" #n, DIMENSION_NONE, 1,     \
	    "Reynolds number of water circuit " #n " over the tool's cycle, from " \
	    "its flow, the tool's bore and the water's temperature"},

#define EACH_SURFACE(M) M(1) M(2) M(3) M(4) M(5) M(6) M(7) M(8)
#define EACH_CIRCUIT(M) \
	EACH_SURFACE(M) \
	M(9)            \
	M(10)           \
	M(11)           \
	M(12) M(13) M(14) M(15) M(16) M(17) M(18) M(19) M(20) M(21) M(22) M(23) M(24)
#define BAND_OF(what)                                                               \
	"half of the 95 % interval of " what ", from the tolerances of thickness, " \
	"diffusivity, heat of fusion, pyrometers, start temperature, lag, the "     \
	"air's exchange and, at an exit, the course of the flux, and what each "    \
	"does to this shot"

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
    [FEATURE_EXIT_TOP_C] = {"exit_top_c", TEMPERATURE, 2,
	"mean over the good top pyrometers of the last oven of what each shows at "
	"heat end"},
    [FEATURE_EXIT_BOTTOM_C] = {"exit_bottom_c", TEMPERATURE, 2,
	"mean over the good bottom pyrometers of the last oven of what each shows at "
	"heat end"},
    [FEATURE_EXIT_DIFFERENCE_DC] = {"exit_difference_dc", DIFFERENCE, 2,
	"exit_top_c minus exit_bottom_c"},
    [FEATURE_EXIT_SPREAD_TOP_DC] = {"exit_spread_top_dc", DIFFERENCE, 2,
	"largest minus smallest of the top pyrometers of the last oven at heat end; "
	"absent when one of them is"},
    [FEATURE_EXIT_SPREAD_BOTTOM_DC] = {"exit_spread_bottom_dc", DIFFERENCE, 2,
	"largest minus smallest of the bottom pyrometers of the last oven at heat "
	"end; absent when one of them is"},
    [FEATURE_RATE_TOP] = {"rate_top_c_per_s", RATE, 2,
	"heating rate: least-squares slope of each top pyrometer of the first oven "
	"between rate_from_s and rate_to_s after heat start, mean over the good ones; "
	"one that hangs is none of them, see exit_top_1_c"},
    [FEATURE_RATE_BOTTOM] = {"rate_bottom_c_per_s", RATE, 2,
	"heating rate: least-squares slope of each bottom pyrometer of the first "
	"oven between rate_from_s and rate_to_s after heat start, mean over the good "
	"ones; one that hangs is none of them, see exit_top_1_c"},
    [FEATURE_STACK_C] = {"stack_c", TEMPERATURE, 1,
	"the stack sensor at heat start, in the first oven: how warm the sheet came "
	"in"},
    [FEATURE_ENERGY_KWH] = {"energy_kwh", ENERGY, 2,
	"energy_top_kwh plus energy_bottom_kwh: estimated from outputs, not measured"},
    [FEATURE_ENERGY_TOP_KWH] = {"energy_top_kwh", ENERGY, 2,
	"rated power times output of the top zones, integrated over the time that "
	"the sheet is in their oven: estimated from outputs, not measured; only where "
	"each of them has its rated power"},
    [FEATURE_ENERGY_BOTTOM_KWH] = {"energy_bottom_kwh", ENERGY, 2,
	"rated power times output of the bottom zones, integrated over the time that "
	"the sheet is in their oven: estimated from outputs, not measured; only where "
	"each of them has its rated power"},
    [FEATURE_METER_KWH] = {"meter_kwh", ENERGY, 1,
	"what the energy meter went up by from heat start to the arrival at the form "
	"station (on a ring from index to index): heating and idling together"},
    [FEATURE_SATURATION_MAX] = {"saturation_max", RATIO, 1,
	"share of the time with the sheet in its oven that a zone spent at an output "
	"of 99 % or more, the largest of all zones: it has no control left; one at 0 "
	"is switched off or not needed, and not saturated"},
    [FEATURE_SATURATED_ZONES] = {"saturated_zones", DIMENSION_NONE, 1,
	"zones that spent more than half of the time with the sheet in their oven at "
	"an output of 99 % or more"},
    [FEATURE_METER_RATIO] = {"meter_ratio", RATIO, 1,
	"what the energy meter went up by from heat start to heat end, over the energy "
	"estimated from the outputs of all zones of the line for the same time: it "
	"falls with the mains and with dead elements"},
    [FEATURE_AMBIENT_C] = {"ambient_c", TEMPERATURE, 1,
	"the hall's temperature, its time mean over the heat"},
    [FEATURE_HEAT_COVERAGE] = {"heat_coverage", RATIO, 1,
	"share of the heat time with good readings, the smallest over the line's "
	"pyrometers, zones, stack and ambient sensor and energy meter"},
    [FEATURE_SHEET_THICKNESS_MM] = {"sheet_thickness_mm", DIMENSION_LENGTH, 1,
	"thickness that the sheet was computed with: as measured of its lot, else the "
	"recipe's"},
    [FEATURE_CORE_HEAT_END_C] = {"core_heat_end_c", TEMPERATURE, 1,
	"midplane of the sheet at heat end, computed by conduction through its "
	"thickness from the measured surfaces (the mean of those of each side's "
	"pyrometers that were good all through and never hung, see exit_top_1_c), or "
	"from the oven's air, or by the steady heating that leads to what shows as it "
	"leaves; it starts at stack_c, or else at the stack sensor's last good reading "
	"since the sheet was loaded and within 10 minutes before, or its first within "
	"a minute after, or else at what is told of the lot's stack, or else at the "
	"line's start_temperature, which is known to 2.5 times its tolerance, 5 K at "
	"least"},
    [FEATURE_CORE_HEAT_END_BAND_DC] = {"core_heat_end_band_dc", DIFFERENCE, 1,
	BAND_OF("core_heat_end_c")},
    [FEATURE_SHEET_MEAN_HEAT_END_C] = {"sheet_mean_heat_end_c", TEMPERATURE, 1,
	"mean through the thickness at heat end, computed"},
    [FEATURE_SHEET_MEAN_HEAT_END_BAND_DC] = {"sheet_mean_heat_end_band_dc", DIFFERENCE,
	1, BAND_OF("sheet_mean_heat_end_c")},
    [FEATURE_SURFACE_CORE_DC] = {"surface_core_dc", DIFFERENCE, 1,
	"mean of both surfaces minus the midplane at heat end: what soaking would even "
	"out"},
    [FEATURE_SURFACE_CORE_BAND_DC] = {"surface_core_band_dc", DIFFERENCE, 1,
	BAND_OF("surface_core_dc")},
    [FEATURE_SOAK_INDEX] = {"soak_index", RATIO, 1,
	"1 minus surface_core_dc over the rise of the surfaces from the start: 1 is "
	"soaked through; compares thicknesses"},
    [FEATURE_FOURIER] = {"fourier", DIMENSION_NONE, 1,
	"Fourier number of the heat: diffusivity times heat_s over the square of half "
	"the thickness, the diffusivity its mean from the start to the surfaces at "
	"heat end"},
    [FEATURE_CORE_PYROMETERS_TOP] = {"core_pyrometers_top", DIMENSION_NONE, 1,
	"top pyrometers that the core is computed from, the fewest of all its times "
	"in an oven: with one fewer it steps"},
    [FEATURE_CORE_PYROMETERS_BOTTOM] = {"core_pyrometers_bottom", DIMENSION_NONE, 1,
	"bottom pyrometers that the core is computed from, the fewest of all its times "
	"in an oven: with one fewer it steps"},
    [FEATURE_CORE_FORM_START_C] = {"core_form_start_c", TEMPERATURE, 1,
	"midplane as the platens close, computed on through the transfer in air and "
	"surroundings of ambient_c (25 C where nothing measures it): the state in "
	"which the sheet is formed"},
    [FEATURE_CORE_FORM_START_BAND_DC] = {"core_form_start_band_dc", DIFFERENCE, 1,
	BAND_OF("core_form_start_c")},
    [FEATURE_SHEET_MEAN_FORM_START_C] = {"sheet_mean_form_start_c", TEMPERATURE, 1,
	"mean through the thickness as the platens close, computed"},
    [FEATURE_SHEET_MEAN_FORM_START_BAND_DC] = {"sheet_mean_form_start_band_dc",
	DIFFERENCE, 1, BAND_OF("sheet_mean_form_start_c")},
    [FEATURE_ABOVE_LIMIT_S] = {"above_limit_s", TIME, 1,
	"time with a surface above the material's limit of degradation: in the ovens "
	"with any of their pyrometers above it, on the way and where none looks as "
	"computed"},
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
    [FEATURE_TOOL_DRIFT_DC] = {"tool_drift_dc", DIFFERENCE, 2,
	"tool_mean_c minus that of the shot formed before, both as the sensors show "
	"it, "
	"without what calibrations add"},
    [FEATURE_WATER_SUPPLY_C] = {"water_supply_c", TEMPERATURE, 1,
	"time mean while the platens are closed of the water supply: the common one, "
	"or that of circuit 1 when it has its own"},
    [FEATURE_WATER_RISE_DC] = {"water_rise_dc", DIFFERENCE, 1,
	"mean over the water circuits of their return minus the measured supply while "
	"the platens are closed"},
    [FEATURE_HEAT_REMOVED_KWH] = {"heat_removed_kwh", ENERGY, 1,
	"heat that all water circuits took away over the tool's cycle, from the "
	"platens opened on the sheet before to opened on this one; absent while one "
	"of them is"},
    [FEATURE_HEAT_BROUGHT_KWH] = {"heat_brought_kwh", ENERGY, 1,
	"heat that the sheet brought into the tool: its mass times its enthalpy at "
	"sheet_mean_form_start_c less that at the temperature at which it is taken off "
	"(the recipe's or the material's, assumed, not measured)"},
    [FEATURE_HEAT_BALANCE] = {"heat_balance", RATIO, 1,
	"heat_removed_kwh over heat_brought_kwh: fans and air take the rest; a change "
	"is the signal, the value is not"},
    [FEATURE_RECOVERY_S] = {"recovery_s", TIME, 1,
	"mean over the tool sensors of recovery_1_s, recovery_2_s ...; absent while "
	"one of them is"},
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
    EACH_SURFACE(EXIT_TOP) EACH_SURFACE(EXIT_BOTTOM) EACH_CIRCUIT(WATER_RISE)
	EACH_CIRCUIT(TOOL_MEAN) EACH_CIRCUIT(RECOVERY) EACH_CIRCUIT(WATER_FLOW)
	    EACH_CIRCUIT(HEAT_REMOVED) EACH_CIRCUIT(RESISTANCE) EACH_CIRCUIT(REYNOLDS)};

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
		if (features[id].name[0] == name[0] &&
		    strcmp(features[id].name, name) == 0)
			return id;
	return -1;
}

enum feature_family
feature_family(int id, int *first)
{
	static const struct {
		int first;
		enum feature_family family;
	} families[] = {
	    {FEATURE_WATER_FLOW_FIRST, FAMILY_CIRCUITS},
	    {FEATURE_RECOVERY_FIRST, FAMILY_TOOLS},
	    {FEATURE_TOOL_MEAN_FIRST, FAMILY_TOOLS},
	    {FEATURE_WATER_RISE_FIRST, FAMILY_CIRCUITS},
	    {FEATURE_EXIT_BOTTOM_FIRST, FAMILY_SURFACES_BOTTOM},
	    {FEATURE_EXIT_TOP_FIRST, FAMILY_SURFACES_TOP},
	};

	assert(id >= 0 && id < FEATURE_COUNT);
	*first = id;
	for (size_t i = 0; i < sizeof(families) / sizeof(families[0]); i++) {
		if (id < families[i].first)
			continue;
		*first = families[i].first;
		while (id - *first >= FEATURE_CIRCUITS_MAX)
			*first += FEATURE_CIRCUITS_MAX;
		return families[i].family;
	}
	return FAMILY_NONE;
}

/* The unit on file of a dimension; UNIT_ONE: the inside's own. */
static enum unit
filed_unit(int id)
{
	switch (feature_get(id)->dimension) {
	case DIMENSION_ENERGY:
		return UNIT_KILOWATT_HOUR;
	case DIMENSION_LENGTH:
		return UNIT_MILLIMETRE;
	case DIMENSION_FLOW:
		return UNIT_LITRE_PER_MINUTE;
	case DIMENSION_THERMAL_RESISTANCE:
		return UNIT_KELVIN_PER_KILOWATT;
	case DIMENSION_NONE:
	case DIMENSION_TEMPERATURE:
	case DIMENSION_TEMPERATURE_DIFFERENCE:
	case DIMENSION_TEMPERATURE_RATE:
	case DIMENSION_TIME:
	case DIMENSION_RATIO:
	case DIMENSION_POWER:
	case DIMENSION_PRESSURE:
		return UNIT_ONE;
	}
	return UNIT_ONE;
}

double
feature_from_si(int id, double value)
{
	enum unit unit = filed_unit(id);

	return unit == UNIT_ONE ? value
	                        : unit_from_si(unit, feature_get(id)->dimension, value);
}

double
feature_to_si(int id, double value)
{
	enum unit unit = filed_unit(id);

	return unit == UNIT_ONE ? value
	                        : unit_to_si(unit, feature_get(id)->dimension, value);
}

const char *
feature_unit_text(int id)
{
	enum unit unit = filed_unit(id);

	return unit == UNIT_ONE ? unit_si_text(feature_get(id)->dimension)
	                        : unit_text(unit);
}

const char *
feature_nearest(const char *wrong)
{
	const char *names[FEATURE_COUNT];

	for (int id = 0; id < FEATURE_COUNT; id++)
		names[id] = features[id].name;
	return text_nearest(wrong, names, FEATURE_COUNT);
}
