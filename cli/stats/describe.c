/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/stats/describe.h"

#include "cli/stats/chart_constants.h"
#include "cli/stats/numerics.h"
#include "cli/stats/sort.h"
#include "daemon/base/moments.h"

#include <gsl/gsl_statistics_double.h>
#include <math.h>

/* Median range of two standard normals: |N(0, 2)| exceeds it with a chance of one half. */
#define MEDIAN_RANGE_OF_2 0.95387255240894407

size_t
describe_sort(const struct series *series, double *sorted)
{
	size_t n = 0;

	for (size_t i = 0; i < series->count; i++)
		if (isfinite(series->values[i]))
			sorted[n++] = series->values[i];
	sort_values(sorted, n);
	return n;
}

double
describe_quantile(const double *sorted, size_t n, double p)
{
	if (n == 0 || !(p >= 0 && p <= 1))
		return NAN;
	double place = p * (double)(n - 1);
	size_t below = (size_t)place;
	size_t above = below + 1 < n ? below + 1 : below;

	return sorted[below] +
	       (place - (double)below) * (sorted[above] - sorted[below]);
}

static size_t
count_distinct(const double *sorted, size_t n)
{
	size_t distinct = n > 0;

	for (size_t i = 1; i < n; i++)
		distinct += sorted[i] > sorted[i - 1];
	return distinct;
}

struct description
describe(const struct series *series, const double *sorted, size_t sorted_count)
{
	struct moments moments;

	moments_init(&moments);
	for (size_t i = 0; i < series->count; i++)
		if (isfinite(series->values[i]))
			moments_add(&moments, series->values[i]);
	return (struct description){
	    .n = sorted_count,
	    .missing = series->count - sorted_count,
	    .distinct = count_distinct(sorted, sorted_count),
	    .min = sorted_count ? sorted[0] : NAN,
	    .max = sorted_count ? sorted[sorted_count - 1] : NAN,
	    .mean = numerics_finite(moments_mean(&moments)),
	    .median = numerics_finite(describe_quantile(sorted, sorted_count, 0.5)),
	    .sd = numerics_finite(moments_sd(&moments)),
	};
}

struct moving_ranges
describe_moving_ranges(const struct series *series, double *ranges)
{
	struct moments moments;
	size_t count = 0;

	moments_init(&moments);
	for (size_t i = 1; i < series->count; i++) {
		if (!series_neighbours(series, i))
			continue;
		double range = fabs(series->values[i] - series->values[i - 1]);
		if (isfinite(range))
			moments_add(&moments, ranges[count++] = range);
	}
	double median =
	    count ? numerics_finite(gsl_stats_median(ranges, 1, count)) : NAN;
	double mean = numerics_finite(moments_mean(&moments));
	return (struct moving_ranges){
	    .count = count,
	    .mean = mean,
	    .median = median,
	    .max = count ? moments.max : NAN,
	    .sigma = mean / CHART_D2_OF_2,
	    .sigma_from_median = numerics_finite(median / MEDIAN_RANGE_OF_2),
	};
}
