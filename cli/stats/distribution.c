/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/stats/distribution.h"

#include <gsl/gsl_cdf.h>
#include <gsl/gsl_integration.h>
#include <gsl/gsl_sf_gamma.h>
#include <math.h>

enum { NODES = 128 }; /* tabulated in GSL: no set-up time */

struct integrand {
	double t, df, delta;
	double constant; /* of the density of s */
};

/*
 * Phi(t s - delta) f(s), s = chi / sqrt(df) having the density
 * f(s) = 2 (df/2)^(df/2) / Gamma(df/2) s^(df-1) exp(-df s^2 / 2)
 *      = 2 sqrt(h / 2 pi) / Gamma*(h) / s exp(df (log s - (s^2 - 1) / 2)), h = df/2,
 * where Gamma*(h) = Gamma(h) / (sqrt(2 pi / h) (h / e)^h) is about 1: nothing large cancels.
 */
static double
integrand_at(double s, void *params)
{
	const struct integrand *p = params;

	if (s <= 0)
		return 0;
	double u = s - 1, power = log1p(u) - u - u * u / 2;
	return gsl_cdf_ugaussian_P(p->t * s - p->delta) * p->constant / s *
	       exp(p->df * power);
}

double
noncentral_t_cdf(double t, double df, double delta)
{
	struct integrand params = {.t = t, .df = df, .delta = delta};
	double half = df / 2;

	params.constant = 2 * sqrt(half / (2 * M_PI)) / gsl_sf_gammastar(half);

	/* s is about 1 with a deviation of about 1 / sqrt(2 df); Phi turns at delta / t. */
	double reach = 12 / sqrt(2 * df);
	double from = fmax(0, 1 - reach), to = 1 + reach;
	double split = t != 0 ? delta / t : 1;
	if (!(split > from && split < to))
		split = (from + to) / 2;

	/* Where t is large, within a small part of that. */
	double turn = t != 0 ? fmin(10 / fabs(t), reach) : reach;
	const double edges[] = {
	    from, fmax(from, split - turn), split, fmin(to, split + turn), to};

	gsl_function function = {integrand_at, &params};
	gsl_integration_glfixed_table *table =
	    gsl_integration_glfixed_table_alloc(NODES);
	double sum = 0;
	if (!table)
		return NAN;
	for (int i = 0; i < 4; i++)
		sum +=
		    gsl_integration_glfixed(&function, edges[i], edges[i + 1], table);
	gsl_integration_glfixed_table_free(table);
	return fmin(fmax(sum, 0), 1);
}
