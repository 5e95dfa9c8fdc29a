/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/stats/fit.h"

#include <assert.h>
#include <gsl/gsl_cdf.h>
#include <gsl/gsl_integration.h>
#include <gsl/gsl_sf_psi.h>
#include <math.h>

/* The information that one value has of the parameters: I00, I01, I11. */
struct information {
	double aa, ab, bb;
};

enum { NODES = 64 };

/* Squares of the derivatives of log density by mu and sigma, weighed by the density. */
static struct information
folded_information(double mu, double sigma)
{
	struct information sum = {0, 0, 0};
	double reach = mu + 9 * sigma;
	gsl_integration_glfixed_table *table =
	    gsl_integration_glfixed_table_alloc(NODES);
	const double parameters[FAMILY_PARAMETERS] = {mu, sigma};

	for (size_t i = 0; i < NODES; i++) {
		double x, weight;
		gsl_integration_glfixed_point(
		    fmax(0, mu - 9 * sigma), reach, i, &x, &weight, table);
		double fold = x * tanh(x * mu / (sigma * sigma));
		double by_mu = (fold - mu) / (sigma * sigma);
		double by_sigma = -1 / sigma + (x * x + mu * mu - 2 * mu * fold) /
		                                   (sigma * sigma * sigma);
		weight *= family_density(FAMILY_FOLDED_NORMAL, parameters, x);
		sum.aa += weight * by_mu * by_mu;
		sum.ab += weight * by_mu * by_sigma;
		sum.bb += weight * by_sigma * by_sigma;
	}
	gsl_integration_glfixed_table_free(table);
	return sum;
}

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
		return folded_information(a, b);
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

static double
index_of(enum family family, const double parameters[FAMILY_PARAMETERS], double lower,
    double upper)
{
	struct quantiles quantiles = {
	    family_quantile(family, parameters, 0.00135),
	    family_quantile(family, parameters, 0.5),
	    family_quantile(family, parameters, 0.99865),
	};
	struct percentile_index index = percentile_index_of(&quantiles, lower, upper);

	return fmin(index.ppl, index.ppu); /* the other one when one is NAN */
}

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

struct fit_bounds
fit_bounds_of(
    const struct fit *fit, const double *sorted, size_t n, double lower, double upper)
{
	(void)sorted;
	struct information one = information_of(fit);
	double value = index_of(fit->family, fit->parameters, lower, upper);
	/* Steps by what the parameters are uncertain by. */
	double step_a = 1e-3 / sqrt(one.aa), step_b = 1e-3 / sqrt(one.bb);
	double by_a = slope(fit, 0, step_a, lower, upper);
	double by_b = 0;
	if (family_table[fit->family].parameter_count > 1)
		by_b = slope(fit, 1, step_b, lower, upper);
	double variance =
	    (by_a * by_a * one.bb - 2 * by_a * by_b * one.ab + by_b * by_b * one.aa) /
	    (one.aa * one.bb - one.ab * one.ab) / (double)n;
	double error = sqrt(variance);
	double two = gsl_cdf_ugaussian_Pinv(0.975), lone = gsl_cdf_ugaussian_Pinv(0.95);
	return (struct fit_bounds){
	    value - two * error, value + two * error, value - lone * error};
}
