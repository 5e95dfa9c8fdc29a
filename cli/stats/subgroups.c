/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/stats/subgroups.h"

#include "cli/stats/chart_constants.h"
#include "daemon/base/moments.h"

#include <assert.h>
#include <float.h>
#include <math.h>

/* Differences of larger values may leave the range of doubles. */
#define WIDEST (DBL_MAX / 4)

/* The values from `start` on, taken together; false when the subgroup is incomplete, or too
 * wide for a double. */
static bool
take_subgroup(
    const struct series *series, size_t start, size_t size, struct moments *moments)
{
	moments_init(moments);
	for (size_t i = start; i < start + size; i++) {
		if (i > start ? !series_neighbours(series, i)
			      : !isfinite(series->values[i]))
			return false;
		moments_add(moments, series->values[i]);
	}
	return isfinite(moments->sum_squares) && fabs(moments_mean(moments)) < WIDEST;
}

static struct control_limits
limits_about(double centre, double reach)
{
	return (struct control_limits){centre - reach, centre, centre + reach};
}

static void
compute_limits(struct subgroups *subgroups)
{
	struct chart_constants of = chart_constants(subgroups->size);
	size_t df = subgroups->count * (subgroups->size - 1);
	double range = subgroups->mean_range, sd = subgroups->mean_sd;

	subgroups->sigma_range = range / of.d2;
	subgroups->sigma_sd = sd / of.c4;
	subgroups->sigma_pooled = subgroups->pooled_sd / chart_c4(df + 1);
	subgroups->mean_by_range = limits_about(subgroups->grand_mean, of.A2 * range);
	subgroups->mean_by_sd = limits_about(subgroups->grand_mean, of.A3 * sd);
	subgroups->range = (struct control_limits){of.D3 * range, range, of.D4 * range};
	subgroups->sd = (struct control_limits){of.B3 * sd, sd, of.B4 * sd};
}

struct subgroups
subgroups_of(const struct series *series, size_t size)
{
	const struct control_limits none = {NAN, NAN, NAN};
	struct moments one, means, ranges, deviations, variances;

	assert(size >= CHART_SUBGROUP_LEAST && size <= CHART_SUBGROUP_MOST);
	struct subgroups subgroups = {
	    .size = size,
	    .sigma_range = NAN,
	    .sigma_sd = NAN,
	    .sigma_pooled = NAN,
	    .mean_by_range = none,
	    .range = none,
	    .mean_by_sd = none,
	    .sd = none,
	};
	moments_init(&means);
	moments_init(&ranges);
	moments_init(&deviations);
	moments_init(&variances);
	for (size_t i = 0; i < series->count; i += size) {
		if (series->count - i < size || !take_subgroup(series, i, size, &one)) {
			subgroups.left_out++;
			continue;
		}
		double sd = moments_sd(&one);
		moments_add(&means, moments_mean(&one));
		moments_add(&ranges, one.max - one.min);
		moments_add(&deviations, sd);
		moments_add(&variances, sd * sd);
	}
	subgroups.count = means.count;
	subgroups.grand_mean = moments_mean(&means);
	subgroups.mean_range = moments_mean(&ranges);
	subgroups.mean_sd = moments_mean(&deviations);
	subgroups.pooled_sd = sqrt(moments_mean(&variances));
	if (subgroups.count > 0)
		compute_limits(&subgroups);
	return subgroups;
}

size_t
subgroups_means(const struct series *series, size_t size, double *means)
{
	struct moments one;
	size_t count = series->count / size;

	for (size_t i = 0; i < count; i++)
		means[i] = take_subgroup(series, i * size, size, &one)
		               ? moments_mean(&one)
		               : NAN;
	return count;
}
