/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "conf/curve.h"

#include <stdio.h>
#include <string.h>

#include "conf/list.h"
#include "conf/schema.h"
#include "conf/settings.h"
#include "conf/value.h"
#include "daemon/base/error.h"
#include "daemon/base/text.h"

static int
read_value(
    const struct setting *setting, const char *text, double *value, struct error *error)
{
	double number;

	if (!text_number(text, &number))
		return error_set(error, ERROR_INVALID,
		    "write a number in %s, or points 'degrees C: number' with commas "
		    "between",
		    setting->unit);
	if (number < setting->minimum || number > setting->maximum)
		return error_set(error, ERROR_INVALID,
		    "%g cannot be, write %g to %g %s", number, setting->minimum,
		    setting->maximum, setting->unit);
	*value = number * setting->factor;
	return 0;
}

/* Where a sheet is never; what is computed over all of a curve stays fine enough. */
#define POINT_MIN_C (-50.0)
#define POINT_MAX_C 500.0

/* "23" or "73 F". */
static int
read_temperature(const char *text, double *c, struct error *error)
{
	if (text_number(text, c))
		return 0;
	return value_measure(text, DIMENSION_TEMPERATURE, c, error);
}

/* Takes "23: 1300" as the next point. */
static int
add_point(const struct setting *setting, char *item, struct material_curve *curve,
    struct error *error)
{
	char *colon = strchr(item, ':');
	int at = curve->count, rc;

	if (at == MATERIAL_POINTS)
		return error_set(
		    error, ERROR_INVALID, "write %d points at most", MATERIAL_POINTS);
	if (*item == '\0')
		return error_set(error, ERROR_INVALID,
		    "a point is missing: write one, or leave the ',' out");
	if (!colon)
		return error_set(error, ERROR_INVALID,
		    "'%s' has no temperature, write each point as 23: %s", item, item);
	*colon = '\0';
	rc = read_temperature(item, &curve->at_c[at], error);
	if (rc == 0 &&
	    !(curve->at_c[at] >= POINT_MIN_C && curve->at_c[at] <= POINT_MAX_C))
		rc = error_set(error, ERROR_INVALID,
		    "a point at %g C cannot be, write %g to %g C", curve->at_c[at],
		    POINT_MIN_C, POINT_MAX_C);
	if (rc == 0)
		rc = read_value(setting, colon + 1, &curve->value[at], error);
	if (rc == 0 && at > 0 && !(curve->at_c[at] > curve->at_c[at - 1]))
		rc = error_set(error, ERROR_INVALID,
		    "the temperatures must go up, but %g C stands behind %g C",
		    curve->at_c[at], curve->at_c[at - 1]);
	curve->count++;
	return rc;
}

int
curve_read(const struct setting *setting, const char *text,
    struct material_curve *curve, struct error *error)
{
	struct material_curve read = {.count = 0};
	char item[LIST_ITEM];
	int rc = 0;

	if (!strpbrk(text, ":,")) {
		rc = read_value(setting, text, &read.value[0], error);
		read.at_c[0] = 23;
		read.count = 1;
	} else
		while (rc == 0 && list_next(&text, item))
			rc = add_point(setting, item, &read, error);
	if (rc == 0)
		*curve = read;
	return rc;
}
