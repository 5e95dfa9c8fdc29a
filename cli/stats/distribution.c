/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/stats/distribution.h"

#include <gsl/gsl_cdf.h>
#include <gsl/gsl_integration.h>
#include <gsl/gsl_sf_gamma.h>
#include <math.h>

enum { NODES = 128 }; /* tabulated in GSL: no set-up time */

struct integrand {
	double t, df, delta;
	double log_constant; /* of the density of s */
};

/* Phi(t s - delta) f(s), s = chi / sqrt(df) having the density
 * f(s) = 2 (df/2)^(df/2) / Gamma(df/2) s^(df-1) exp(-df s^2 / 2). */
static double
integrand_at(double s, void *params)
{
	const struct integrand *p = params;

	if (s <= 0)
		return 0;
	double log_density = p->log_constant + (p->df - 1) * log(s) - p->df * s * s / 2;
	return gsl_cdf_ugaussian_P(p->t * s - p->delta) * exp(log_density);
}

double
noncentral_t_cdf(double t, double df, double delta)
{
	struct integrand params = {.t = t, .df = df, .delta = delta};
	double half = df / 2;

	params.log_constant = log(2) + half * log(half) - gsl_sf_lngamma(half);

	/* s is about 1 with a deviation of about 1 / sqrt(2 df); Phi turns at delta / t. */
	double reach = 12 / sqrt(2 * df);
	double from = fmax(0, 1 - reach), to = 1 + reach;
	double split = t != 0 ? delta / t : 1;
	if (!(split > from && split < to))
		split = (from + to) / 2;

	gsl_function function = {integrand_at, &params};
	gsl_integration_glfixed_table *table =
	    gsl_integration_glfixed_table_alloc(NODES);
	double sum = gsl_integration_glfixed(&function, from, split, table) +
	             gsl_integration_glfixed(&function, split, to, table);
	gsl_integration_glfixed_table_free(table);
	return fmin(fmax(sum, 0), 1);
}
