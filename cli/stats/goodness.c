/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/stats/goodness.h"

#include "cli/stats/anderson_darling.h"
#include "cli/stats/normality.h"

#include <assert.h>
#include <gsl/gsl_sf_erf.h>
#include <math.h>

struct fitted {
	enum family family;
	double parameters[FAMILY_PARAMETERS];
};

static struct log_tails
normal_tails(double z)
{
	return (struct log_tails){gsl_sf_log_erfc(-z * M_SQRT1_2) - M_LN2,
	    gsl_sf_log_erfc(z * M_SQRT1_2) - M_LN2};
}

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
	double below = family_cdf(fitted->family, fitted->parameters, x);

	if (below < 0.5)
		return (struct log_tails){log(below), log1p(-below)};
	double above = family_above(fitted->family, fitted->parameters, x);
	return (struct log_tails){log1p(-above), log(above)};
}

static struct log_tails
fitted_tails(double x, void *context)
{
	const struct fitted *fitted = context;
	const double *parameters = fitted->parameters;

	switch (fitted->family) {
	case FAMILY_NORMAL:
		return normal_tails((x - parameters[0]) / parameters[1]);
	case FAMILY_LOGNORMAL:
		return normal_tails((log(x) - parameters[0]) / parameters[1]);
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
	struct fitted fitted = {family, {parameters[0], parameters[1]}};
	struct anderson_darling_target target = {fitted_tails, &fitted};

	if (family == FAMILY_NORMAL || family == FAMILY_LOGNORMAL)
		fitted.parameters[1] *= sqrt((double)n / (double)(n - 1));
	return anderson_darling(sorted, n, &target);
}

static double
extreme_value_p(double a2, double n)
{
	double a = a2 * (1 + 0.2 / sqrt(n));

	return 1 / (1 + exp(-0.1 + 1.24 * log(a) + 4.48 * a));
}

double
goodness_p(
    enum family family, const double parameters[FAMILY_PARAMETERS], double a2, size_t n)
{
	double size = (double)n;

	(void)parameters;
	if (n < GOODNESS_LEAST || !isfinite(a2))
		return NAN;
	switch (family) {
	case FAMILY_NORMAL:
	case FAMILY_LOGNORMAL:
		return normality_p(a2 * (1 + 0.75 / size + 2.25 / (size * size)));
	case FAMILY_WEIBULL:
		return extreme_value_p(a2, size);
	case FAMILY_HALF_NORMAL:
	case FAMILY_FOLDED_NORMAL:
	case FAMILY_GAMMA:
		return NAN; /* TABLE */
	case FAMILY_COUNT:
		break;
	}
	assert(false);
	return NAN;
}
