/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/stats/fit.h"

#include "cli/stats/root.h"

#include <assert.h>
#include <gsl/gsl_cdf.h>
#include <gsl/gsl_integration.h>
#include <gsl/gsl_sf_psi.h>
#include <math.h>

/* Normal quantiles of 0.975 and 0.95. */
#define TWO_SIDED 1.959963984540054
#define ONE_SIDED 1.644853626951473
/* Half of the 95 % point of chi-square with one degree of freedom. */
#define NEARLY_AS_LIKELY 1.92

static const struct fit_bounds none = {NAN, NAN, NAN, NAN};

/* A folded normal further from zero than so many sigmas is a normal. */
#define FOLDS_WITHIN 8.0

/* The information that one value has of the parameters: I00, I01, I11. */
struct information {
	double aa, ab, bb;
};

static struct information
information_of(const struct fit *fit)
{
	double a = fit->parameters[0], b = fit->parameters[1];
	double rest = 1 - M_EULER;

	switch (fit->family) {
	case FAMILY_NORMAL:
	case FAMILY_LOGNORMAL:
		return (struct information){1 / (b * b), 0, 2 / (b * b)};
	case FAMILY_HALF_NORMAL:
		return (struct information){2 / (a * a), 0, 1};
	case FAMILY_FOLDED_NORMAL:
		break; /* none to speak of near mu = 0: see folded_bounds */
	case FAMILY_WEIBULL:
		return (struct information){(M_PI * M_PI / 6 + rest * rest) / (a * a),
		    -rest / b, a * a / (b * b)};
	case FAMILY_GAMMA:
		return (struct information){gsl_sf_psi_1(a), 1 / b, a / (b * b)};
	case FAMILY_COUNT:
		break;
	}
	assert(false);
	return (struct information){NAN, NAN, NAN};
}

/* Of the one limit that binds; the other is NAN. */
static double
index_of(enum family family, const double parameters[FAMILY_PARAMETERS], double lower,
    double upper)
{
	struct quantiles quantiles = fit_quantiles(family, parameters);
	struct percentile_index index = percentile_index_of(&quantiles, lower, upper);

	return isnan(lower) ? index.ppu : index.ppl;
}

/* ---- folded normal ------------------------------------------------------------------
 *
 * Near mu = 0 the values hardly tell mu from sigma, and no error of either means anything.
 * What does is the set of all mu and sigma under which values like these are not too unlikely:
 * the bounds are the smallest and the largest index in it (profile likelihood).  "Values like
 * these" are the fitted distribution itself, so that the work does not grow with n.
 */
struct range {
	double low, high;
};

enum { NODES = 32, SHAPES = 12 };

struct folded {
	double n;                      /* values that there were */
	double mu, sigma;              /* fitted */
	double x[NODES], share[NODES]; /* shares of the fitted distribution, 1 in all */
	double crest;                  /* its mean log likelihood */
	double shape;                  /* mu / sigma looked at */
	double drop;                   /* of log likelihood that is let pass */
};

/* Without the constant; log(2 cosh u) = u + log(1 + exp(-2u)). */
static double
folded_likelihood(const struct folded *folded, double mu, double sigma)
{
	double sum = 0, inverse = 1 / (sigma * sigma);

	for (size_t i = 0; i < NODES; i++) {
		double x = folded->x[i], u = x * mu * inverse;
		sum += folded->share[i] *
		       (log1p(exp(-2 * u)) - (x - mu) * (x - mu) / 2 * inverse);
	}
	return sum - log(sigma);
}

/* False when memory is short. */
static bool
folded_init(struct folded *folded, const struct fit *fit, size_t n)
{
	double mu = fit->parameters[0], sigma = fit->parameters[1], all = 0;
	double from = fmax(0, mu - 7 * sigma), to = mu + 7 * sigma;
	gsl_integration_glfixed_table *table =
	    gsl_integration_glfixed_table_alloc(NODES);

	if (!table)
		return false;
	*folded = (struct folded){.n = (double)n, .mu = mu, .sigma = sigma};
	for (size_t i = 0; i < NODES; i++) {
		double weight;
		gsl_integration_glfixed_point(
		    from, to, i, &folded->x[i], &weight, table);
		folded->share[i] = weight * family_density(FAMILY_FOLDED_NORMAL,
						fit->parameters, folded->x[i]);
		all += folded->share[i];
	}
	gsl_integration_glfixed_table_free(table);
	for (size_t i = 0; i < NODES; i++)
		folded->share[i] /= all;
	folded->crest = folded_likelihood(folded, mu, sigma);
	return true;
}

/* Positive where mu and sigma are likely enough. */
static double
folded_margin(double sigma, void *context)
{
	const struct folded *folded = context;
	double mu = folded->shape * sigma;

	return folded->drop -
	       folded->n * (folded->crest - folded_likelihood(folded, mu, sigma));
}

/* The sigma that gives a shape the second moment that there is: near its likeliest. */
static double
folded_middle(const struct folded *folded)
{
	double square = folded->mu * folded->mu + folded->sigma * folded->sigma;

	return sqrt(square / (1 + folded->shape * folded->shape));
}

static bool
folded_allows(struct folded *folded, double shape)
{
	folded->shape = fmax(shape, 0);
	return folded_margin(folded_middle(folded), folded) > 0;
}

/* How far a shape may lie from the fitted one, in the direction of `sign`. */
static double
folded_reach(struct folded *folded, double sign)
{
	double fitted = folded->mu / folded->sigma, inside = 0, outside = 1e-3;

	while (outside < 1e3 && fitted + sign * outside > 0 &&
	       folded_allows(folded, fitted + sign * outside)) {
		inside = outside;
		outside *= 2;
	}
	for (int i = 0; i < 12; i++) {
		double middle = (inside + outside) / 2;
		if (folded_allows(folded, fitted + sign * middle))
			inside = middle;
		else
			outside = middle;
	}
	return fmax(fitted + sign * inside, 0);
}

/* The smallest and the largest index among what lies no more than `drop` below the crest. */
static struct range
folded_range(struct folded *folded, double drop, double lower, double upper)
{
	struct root_function margin = {folded_margin, folded};
	struct range range = {INFINITY, -INFINITY};

	folded->drop = drop;
	double from = folded_reach(folded, -1), to = folded_reach(folded, 1);
	for (int i = 0; i < SHAPES; i++) {
		folded->shape = from + (to - from) * i / (SHAPES - 1);
		double middle = folded_middle(folded);
		double ends[] = {root_between(&margin, middle / 8, middle),
		    root_between(&margin, middle, middle * 8)};
		for (int k = 0; k < 2; k++) {
			double sigma = isnan(ends[k]) ? middle : ends[k];
			const double parameters[] = {folded->shape * sigma, sigma};
			double index =
			    index_of(FAMILY_FOLDED_NORMAL, parameters, lower, upper);
			range.low = fmin(range.low, index);
			range.high = fmax(range.high, index);
		}
	}
	return range;
}

static struct fit_bounds
folded_bounds(const struct fit *fit, size_t n, double lower, double upper)
{
	struct folded folded;

	if (!folded_init(&folded, fit, n))
		return none;
	struct range both =
	    folded_range(&folded, TWO_SIDED * TWO_SIDED / 2, lower, upper);
	struct range one =
	    folded_range(&folded, ONE_SIDED * ONE_SIDED / 2, lower, upper);
	/* Each is as near as its shapes are dense. */
	return (struct fit_bounds){
	    both.low, both.high, fmax(one.low, both.low), fmin(one.high, both.high)};
}

/* ---- the others: the error that those of the parameters give the index ------------------ */

static double
slope(const struct fit *fit, int which, double step, double lower, double upper)
{
	double less[FAMILY_PARAMETERS] = {fit->parameters[0], fit->parameters[1]};
	double more[FAMILY_PARAMETERS] = {fit->parameters[0], fit->parameters[1]};

	less[which] -= step;
	more[which] += step;
	return (index_of(fit->family, more, lower, upper) -
		   index_of(fit->family, less, lower, upper)) /
	       (2 * step);
}

static double
variance_of(const struct fit *fit, double lower, double upper)
{
	struct information one = information_of(fit);
	double determinant = one.aa * one.bb - one.ab * one.ab, by_b = 0;
	double by_a = slope(fit, 0, 1e-3 / sqrt(one.aa), lower, upper);

	if (family_table[fit->family].parameter_count > 1)
		by_b = slope(fit, 1, 1e-3 / sqrt(one.bb), lower, upper);
	return (by_a * by_a * one.bb - 2 * by_a * by_b * one.ab +
		   by_b * by_b * one.aa) /
	       determinant;
}

/* Bissell's (capability.h), by percentiles: the index is (U - mean) / (z sigma). */
static double
normal_variance(double index)
{
	double z = gsl_cdf_ugaussian_Pinv(0.99865);

	return 1 / (z * z) + index * index / 2;
}

/* Of one limit, the other being NAN; in units in which nothing overflows. */
static struct fit_bounds
bounds_of(const struct fit *fit, size_t n, double lower, double upper)
{
	bool folded = fit->family == FAMILY_FOLDED_NORMAL;

	if (folded && fit->parameters[0] < FOLDS_WITHIN * fit->parameters[1])
		return folded_bounds(fit, n, lower, upper);
	double value = index_of(fit->family, fit->parameters, lower, upper);
	double variance = folded || fit->family == FAMILY_NORMAL
	                      ? normal_variance(value)
	                      : variance_of(fit, lower, upper);
	double error = sqrt(variance / (double)n);
	double two = TWO_SIDED * error, one = ONE_SIDED * error;
	return (struct fit_bounds){value - two, value + two, value - one, value + one};
}

static bool
is_known(const struct fit_bounds *bounds)
{
	return isfinite(bounds->low) && isfinite(bounds->high) &&
	       isfinite(bounds->least) && isfinite(bounds->most);
}

struct fit_bounds
fit_bounds_of(const struct fit *fit, size_t n, double lower, double upper)
{
	const struct quantiles *q = &fit->quantiles;
	struct percentile_index index = percentile_index_of(q, lower, upper);
	struct fit scaled = *fit;
	int exponent;

	/* One of the indices may be NAN, not both. */
	if (!isfinite(fmin(index.ppl, index.ppu)) || n < FIT_BOUNDS_LEAST)
		return none;
	frexp(fmax(fabs(q->x00135), fabs(q->x99865)), &exponent);
	family_scale(scaled.family, scaled.parameters, -exponent);
	bool low_binds = index.ppl <= index.ppu || isnan(index.ppu);
	struct fit_bounds bounds =
	    bounds_of(&scaled, n, low_binds ? ldexp(lower, -exponent) : NAN,
		low_binds ? NAN : ldexp(upper, -exponent));
	if (!isnan(lower) && !isnan(upper))
		bounds.most = bounds.high;
	return is_known(&bounds) ? bounds : none;
}

struct fit_bounds
fits_bounds_of(const struct fits *fits, size_t n, double lower, double upper)
{
	struct fit_bounds all = none;

	for (size_t i = 0; fits->used >= 0 && i < fits->count; i++) {
		const struct fit *fit = &fits->list[i];
		double behind =
		    fits->list[fits->used].log_likelihood - fit->log_likelihood;
		if (!(fit->p >= FIT_LEAST_P) || !(behind <= NEARLY_AS_LIKELY))
			continue;
		struct fit_bounds one = fit_bounds_of(fit, n, lower, upper);
		/* fmin and fmax pass over what is no number */
		if (!is_known(&one))
			return none;
		all.low = fmin(all.low, one.low);
		all.least = fmin(all.least, one.least);
		all.high = fmax(all.high, one.high);
		all.most = fmax(all.most, one.most);
	}
	return all;
}
