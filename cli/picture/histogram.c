/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/picture/histogram.h"

#include <math.h>
#include <stdlib.h>

#include "cli/stats/sort.h"

#define COARSE \
	20.0 /* steps of the values' grid in a bin: no more than so many are seen */

/* The least distance between two different ones; sorted, at least one. */
static double
grid_of(const double *sorted, size_t n)
{
	double least = INFINITY, range = sorted[n - 1] - sorted[0];

	for (size_t i = 1; i < n; i++) {
		double step = sorted[i] - sorted[i - 1];
		if (step > 1e-7 * range)
			least = fmin(least, step);
	}
	return least;
}

static double
width_of(
    const struct histogram_asked *asked, const double *sorted, size_t n, double grid)
{
	double least = (asked->high - asked->low) / HISTOGRAM_SEEN;
	double range = sorted[n - 1] - sorted[0];
	double quartiles = sorted[n - 1 - n / 4] - sorted[n / 4];
	double width = 2 * quartiles * pow((double)n, -1.0 / 3);

	if (width <= 0)
		width = range / 10; /* more than half of them are equal */
	width = fmax(fmin(width, range / 4), least);
	if (width >= COARSE * grid)
		return width;
	width = fmax(round(width / grid), 1) * grid;
	return width < least ? ceil(least / grid) * grid : width;
}

/* An end of a bin. */
static double
edge_of(const struct histogram_asked *asked, const double *sorted, size_t n,
    double grid, double width)
{
	double first = sorted[0], last = sorted[n - 1];

	if (width < COARSE * grid)
		return first - grid / 2;
	double to_upper = fabs(asked->upper - last),
	       to_lower = fabs(asked->lower - first);
	if (!isnan(to_upper) && to_upper < width &&
	    (isnan(to_lower) || to_upper <= to_lower))
		return asked->upper;
	if (!isnan(to_lower) && to_lower < width)
		return asked->lower;
	if (asked->upper > first && asked->upper < last)
		return asked->upper;
	if (asked->lower > first && asked->lower < last)
		return asked->lower;
	return first;
}

static void
count_them(struct histogram *histogram, const double *sorted, size_t n)
{
	for (size_t i = 0; i < n; i++) {
		double at = floor((sorted[i] - histogram->low) / histogram->width);
		size_t bin = at > 0 ? (size_t)at : 0;
		if (bin >= histogram->bins)
			bin = histogram->bins - 1;
		histogram->counts[bin]++;
		if (histogram->counts[bin] > histogram->most)
			histogram->most = histogram->counts[bin];
	}
}

static void
lay_bins(const struct histogram_asked *asked, const double *sorted, size_t n,
    struct histogram *histogram)
{
	double range = sorted[n - 1] - sorted[0];

	if (range <= 1e-12 * fabs(sorted[0])) {
		histogram->width = (asked->high - asked->low) / 40;
		histogram->low = sorted[0] - histogram->width / 2;
		histogram->bins = 1;
		return;
	}
	double grid = grid_of(sorted, n);
	double width = width_of(asked, sorted, n, grid);
	double edge = edge_of(asked, sorted, n, grid, width);
	double before = ceil((edge - sorted[0]) / width - 1e-9);
	histogram->width = width;
	histogram->low = edge - before * width;
	double bins = floor((sorted[n - 1] - histogram->low) / width - 1e-9) + 1;
	histogram->bins = bins < HISTOGRAM_BINS ? (size_t)bins : HISTOGRAM_BINS;
}

bool
histogram_make(const struct histogram_asked *asked, struct histogram *histogram)
{
	double *sorted = calloc(asked->count ? asked->count : 1, sizeof *sorted);
	size_t n = 0;

	*histogram = (struct histogram){0};
	if (!sorted)
		return false;
	for (size_t i = 0; i < asked->count; i++) {
		double value = asked->values[i];
		histogram->n += isnan(value) ? 0 : 1;
		if (value >= asked->low && value <= asked->high)
			sorted[n++] = value;
	}
	sort_values(sorted, n);
	if (n > 0) {
		lay_bins(asked, sorted, n, histogram);
		count_them(histogram, sorted, n);
	}
	free(sorted);
	return true;
}
