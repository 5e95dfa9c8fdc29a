/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/stats/gauge.h"

#include <assert.h>
#include <gsl/gsl_cdf.h>
#include <math.h>
#include <stdbool.h>

/* The values about the first, so that a large offset costs no digits. */
struct layout {
	const double *values;
	size_t parts, operators, repeats;
};

/* Mean less values[0] of `count` values, `stride` apart. */
static double
mean_of(const struct layout *layout, size_t from, size_t count, size_t stride)
{
	double sum = 0;

	for (size_t i = 0; i < count; i++)
		sum += layout->values[from + i * stride] - layout->values[0];
	return sum / (double)count;
}

static double
cell_mean(const struct layout *layout, size_t part, size_t operator_)
{
	size_t from = (part * layout->operators + operator_) * layout->repeats;

	return mean_of(layout, from, layout->repeats, 1);
}

static double
part_mean(const struct layout *layout, size_t part)
{
	size_t row = layout->operators * layout->repeats;

	return mean_of(layout, part * row, row, 1);
}

static double
operator_mean(const struct layout *layout, size_t operator_)
{
	double sum = 0;

	for (size_t part = 0; part < layout->parts; part++)
		sum += cell_mean(layout, part, operator_);
	return sum / (double)layout->parts;
}

static double
square(double x)
{
	return x * x;
}

static struct gauge_terms
sums_of_squares(const struct layout *layout)
{
	double parts = (double)layout->parts, operators = (double)layout->operators;
	double repeats = (double)layout->repeats;
	size_t cells = layout->parts * layout->operators;
	double grand = mean_of(layout, 0, cells * layout->repeats, 1);
	struct gauge_terms sums = {0, 0, 0, 0};

	for (size_t i = 0; i < layout->parts; i++)
		sums.part += operators * repeats * square(part_mean(layout, i) - grand);
	for (size_t j = 0; j < layout->operators; j++) {
		double of_operator = operator_mean(layout, j) - grand;
		sums.operator_ += parts * repeats * square(of_operator);
		for (size_t i = 0; i < layout->parts; i++) {
			double off = cell_mean(layout, i, j) - part_mean(layout, i);
			sums.interaction += repeats * square(off - of_operator);
		}
	}
	for (size_t cell = 0; cell < cells; cell++) {
		const double *values = layout->values + cell * layout->repeats;
		double mean =
		    mean_of(layout, cell * layout->repeats, layout->repeats, 1);
		for (size_t k = 0; k < layout->repeats; k++)
			sums.repeat += square(values[k] - layout->values[0] - mean);
	}
	return sums;
}

/* Squares of wide values leave the range of doubles. */
static bool
terms_finite(const struct gauge_terms *terms)
{
	return isfinite(
	    terms->part + terms->operator_ + terms->interaction + terms->repeat);
}

static void
compute_variances(struct gauge *gauge)
{
	const struct gauge_terms *mean = &gauge->mean_squares;
	double parts = (double)gauge->parts, operators = (double)gauge->operators;
	double repeats = (double)gauge->repeats;

	gauge->variances = (struct gauge_terms){
	    .part = fmax(0, (mean->part - mean->interaction) / (operators * repeats)),
	    .operator_ =
		fmax(0, (mean->operator_ - mean->interaction) / (parts * repeats)),
	    .interaction = fmax(0, (mean->interaction - mean->repeat) / repeats),
	    .repeat = mean->repeat,
	};
}

static void
compute_shares(struct gauge *gauge)
{
	const struct gauge_terms *variances = &gauge->variances;
	double own = variances->repeat + variances->operator_ + variances->interaction;

	gauge->gauge_sd = sqrt(own);
	gauge->total_sd = sqrt(own + variances->part);
	if (gauge->total_sd > 0)
		gauge->percent_of_total_sd = 100 * gauge->gauge_sd / gauge->total_sd;
	if (gauge->gauge_sd > 0)
		gauge->distinct_categories =
		    trunc(1.41 * sqrt(variances->part) / gauge->gauge_sd);
}

struct gauge
gauge_of(const double *values, size_t parts, size_t operators, size_t repeats)
{
	struct layout layout = {values, parts, operators, repeats};
	const struct gauge_terms none = {NAN, NAN, NAN, NAN};

	assert(parts >= 2 && operators >= 2 && repeats >= 2);
	struct gauge gauge = {
	    .parts = parts,
	    .operators = operators,
	    .repeats = repeats,
	    .mean_squares = none,
	    .variances = none,
	    .interaction_p = NAN,
	    .gauge_sd = NAN,
	    .total_sd = NAN,
	    .percent_of_total_sd = NAN,
	    .distinct_categories = NAN,
	};
	struct gauge_terms sums = sums_of_squares(&layout);
	if (!terms_finite(&sums))
		return gauge;
	double interaction_df = (double)((parts - 1) * (operators - 1));
	double repeat_df = (double)(parts * operators * (repeats - 1));

	gauge.mean_squares = (struct gauge_terms){
	    .part = sums.part / (double)(parts - 1),
	    .operator_ = sums.operator_ / (double)(operators - 1),
	    .interaction = sums.interaction / interaction_df,
	    .repeat = sums.repeat / repeat_df,
	};
	compute_variances(&gauge);
	compute_shares(&gauge);
	if (gauge.mean_squares.repeat > 0)
		gauge.interaction_p = gsl_cdf_fdist_Q(
		    gauge.mean_squares.interaction / gauge.mean_squares.repeat,
		    interaction_df, repeat_df);
	return gauge;
}
