/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/stats/family.h"

#include "cli/stats/root.h"

#include <assert.h>
#include <gsl/gsl_cdf.h>
#include <gsl/gsl_randist.h>
#include <gsl/gsl_sf_gamma.h>
#include <math.h>
#include <stddef.h>

const struct family_traits family_table[FAMILY_COUNT] = {
    [FAMILY_NORMAL] = {"normal", 2, {"mean", "sigma"}, false},
    [FAMILY_HALF_NORMAL] = {"half-normal", 1, {"sigma", NULL}, true},
    [FAMILY_FOLDED_NORMAL] = {"folded-normal", 2, {"mu", "sigma"}, true},
    [FAMILY_LOGNORMAL] = {"lognormal", 2, {"log_mean", "log_sigma"}, true},
    [FAMILY_WEIBULL] = {"weibull", 2, {"shape", "scale"}, true},
    [FAMILY_GAMMA] = {"gamma", 2, {"shape", "scale"}, true},
};

/* P(|mu + sigma Z| <= x) and its complement, each from what does not cancel. */
static double
folded_cdf(double mu, double sigma, double x)
{
	if (mu < sigma)
		return (erf((x - mu) / sigma * M_SQRT1_2) +
			   erf((x + mu) / sigma * M_SQRT1_2)) /
		       2;
	return gsl_cdf_ugaussian_P((x - mu) / sigma) -
	       gsl_cdf_ugaussian_P((-x - mu) / sigma);
}

static double
folded_above(double mu, double sigma, double x)
{
	return gsl_cdf_ugaussian_Q((x - mu) / sigma) +
	       gsl_cdf_ugaussian_Q((x + mu) / sigma);
}

/* Where no double holds the tail of a gamma, and GSL has no number either. */
static bool
gamma_is_over(double shape, double scale, double x)
{
	return x / scale > 1e6 * (1 + shape);
}

double
family_cdf(enum family family, const double parameters[FAMILY_PARAMETERS], double x)
{
	double a = parameters[0], b = parameters[1];

	if (family_table[family].positive && x <= 0)
		return 0;
	switch (family) {
	case FAMILY_NORMAL:
		return gsl_cdf_ugaussian_P((x - a) / b);
	case FAMILY_HALF_NORMAL:
		return erf(x / a * M_SQRT1_2);
	case FAMILY_FOLDED_NORMAL:
		return folded_cdf(a, b, x);
	case FAMILY_LOGNORMAL:
		return gsl_cdf_ugaussian_P((log(x) - a) / b);
	case FAMILY_WEIBULL:
		return -expm1(-pow(x / b, a));
	case FAMILY_GAMMA:
		return gamma_is_over(a, b, x) ? 1 : gsl_cdf_gamma_P(x, a, b);
	case FAMILY_COUNT:
		break;
	}
	assert(false);
	return NAN;
}

double
family_above(enum family family, const double parameters[FAMILY_PARAMETERS], double x)
{
	double a = parameters[0], b = parameters[1];

	if (family_table[family].positive && x <= 0)
		return 1;
	switch (family) {
	case FAMILY_NORMAL:
		return gsl_cdf_ugaussian_Q((x - a) / b);
	case FAMILY_HALF_NORMAL:
		return erfc(x / a * M_SQRT1_2);
	case FAMILY_FOLDED_NORMAL:
		return folded_above(a, b, x);
	case FAMILY_LOGNORMAL:
		return gsl_cdf_ugaussian_Q((log(x) - a) / b);
	case FAMILY_WEIBULL:
		return exp(-pow(x / b, a));
	case FAMILY_GAMMA:
		return gamma_is_over(a, b, x) ? 0 : gsl_cdf_gamma_Q(x, a, b);
	case FAMILY_COUNT:
		break;
	}
	assert(false);
	return NAN;
}

static double
density(enum family family, double a, double b, double x)
{
	switch (family) {
	case FAMILY_NORMAL:
		return gsl_ran_gaussian_pdf(x - a, b);
	case FAMILY_HALF_NORMAL:
		return 2 * gsl_ran_gaussian_pdf(x, a);
	case FAMILY_FOLDED_NORMAL:
		return gsl_ran_gaussian_pdf(x - a, b) + gsl_ran_gaussian_pdf(x + a, b);
	case FAMILY_LOGNORMAL:
		return gsl_ran_lognormal_pdf(x, a, b);
	case FAMILY_WEIBULL:
		return gsl_ran_weibull_pdf(x, b, a);
	case FAMILY_GAMMA:
		return gsl_ran_gamma_pdf(x, a, b);
	case FAMILY_COUNT:
		break;
	}
	assert(false);
	return NAN;
}

double
family_density(enum family family, const double parameters[FAMILY_PARAMETERS], double x)
{
	if (family_table[family].positive && x < 0)
		return 0;
	double found = density(family, parameters[0], parameters[1], x);
	return isnan(found) ? 0 : found; /* far out: an infinity times 0 */
}

void
family_scale(enum family family, double parameters[FAMILY_PARAMETERS], int exponent)
{
	switch (family) {
	case FAMILY_NORMAL:
	case FAMILY_HALF_NORMAL:
	case FAMILY_FOLDED_NORMAL:
		parameters[0] = ldexp(parameters[0], exponent);
		parameters[1] = ldexp(parameters[1], exponent);
		break;
	case FAMILY_LOGNORMAL:
		parameters[0] += exponent * M_LN2;
		break;
	case FAMILY_WEIBULL:
	case FAMILY_GAMMA:
		parameters[1] = ldexp(parameters[1], exponent);
		break;
	case FAMILY_COUNT:
		break;
	}
}

struct sought {
	enum family family;
	const double *parameters;
	double p;
};

/* In the tail that p lies in, so that nothing cancels. */
static double
sought_difference(double x, void *context)
{
	const struct sought *sought = context;

	if (sought->p <= 0.5)
		return family_cdf(sought->family, sought->parameters, x) - sought->p;
	return (1 - sought->p) - family_above(sought->family, sought->parameters, x);
}

static double
half_normal_quantile(double sigma, double p)
{
	if (p > 0.5)
		return sigma * gsl_cdf_ugaussian_Qinv((1 - p) / 2);
	/* Digits of p are lost in (1 + p) / 2: Newton's step brings them back. */
	double z = gsl_cdf_ugaussian_Pinv((1 + p) / 2);
	return sigma * (z - (erf(z * M_SQRT1_2) - p) / (2 * gsl_ran_ugaussian_pdf(z)));
}

/* |mu + sigma Z| is larger than sigma |Z| and smaller than mu + sigma |Z|. */
static double
folded_quantile(const double *parameters, double p)
{
	/* Nothing that a double could show folds over. */
	if (parameters[0] > 40 * parameters[1])
		return family_quantile(FAMILY_NORMAL, parameters, p);
	struct sought sought = {FAMILY_FOLDED_NORMAL, parameters, p};
	struct root_function function = {sought_difference, &sought};
	double low = half_normal_quantile(parameters[1], p);

	/* A hair wider than that: what is found may lie at the end itself. */
	return root_between(
	    &function, low * (1 - 1e-9), (parameters[0] + low) * (1 + 1e-9));
}

static double
gamma_quantile(const double *parameters, double p)
{
	const double scaled[FAMILY_PARAMETERS] = {parameters[0], 1};
	struct sought sought = {FAMILY_GAMMA, scaled, p};
	struct root_function function = {sought_difference, &sought};

	/* E. B. Wilson and M. M. Hilferty, PNAS 17:684-688, 1931: the cube root is about normal;
	 * below its reach the first term of the series of the distribution. */
	double shape = parameters[0];
	double third =
	    1 - 1 / (9 * shape) + gsl_cdf_ugaussian_Pinv(p) / (3 * sqrt(shape));
	double guess = shape * third * third * third;
	if (!(third > 0.1))
		guess = exp((log(p) + gsl_sf_lngamma(shape + 1)) / shape);
	return root_near(&function, guess) * parameters[1];
}

double
family_quantile(
    enum family family, const double parameters[FAMILY_PARAMETERS], double p)
{
	double a = parameters[0], b = parameters[1];

	switch (family) {
	case FAMILY_NORMAL:
		return a + b * gsl_cdf_ugaussian_Pinv(p);
	case FAMILY_HALF_NORMAL:
		return half_normal_quantile(a, p);
	case FAMILY_FOLDED_NORMAL:
		return folded_quantile(parameters, p);
	case FAMILY_LOGNORMAL:
		return exp(a + b * gsl_cdf_ugaussian_Pinv(p));
	case FAMILY_WEIBULL:
		return b * pow(-log1p(-p), 1 / a);
	case FAMILY_GAMMA:
		return gamma_quantile(parameters, p);
	case FAMILY_COUNT:
		break;
	}
	assert(false);
	return NAN;
}
