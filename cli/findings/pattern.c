/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/findings/pattern.h"

/*
 * The signs follow from how a sheet is heated until it sags to the eye and how water
 * takes heat out of a tool; that the simulated line shows them is tested.  Bounds: common
 * practice, no source.
 *
 * The eye makes up for most of what the heaters lack: the sheet stays in longer and
 * leaves about as hot.  A softer lot makes it fire early instead, at a colder sheet.
 */
#define SIGN(part, signal, way, beyond, within, share)          \
	{                                                       \
		PART_##part, signal, way, beyond, within, share \
	}
#define KEY(signal, way) SIGN(KEY, signal, way, 0, 0, 0)
#define KEY_BEYOND(signal, way, beyond) SIGN(KEY, signal, way, beyond, 0, 0)
#define KEY_WITHIN(signal, way, within) SIGN(KEY, signal, way, 0, within, 0)
#define MUST(signal, way) SIGN(MUST, signal, way, 0, 0, 0)
#define MUST_BESIDE(signal, way, share) SIGN(MUST, signal, way, 0, 0, share)
#define STILL(signal) SIGN(STILL, signal, 0, 0, 0, 0)
#define NOT(signal, way) SIGN(NOT, signal, way, 0, 0, 0)
#define NOT_BEYOND(signal, way, beyond) SIGN(NOT, signal, way, beyond, 0, 0)
/* No move unless it is more than that share of the key's. */
#define STILL_BESIDE(signal, share) SIGN(STILL, signal, 0, 0, 0, share)
#define NOT_BESIDE(signal, way, share) SIGN(NOT, signal, way, 0, 0, share)
#define CONFIRM(signal, way) SIGN(CONFIRM, signal, way, 0, 0, 0)
#define MAY(signal) SIGN(MAY, signal, 0, 0, 0, 0)
#define WITHOUT(signal) SIGN(WITHOUT, signal, 0, 0, 0, 0)
#define MAY_EXITS MAY(SIGNAL_EXIT), MAY(SIGNAL_EXIT_TOP), MAY(SIGNAL_EXIT_BOTTOM)
#define MAY_RATES MAY(SIGNAL_RATE_TOP), MAY(SIGNAL_RATE_BOTTOM)

static const struct pattern patterns[] = {
    /* The sheet is colder there through and through: both faces say so. */
    {FINDING_DEAD_ZONE, PATTERN_SURFACE, false, false, FINDING_SURE,
	{KEY(SIGNAL_EXIT_OWN, -1), MUST(PATTERN_PAIR, -1),
	    CONFIRM(PATTERN_RATE_HERE, -1), CONFIRM(SIGNAL_METER_BY_RATE, -1),
	    CONFIRM(SIGNAL_SAG, 1), CONFIRM(SIGNAL_SATURATED, 1), MAY(PATTERN_OTHERS),
	    MAY(PATTERN_RATE_THERE), MAY_EXITS, MAY(SIGNAL_METER)}},
    /* The other face is not looked at in that place. */
    {FINDING_DEAD_ZONE, PATTERN_SURFACE, false, false, FINDING_LIKELY,
	{KEY_BEYOND(SIGNAL_EXIT_OWN, -1, 8), MUST(SIGNAL_METER_BY_RATE, -1),
	    MUST(SIGNAL_SAG, 1), CONFIRM(PATTERN_RATE_HERE, -1),
	    CONFIRM(SIGNAL_SATURATED, 1), MAY(PATTERN_OTHERS), MAY(PATTERN_RATE_THERE),
	    MAY_EXITS, MAY(SIGNAL_METER)}},
    /* That one alone, while the sheet behaves as ever. */
    {FINDING_WINDOW, PATTERN_SURFACE, false, false, FINDING_SURE,
	{KEY_WITHIN(SIGNAL_EXIT_OWN, -1, 25), STILL(PATTERN_PAIR),
	    NOT_BEYOND(SIGNAL_SAG, 0, 0.02),
	    NOT_BEYOND(SIGNAL_METER_BY_RATE, -1, 0.015),
	    NOT_BEYOND(PATTERN_RATE_THERE, -1, 0.015), CONFIRM(PATTERN_RATE_HERE, -1),
	    MAY(SIGNAL_METER_BY_RATE), MAY_EXITS, MAY(PATTERN_OTHERS)}},
    {FINDING_ELEMENTS, PATTERN_LINE, false, false, FINDING_SURE,
	{KEY(SIGNAL_METER_BY_RATE, -1), NOT(PATTERN_ANY, -1),
	    NOT_BESIDE(SIGNAL_METER, -1, 2.5), NOT_BESIDE(SIGNAL_SAG, -1, 0.9),
	    CONFIRM(SIGNAL_METER, -1), CONFIRM(SIGNAL_SAG, 1),
	    CONFIRM(SIGNAL_SATURATED, 1), MAY_EXITS, MAY_RATES, MAY(PATTERN_ANY)}},
    /* All pyrometers of both sides, or of one, while the sheet behaves as ever: they show
     * it heat up by so much less too.  A lot of other flow and thickness may look like it. */
    {FINDING_EMISSIVITY, PATTERN_LINE, true, true, FINDING_POSSIBLE,
	{KEY(SIGNAL_EXIT, 1), MUST(SIGNAL_EXIT_TOP, 1), MUST(SIGNAL_EXIT_BOTTOM, 1),
	    STILL(SIGNAL_SAG), MUST_BESIDE(SIGNAL_RATE_TOP, 1, 0.007),
	    MUST_BESIDE(SIGNAL_RATE_BOTTOM, 1, 0.007), MAY(SIGNAL_METER_BY_RATE),
	    MAY(PATTERN_ANY)}},
    /* Thicker and softer: the one makes up for the other's sag and rate, and the sheet
     * is colder. */
    {FINDING_LOT, PATTERN_LINE, true, true, FINDING_POSSIBLE,
	{KEY(SIGNAL_EXIT, -1), MUST(SIGNAL_EXIT_TOP, -1), MUST(SIGNAL_EXIT_BOTTOM, -1),
	    NOT_BESIDE(SIGNAL_SAG, 0, 0.006), NOT_BESIDE(SIGNAL_RATE_TOP, 0, 0.01),
	    NOT_BESIDE(SIGNAL_RATE_BOTTOM, 0, 0.01), MAY(SIGNAL_METER_BY_RATE),
	    MAY_RATES, MAY(SIGNAL_SAG), MAY(PATTERN_ANY)}},
    {FINDING_EMISSIVITY, PATTERN_TOP, true, true, FINDING_SURE,
	{KEY(SIGNAL_EXIT_TOP, 1), STILL(SIGNAL_EXIT_BOTTOM), STILL(SIGNAL_SAG),
	    CONFIRM(SIGNAL_RATE_TOP, 1), MAY(SIGNAL_METER_BY_RATE), MAY(SIGNAL_EXIT),
	    MAY(PATTERN_ANY)}},
    {FINDING_EMISSIVITY, PATTERN_BOTTOM, true, true, FINDING_SURE,
	{KEY(SIGNAL_EXIT_BOTTOM, 1), STILL(SIGNAL_EXIT_TOP), STILL(SIGNAL_SAG),
	    CONFIRM(SIGNAL_RATE_BOTTOM, 1), MAY(SIGNAL_METER_BY_RATE), MAY(SIGNAL_EXIT),
	    MAY(PATTERN_ANY)}},
    /* Softer: sags early, hence colder, though heated as ever; somewhat faster, for the
     * oven has had less time to cool down. */
    {FINDING_LOT_FLOW, PATTERN_LINE, true, true, FINDING_SURE,
	{KEY(SIGNAL_SAG, -1), MUST(SIGNAL_EXIT, -1), STILL_BESIDE(SIGNAL_RATE_TOP, 0.5),
	    STILL_BESIDE(SIGNAL_RATE_BOTTOM, 0.5), CONFIRM(SIGNAL_CORE, -1), MAY_EXITS,
	    MAY_RATES, MAY(PATTERN_ANY), MAY(SIGNAL_METER_BY_RATE)}},
    /* Thicker: heats more slowly, sags late, and is as hot as ever outside. */
    {FINDING_LOT_THICKNESS, PATTERN_LINE, true, true, FINDING_SURE,
	{KEY(SIGNAL_SAG, 1), MUST(SIGNAL_RATE_TOP, -1), MUST(SIGNAL_RATE_BOTTOM, -1),
	    STILL(SIGNAL_EXIT), CONFIRM(SIGNAL_CORE, 1), MAY(SIGNAL_METER_BY_RATE),
	    MAY_EXITS, MAY(PATTERN_ANY)}},
    /* The stack sensor has seen it, and the sag followed as it should. */
    {FINDING_COLD_STACK, PATTERN_LINE, true, false, FINDING_SURE,
	{KEY(SIGNAL_STACK, 1), MUST(SIGNAL_SAG_PLAIN, -1),
	    NOT_BEYOND(SIGNAL_SAG, 1, 0.02), MAY(SIGNAL_SAG), MAY_EXITS, MAY_RATES,
	    MAY(SIGNAL_METER_BY_RATE), MAY(PATTERN_ANY)}},
    /* No sensor saw it: later, heating faster at first, as hot as ever outside. */
    {FINDING_COLD_STACK, PATTERN_LINE, true, false, FINDING_LIKELY,
	{KEY_BEYOND(SIGNAL_SAG, -1, 0.02), MUST(SIGNAL_RATE_TOP, -1),
	    MUST(SIGNAL_RATE_BOTTOM, -1), NOT(SIGNAL_EXIT, -1),
	    MAY(SIGNAL_METER_BY_RATE), MAY_EXITS, MAY(PATTERN_ANY)}},
    /* The sheets felt what the meter says. */
    {FINDING_MAINS, PATTERN_LINE, true, false, FINDING_SURE,
	{KEY(SIGNAL_METER, 1), STILL_BESIDE(SIGNAL_METER_BY_RATE, 0.4),
	    NOT_BESIDE(SIGNAL_RATE_TOP, -1, 0.4),
	    NOT_BESIDE(SIGNAL_RATE_BOTTOM, -1, 0.4), MAY(SIGNAL_SAG), MAY_EXITS,
	    MAY_RATES, MAY(PATTERN_ANY)}},
    {FINDING_MAINS, PATTERN_LINE, true, false, FINDING_POSSIBLE,
	{WITHOUT(SIGNAL_METER), KEY(SIGNAL_SAG, -1), MUST(SIGNAL_EXIT, 1),
	    MUST(SIGNAL_RATE_TOP, 1), MUST(SIGNAL_RATE_BOTTOM, 1), MAY_EXITS,
	    MAY(PATTERN_ANY)}},
    /* Less heat arrives though as much is given. */
    {FINDING_DRAUGHT, PATTERN_LINE, false, false, FINDING_SURE,
	{KEY(SIGNAL_SAG, 1), MUST(SIGNAL_EXIT, -1), MUST(SIGNAL_RATE_TOP, -1),
	    MUST(SIGNAL_RATE_BOTTOM, -1), NOT(SIGNAL_METER, -1),
	    CONFIRM(SIGNAL_METER_BY_RATE, 1), MAY_EXITS, MAY(PATTERN_ANY)}},

    /* Less water: it warms up more, and so does the tool. */
    {FINDING_BLOCKED_CIRCUIT, PATTERN_CIRCUIT, false, false, FINDING_SURE,
	{KEY_WITHIN(SIGNAL_FLOW_OWN, -1, 0.85), MUST(SIGNAL_RISE_OWN, 1),
	    CONFIRM(SIGNAL_TOOL_OWN, 1), NOT(SIGNAL_TOOL_OWN, -1), MAY(SIGNAL_HEAT_OWN),
	    MAY(SIGNAL_RESISTANCE_OWN), MAY(SIGNAL_RECOVERY_OWN), MAY(PATTERN_OTHERS)}},
    {FINDING_BLOCKED_CIRCUIT, PATTERN_CIRCUIT, false, false, FINDING_POSSIBLE,
	{WITHOUT(SIGNAL_FLOW_OWN), KEY(SIGNAL_TOOL_OWN, 1), MUST(SIGNAL_RISE_OWN, 1),
	    MAY(SIGNAL_RECOVERY_OWN), MAY(PATTERN_OTHERS)}},
    /* No water: the return shows what stands in the pipe. */
    {FINDING_CLOSED_CIRCUIT, PATTERN_CIRCUIT, false, false, FINDING_SURE,
	{KEY_BEYOND(SIGNAL_FLOW_OWN, -1, 0.85), MUST(SIGNAL_TOOL_OWN, 1),
	    MAY(SIGNAL_RISE_OWN), CONFIRM(SIGNAL_HEAT_OWN, -1),
	    MAY(SIGNAL_RESISTANCE_OWN), MAY(SIGNAL_RECOVERY_OWN), MAY(PATTERN_OTHERS)}},
    {FINDING_CLOSED_CIRCUIT, PATTERN_CIRCUIT, false, false, FINDING_POSSIBLE,
	{WITHOUT(SIGNAL_FLOW_OWN), KEY(SIGNAL_TOOL_OWN, 1), MUST(SIGNAL_RISE_OWN, -1),
	    MAY(SIGNAL_RECOVERY_OWN), MAY(PATTERN_OTHERS)}},
    /* As much water, and less gets into it. */
    {FINDING_SCALED_CIRCUIT, PATTERN_CIRCUIT, false, false, FINDING_SURE,
	{KEY(SIGNAL_TOOL_OWN, 1), MUST(SIGNAL_RESISTANCE_OWN, 1),
	    STILL(SIGNAL_FLOW_OWN), MUST(SIGNAL_HEAT_OWN, -1), NOT(SIGNAL_RISE_OWN, 1),
	    CONFIRM(SIGNAL_RECOVERY_OWN, 1), MAY(SIGNAL_RISE_OWN),
	    MAY(PATTERN_OTHERS)}},
    {FINDING_CONTACT, PATTERN_CIRCUIT, true, false, FINDING_SURE,
	{KEY(SIGNAL_TOOL_OWN, 1), MUST(SIGNAL_RISE_OWN, 1), STILL(SIGNAL_FLOW_OWN),
	    CONFIRM(SIGNAL_HEAT_OWN, 1), MAY(SIGNAL_RESISTANCE_OWN),
	    MAY(SIGNAL_RECOVERY_OWN), MAY(PATTERN_OTHERS)}},
    /* A reading that nothing else bears out. */
    {FINDING_TOOL_SENSOR, PATTERN_CIRCUIT, true, false, FINDING_SURE,
	{KEY(SIGNAL_TOOL_OWN, 1), STILL(SIGNAL_RISE_OWN), STILL(SIGNAL_FLOW_OWN),
	    STILL(SIGNAL_HEAT_OWN), MAY(SIGNAL_RESISTANCE_OWN),
	    MAY(SIGNAL_RECOVERY_OWN), MAY(PATTERN_OTHERS)}},
    {FINDING_TOOL_SENSOR, PATTERN_CIRCUIT, true, false, FINDING_LIKELY,
	{KEY(SIGNAL_RISE_OWN, 1), STILL(SIGNAL_TOOL_OWN), STILL(SIGNAL_FLOW_OWN),
	    MAY(SIGNAL_HEAT_OWN), MAY(SIGNAL_RESISTANCE_OWN), MAY(PATTERN_OTHERS)}},
    {FINDING_SUPPLY_FLOW, PATTERN_LINE, true, false, FINDING_SURE,
	{KEY(SIGNAL_FLOW, 1), MUST(SIGNAL_RISE, -1), CONFIRM(SIGNAL_TOOL, -1),
	    MAY(SIGNAL_BALANCE)}},
    {FINDING_SUPPLY_FLOW, PATTERN_LINE, true, false, FINDING_POSSIBLE,
	{WITHOUT(SIGNAL_FLOW), KEY(SIGNAL_RISE, -1), MUST(SIGNAL_TOOL, -1)}},
    {FINDING_SUPPLY_TEMPERATURE, PATTERN_LINE, true, false, FINDING_SURE,
	{KEY(SIGNAL_SUPPLY, 1), NOT(SIGNAL_FLOW, 0), NOT_BEYOND(SIGNAL_TOOL, -1, 0.5),
	    MAY(SIGNAL_RISE), MAY(SIGNAL_TOOL)}},
};

const struct pattern *
pattern_get(size_t i)
{
	return i < sizeof(patterns) / sizeof(patterns[0]) ? patterns + i : NULL;
}
