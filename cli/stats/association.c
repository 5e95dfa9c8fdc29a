/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/stats/association.h"

#include <gsl/gsl_cdf.h>
#include <math.h>

enum { PAIRS_LEAST = 4 };

/* The two series of differences; NAN where either has none. */
struct differences {
	const struct series *quantity, *input;
	size_t stride, count;
	double quantity_mean, input_mean;
};

struct difference {
	double quantity, input; /* about their means */
};

/* Both or neither are there. */
static struct difference
difference_at(const struct differences *all, size_t i)
{
	const struct difference none = {NAN, NAN};
	const double *y = all->quantity->values, *x = all->input->values;
	const bool *breaks = all->quantity->breaks;

	if (i < all->stride)
		return none;
	for (size_t j = i - all->stride + 1; breaks && j <= i; j++)
		if (breaks[j])
			return none;
	struct difference difference = {
	    y[i] - y[i - all->stride] - all->quantity_mean,
	    x[i] - x[i - all->stride] - all->input_mean,
	};
	return isfinite(difference.quantity) && isfinite(difference.input) ? difference
	                                                                   : none;
}

struct sums {
	size_t pairs;
	double yy, xx, xy;
};

/* Products of the differences with those `lag` slots before. */
static struct sums
products_of(const struct differences *all, size_t lag)
{
	struct sums sums = {0};

	for (size_t i = lag; i < all->count; i++) {
		struct difference now = difference_at(all, i);
		if (isnan(now.quantity))
			continue;
		struct difference then = lag ? difference_at(all, i - lag) : now;
		if (isnan(then.quantity))
			continue;
		sums.pairs++;
		sums.yy += now.quantity * then.quantity;
		sums.xx += now.input * then.input;
		sums.xy += now.quantity * now.input;
	}
	return sums;
}

static void
take_means(struct differences *all)
{
	double y = 0, x = 0, pairs = 0;

	for (size_t i = 0; i < all->count; i++) {
		struct difference now = difference_at(all, i);
		if (isnan(now.quantity))
			continue;
		y += now.quantity;
		x += now.input;
		pairs++;
	}
	if (pairs > 0) {
		all->quantity_mean = y / pairs;
		all->input_mean = x / pairs;
	}
}

/* How many independent pairs they are worth. */
static double
worth_of(const struct differences *all, const struct sums *sums)
{
	double n = (double)sums->pairs, memory = 1;

	for (size_t lag = 1; lag <= 2 * all->stride && lag < all->count; lag++) {
		struct sums shifted = products_of(all, lag);
		memory += 2 * shifted.yy / sums->yy * shifted.xx / sums->xx;
	}
	return n / fmax(memory, 1);
}

static double
chance_of(double r, double df, size_t candidates)
{
	if (df < 1)
		return NAN;
	double t = fabs(r) * sqrt(df / (1 - fmin(r * r, 1)));
	return fmin(2 * gsl_cdf_tdist_Q(t, df) * (double)candidates, 1);
}

struct association
association_of(const struct series *quantity, const struct series *input, size_t stride,
    size_t candidates)
{
	struct association result = {.explained = NAN, .slope = NAN, .p = NAN};
	struct differences all = {.quantity = quantity,
	    .input = input,
	    .stride = stride,
	    .count = quantity->count < input->count ? quantity->count : input->count};

	take_means(&all);
	struct sums sums = products_of(&all, 0);
	result.pairs = sums.pairs;
	if (sums.pairs < PAIRS_LEAST || !(sums.xx > 0) || !(sums.yy > 0))
		return result;
	double r = sums.xy / sqrt(sums.xx) / sqrt(sums.yy);
	result.explained = fmin(r * r, 1);
	result.slope = sums.xy / sums.xx;
	/* worth that many at most: what chance gives even then needs no closer look */
	result.p = chance_of(r, (double)sums.pairs - 2, candidates);
	if (result.p < 1)
		result.p = chance_of(r, worth_of(&all, &sums) - 2, candidates);
	return result;
}
