/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/stats/step.h"

#include <gsl/gsl_cdf.h>
#include <gsl/gsl_fit.h>
#include <math.h>
#include <stdlib.h>

struct stepping {
	size_t n;
	const struct slope_point *points; /* usable ones */
	double *at, *value, *weight;
};

struct split {
	size_t first; /* of the new level */
	double before, after;
	double left;  /* weighted squares that it leaves */
	double gain;  /* and that it takes off those of one level */
	double trace; /* of W - W X (X' W X)^-1 X' W */
};

struct sums {
	double w, wy, wyy, ww;
};

static struct sums
add(struct sums sums, double weight, double value)
{
	return (struct sums){sums.w + weight, sums.wy + weight * value,
	    sums.wyy + weight * value * value, sums.ww + weight * weight};
}

static struct sums
less(struct sums all, struct sums part)
{
	return (struct sums){
	    all.w - part.w, all.wy - part.wy, all.wyy - part.wyy, all.ww - part.ww};
}

static double
squares(struct sums sums)
{
	return fmax(0, sums.wyy - sums.wy * sums.wy / sums.w);
}

/* By weights 1 / (variance + between); values are from their middle already. */
static struct split
best_split(const struct stepping *stepping, double between)
{
	struct sums all = {0}, left = {0};
	struct split best = {.left = INFINITY};

	for (size_t i = 0; i < stepping->n; i++) {
		stepping->weight[i] = 1 / (stepping->points[i].variance + between);
		all = add(all, stepping->weight[i], stepping->value[i]);
	}
	for (size_t i = 1; i < stepping->n; i++) {
		left = add(left, stepping->weight[i - 1], stepping->value[i - 1]);
		struct sums right = less(all, left);
		double leaves = squares(left) + squares(right);
		if (leaves < best.left)
			best = (struct split){i, left.wy / left.w, right.wy / right.w,
			    leaves, squares(all) - leaves,
			    all.w - left.ww / left.w - right.ww / right.w};
	}
	return best;
}

/* Schwarz's criterion: squares in units of what the step leaves a degree of freedom. */
static bool
beats_line(const struct stepping *stepping, const struct split *split, double scale)
{
	double level, slope, cov00, cov01, cov11, chi2;

	gsl_fit_wlinear(stepping->at, 1, stepping->weight, 1, stepping->value, 1,
	    stepping->n, &level, &slope, &cov00, &cov01, &cov11, &chi2);
	return isfinite(chi2) ? chi2 - split->left > scale * log((double)stepping->n)
	                      : true;
}

static void
find(const struct stepping *stepping, double middle, struct step *step)
{
	double n = (double)stepping->n, df = n - 2;
	const struct split fixed = best_split(stepping, 0);
	double between = fmax(0, (fixed.left - df) / fixed.trace);
	const struct split split = best_split(stepping, between);
	double scale = fmax(1, split.left / df);
	double t = sqrt(fmax(0, split.gain) / scale);

	step->at = split.first;
	step->before = middle + split.before;
	step->after = middle + split.after;
	step->p = fmin(1, (n - 1) * 2 * gsl_cdf_tdist_Q(t, df));
	step->over_line = beats_line(stepping, &split, scale);
	for (size_t i = 0; i < stepping->n; i++)
		stepping->value[i] -= i < split.first ? split.before : split.after;
	const struct series left = {.values = stepping->value, .count = stepping->n};
	step->r1 = autocorrelation_lag1(&left, 0);
	step->r1_bound = autocorrelation_bound(stepping->n);
}

bool
step_of(const struct slope_point *points, size_t count, struct step *step)
{
	struct slope_point *usable = calloc(count + 1, sizeof *usable);
	size_t *places = calloc(count + 1, sizeof *places);
	double *room = calloc(3 * count + 1, sizeof *room);
	struct stepping stepping = {.points = usable,
	    .at = room,
	    .value = room ? room + count : NULL,
	    .weight = room ? room + 2 * count : NULL};
	bool done = usable && places && room;

	*step = (struct step){
	    .before = NAN, .after = NAN, .p = NAN, .r1 = NAN, .r1_bound = NAN};
	for (size_t i = 0; done && i < count; i++)
		if (isfinite(points[i].at) && isfinite(points[i].value) &&
		    isfinite(points[i].variance) && points[i].variance > 0) {
			places[stepping.n] = i;
			usable[stepping.n++] = points[i];
		}
	step->n = stepping.n;
	if (done && stepping.n >= SLOPE_LEAST) {
		double middle = usable[0].value;
		for (size_t i = 0; i < stepping.n; i++) {
			stepping.at[i] = usable[i].at - usable[0].at;
			stepping.value[i] = usable[i].value - middle;
		}
		find(&stepping, middle, step);
		step->last = places[step->at - 1];
		step->at = places[step->at];
	}
	free(usable);
	free(places);
	free(room);
	return done;
}
