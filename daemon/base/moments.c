/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/base/moments.h"

#include <assert.h>
#include <math.h>

void
moments_init(struct moments *moments)
{
	*moments = (struct moments){.min = INFINITY, .max = -INFINITY};
}

void
moments_add(struct moments *moments, double value)
{
	double shifted, before;

	assert(isfinite(value));
	if (moments->count++ == 0)
		moments->first = value;
	shifted = value - moments->first;
	before = shifted - moments->mean_shifted;
	moments->mean_shifted += before / (double)moments->count;
	moments->sum_squares += before * (shifted - moments->mean_shifted);
	moments->min = fmin(moments->min, value);
	moments->max = fmax(moments->max, value);
}

double
moments_mean(const struct moments *moments)
{
	return moments->count ? moments->first + moments->mean_shifted : NAN;
}

double
moments_sd(const struct moments *moments)
{
	if (moments->count < 2)
		return NAN;
	return sqrt(moments->sum_squares / (double)(moments->count - 1));
}
