/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/base/unit.h"

#include <assert.h>
#include <stddef.h>
#include <string.h>

#define MEASURES(dimension) (1U << (dimension))

/*
 * SI = value * times / over.  Two whole or exactly defined numbers instead of
 * one factor, so that neither direction adds a rounding of its own.  Factors:
 * NIST Special Publication 811 (2008), appendix B.8; the pound-force, 4.4482216152605 N,
 * is exact by its footnotes, as are the inch and the US gallon.
 */
static const struct {
	const char *text;
	unsigned measures;
	double times, over;
} units[UNIT_COUNT] = {
    [UNIT_ONE] = {"", MEASURES(DIMENSION_NONE) | MEASURES(DIMENSION_RATIO), 1, 1},
    [UNIT_CELSIUS] = {"C",
	MEASURES(DIMENSION_TEMPERATURE) | MEASURES(DIMENSION_TEMPERATURE_DIFFERENCE), 1,
	1},
    [UNIT_FAHRENHEIT] = {"F",
	MEASURES(DIMENSION_TEMPERATURE) | MEASURES(DIMENSION_TEMPERATURE_DIFFERENCE), 5,
	9},
    [UNIT_CELSIUS_PER_S] = {"C/s", MEASURES(DIMENSION_TEMPERATURE_RATE), 1, 1},
    [UNIT_FAHRENHEIT_PER_S] = {"F/s", MEASURES(DIMENSION_TEMPERATURE_RATE), 5, 9},
    [UNIT_KELVIN] = {"K", MEASURES(DIMENSION_TEMPERATURE_DIFFERENCE), 1, 1},
    [UNIT_KELVIN_PER_S] = {"K/s", MEASURES(DIMENSION_TEMPERATURE_RATE), 1, 1},
    [UNIT_SECOND] = {"s", MEASURES(DIMENSION_TIME), 1, 1},
    [UNIT_PERCENT] = {"%", MEASURES(DIMENSION_RATIO), 1, 100},
    [UNIT_KILOWATT] = {"kW", MEASURES(DIMENSION_POWER), 1000, 1},
    [UNIT_KILOWATT_HOUR] = {"kWh", MEASURES(DIMENSION_ENERGY), 3600000, 1},
    [UNIT_LITRE_PER_MINUTE] = {"L/min", MEASURES(DIMENSION_FLOW), 1, 60000},
    [UNIT_GALLON_PER_MINUTE] = {"gal/min", MEASURES(DIMENSION_FLOW), 3.785411784,
	60000},
    [UNIT_BAR] = {"bar", MEASURES(DIMENSION_PRESSURE), 100000, 1},
    [UNIT_PSI] = {"psi", MEASURES(DIMENSION_PRESSURE), 4.4482216152605, 6.4516e-4},
    [UNIT_MILLIMETRE] = {"mm", MEASURES(DIMENSION_LENGTH), 1, 1000},
    [UNIT_INCH] = {"in", MEASURES(DIMENSION_LENGTH), 254, 10000},
    [UNIT_KELVIN_PER_KILOWATT] = {"K/kW", MEASURES(DIMENSION_THERMAL_RESISTANCE), 1,
	1000},
};

bool
unit_parse(const char *text, enum unit *unit)
{
	for (size_t i = 0; i < UNIT_COUNT; i++) {
		if (strcmp(text, units[i].text) == 0) {
			*unit = (enum unit)i;
			return true;
		}
	}
	return false;
}

const char *
unit_text(enum unit unit)
{
	assert(unit < UNIT_COUNT);
	return units[unit].text;
}

bool
unit_measures(enum unit unit, enum dimension dimension)
{
	assert(unit < UNIT_COUNT);
	return units[unit].measures & MEASURES(dimension);
}

/* Where the unit's scale has its 0, in the unit. */
static double
zero_of(enum unit unit, enum dimension dimension)
{
	if (unit == UNIT_FAHRENHEIT && dimension == DIMENSION_TEMPERATURE)
		return 32;
	return 0;
}

double
unit_to_si(enum unit unit, enum dimension dimension, double value)
{
	assert(unit_measures(unit, dimension));
	return (value - zero_of(unit, dimension)) * units[unit].times /
	       units[unit].over;
}

double
unit_from_si(enum unit unit, enum dimension dimension, double value)
{
	assert(unit_measures(unit, dimension));
	return value * units[unit].over / units[unit].times + zero_of(unit, dimension);
}

enum unit
unit_shown(enum dimension dimension, enum unit temperature)
{
	switch (dimension) {
	case DIMENSION_NONE:
		return UNIT_ONE;
	case DIMENSION_TEMPERATURE:
	case DIMENSION_TEMPERATURE_DIFFERENCE:
		return temperature;
	case DIMENSION_TEMPERATURE_RATE:
		return temperature == UNIT_FAHRENHEIT ? UNIT_FAHRENHEIT_PER_S
		                                      : UNIT_CELSIUS_PER_S;
	case DIMENSION_TIME:
		return UNIT_SECOND;
	case DIMENSION_RATIO:
		return UNIT_PERCENT;
	case DIMENSION_POWER:
		return UNIT_KILOWATT;
	case DIMENSION_ENERGY:
		return UNIT_KILOWATT_HOUR;
	case DIMENSION_FLOW:
		return UNIT_LITRE_PER_MINUTE;
	case DIMENSION_PRESSURE:
		return UNIT_BAR;
	case DIMENSION_LENGTH:
		return UNIT_MILLIMETRE;
	case DIMENSION_THERMAL_RESISTANCE:
		return UNIT_KELVIN_PER_KILOWATT;
	}
	assert(!"a dimension that is none");
	return UNIT_ONE;
}

const char *
unit_si_text(enum dimension dimension)
{
	switch (dimension) {
	case DIMENSION_NONE:
	case DIMENSION_RATIO:
		return "1";
	case DIMENSION_TEMPERATURE:
		return "C";
	case DIMENSION_TEMPERATURE_DIFFERENCE:
		return "K";
	case DIMENSION_TEMPERATURE_RATE:
		return "K/s";
	case DIMENSION_TIME:
		return "s";
	case DIMENSION_POWER:
		return "W";
	case DIMENSION_ENERGY:
		return "J";
	case DIMENSION_FLOW:
		return "m3/s";
	case DIMENSION_PRESSURE:
		return "Pa";
	case DIMENSION_LENGTH:
		return "m";
	case DIMENSION_THERMAL_RESISTANCE:
		return "K/W";
	}
	assert(!"a dimension that is none");
	return "1";
}
