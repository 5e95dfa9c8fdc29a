/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/stats/study_index.h"

#include "cli/stats/chart_constants.h"

#include <math.h>

/* Degrees of freedom of sigma within. */
static double
within_df(const struct study *study, const struct study_asked *asked)
{
	const struct subgroups *groups = &study->subgroups;
	double count = (double)groups->count;

	if (groups->size == 0)
		return capability_within_df(study->moving.count);
	if (groups->count == 0)
		return NAN;
	if (asked->method == STUDY_MEAN_SD)
		return count * (double)(groups->size - 1);
	/* that of a mean range, by its relative variance */
	struct chart_constants c = chart_constants(groups->size);
	return count * c.d2 * c.d2 / (2 * c.d3 * c.d3);
}

static const struct subgroups no_subgroups = {.size = 0,
    .grand_mean = NAN,
    .mean_range = NAN,
    .mean_sd = NAN,
    .pooled_sd = NAN,
    .sigma_range = NAN,
    .sigma_sd = NAN,
    .sigma_pooled = NAN,
    .mean_by_range = {NAN, NAN, NAN},
    .range = {NAN, NAN, NAN},
    .mean_by_sd = {NAN, NAN, NAN},
    .sd = {NAN, NAN, NAN}};

static void
take_sigma_within(struct study *study, const struct study_asked *asked)
{
	double mean = study->described.mean, reach = 3 * study->moving.sigma;

	study->individuals = (struct control_limits){mean - reach, mean, mean + reach};
	if (study->zero_bounded && study->individuals.low < 0)
		study->individuals.low = NAN;
	study->subgroups = no_subgroups;
	study->sigma_within = study->moving.sigma;
	if (asked->method != STUDY_INDIVIDUALS &&
	    asked->subgroup >= CHART_SUBGROUP_LEAST &&
	    asked->subgroup <= CHART_SUBGROUP_MOST) {
		study->subgroups = subgroups_of(&asked->series, asked->subgroup);
		study->sigma_within = asked->method == STUDY_MEAN_RANGE
		                          ? study->subgroups.sigma_range
		                          : study->subgroups.sigma_pooled;
	}
	study->within_df = within_df(study, asked);
}

static void
index_within(struct study *study)
{
	double mean = study->described.mean, sigma = study->sigma_within;

	if (study->zero_bounded) {
		study->cp = study->cpl = study->cpu = NAN;
	} else {
		study->cp = capability_ratio(study->upper - study->lower, 6 * sigma);
		study->cpl = capability_ratio(mean - study->lower, 3 * sigma);
		study->cpu = capability_ratio(study->upper - mean, 3 * sigma);
	}
	double cpk = fmin(study->cpl, study->cpu);
	size_t n = study->described.n;
	struct interval pk =
	    capability_interval_pk(cpk, 1 / (double)n, study->within_df);
	study->cp_95 = capability_interval_p(study->cp, study->within_df);
	study->cpk = (struct study_index){
	    .value = cpk,
	    .low = pk.low,
	    .high = pk.high,
	    .lower_bound = capability_least_pk_df(cpk, n, study->within_df),
	    .upper_bound = capability_most_pk_df(
		cpk, n, study->within_df, isfinite(study->cpl) && isfinite(study->cpu)),
	};
}

static void
widen(double *bound, double index, double by)
{
	double widened = index + (*bound - index) * by;

	*bound = isfinite(widened) ? widened : NAN;
}

/* The bounds of a fit are those of independent values: they widen as those of a mean do. */
static void
widen_fit(struct study *study, double index)
{
	const struct capability *c = &study->c;
	struct fit_bounds *bounds = &study->fit_bounds;
	double by = 1;

	if (c->memory != CAPABILITY_NONE_SEEN)
		by = c->memory == CAPABILITY_WIDENED
		         ? sqrt((double)c->n / c->n_effective)
		         : NAN;
	widen(&bounds->low, index, by);
	widen(&bounds->high, index, by);
	widen(&bounds->least, index, by);
	widen(&bounds->most, index, by);
}

static void
index_overall(struct study *study, const struct study_asked *asked)
{
	const struct capability_index *overall = &study->c.overall;

	const struct percentile_index none = {NAN, NAN, NAN};
	struct percentile_index index =
	    study->fits.used < 0 ? none : study->fits.list[study->fits.used].index;

	study->c = capability_of(&asked->series, asked->lower, asked->upper);
	widen_fit(study, fmin(index.ppl, index.ppu));
	if (!study->zero_bounded) {
		study->pp = overall->p;
		study->ppl = overall->pl;
		study->ppu = overall->pu;
		study->pp_95 = overall->p_95;
		study->ppk = (struct study_index){
		    .value = overall->pk,
		    .low = overall->pk_95.low,
		    .high = overall->pk_95.high,
		    .lower_bound = study->c.ppk_least,
		    .upper_bound = study->c.ppk_most,
		};
		return;
	}
	study->pp = index.pp;
	study->ppl = index.ppl;
	study->ppu = index.ppu;
	study->pp_95 = (struct interval){NAN, NAN};
	study->ppk = (struct study_index){
	    .value = fmin(index.ppl, index.ppu),
	    .low = study->fit_bounds.low,
	    .high = study->fit_bounds.high,
	    .lower_bound = study->fit_bounds.least,
	    .upper_bound = study->fit_bounds.most,
	};
}

/* L. K. Chan, S. W. Cheng and F. A. Spiring, J. Quality Technology 20:162-175, 1988. */
static double
index_to_target(const struct study *study)
{
	double off = study->described.mean - study->target, sd = study->described.sd;
	double about = study->zero_bounded ? NAN : sqrt(sd * sd + off * off);

	return capability_ratio(study->upper - study->lower, 6 * about);
}

void
study_index(struct study *study, const struct study_asked *asked)
{
	index_overall(study, asked);
	take_sigma_within(study, asked);
	index_within(study);
	study->cpm = index_to_target(study);
	study->needed = capability_needed_pk(study->required, study->described.n);
}
