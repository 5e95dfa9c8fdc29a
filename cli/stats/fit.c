/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/stats/fit.h"

#include "cli/stats/capability.h"
#include "cli/stats/goodness.h"
#include "cli/stats/likelihood.h"
#include "cli/stats/numerics.h"
#include "cli/stats/quantile.h"
#include "cli/stats/rounding.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define CONFIDENCE 0.95
#define LOW_P 0.00135
#define HIGH_P 0.99865

struct percentile_index
percentile_index_of(const struct quantiles *quantiles, double lower, double upper)
{
	const struct quantiles *q = quantiles;

	return (struct percentile_index){
	    .pp = capability_ratio(upper - lower, q->x99865 - q->x00135),
	    .ppl = capability_ratio(q->x50 - lower, q->x50 - q->x00135),
	    .ppu = capability_ratio(upper - q->x50, q->x99865 - q->x50),
	};
}

struct quantiles
fit_quantiles(enum family family, const double parameters[FAMILY_PARAMETERS])
{
	return (struct quantiles){
	    numerics_finite(family_quantile(family, parameters, LOW_P)),
	    numerics_finite(family_quantile(family, parameters, 0.5)),
	    numerics_finite(family_quantile(family, parameters, HIGH_P)),
	};
}

/* H. Akaike, IEEE Trans. Automatic Control 19:716-723, 1974: smaller is better. */
static double
information(const struct fit *fit)
{
	return 2 * family_table[fit->family].parameter_count - 2 * fit->log_likelihood;
}

static void
insert(struct fits *fits, const struct fit *fit)
{
	size_t at = fits->count++;

	for (; at > 0 && information(&fits->list[at - 1]) > information(fit); at--)
		fits->list[at] = fits->list[at - 1];
	fits->list[at] = *fit;
}

static bool
tried(enum family family, bool zero_bounded)
{
	switch (family) {
	case FAMILY_NORMAL:
		return !zero_bounded;
	case FAMILY_HALF_NORMAL:
	case FAMILY_FOLDED_NORMAL:
		return zero_bounded;
	case FAMILY_LOGNORMAL:
	case FAMILY_WEIBULL:
	case FAMILY_GAMMA:
		return true;
	case FAMILY_COUNT:
		break;
	}
	return false;
}

static struct fits
fits_of_sample(const struct likelihood_sample *sample, const double *spread,
    bool zero_bounded, double lower, double upper)
{
	struct fits fits = {.used = -1};

	for (int i = 0; i < FAMILY_COUNT; i++) {
		struct fit fit = {.family = (enum family)i};
		if (!tried(fit.family, zero_bounded) ||
		    !likelihood_maximum(
			sample, fit.family, fit.parameters, &fit.log_likelihood))
			continue;
		fit.quantiles = fit_quantiles(fit.family, fit.parameters);
		fit.index = percentile_index_of(&fit.quantiles, lower, upper);
		fit.p = goodness_p(fit.family, fit.parameters,
		    goodness_a2(fit.family, fit.parameters, spread, sample->n),
		    sample->n);
		insert(&fits, &fit);
	}
	for (size_t i = 0; i < fits.count && fits.used < 0; i++)
		if (fits.list[i].p >= FIT_LEAST_P)
			fits.used = (int)i;
	return fits;
}

/* The values as the likelihood has to know them: see fits_of about zeros. */
static void
fill_zeros(
    const double *sorted, size_t n, const double *spread, double step, double *filled)
{
	size_t zeros = 0;

	while (zeros < n && !(sorted[zeros] > 0))
		zeros++;
	double below = zeros < n ? sorted[zeros] / 2 : 0;
	for (size_t i = 0; i < n; i++)
		filled[i] = i >= zeros ? sorted[i]
		            : step > 0 ? spread[i]
		                       : below * (double)(i + 1) / (double)zeros;
}

struct fits
fits_of(const double *sorted, size_t n, bool zero_bounded, double lower, double upper)
{
	struct fits fits = {.used = -1};
	struct likelihood_sample sample;
	double *spread = malloc((n ? n : 1) * sizeof *spread);
	double *filled = malloc((n ? n : 1) * sizeof *filled);

	if (spread && filled && n > 0) {
		double step = rounding_step(sorted, n);
		rounding_spread(sorted, n, step, zero_bounded, spread);
		memcpy(filled, sorted, n * sizeof *filled);
		if (zero_bounded && !(sorted[0] < 0))
			fill_zeros(sorted, n, spread, step, filled);
		if (!(step > 0))
			memcpy(spread, filled, n * sizeof *spread);
		if (likelihood_gather(&sample, filled, n)) {
			fits =
			    fits_of_sample(&sample, spread, zero_bounded, lower, upper);
			likelihood_release(&sample);
		}
	}
	free(filled);
	free(spread);
	return fits;
}

double
fits_p(const struct fits *fits, enum family family)
{
	for (size_t i = 0; i < fits->count; i++)
		if (fits->list[i].family == family)
			return fits->list[i].p;
	return NAN;
}

/* One-sided: P(X <= seen) at the bound is 1 - CONFIDENCE; the beta's quantile. */
double
share_most(size_t seen, size_t n)
{
	if (n == 0 || seen > n)
		return NAN;
	if (seen == n)
		return 1;
	return quantile_beta(CONFIDENCE, (double)seen + 1, (double)(n - seen));
}
