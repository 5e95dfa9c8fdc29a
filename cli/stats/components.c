/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/stats/components.h"

#include "daemon/base/moments.h"

#include <gsl/gsl_cdf.h>
#include <math.h>
#include <stdlib.h>

/* Values less the first of all: a large offset costs no digits. */
static struct moments *
sort_into_groups(const double *values, const size_t *group, size_t n, size_t groups)
{
	struct moments *of_group = calloc(groups ? groups : 1, sizeof(*of_group));
	double first = NAN;

	if (!of_group)
		return NULL;
	for (size_t i = 0; i < groups; i++)
		moments_init(&of_group[i]);
	for (size_t i = 0; i < n; i++) {
		if (isnan(first) && isfinite(values[i]))
			first = values[i];
		if (isfinite(values[i] - first))
			moments_add(&of_group[group[i]], values[i] - first);
	}
	return of_group;
}

struct sums {
	double n, groups, values, size_squares, within, between;
};

static struct sums
sum_up(const struct moments *of_group, size_t groups)
{
	struct sums sums = {0, 0, 0, 0, 0, 0};

	for (size_t i = 0; i < groups; i++) {
		double size = (double)of_group[i].count;
		if (of_group[i].count == 0)
			continue;
		sums.groups++;
		sums.n += size;
		sums.values += size * moments_mean(&of_group[i]);
		sums.size_squares += size * size;
		sums.within += of_group[i].sum_squares;
	}
	for (size_t i = 0; i < groups; i++) {
		double off = moments_mean(&of_group[i]) - sums.values / sums.n;
		if (of_group[i].count > 0)
			sums.between += (double)of_group[i].count * off * off;
	}
	return sums;
}

struct components
components_of(const double *values, const size_t *group, size_t n, size_t groups)
{
	struct components components = {0, 0, NAN, NAN, NAN, NAN};
	struct moments *of_group = sort_into_groups(values, group, n, groups);

	if (!of_group)
		return components;
	struct sums sums = sum_up(of_group, groups);
	free(of_group);
	double within_df = sums.n - sums.groups, between_df = sums.groups - 1;
	components.groups = (size_t)sums.groups;
	components.n = (size_t)sums.n;
	if (!(within_df > 0) || !isfinite(sums.within))
		return components;
	components.within = sums.within / within_df;
	if (!(between_df > 0) || !isfinite(sums.between))
		return components;
	double mean_square = sums.between / between_df;
	double n0 = (sums.n - sums.size_squares / sums.n) / between_df;
	components.between = fmax(0, (mean_square - components.within) / n0);
	double f = mean_square / components.within;
	if (isfinite(f)) {
		components.f = f;
		components.p = gsl_cdf_fdist_Q(components.f, between_df, within_df);
	}
	return components;
}
