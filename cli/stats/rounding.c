/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/stats/rounding.h"

#include <float.h>
#include <math.h>

/* Of the range, and of the largest value: nearer ones differ by the computing alone. */
#define SAME 1e-9
#define ULPS (8 * DBL_EPSILON)
/* Of a step: how far a multiple may lie from a whole one. */
#define WHOLE 1e-3

double
rounding_least(const double *sorted, size_t n)
{
	double least = NAN;

	if (n < 2)
		return NAN;
	double largest = fmax(fabs(sorted[0]), fabs(sorted[n - 1]));
	double same = fmax(SAME * (sorted[n - 1] - sorted[0]), ULPS * largest);
	for (size_t i = 1; i < n; i++) {
		double step = sorted[i] - sorted[i - 1];
		if (step > same && isfinite(step) && !(step >= least))
			least = step;
	}
	return least;
}

double
rounding_step(const double *sorted, size_t n)
{
	double least = rounding_least(sorted, n);
	bool equal = false;

	if (isnan(least))
		return 0;
	for (size_t i = 1; i < n; i++) {
		double steps = (sorted[i] - sorted[0]) / least;
		if (fabs(steps - rint(steps)) > WHOLE)
			return 0;
		equal = equal || sorted[i] - sorted[i - 1] < least;
	}
	return equal ? least : 0;
}

/* `count` equal values x. */
static void
spread_cell(double x, double step, bool zero_bounded, size_t count, double *spread)
{
	double low = x - step / 2, high = x + step / 2;

	/* What is positive stays so. */
	if (low < 0 && (x > 0 || (zero_bounded && !(x < 0))))
		low = 0;
	for (size_t i = 0; i < count; i++)
		spread[i] = low + (high - low) * (((double)i + 0.5) / (double)count);
}

void
rounding_spread(
    const double *sorted, size_t n, double step, bool zero_bounded, double *spread)
{
	bool grid =
	    step > 0 && isfinite(sorted[n - 1] + step) && isfinite(sorted[0] - step);

	for (size_t from = 0, to; from < n; from = to) {
		to = from + 1;
		while (grid && to < n && sorted[to] - sorted[from] < step / 2)
			to++;
		bool zero = zero_bounded && !(sorted[from] > 0);
		if (grid && (to - from > 1 || zero))
			spread_cell(
			    sorted[from], step, zero_bounded, to - from, spread + from);
		else
			spread[from] = sorted[from];
	}
}
