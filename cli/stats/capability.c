/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/stats/capability.h"

#include "cli/stats/chart_constants.h"
#include "cli/stats/distribution.h"
#include "cli/stats/numerics.h"
#include "cli/stats/quantile.h"
#include "cli/stats/root.h"
#include "daemon/base/moments.h"

#include <gsl/gsl_cdf.h>
#include <math.h>

#define CONFIDENCE 0.95
#define PHI_MOST 0.999
/* Standard errors of r1 (M. S. Bartlett, J. Royal Statistical Society Supplement 8:27-41, 1946;
 * from memory) that are added to it: chosen by simulation, see capability.h. */
#define PHI_ERRORS 1.25

struct interval
capability_interval_p(double p, double df)
{
	double tail = (1 - CONFIDENCE) / 2;

	if (!isfinite(p) || !(df > 0))
		return (struct interval){NAN, NAN};
	double low = p * sqrt(quantile_chi_square(tail, df) / df);
	double high = p * sqrt(quantile_chi_square(1 - tail, df) / df);
	return isfinite(high) ? (struct interval){low, high}
	                      : (struct interval){NAN, NAN};
}

static double
pk_error(double pk, double variance_of_mean, double df)
{
	return sqrt(variance_of_mean / 9 + pk * pk / (2 * df));
}

struct interval
capability_interval_pk(double pk, double variance_of_mean, double df)
{
	if (!isfinite(pk) || !(df > 0))
		return (struct interval){NAN, NAN};
	double reach = gsl_cdf_ugaussian_Pinv((1 + CONFIDENCE) / 2) *
	               pk_error(pk, variance_of_mean, df);
	if (!isfinite(pk - reach) || !isfinite(pk + reach))
		return (struct interval){NAN, NAN};
	return (struct interval){pk - reach, pk + reach};
}

double
capability_least_pk(double pk, size_t n)
{
	return n < 2 ? NAN : capability_least_pk_df(pk, n, (double)(n - 1));
}

/* 3 sqrt(n) times an index is noncentral t about 3 sqrt(n) times the true one. */
struct seen {
	double scale, df;
	double index;  /* what is known: seen, or true */
	double chance; /* of less than what is seen */
};

static double
least_misses(double truth, void *context)
{
	const struct seen *seen = context;

	return noncentral_t_cdf(
		   seen->scale * seen->index, seen->df, seen->scale * truth) -
	       seen->chance;
}

static double
needed_misses(double index, void *context)
{
	const struct seen *seen = context;

	return noncentral_t_cdf(
		   seen->scale * index, seen->df, seen->scale * seen->index) -
	       seen->chance;
}

double
capability_least_pk_df(double pk, size_t n, double df)
{
	if (!isfinite(pk) || n < 2 || !(df >= 1))
		return NAN;
	struct seen seen = {3 * sqrt((double)n), df, pk, CONFIDENCE};
	struct root_function function = {least_misses, &seen};
	double from = pk - 10 * pk_error(pk, 1 / (double)n, df);
	return isfinite(from) ? numerics_finite(root_between(&function, from, pk))
	                      : NAN;
}

double
capability_most_pk_df(double pk, size_t n, double df, bool both_limits)
{
	if (!isfinite(pk) || n < 2 || !(df >= 1))
		return NAN;
	double missed = (1 - CONFIDENCE) / (both_limits ? 2 : 1);
	struct seen seen = {3 * sqrt((double)n), df, pk, missed};
	struct root_function function = {least_misses, &seen};
	double error = pk_error(pk, 1 / (double)n, df), reach = error;
	/* With few degrees of freedom it lies far off. */
	while (isfinite(pk + reach) && least_misses(pk + reach, &seen) > 0)
		reach *= 2;
	return isfinite(pk + reach)
	           ? numerics_finite(root_between(&function, pk, pk + reach))
	           : NAN;
}

double
capability_needed_pk(double required, size_t n)
{
	if (!isfinite(required) || n < 2)
		return NAN;
	struct seen seen = {3 * sqrt((double)n), (double)(n - 1), required, CONFIDENCE};
	struct root_function function = {needed_misses, &seen};
	double high = required + 1;
	while (isfinite(high) && needed_misses(high, &seen) < 0)
		high = required + 2 * (high - required);
	return isfinite(high) ? root_between(&function, required, high) : NAN;
}

/*
 * The variance of the mean of m moving ranges, from that of one range of two and the
 * covariance of two that share a value: differences correlated by -1/2, and
 * E|XY| = 2/pi (sqrt(1 - r^2) + r asin r) for standard normals correlated by r.
 * A deviation with df degrees of freedom has the relative variance 1 / (2 df).
 */
double
capability_within_df(size_t neighbours)
{
	if (neighbours == 0)
		return NAN;
	double m = (double)neighbours, d2_squared = CHART_D2_OF_2 * CHART_D2_OF_2;
	double variance = 2 - d2_squared;
	double covariance = 4 / M_PI * (sqrt(0.75) - 0.5 * asin(-0.5)) - d2_squared;
	double relative =
	    (variance * m + 2 * covariance * (m - 1)) / (m * m * d2_squared);
	return 1 / (2 * relative);
}

static void
count_distinct(struct capability *capability, double value,
    double seen[static CAPABILITY_DISTINCT])
{
	for (size_t i = 0; i < capability->distinct; i++)
		if (!(seen[i] < value) && !(seen[i] > value))
			return;
	if (capability->distinct < CAPABILITY_DISTINCT)
		seen[capability->distinct++] = value;
}

/* Everything that is counted or summed in one pass. */
static void
describe(struct capability *capability, const struct series *series, double lower,
    double upper)
{
	struct moments all, ranges;
	double seen[CAPABILITY_DISTINCT];

	moments_init(&all);
	moments_init(&ranges);
	for (size_t i = 0; i < series->count; i++) {
		double value = series->values[i];
		if (!isfinite(value)) {
			capability->missing++;
			continue;
		}
		moments_add(&all, value);
		if (value < lower)
			capability->below++;
		else if (value > upper)
			capability->above++;
		else
			count_distinct(capability, value, seen);
		double range = i > 0 && series_neighbours(series, i)
		                   ? fabs(value - series->values[i - 1])
		                   : NAN;
		if (isfinite(range))
			moments_add(&ranges, range);
	}
	capability->n = all.count;
	capability->neighbours = ranges.count;
	capability->mean = numerics_finite(moments_mean(&all));
	capability->sd = numerics_finite(moments_sd(&all));
	capability->min = all.count ? all.min : NAN;
	capability->max = all.count ? all.max : NAN;
	capability->sd_within = numerics_finite(moments_mean(&ranges) / CHART_D2_OF_2);
	capability->r1 = autocorrelation_lag1(series, capability->mean);
	/* Without the factor that autocorrelation_lag1 has for missing pairs. */
	capability->lag1 = capability->r1 * (double)ranges.count /
	                   (double)(all.count > 1 ? all.count - 1 : 1);
	capability->lag1_bound = autocorrelation_bound(all.count);
	/* As many values as would have this many pairs without a break. */
	capability->r1_bound =
	    autocorrelation_bound(ranges.count ? ranges.count + 1 : 0);
}

double
capability_ratio(double room, double reach)
{
	double ratio = room / reach;

	return reach > 0 && isfinite(reach) && isfinite(ratio) ? ratio : NAN;
}

static void
compute_index(
    struct capability_index *index, double mean, double sd, double lower, double upper)
{
	index->p = capability_ratio(upper - lower, 6 * sd);
	index->pl = capability_ratio(mean - lower, 3 * sd);
	index->pu = capability_ratio(upper - mean, 3 * sd);
	index->pk = fmin(index->pl, index->pu); /* the other one when one is NAN */
}

static enum capability_verdict
judge_overall(const struct capability *c, double lower, double upper)
{
	size_t inside = c->n - c->below - c->above;

	if (isnan(lower) && isnan(upper))
		return CAPABILITY_NO_LIMIT;
	if (c->n < CAPABILITY_LEAST)
		return CAPABILITY_TOO_FEW;
	if (c->missing * 100 > (c->n + c->missing) * CAPABILITY_MISSING_PERCENT)
		return CAPABILITY_MUCH_MISSING;
	/* Where few lie inside the limits their number says nothing of the resolution. */
	if (!(c->sd > 0) ||
	    (c->distinct < CAPABILITY_DISTINCT && inside >= CAPABILITY_LEAST))
		return CAPABILITY_COARSE;
	return CAPABILITY_QUOTABLE;
}

static enum capability_verdict
judge_within(const struct capability *c)
{
	if (c->overall.verdict != CAPABILITY_QUOTABLE)
		return c->overall.verdict;
	if (c->neighbours + 1 < CAPABILITY_LEAST)
		return CAPABILITY_FEW_NEIGHBOURS;
	if (!(c->sd_within > 0))
		return CAPABILITY_COARSE;
	if (!(fabs(c->r1) <= c->r1_bound))
		return CAPABILITY_AUTOCORRELATED;
	return CAPABILITY_QUOTABLE;
}

static enum capability_memory
judge_memory(bool dependent, double n_effective)
{
	if (!dependent)
		return CAPABILITY_NONE_SEEN;
	return n_effective < CAPABILITY_LEAST_EFFECTIVE ? CAPABILITY_TOO_DEPENDENT
	                                                : CAPABILITY_WIDENED;
}

/*
 * Memory of the last value widens the intervals; it never narrows them.  It also makes
 * the deviation low and the indices high by expectation: the intervals lie about the
 * indices without that.
 */
static void
bound_overall(struct capability *c, bool both_limits)
{
	struct capability_index *overall = &c->overall;
	bool dependent = c->r1 > c->r1_bound;
	double phi = fmin(autocorrelation_unbiased(c->r1, c->n), PHI_MOST);

	c->n_effective = 1 / ar1_moments(dependent ? phi : 0, c->n).variance_of_mean;
	c->memory = judge_memory(dependent, c->n_effective);
	if (c->memory == CAPABILITY_TOO_DEPENDENT)
		return;
	/* r1 is an estimate, and one that is low by chance widens too little. */
	phi += PHI_ERRORS * sqrt((1 - phi * phi) / (double)c->n);
	struct ar1_moments moments =
	    ar1_moments(dependent ? fmin(phi, PHI_MOST) : 0, c->n);
	double expected = moments.expected_s2, variance = moments.variance_of_mean;
	double df = 2 * expected * expected / moments.variance_of_s2;
	double pk = overall->pk * sqrt(expected);

	overall->p_95 = capability_interval_p(overall->p * sqrt(expected), df);
	overall->pk_95 = capability_interval_pk(pk, variance, df);
	if (!dependent) {
		c->ppk_least = capability_least_pk(pk, c->n);
		c->ppk_most =
		    capability_most_pk_df(pk, c->n, (double)(c->n - 1), both_limits);
		return;
	}
	double error = pk_error(pk, variance, df);
	double missed = (1 - CONFIDENCE) / (both_limits ? 2 : 1);
	c->ppk_least = numerics_finite(pk - gsl_cdf_tdist_Pinv(CONFIDENCE, df) * error);
	c->ppk_most = numerics_finite(pk + gsl_cdf_tdist_Qinv(missed, df) * error);
}

static void
bound_within(struct capability *c)
{
	struct capability_index *within = &c->within;
	double df = capability_within_df(c->neighbours), variance = 1 / (double)c->n;

	within->p_95 = capability_interval_p(within->p, df);
	within->pk_95 = capability_interval_pk(within->pk, variance, df);
}

struct capability
capability_of(const struct series *series, double lower, double upper)
{
	const struct interval unknown = {NAN, NAN};
	struct capability c = {
	    .overall = {.p_95 = unknown, .pk_95 = unknown},
	    .within = {.p_95 = unknown, .pk_95 = unknown},
	    .n_effective = NAN,
	    .ppk_least = NAN,
	    .ppk_most = NAN,
	};

	describe(&c, series, lower, upper);
	compute_index(&c.overall, c.mean, c.sd, lower, upper);
	compute_index(&c.within, c.mean, c.sd_within, lower, upper);
	c.overall.verdict = judge_overall(&c, lower, upper);
	c.within.verdict = judge_within(&c);
	if (isfinite(c.overall.pk))
		bound_overall(&c, !isnan(lower) && !isnan(upper));
	if (isfinite(c.within.pk))
		bound_within(&c);
	return c;
}
