/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/stats/slope.h"

#include <gsl/gsl_cdf.h>
#include <gsl/gsl_fit.h>
#include <math.h>
#include <stdlib.h>

struct fitting {
	size_t n;
	double *at, *value, *variance, *weight, *left;
};

struct line {
	double level, slope, slope_variance; /* at the points' middle */
	double chi2;                         /* weighted squares that it leaves */
	double trace;                        /* see between_of */
};

static double
mean_at(const struct fitting *fitting)
{
	double sum = 0, weights = 0;

	for (size_t i = 0; i < fitting->n; i++) {
		sum += fitting->weight[i] * fitting->at[i];
		weights += fitting->weight[i];
	}
	return sum / weights;
}

/* By the weights 1 / (variance + between). */
static struct line
fit_line(const struct fitting *fitting, double between)
{
	double level, slope, cov00, cov01, cov11, chi2;
	double w0 = 0, w1 = 0, w2 = 0, v0 = 0, v1 = 0, v2 = 0;

	for (size_t i = 0; i < fitting->n; i++)
		fitting->weight[i] = 1 / (fitting->variance[i] + between);
	double middle = mean_at(fitting);
	for (size_t i = 0; i < fitting->n; i++) {
		double w = fitting->weight[i], x = fitting->at[i] - middle;
		fitting->left[i] = x;
		w0 += w, w1 += w * x, w2 += w * x * x;
		v0 += w * w, v1 += w * w * x, v2 += w * w * x * x;
	}
	gsl_fit_wlinear(fitting->left, 1, fitting->weight, 1, fitting->value, 1,
	    fitting->n, &level, &slope, &cov00, &cov01, &cov11, &chi2);
	/* trace of W - W X (X' W X)^-1 X' W */
	double determinant = w0 * w2 - w1 * w1;
	double trace = w0 - (v0 * w2 - 2 * v1 * w1 + v2 * w0) / determinant;
	for (size_t i = 0; i < fitting->n; i++)
		fitting->left[i] =
		    fitting->value[i] - level - slope * (fitting->at[i] - middle);
	return (struct line){level - slope * middle, slope, cov11, chi2, trace};
}

static bool
is_spread(const struct fitting *fitting)
{
	for (size_t i = 1; i < fitting->n; i++)
		if (fitting->at[i] > fitting->at[0] || fitting->at[i] < fitting->at[0])
			return true;
	return false;
}

static void
fit(const struct fitting *fitting, struct slope *slope)
{
	double df = (double)fitting->n - 2;
	const struct line fixed = fit_line(fitting, 0);
	double between = fmax(0, (fixed.chi2 - df) / fixed.trace);
	const struct line line = fit_line(fitting, between);
	double scale = sqrt(fmax(1, line.chi2 / df) * line.slope_variance);
	double half = gsl_cdf_tdist_Pinv(0.975, df) * scale;
	const struct series left = {.values = fitting->left, .count = fitting->n};

	slope->slope = line.slope;
	slope->slope_95 = (struct interval){line.slope - half, line.slope + half};
	slope->first = line.level + line.slope * fitting->at[0];
	slope->last = line.level + line.slope * fitting->at[fitting->n - 1];
	slope->between = sqrt(between);
	slope->r1 = autocorrelation_lag1(&left, 0);
	slope->r1_bound = autocorrelation_bound(fitting->n);
}

bool
slope_of(const struct slope_point *points, size_t count, struct slope *slope)
{
	double *room = calloc(5 * count + 1, sizeof *room);

	*slope = (struct slope){.slope = NAN,
	    .slope_95 = {NAN, NAN},
	    .first = NAN,
	    .last = NAN,
	    .between = NAN,
	    .r1 = NAN,
	    .r1_bound = NAN};
	if (!room)
		return false;
	struct fitting fitting = {.at = room,
	    .value = room + count,
	    .variance = room + 2 * count,
	    .weight = room + 3 * count,
	    .left = room + 4 * count};
	for (size_t i = 0; i < count; i++) {
		const struct slope_point *point = &points[i];
		if (!isfinite(point->at) || !isfinite(point->value) ||
		    !isfinite(point->variance) || !(point->variance > 0))
			continue;
		fitting.at[fitting.n] = point->at;
		fitting.value[fitting.n] = point->value;
		fitting.variance[fitting.n++] = point->variance;
	}
	slope->n = fitting.n;
	if (fitting.n >= SLOPE_LEAST && is_spread(&fitting))
		fit(&fitting, slope);
	free(room);
	return true;
}
