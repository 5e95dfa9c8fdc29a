/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/stats/goodness.h"

#include "cli/stats/anderson_darling.h"
#include "cli/stats/goodness_table.h"
#include "cli/stats/normality.h"

#include <assert.h>
#include <math.h>

const double goodness_chances[GOODNESS_CHANCES] = {
    0.9, 0.75, 0.5, 0.25, 0.1, 0.05, 0.025, 0.01, 0.001};
const size_t goodness_sizes[GOODNESS_SIZES] = {8, 16, 32, 100, 400};
const double goodness_folded[GOODNESS_FOLDED] = {0, 0.5, 1, 1.5, 2, 2.5, 3.5};
const double goodness_gamma[GOODNESS_GAMMA] = {0, 0.2, 0.5, 1, 2, 4, 10};

/* In units of 1 / unit, so that nothing overflows. */
struct fitted {
	enum family family;
	double unit;
	double parameters[FAMILY_PARAMETERS];
	double median;
};

static struct log_tails
weibull_tails(const double *parameters, double x)
{
	double t = pow(x / parameters[1], parameters[0]);

	return (struct log_tails){log(-expm1(-t)), -t};
}

/* The smaller of the two is computed, the other is its complement. */
static struct log_tails
smaller_tails(const struct fitted *fitted, double x)
{
	if (x < fitted->median) {
		double below = family_cdf(fitted->family, fitted->parameters, x);
		return (struct log_tails){log(below), log1p(-below)};
	}
	double above = family_above(fitted->family, fitted->parameters, x);
	return (struct log_tails){log1p(-above), log(above)};
}

static struct log_tails
fitted_tails(double value, void *context)
{
	const struct fitted *fitted = context;
	const double *parameters = fitted->parameters;
	double x = value * fitted->unit;

	switch (fitted->family) {
	case FAMILY_NORMAL:
		return anderson_darling_normal((x - parameters[0]) / parameters[1]);
	case FAMILY_LOGNORMAL:
		return anderson_darling_normal(
		    (log(x) - parameters[0]) / parameters[1]);
	case FAMILY_WEIBULL:
		return weibull_tails(parameters, x);
	case FAMILY_HALF_NORMAL:
	case FAMILY_FOLDED_NORMAL:
	case FAMILY_GAMMA:
		return smaller_tails(fitted, x);
	case FAMILY_COUNT:
		break;
	}
	assert(false);
	return (struct log_tails){NAN, NAN};
}

double
goodness_a2(enum family family, const double parameters[FAMILY_PARAMETERS],
    const double *sorted, size_t n)
{
	struct fitted fitted = {
	    .family = family, .parameters = {parameters[0], parameters[1]}};
	struct anderson_darling_target target = {fitted_tails, &fitted};
	int exponent;

	frexp(fmax(fabs(sorted[0]), fabs(sorted[n - 1])), &exponent);
	exponent = exponent < -1000 ? -1000 : exponent;
	fitted.unit = ldexp(1, -exponent);
	family_scale(family, fitted.parameters, -exponent);

	if (family == FAMILY_NORMAL || family == FAMILY_LOGNORMAL)
		fitted.parameters[1] *= sqrt((double)n / (double)(n - 1));
	fitted.median = family_quantile(family, fitted.parameters, 0.5);
	return anderson_darling(sorted, n, &target);
}

static double
extreme_value_p(double a2, double n)
{
	double a = a2 * (1 + 0.2 / sqrt(n));

	return 1 / (1 + exp(-0.1 + 1.24 * log(a) + 4.48 * a));
}

/* Where `at` lies in an ascending grid: between `index` and the next, `share` of the way. */
struct place {
	size_t index;
	double share;
};

static struct place
place_of(const double *grid, size_t count, double at)
{
	size_t i = 0;

	while (i + 2 < count && at >= grid[i + 1])
		i++;
	double share = (at - grid[i]) / (grid[i + 1] - grid[i]);
	return (struct place){i, fmin(fmax(share, 0), 1)};
}

/* In 1/n, to which the differences are about in proportion. */
static struct place
place_of_size(size_t n)
{
	double inverse[GOODNESS_SIZES];

	for (size_t i = 0; i < GOODNESS_SIZES; i++)
		inverse[i] = -1 / (double)goodness_sizes[i];
	return place_of(inverse, GOODNESS_SIZES, -1 / (double)n);
}

static double
row_value(const double rows[GOODNESS_SIZES][GOODNESS_CHANCES], struct place size,
    size_t chance)
{
	return rows[size.index][chance] +
	       size.share * (rows[size.index + 1][chance] - rows[size.index][chance]);
}

/* Between chances straight in log p; above the first to p = 1 at 0, beyond the last straight
 * on. */
static double
chance_of(double a2, const double critical[GOODNESS_CHANCES])
{
	const double *p = goodness_chances;

	if (a2 < critical[0])
		return 1 - (1 - p[0]) * fmax(a2, 0) / critical[0];
	size_t i = 0;
	while (i + 2 < GOODNESS_CHANCES && a2 >= critical[i + 1])
		i++;
	double share = (a2 - critical[i]) / (critical[i + 1] - critical[i]);
	return p[i] * exp(share * log(p[i + 1] / p[i]));
}

static double
table_p(const double (*table)[GOODNESS_SIZES][GOODNESS_CHANCES], struct place shape,
    double a2, size_t n)
{
	struct place size = place_of_size(n);
	double critical[GOODNESS_CHANCES];

	for (size_t i = 0; i < GOODNESS_CHANCES; i++) {
		critical[i] = row_value(table[shape.index], size, i);
		if (shape.share > 0)
			critical[i] +=
			    shape.share *
			    (row_value(table[shape.index + 1], size, i) - critical[i]);
	}
	return chance_of(a2, critical);
}

double
goodness_p(
    enum family family, const double parameters[FAMILY_PARAMETERS], double a2, size_t n)
{
	double size = (double)n;
	struct place place = {0, 0};

	if (n < GOODNESS_LEAST || !isfinite(a2))
		return NAN;
	switch (family) {
	case FAMILY_NORMAL:
	case FAMILY_LOGNORMAL:
		return normality_p(a2 * (1 + 0.75 / size + 2.25 / (size * size)));
	case FAMILY_WEIBULL:
		return extreme_value_p(a2, size);
	case FAMILY_HALF_NORMAL:
		return table_p(half_normal_table, place, a2, n);
	case FAMILY_FOLDED_NORMAL:
		place = place_of(
		    goodness_folded, GOODNESS_FOLDED, parameters[0] / parameters[1]);
		return table_p(folded_table, place, a2, n);
	case FAMILY_GAMMA:
		place = place_of(goodness_gamma, GOODNESS_GAMMA, 1 / parameters[0]);
		return table_p(gamma_table, place, a2, n);
	case FAMILY_COUNT:
		break;
	}
	assert(false);
	return NAN;
}
