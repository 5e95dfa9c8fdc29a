/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/stats/onset.h"

#include "cli/stats/autocorrelation.h"

#include <math.h>

/* Likelihood ratios that the truth stays within in 95 %: of a place where something jumps
 * (Hansen), and of one where something bends (chi-square with 1 degree of freedom). */
#define RATIO_OF_JUMP 7.35
#define RATIO_OF_BEND 3.84
/* Values that a deviation is told from. */
enum { SCATTER_LEAST = 5 };
/* Beyond so many, single points are no longer single: one in SINGLE_SHARE. */
enum { SINGLE_SHARE = 20 };

/* Sums over the values of one side of a slot, about the mean of all. */
struct side {
	double n, sum, squares;
};

static double
rest_of(const struct side *side)
{
	return side->n > 0 ? side->squares - side->sum * side->sum / side->n : 0;
}

static void
side_add(struct side *side, double value)
{
	side->n++;
	side->sum += value;
	side->squares += value * value;
}

static struct side
side_less(const struct side *all, const struct side *part)
{
	return (struct side){
	    all->n - part->n, all->sum - part->sum, all->squares - part->squares};
}

/* -2 log likelihood of a model, without what all have in common. */
static double
misfit(double n, double squares, double floor)
{
	return n > 0 ? n * log(fmax(squares, floor) / n) : 0;
}

/* What a model says at one slot, the first that is otherwise. */
struct candidate {
	double misfit, before, after;
};

struct walk {
	const struct series *series;
	double mean;
	struct side all;
	double floor; /* squares below it are rounding */
};

/* Best so far, and again with a bound, the slots within it. */
struct search {
	struct onset onset;
	double misfit; /* of the best; INFINITY: none */
	double within; /* slots up to it are the range; NAN: the best is looked for */
	size_t only;   /* no other slot counts; 0: all do */
};

static void
search_take(struct search *search, size_t slot, const struct candidate *candidate)
{
	struct onset *onset = &search->onset;

	if (search->only > 0 && slot != search->only)
		return;
	if (isnan(search->within)) {
		if (candidate->misfit < search->misfit) {
			search->misfit = candidate->misfit;
			onset->slot = slot;
			onset->before = candidate->before;
			onset->after = candidate->after;
		}
	} else if (candidate->misfit <= search->within) {
		if (onset->least == 0 || slot < onset->least)
			onset->least = slot;
		if (slot > onset->most)
			onset->most = slot;
	}
}

static void
walk_step(const struct walk *walk, struct search *search)
{
	struct side before = {0};

	for (size_t i = 0; i < walk->series->count; i++) {
		double value = walk->series->values[i] - walk->mean;
		if (!isfinite(value))
			continue;
		struct side after = side_less(&walk->all, &before);
		if (before.n > 0) {
			struct candidate candidate = {
			    misfit(walk->all.n, rest_of(&before) + rest_of(&after),
				walk->floor),
			    walk->mean + before.sum / before.n,
			    walk->mean + after.sum / after.n,
			};
			search_take(search, i + 1, &candidate);
		}
		side_add(&before, value);
	}
}

static void
walk_scatter(const struct walk *walk, struct search *search)
{
	struct side before = {0};
	double middle = walk->all.sum / walk->all.n;

	for (size_t i = 0; i < walk->series->count; i++) {
		double value = walk->series->values[i] - walk->mean - middle;
		if (!isfinite(value))
			continue;
		double n = walk->all.n - before.n;
		double squares = rest_of(&walk->all) - before.squares;
		if (before.n >= SCATTER_LEAST && n >= SCATTER_LEAST) {
			struct candidate candidate = {
			    misfit(before.n, before.squares, walk->floor) +
				misfit(n, squares, walk->floor),
			    sqrt(before.squares / before.n),
			    sqrt(fmax(squares, 0) / n),
			};
			search_take(search, i + 1, &candidate);
		}
		side_add(&before, value);
	}
}

/* A level up to slot t and a slope from there: regression on h = max(0, i - t), from the end
 * of the series to its beginning. */
static void
walk_drift(const struct walk *walk, struct search *search)
{
	double n = walk->all.n, count = 0, h = 0, hh = 0, y = 0, hy = 0;
	double last = (double)walk->series->count;

	for (size_t t = walk->series->count; t-- > 0;) {
		/* as t falls by one every h grows by one, and value t + 1 begins to count */
		double value = walk->series->values[t] - walk->mean;
		bool there = isfinite(value);
		if (there) {
			count++;
			y += value;
		}
		hh += 2 * h + count;
		h += count;
		hy += y;
		double spread = hh - h * h / n;
		if (!there || count < 3 || !(spread > 0))
			continue;
		double slope = (hy - h * walk->all.sum / n) / spread;
		double level = (walk->all.sum - slope * h) / n;
		double rest = rest_of(&walk->all) - slope * slope * spread;
		struct candidate candidate = {
		    misfit(n, rest, walk->floor),
		    walk->mean + level,
		    walk->mean + level + slope * (last - (double)t),
		};
		search_take(search, t + 1, &candidate);
	}
}

/* Points beyond k deviations, if the others hold without them. */
static void
find_single(
    const struct walk *walk, struct search *search, double reach, double *points)
{
	struct side others = {0};
	double value_of_first = NAN;
	size_t first = 0;

	for (size_t i = 0; i < walk->series->count; i++) {
		double value = walk->series->values[i] - walk->mean;
		if (!isfinite(value))
			continue;
		if (fabs(value) <= reach) {
			side_add(&others, value);
		} else if (first == 0) {
			first = i + 1;
			value_of_first = walk->series->values[i];
		}
	}
	*points = walk->all.n - others.n;
	if (first == 0 || *points * SINGLE_SHARE > walk->all.n + SINGLE_SHARE)
		return;
	struct candidate candidate = {
	    misfit(walk->all.n, rest_of(&others), walk->floor),
	    walk->mean + others.sum / others.n,
	    value_of_first,
	};
	search_take(search, first, &candidate);
}

static struct walk
walk_over(const struct series *series, double mean)
{
	struct walk walk = {.series = series, .mean = mean};

	for (size_t i = 0; i < series->count; i++) {
		double value = series->values[i] - mean;
		if (isfinite(value))
			side_add(&walk.all, value);
	}
	walk.floor = 1e-12 * walk.all.squares;
	return walk;
}

/* What a step or a drift leaves of a value. */
static double
left_of(const struct onset *onset, const struct series *series, size_t i)
{
	size_t begin = onset->slot - 1;
	double part = 0;

	if (i >= begin)
		part = onset->kind == ONSET_STEP
		           ? 1
		           : (double)(i + 1 - begin) / (double)(series->count - begin);
	return series->values[i] - onset->before -
	       part * (onset->after - onset->before);
}

/*
 * What the memory of the values leaves of what they tell: (1 - r) / (1 + r), r the lag-1
 * autocorrelation of what the better of step and drift leaves; 1 where it is within its bound.
 */
static double
told_by(const struct onset *onset, const struct series *series)
{
	double squares = 0, products = 0, last = NAN;
	size_t n = 0, pairs = 0;

	for (size_t i = 0; i < series->count; i++) {
		double left = left_of(onset, series, i);
		if (!isfinite(left))
			continue;
		n++;
		squares += left * left;
		if (i > 0 && series_neighbours(series, i)) {
			pairs++;
			products += left * last;
		}
		last = left;
	}
	if (pairs == 0 || !(squares > 0))
		return 1;
	double r = products / squares * (double)(n - 1) / (double)pairs;
	if (!(r > autocorrelation_bound(pairs + 1)))
		return 1;
	r = fmin(autocorrelation_unbiased(r, n), 0.99);
	return (1 - r) / (1 + r);
}

/* The range: all slots nearly as likely as the best. */
static void
find_range(const struct walk *walk, struct search *search, double told)
{
	switch (search->onset.kind) {
	case ONSET_STEP:
		search->within = search->misfit + RATIO_OF_JUMP / told;
		walk_step(walk, search);
		break;
	case ONSET_DRIFT:
		search->within = search->misfit + RATIO_OF_BEND / told;
		walk_drift(walk, search);
		break;
	case ONSET_SCATTER:
		search->within = search->misfit + RATIO_OF_JUMP / told;
		walk_scatter(walk, search);
		break;
	case ONSET_SINGLE:
	case ONSET_NONE:
		search->onset.least = search->onset.most = search->onset.slot;
		break;
	}
}

struct onset
onset_of(const struct series *series, const struct stability *stability, double mean,
    double sigma)
{
	struct onset none = {
	    .kind = ONSET_NONE, .before = NAN, .after = NAN, .explained = NAN};

	if (stability->verdict != STABILITY_UNSTABLE)
		return none;
	struct walk walk = walk_over(series, mean);
	double n = walk.all.n, plain = misfit(n, rest_of(&walk.all), walk.floor);
	double points = 0, least = 0;
	struct search searches[] = {
	    {{.kind = ONSET_STEP}, INFINITY, NAN, 0},
	    {{.kind = ONSET_DRIFT}, INFINITY, NAN, 0},
	    {{.kind = ONSET_SCATTER}, INFINITY, NAN, 0},
	    {{.kind = ONSET_SINGLE}, INFINITY, NAN, 0},
	};
	walk_step(&walk, &searches[0]);
	walk_drift(&walk, &searches[1]);
	walk_scatter(&walk, &searches[2]);
	find_single(&walk, &searches[3], stability->limits.k * sigma, &points);
	double told = told_by(
	    &searches[searches[1].misfit < searches[0].misfit ? 1 : 0].onset, series);

	/* Each of these costs a place and a size; of single points, each point. */
	struct search *best = NULL;
	for (size_t i = 0; i < sizeof(searches) / sizeof(searches[0]); i++) {
		bool single = searches[i].onset.kind == ONSET_SINGLE;
		double gained = told * (searches[i].misfit - plain) +
		                2 * (single ? points : 1) * log(n);
		if (gained < least) {
			least = gained;
			best = &searches[i];
		}
	}
	if (!best)
		return none;
	find_range(&walk, best, told);
	best->onset.explained = -expm1(fmin(best->misfit - plain, 0) / n);
	return best->onset;
}

void
onset_tell(struct onset *onset, const struct series *series)
{
	struct search search = {*onset, INFINITY, NAN, onset->slot};
	struct walk walk = walk_over(series, 0);

	/* sums about the mean, as always */
	walk = walk_over(series, walk.all.sum / walk.all.n);
	switch (onset->kind) {
	case ONSET_STEP:
		walk_step(&walk, &search);
		break;
	case ONSET_DRIFT:
		walk_drift(&walk, &search);
		break;
	case ONSET_SCATTER:
		walk_scatter(&walk, &search);
		break;
	case ONSET_SINGLE:
		search.onset.before = walk.mean;
		search.onset.after = series->values[onset->slot - 1];
		break;
	case ONSET_NONE:
		break;
	}
	onset->before = search.onset.before;
	onset->after = search.onset.after;
}
