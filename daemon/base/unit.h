/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Units of measure.  Inside the program everything is SI with temperatures in
 * degrees Celsius; this is the one place that converts.
 *
 * A temperature and a temperature difference are different dimensions:
 * F = 1.8 C + 32 against dF = 1.8 dC.  The unit C or F means the one or the
 * other by the dimension that it is used for.  Pure; any thread.
 */
#ifndef DAEMON_BASE_UNIT_H
#define DAEMON_BASE_UNIT_H

#include <stdbool.h>

enum dimension {
	DIMENSION_NONE,                   /* counts, bits: no unit */
	DIMENSION_TEMPERATURE,            /* inside: C */
	DIMENSION_TEMPERATURE_DIFFERENCE, /* inside: K */
	DIMENSION_TEMPERATURE_RATE,       /* inside: K/s */
	DIMENSION_TIME,                   /* inside: s */
	DIMENSION_RATIO,                  /* inside: 1 */
	DIMENSION_POWER,                  /* inside: W */
	DIMENSION_ENERGY,                 /* inside: J */
	DIMENSION_FLOW,                   /* inside: m3/s */
	DIMENSION_PRESSURE,               /* inside: Pa, gauge */
	DIMENSION_LENGTH,                 /* inside: m */
	DIMENSION_THERMAL_RESISTANCE,     /* inside: K/W */
};

enum unit {
	UNIT_ONE, /* no unit: a count, a bit, a bare ratio */
	UNIT_CELSIUS,
	UNIT_FAHRENHEIT,
	UNIT_CELSIUS_PER_S,
	UNIT_FAHRENHEIT_PER_S,
	UNIT_KELVIN, /* of a difference alone: a temperature is in C or F */
	UNIT_KELVIN_PER_S,
	UNIT_SECOND,
	UNIT_PERCENT,
	UNIT_KILOWATT,
	UNIT_KILOWATT_HOUR,
	UNIT_LITRE_PER_MINUTE,
	UNIT_GALLON_PER_MINUTE, /* US liquid gallon, 3.785411784 L (NIST SP 811) */
	UNIT_BAR,
	UNIT_PSI,
	UNIT_MILLIMETRE,
	UNIT_INCH,
	UNIT_KELVIN_PER_KILOWATT,
	UNIT_COUNT
};

/* Reads "C", "F", "%", "kW" ... as unit_text writes them; false when it is none. */
bool unit_parse(const char *text, enum unit *unit);

/* The short text: "C", "F", "F/s", "K", "s", "%", "kW", "kWh", "L/min", "gal/min",
 * "bar", "psi", "mm", "in", "K/kW"; "" for UNIT_ONE. */
const char *unit_text(enum unit unit);

/* Whether the unit can measure the dimension (C and F: temperatures and differences;
 * K: differences alone). */
bool unit_measures(enum unit unit, enum dimension dimension);

/* Between the unit and the inside's SI, exact both ways but for rounding.  The unit
 * must measure the dimension (assert). */
double unit_to_si(enum unit unit, enum dimension dimension, double value);
double unit_from_si(enum unit unit, enum dimension dimension, double value);

/* The unit in which a dimension is shown; temperatures by `temperature` (C or F). */
enum unit unit_shown(enum dimension dimension, enum unit temperature);

/* The inside's own unit, for machines: "C", "K", "K/s", "s", "W", "J", "m3/s", "Pa", "m", "K/W";
 * "1" for a count or a ratio. */
const char *unit_si_text(enum dimension dimension);

#endif
