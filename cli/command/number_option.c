/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/number_option.h"

#include <math.h>
#include <string.h>

#include "conf/value.h"
#include "daemon/base/error.h"
#include "daemon/base/text.h"

enum { MEASURE = 64 };

/* Is a number once its comma is a point. */
static bool
to_point(const char *given, char point[static MEASURE])
{
	double number;
	char *comma;

	if (!text_copy(point, MEASURE, given) || !(comma = strchr(point, ',')))
		return false;
	*comma = '.';
	return text_number(point, &number);
}

enum command_exit
number_option(
    const struct call *call, enum option_id id, double low, double high, double *value)
{
	const char *given = call->option[id], *name = option_table[id].name;
	double number;

	if (!given)
		return COMMAND_DONE;
	if (!text_number(given, &number)) {
		char point[MEASURE];
		bool comma = to_point(given, point);
		return command_usage(call, "'--%s' is '%s', must be a number%s%s", name,
		    given, comma ? ": with a point, " : "", comma ? point : "");
	}
	if (number < low || number > high)
		return command_usage(
		    call, "'--%s' is %s, must be %g..%g", name, given, low, high);
	*value = number;
	return COMMAND_DONE;
}

enum command_exit
measure_option(const struct call *call, enum option_id id, enum dimension dimension,
    double *value_si)
{
	const char *given = call->option[id], *unit = call->unit[id];
	char measure[MEASURE];
	struct error error;

	*value_si = NAN;
	if (!given || !*given)
		return COMMAND_DONE;
	snprintf(measure, sizeof measure, "%s%s%s", given, unit ? " " : "",
	    unit ? unit : "");
	if (value_measure(measure, dimension, value_si, &error) == 0)
		return COMMAND_DONE;
	return command_usage(
	    call, "'--%s' is '%s': %s", option_table[id].name, measure, error.text);
}
