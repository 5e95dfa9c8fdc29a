/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/stats/equivalence.h"

#include "cli/stats/quantile.h"
#include "daemon/base/moments.h"

#include <gsl/gsl_cdf.h>
#include <math.h>

#define ALPHA 0.05

/* What is known of a run. */
struct known {
	double mean, sd;         /* sd: freed of what memory takes off it */
	double variance_of_mean; /* NAN: not known */
	double df, worth;
};

static struct known
known_of(const struct series *series)
{
	struct moments all;
	size_t pairs = 0;

	moments_init(&all);
	for (size_t i = 0; i < series->count; i++) {
		if (isfinite(series->values[i]))
			moments_add(&all, series->values[i]);
		pairs += i > 0 && series_neighbours(series, i) ? 1 : 0;
	}
	struct known known = {.mean = moments_mean(&all),
	    .sd = moments_sd(&all),
	    .variance_of_mean = NAN,
	    .df = NAN,
	    .worth = NAN};
	size_t n = all.count;
	if (n < 2 || !(known.sd > 0))
		return known;
	double r1 = autocorrelation_lag1(series, known.mean);
	bool dependent = pairs > 0 && r1 > autocorrelation_bound(pairs + 1);
	double phi = dependent ? fmin(autocorrelation_unbiased(r1, n), 0.999) : 0;
	struct ar1_moments moments = ar1_moments(phi, n);
	known.worth = 1 / moments.variance_of_mean;
	if (dependent && known.worth < CAPABILITY_LEAST_EFFECTIVE)
		return known;
	known.sd /= sqrt(moments.expected_s2);
	known.df =
	    2 * moments.expected_s2 * moments.expected_s2 / moments.variance_of_s2;
	known.variance_of_mean = known.sd * known.sd * moments.variance_of_mean;
	return known;
}

static enum equivalence_verdict
judge(const struct equivalence *result)
{
	if (!(result->margin > 0) || isnan(result->p))
		return EQUIVALENCE_OPEN;
	if (result->p <= ALPHA)
		return EQUIVALENCE_SAME;
	if (result->difference_90.low > result->margin ||
	    result->difference_90.high < -result->margin)
		return EQUIVALENCE_DIFFERENT;
	return EQUIVALENCE_OPEN;
}

static void
compare_scatter(
    struct equivalence *result, const struct known *run, const struct known *reference)
{
	result->scatter_ratio = reference->sd > 0 ? run->sd / reference->sd : NAN;
	if (isnan(run->df) || isnan(reference->df))
		return;
	result->scatter_ratio_95 = (struct interval){
	    result->scatter_ratio /
		sqrt(quantile_f(1 - ALPHA / 2, run->df, reference->df)),
	    result->scatter_ratio / sqrt(quantile_f(ALPHA / 2, run->df, reference->df)),
	};
}

struct equivalence
equivalence_of(const struct series *run, const struct series *reference, double margin)
{
	struct known a = known_of(run), b = known_of(reference);
	struct equivalence result = {.verdict = EQUIVALENCE_OPEN,
	    .difference = a.mean - b.mean,
	    .difference_90 = {NAN, NAN},
	    .margin = margin,
	    .p = NAN,
	    .scatter_ratio_95 = {NAN, NAN},
	    .run_worth = a.worth,
	    .reference_worth = b.worth};

	compare_scatter(&result, &a, &b);
	double va = a.variance_of_mean, vb = b.variance_of_mean;
	double error = sqrt(va + vb);
	if (!(error > 0))
		return result;
	double df = (va + vb) * (va + vb) / (va * va / a.df + vb * vb / b.df);
	double reach = gsl_cdf_tdist_Qinv(ALPHA, df) * error;
	result.difference_90 =
	    (struct interval){result.difference - reach, result.difference + reach};
	if (margin > 0)
		result.p =
		    gsl_cdf_tdist_Q((margin - fabs(result.difference)) / error, df);
	result.verdict = judge(&result);
	return result;
}
