/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/stats/study.h"

#include "cli/stats/study_index.h"
#include "cli/stats/study_judge.h"

#include <math.h>
#include <stdlib.h>

#define P_LOW 0.00135
#define P_HIGH 0.99865

/* What rules, EWMA, CUSUM and stability go over: the values, or the means of subgroups. */
struct charted {
	struct series series;
	double mean, sigma; /* estimated */
	size_t n;
};

static struct study *
study_empty(const struct study_asked *asked)
{
	struct study *study = calloc(1, sizeof(*study));

	if (!study)
		return NULL;
	study->lower = asked->lower;
	study->upper = asked->upper;
	study->target = asked->target;
	study->zero_bounded = asked->zero_bounded;
	study->required = isfinite(asked->required) ? asked->required : STUDY_REQUIRED;
	study->ewma = (struct ewma){.last = NAN, .max = NAN, .low = NAN, .high = NAN};
	study->cusum = (struct cusum){
	    .high_last = NAN, .high_max = NAN, .low_last = NAN, .low_max = NAN};
	study->fits.used = -1;
	study->fit_bounds = (struct fit_bounds){NAN, NAN, NAN};
	study->ppk_without_outliers = NAN;
	return study;
}

static double
smallest_step(const double *sorted, size_t n)
{
	double least = NAN;

	if (n < 2)
		return NAN;
	/* what binary fractions make of equal decimals is no step */
	double rounding = 1e-12 * fmax(fabs(sorted[0]), fabs(sorted[n - 1]));
	for (size_t i = 1; i < n; i++) {
		double step = sorted[i] - sorted[i - 1];
		if (step > rounding && isfinite(step) && !(step >= least))
			least = step;
	}
	return least;
}

static void
describe_values(struct study *study, const struct study_asked *asked, double *scratch)
{
	size_t n = describe_sort(&asked->series, study->sorted);
	const double *sorted = study->sorted;

	study->described = describe(&asked->series, sorted, n);
	study->quantiles = (struct quantiles){
	    describe_quantile(sorted, n, P_LOW),
	    describe_quantile(sorted, n, 0.5),
	    describe_quantile(sorted, n, P_HIGH),
	};
	study->step = smallest_step(sorted, n);
	study->moving = describe_moving_ranges(&asked->series, scratch);
	study->normality =
	    normality_of(sorted, n, study->described.mean, study->described.sd);
	study->fits =
	    fits_of(sorted, n, asked->zero_bounded, asked->lower, asked->upper);
	if (study->fits.used >= 0)
		study->fit_bounds = fit_bounds_of(
		    &study->fits.list[study->fits.used], n, asked->lower, asked->upper);
}

static void
count_beyond(struct study *study)
{
	struct fit fit = study_distribution(study);
	bool known = isfinite(fit.parameters[0]);

	study->observed_below = study->c.below;
	study->observed_above = study->c.above;
	study->observed_most =
	    study->c.n > 0 && !(isnan(study->lower) && isnan(study->upper))
		? share_most(study->c.below + study->c.above, study->c.n)
		: NAN;
	study->expected_below =
	    known && !isnan(study->lower)
		? family_cdf(fit.family, fit.parameters, study->lower)
		: NAN;
	study->expected_above =
	    known && !isnan(study->upper)
		? family_above(fit.family, fit.parameters, study->upper)
		: NAN;
}

static void
find_outliers(struct study *study)
{
	/* where nothing fits, outliers may be why: by what fits best */
	bool guessed =
	    study->zero_bounded && study->fits.used < 0 && study->fits.count > 0;
	struct fit fit = guessed ? study->fits.list[0] : study_distribution(study);
	const struct description *d = &study->described;

	if (!isfinite(fit.parameters[0]) || !(d->sd > 0)) {
		study->outlying = (struct outliers){0, 0, NAN, NAN};
		return;
	}
	study->outlying = fit.family == FAMILY_NORMAL
	                      ? outliers_of(study->sorted, d->n, d->mean, d->sd)
	                      : outliers_of_fit(study->sorted, d->n, &fit);
	study->outliers = study->outlying.low + study->outlying.high;
	const struct outliers *rest = &study->outlying;
	if (study->outliers > 0 && fit.family == FAMILY_NORMAL)
		study->ppk_without_outliers = capability_ratio(
		    fmin(rest->mean - study->lower, study->upper - rest->mean),
		    3 * rest->sd);
}

static struct charted
charted_of(const struct study *study, const struct study_asked *asked, double *means)
{
	const struct subgroups *groups = &study->subgroups;

	if (groups->size == 0)
		return (struct charted){asked->series, study->described.mean,
		    study->sigma_within, study->described.n};
	return (struct charted){
	    {.values = means,
		.count = subgroups_means(&asked->series, groups->size, means)},
	    groups->grand_mean,
	    study->sigma_within / sqrt((double)groups->size),
	    groups->count,
	};
}

/* Shrunk to what was found; NULL where that is nothing. */
static size_t *
shrink(size_t *slots, size_t count)
{
	size_t *shrunk = count ? realloc(slots, count * sizeof(*slots)) : NULL;

	if (!shrunk && count)
		return slots;
	if (!shrunk)
		free(slots);
	return shrunk;
}

/* False when memory is short. */
static bool
draw_charts(
    struct study *study, const struct study_asked *asked, const struct charted *charted)
{
	double single = study->subgroups.size ? sqrt((double)study->subgroups.size) : 1;
	size_t room = charted->series.count + 1;

	study->centre = isfinite(asked->centre) ? asked->centre : charted->mean;
	study->sigma = isfinite(asked->sigma) ? asked->sigma / single : charted->sigma;
	if (!run_rules_find(&charted->series, study->centre, study->sigma, asked->rules,
		&study->signals))
		return false;
	study->signals_chance = isfinite(asked->centre) && isfinite(asked->sigma)
	                            ? run_rules_chance_known(asked->rules, charted->n)
	                            : run_rules_chance(asked->rules, charted->n);
	if (asked->ewma) {
		study->ewma_signals = malloc(room * sizeof(size_t));
		if (!study->ewma_signals)
			return false;
		study->ewma = ewma_of(&charted->series, study->centre, study->sigma,
		    asked->ewma, study->ewma_signals, NULL);
		study->ewma_signals =
		    shrink(study->ewma_signals, study->ewma.signal_count);
	}
	if (asked->cusum) {
		study->cusum_signals = malloc(room * sizeof(size_t));
		if (!study->cusum_signals)
			return false;
		study->cusum = cusum_of(&charted->series, study->centre, study->sigma,
		    asked->cusum, study->cusum_signals);
		study->cusum_signals =
		    shrink(study->cusum_signals, study->cusum.signal_count);
	}
	return true;
}

/* False when memory is short. */
static bool
study_fill(struct study *study, const struct study_asked *asked, double *scratch)
{
	describe_values(study, asked, scratch);
	study_index(study, asked);
	count_beyond(study);
	find_outliers(study);
	struct charted charted = charted_of(study, asked, scratch);
	study->stability = stability_of(&charted.series, charted.mean, charted.sigma);
	study->onset =
	    onset_of(&charted.series, &study->stability, charted.mean, charted.sigma);
	if (!draw_charts(study, asked, &charted))
		return false;
	study_judge(study);
	return true;
}

struct study *
study_new(const struct study_asked *asked)
{
	struct study *study = study_empty(asked);

	if (!study)
		return NULL;
	double *scratch = malloc((asked->series.count + 1) * sizeof(*scratch));
	study->sorted = malloc((asked->series.count + 1) * sizeof(*study->sorted));
	bool done = scratch && study->sorted && study_fill(study, asked, scratch);
	free(scratch);
	if (done)
		return study;
	study_free(study);
	return NULL;
}

void
study_free(struct study *study)
{
	if (!study)
		return;
	free(study->sorted);
	signals_release(&study->signals);
	free(study->ewma_signals);
	free(study->cusum_signals);
	free(study);
}

struct fit
study_distribution(const struct study *study)
{
	const struct description *d = &study->described;
	struct fit fit = {.family = FAMILY_NORMAL,
	    .parameters = {NAN, NAN},
	    .log_likelihood = NAN,
	    .quantiles = {NAN, NAN, NAN},
	    .index = {NAN, NAN, NAN},
	    .p = NAN};
	bool normal = !study->zero_bounded && !study_not_normal(study);

	if (!normal && study->fits.used >= 0)
		return study->fits.list[study->fits.used];
	if (study->zero_bounded || !(d->sd > 0))
		return fit;
	fit.parameters[0] = d->mean;
	fit.parameters[1] = d->sd;
	fit.quantiles = fit_quantiles(fit.family, fit.parameters);
	fit.index = percentile_index_of(&fit.quantiles, study->lower, study->upper);
	fit.p = study->normality.p;
	return fit;
}
