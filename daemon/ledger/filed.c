/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/ledger/filed.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

enum { MICROSECOND_NS = 1000 };

/* What leaves no decimals: of an energy in joule. */
static double
round_large(double value)
{
	char digits[32];

	snprintf(digits, sizeof digits, "%.9e", value);
	return strtod(digits, NULL);
}

/* To ten digits; numbers below `bound` to 1 / `scale`, ten digits of `bound`. */
static double
round_to(double value, double bound, double scale)
{
	double size = fabs(value);

	if (!isfinite(value))
		return value;
	if (size >= 1e10)
		return round_large(value);
	while (size >= bound) {
		bound *= 10;
		scale /= 10;
	}
	double scaled = value * scale;
	double whole = nearbyint(scaled);
	/* It looks like a tie: what the product lost tells on which side it lies. */
	if (fabs(scaled - whole) == 0.5) {
		double lost = fma(value, scale, -scaled);
		if (lost != 0)
			whole = lost > 0 ? ceil(scaled) : floor(scaled);
	}
	/* Both are exact, so the quotient is the nearest double; + 0 makes 0 of -0. */
	return whole / scale + 0.0;
}

double
filed_number(double value)
{
	return round_to(value, 10, 1e9);
}

double
filed_flow(double value)
{
	return round_to(value, 1e-5, 1e15);
}

bool
filed_same(double a, double b)
{
	return filed_number(a) == filed_number(b) || (isnan(a) && isnan(b));
}

bool
filed_same_flow(double a, double b)
{
	return filed_flow(a) == filed_flow(b) || (isnan(a) && isnan(b));
}

struct wall
filed_time(struct wall at)
{
	int64_t rest = at.ns % MICROSECOND_NS;

	return (struct wall){at.ns - (rest < 0 ? rest + MICROSECOND_NS : rest)};
}
