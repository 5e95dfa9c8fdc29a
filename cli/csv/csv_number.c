/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/csv/csv_number.h"

#include <math.h>
#include <stdint.h>
#include <string.h>

#include "daemon/base/text.h"

enum { CELL = 64 };

/* A plain decimal of 15 digits at most: number and power of ten are exact, so the quotient
 * is the double that is nearest (W. D. Clinger, PLDI 1990). */
static bool
read_plain(const char *cell, double *value)
{
	static const double power[] = {1, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9,
	    1e10, 1e11, 1e12, 1e13, 1e14, 1e15};
	bool negative = *cell == '-';
	int64_t number = 0;
	int digits = 0, after = -1; /* behind the point */

	for (cell += negative; *cell && digits <= 15; cell++) {
		if (*cell == '.' && after < 0) {
			after = 0;
			continue;
		}
		if (*cell < '0' || *cell > '9')
			return false;
		number = number * 10 + (*cell - '0');
		digits++;
		after += after >= 0;
	}
	if (digits == 0 || digits > 15)
		return false;
	*value = (double)number / power[after < 0 ? 0 : after];
	*value = negative ? -*value : *value;
	return true;
}

/* The cell with a point for its comma; false when it is long, or has a point. */
static bool
to_point(const char *cell, char point[static CELL])
{
	char *comma;

	if (strchr(cell, '.') || !text_copy(point, CELL, cell))
		return false;
	comma = strchr(point, ',');
	if (comma)
		*comma = '.';
	return true;
}

static bool
is_nan(const char *cell)
{
	cell += *cell == '-' || *cell == '+';
	return strcasecmp(cell, "nan") == 0;
}

bool
csv_number_read(const char *cell, bool decimal_comma, double *value)
{
	char point[CELL];

	if (*cell == '\0' || is_nan(cell)) {
		*value = NAN;
		return true;
	}
	if (decimal_comma) {
		if (!to_point(cell, point))
			return false;
		cell = point;
	}
	return read_plain(cell, value) || text_number(cell, value);
}
