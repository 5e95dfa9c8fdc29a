/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/stats/outliers.h"

#include <gsl/gsl_cdf.h>
#include <gsl/gsl_statistics_double.h>
#include <math.h>
#include <stdbool.h>

#define ALPHA 0.05

/* What the largest studentized deviate of n normal values stays under. */
static double
critical_deviate(size_t n)
{
	double count = (double)n, df = count - 2;
	double t = gsl_cdf_tdist_Qinv(ALPHA / (2 * count), df);

	return (count - 1) * t / sqrt((df + t * t) * count);
}

static void
describe_rest(struct outliers *rest, const double *sorted, size_t n)
{
	size_t left = n - rest->low - rest->high;

	rest->mean = gsl_stats_mean(sorted + rest->low, 1, left);
	rest->sd = gsl_stats_sd_m(sorted + rest->low, 1, left, rest->mean);
}

/* Takes the farthest value off. */
static void
take_farthest(struct outliers *rest, const double *sorted, size_t n)
{
	double left = (double)(n - rest->low - rest->high) - 1;
	double low = sorted[rest->low], high = sorted[n - 1 - rest->high];
	bool upper = high - rest->mean >= rest->mean - low;
	double value = upper ? high : low;
	double mean = rest->mean - (value - rest->mean) / left;
	double share = (value - rest->mean) * (value - mean);
	double squares = rest->sd * rest->sd * left;

	*(upper ? &rest->high : &rest->low) += 1;
	rest->mean = mean;
	rest->sd = sqrt(fmax(squares - share, 0) / (left - 1));
	/* Where it is much of the whole the difference is not exact enough. */
	if (!(share < 1e-3 * squares))
		describe_rest(rest, sorted, n);
}

struct outliers
outliers_of(const double *sorted, size_t n, double mean, double sd)
{
	struct outliers rest = {.mean = mean, .sd = sd}, found = rest;

	if (n < OUTLIERS_LEAST)
		return found;
	for (size_t i = 0; i < OUTLIERS_MOST && rest.sd > 0; i++) {
		double limit = critical_deviate(n - i) * rest.sd;
		bool beyond = sorted[n - 1 - rest.high] - rest.mean > limit ||
		              rest.mean - sorted[rest.low] > limit;
		take_farthest(&rest, sorted, n);
		if (beyond)
			found = rest;
	}
	return found;
}

struct outliers
outliers_of_fit(const double *sorted, size_t n, const struct fit *fit, double step)
{
	struct outliers found = {.mean = NAN, .sd = NAN};

	if (n < OUTLIERS_LEAST)
		return found;
	double tail = ALPHA / 2 / (double)n, half = step > 0 ? step / 2 : 0;
	while (found.low < OUTLIERS_MOST && family_cdf(fit->family, fit->parameters,
						sorted[found.low] + half) < tail)
		found.low++;
	while (
	    found.high < OUTLIERS_MOST && family_above(fit->family, fit->parameters,
					      sorted[n - 1 - found.high] - half) < tail)
		found.high++;
	describe_rest(&found, sorted, n);
	return found;
}
