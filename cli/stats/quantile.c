/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/stats/quantile.h"

#include "cli/stats/root.h"

#include <gsl/gsl_cdf.h>
#include <math.h>

/* From here on series in 1 / df are the better way. */
#define MANY_DF 20000.0

double
quantile_chi_square(double p, double df)
{
	if (!(df > 0))
		return NAN;
	if (df < MANY_DF)
		return p < 0.5 ? gsl_cdf_chisq_Pinv(p, df)
		               : gsl_cdf_chisq_Qinv(1 - p, df);
	/* E. B. Wilson and M. M. Hilferty, PNAS 17:684-688, 1931 */
	double part = 2 / (9 * df);
	double root = 1 - part + gsl_cdf_ugaussian_Pinv(p) * sqrt(part);
	return df * root * root * root;
}

struct f_context {
	double p, above_df, below_df;
};

static double
f_misses(double x, void *context)
{
	const struct f_context *f = context;

	return f->p < 0.5 ? gsl_cdf_fdist_P(x, f->above_df, f->below_df) - f->p
	                  : 1 - f->p - gsl_cdf_fdist_Q(x, f->above_df, f->below_df);
}

double
quantile_f(double p, double above_df, double below_df)
{
	if (!(above_df > 0) || !(below_df > 0))
		return NAN;
	if (fmin(above_df, below_df) >= MANY_DF) {
		/* M. Abramowitz and I. A. Stegun, Handbook of Mathematical Functions,
		 * 26.6.16 and 26.5.22 */
		double a = 1 / (above_df - 1), b = 1 / (below_df - 1), h = 2 / (a + b);
		double z = gsl_cdf_ugaussian_Pinv(p), part = (z * z - 3) / 6;
		return exp(2 * (z * sqrt(h + part) / h -
				   (a - b) * (part + 5.0 / 6 - 2 / (3 * h))));
	}
	struct f_context context = {p, above_df, below_df};
	struct root_function function = {f_misses, &context};
	return root_near(&function, 1);
}

double
quantile_beta(double p, double a, double b)
{
	double f = quantile_f(p, 2 * a, 2 * b);

	return a * f / (b + a * f);
}
