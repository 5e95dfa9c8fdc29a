/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/stats/study.h"

#include "cli/stats/rounding.h"
#include "cli/stats/study_charts.h"
#include "cli/stats/study_index.h"
#include "cli/stats/study_judge.h"
#include "cli/stats/study_scale.h"

#include <math.h>
#include <stdlib.h>

#define P_LOW 0.00135
#define P_HIGH 0.99865

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
	study->fit_bounds = (struct fit_bounds){NAN, NAN, NAN, NAN};
	study->ppk_without_outliers = NAN;
	return study;
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
	study->step = rounding_least(sorted, n);
	study->rounding = rounding_step(sorted, n);
	study->moving = describe_moving_ranges(&asked->series, scratch);
	study->normality =
	    normality_of(sorted, n, study->described.mean, study->described.sd);
	study->fits =
	    fits_of(sorted, n, asked->zero_bounded, asked->lower, asked->upper);
	study->fit_bounds = fits_bounds_of(&study->fits, n, asked->lower, asked->upper);
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
	bool guessed = (study->zero_bounded || study_not_normal(study)) &&
	               study->fits.used < 0 && study->fits.count > 0;
	struct fit fit = guessed ? study->fits.list[0] : study_distribution(study);
	const struct description *d = &study->described;

	if (!isfinite(fit.parameters[0]) || !(d->sd > 0)) {
		study->outlying = (struct outliers){0, 0, NAN, NAN};
		return;
	}
	study->outlying = fit.family == FAMILY_NORMAL
	                      ? outliers_of(study->sorted, d->n, d->mean, d->sd)
	                      : outliers_of_fit(study->sorted, d->n, &fit, study->step);
	study->outliers = study->outlying.low + study->outlying.high;
	const struct outliers *rest = &study->outlying;
	if (study->outliers > 0 && fit.family == FAMILY_NORMAL)
		study->ppk_without_outliers = capability_ratio(
		    fmin(rest->mean - study->lower, study->upper - rest->mean),
		    3 * rest->sd);
}

/* False when memory is short. */
static bool
study_fill(struct study *study, const struct study_asked *asked, double *scratch)
{
	describe_values(study, asked, scratch);
	study_index(study, asked);
	count_beyond(study);
	find_outliers(study);
	if (!study_charts(study, asked, scratch))
		return false;
	study_judge(study);
	return true;
}

static struct study *
study_make(const struct study_asked *asked)
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

struct study *
study_new(const struct study_asked *asked)
{
	int exponent = study_scale(&asked->series);

	if (exponent == 0)
		return study_make(asked);
	double *values = malloc(asked->series.count * sizeof(*values));
	if (!values)
		return NULL;
	struct study_asked scaled = study_scale_asked(asked, exponent, values);
	struct study *study = study_make(&scaled);
	free(values);
	if (study)
		study_scale_back(study, asked, exponent);
	return study;
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

bool
study_has_distribution(const struct study *study)
{
	const struct fit fit = study_distribution(study);

	return study->described.n >= CAPABILITY_LEAST && study->described.sd > 0 &&
	       isfinite(fit.parameters[0]);
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
	if (!normal || !(d->sd > 0))
		return fit;
	fit.parameters[0] = d->mean;
	fit.parameters[1] = d->sd;
	fit.quantiles = fit_quantiles(fit.family, fit.parameters);
	fit.index = percentile_index_of(&fit.quantiles, study->lower, study->upper);
	fit.p = fits_p(&study->fits, FAMILY_NORMAL);
	return fit;
}
