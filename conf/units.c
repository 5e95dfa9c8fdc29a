/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "conf/units.h"

#include <stddef.h>
#include <strings.h>

#include "conf/words.h"
#include "daemon/base/error.h"

/*
 * Units that devices and manuals use and the program does not: one of them is `scale` of
 * `instead`.  Decimal parts and whole numbers, but for the conventional inch of mercury,
 * 3386.389 Pa (NIST Special Publication 811 (2008), appendix B.8).  Upper and lower case
 * are alike: nothing here comes in milli and in mega.
 */
static const struct {
	const char *text;
	enum unit instead;
	const char *scale;
} foreign[] = {
    {"mbar", UNIT_BAR, "0.001"},
    {"hPa", UNIT_BAR, "0.001"},
    {"Pa", UNIT_BAR, "0.00001"},
    {"kPa", UNIT_BAR, "0.01"},
    {"MPa", UNIT_BAR, "10"},
    {"inHg", UNIT_BAR, "0.03386389"},
    {"L/s", UNIT_LITRE_PER_MINUTE, "60"},
    {"L/h", UNIT_LITRE_PER_MINUTE, "0.0166666667"},
    {"mL/min", UNIT_LITRE_PER_MINUTE, "0.001"},
    {"m3/h", UNIT_LITRE_PER_MINUTE, "16.6666667"},
    {"gal/s", UNIT_GALLON_PER_MINUTE, "60"},
    {"gal/h", UNIT_GALLON_PER_MINUTE, "0.0166666667"},
    {"W", UNIT_KILOWATT, "0.001"},
    {"MW", UNIT_KILOWATT, "1000"},
    {"Wh", UNIT_KILOWATT_HOUR, "0.001"},
    {"MWh", UNIT_KILOWATT_HOUR, "1000"},
    {"kJ", UNIT_KILOWATT_HOUR, "0.000277777778"},
    {"MJ", UNIT_KILOWATT_HOUR, "0.277777778"},
    {"ms", UNIT_SECOND, "0.001"},
    {"min", UNIT_SECOND, "60"},
    {"h", UNIT_SECOND, "3600"},
    {"um", UNIT_MILLIMETRE, "0.001"},
    {"cm", UNIT_MILLIMETRE, "10"},
    {"m", UNIT_MILLIMETRE, "1000"},
    {"C/min", UNIT_CELSIUS_PER_S, "0.0166666667"},
    {"F/min", UNIT_FAHRENHEIT_PER_S, "0.0166666667"},
    {"K/min", UNIT_KELVIN_PER_S, "0.0166666667"},
};

int
units_read(const char *text, enum unit *unit, struct error *error)
{
	const char *names[UNIT_COUNT] = {NULL};
	const struct words units = {names, UNIT_COUNT};
	char list[WORDS_TEXT];

	if (unit_parse(text, unit))
		return 0;
	for (size_t i = 0; i < sizeof foreign / sizeof foreign[0]; i++)
		if (strcasecmp(text, foreign[i].text) == 0)
			return error_set(error, ERROR_INVALID,
			    "write unit = %s and scale = %s for %s; a 'scale' that is "
			    "there is multiplied by that, and offset, minimum and "
			    "maximum are in %s then",
			    unit_text(foreign[i].instead), foreign[i].scale,
			    foreign[i].text, unit_text(foreign[i].instead));
	for (int i = UNIT_ONE + 1; i < UNIT_COUNT; i++) {
		names[i] = unit_text((enum unit)i);
		if (strcasecmp(text, names[i]) == 0)
			return error_set(
			    error, ERROR_INVALID, "did you mean '%s'?", names[i]);
	}
	words_list(&units, list);
	return error_set(error, ERROR_INVALID, "write %s", list);
}
