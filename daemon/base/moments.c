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
	double before = value - moments->mean;

	assert(isfinite(value));
	moments->count++;
	moments->mean += before / (double)moments->count;
	moments->sum_squares += before * (value - moments->mean);
	moments->min = fmin(moments->min, value);
	moments->max = fmax(moments->max, value);
}

double
moments_mean(const struct moments *moments)
{
	return moments->count ? moments->mean : NAN;
}

double
moments_sd(const struct moments *moments)
{
	if (moments->count < 2)
		return NAN;
	return sqrt(moments->sum_squares / (double)(moments->count - 1));
}
