/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/stats/study_judge.h"

#include <gsl/gsl_cdf.h>
#include <math.h>

bool
study_not_normal(const struct study *study)
{
	/* Unlike normality.p this one forgives rounding. */
	return fits_p(&study->fits, FAMILY_NORMAL) < STUDY_NORMAL_P;
}

static bool
study_by_fit(const struct study *study)
{
	return study->zero_bounded || study_not_normal(study);
}

static unsigned
bit_if(bool holds, enum study_reason reason)
{
	return holds ? STUDY_BIT(reason) : 0;
}

/* Of both indices. */
static unsigned
reasons_of_population(const struct study *study)
{
	const struct capability *c = &study->c;

	switch (c->overall.verdict) {
	case CAPABILITY_NO_LIMIT:
		return STUDY_BIT(STUDY_NO_LIMIT);
	case CAPABILITY_TOO_FEW:
		return STUDY_BIT(STUDY_TOO_FEW);
	case CAPABILITY_MUCH_MISSING:
		return STUDY_BIT(STUDY_MUCH_MISSING);
	case CAPABILITY_COARSE:
		return STUDY_BIT(STUDY_COARSE);
	case CAPABILITY_QUOTABLE:
	case CAPABILITY_FEW_NEIGHBOURS:
	case CAPABILITY_AUTOCORRELATED:
		break;
	}
	return bit_if(study->rounding > STUDY_COARSEST * c->sd, STUDY_COARSE);
}

/* Too few moving ranges, or subgroups. */
static enum study_reason
few_of_what(const struct study *study)
{
	return study->subgroups.size > 0 ? STUDY_FEW_SUBGROUPS : STUDY_FEW_NEIGHBOURS;
}

static bool
few_within(const struct study *study)
{
	if (study->subgroups.size > 0)
		return study->subgroups.count < STABILITY_LEAST;
	return study->moving.count + 1 < CAPABILITY_LEAST;
}

static unsigned
reasons_within(const struct study *study)
{
	const struct capability *c = &study->c;

	return bit_if(few_within(study), few_of_what(study)) |
	       bit_if(study->sigma_within <= 0, STUDY_COARSE) |
	       bit_if(fabs(c->r1) > c->r1_bound, STUDY_AUTOCORRELATED) |
	       bit_if(study->stability.verdict == STABILITY_UNSTABLE, STUDY_UNSTABLE) |
	       bit_if(study->zero_bounded, STUDY_ZERO_BOUNDED);
}

struct study_shown
study_shown(const struct study *study)
{
	const struct study_index *ppk = &study->ppk;
	const struct fit_bounds *bounds = &study->fit_bounds;
	struct study_shown shown = {.index = NAN,
	    .least = NAN,
	    .most = NAN,
	    .low = NAN,
	    .high = NAN,
	    .by_fit = study_by_fit(study)};

	if (!shown.by_fit) {
		shown.index = ppk->value;
		shown.least = ppk->lower_bound;
		shown.most = ppk->upper_bound;
		shown.low = ppk->low;
		shown.high = ppk->high;
	} else if (study->fits.used >= 0) {
		const struct percentile_index *index =
		    &study->fits.list[study->fits.used].index;
		shown.index = fmin(index->ppl, index->ppu);
		shown.least = bounds->least;
		shown.most = bounds->most;
		shown.low = bounds->low;
		shown.high = bounds->high;
	}
	shown.quotable = reasons_of_population(study) == 0 && isfinite(shown.index);
	return shown;
}

/* The share beyond both limits that an index of `required` leaves: of a normal distribution, or
 * of the fit that answers where its tails are longer. */
static double
share_allowed(const struct study *study)
{
	double each = gsl_cdf_ugaussian_Q(3 * study->required), below = each,
	       above = each;

	if (study_by_fit(study) && study->fits.used >= 0) {
		const struct fit *fit = &study->fits.list[study->fits.used];
		const struct quantiles *q = &fit->quantiles;
		double low = q->x50 - study->required * (q->x50 - q->x00135);
		double high = q->x50 + study->required * (q->x99865 - q->x50);
		below = fmax(each, family_cdf(fit->family, fit->parameters, low));
		above = fmax(each, family_above(fit->family, fit->parameters, high));
	}
	return (isnan(study->lower) ? 0 : below) + (isnan(study->upper) ? 0 : above);
}

/* By 95 % the share beyond is more than `allowed`, `beyond` of n having been counted. */
static bool
shows_more(size_t beyond, size_t n, double allowed)
{
	return beyond > 0 && beyond <= n && 1 - share_most(n - beyond, n) > allowed;
}

/*
 * By 95 % the share beyond a limit is more than the required index leaves beyond it, whatever
 * withholds the index.  Missing values are taken for good ones.  Values that depend on their last
 * count for the independent ones that they are worth, a part of one for a whole: what lies beyond
 * lies beyond.  One of few, which by itself shows too much, has to be too many of all as well.
 */
static bool
too_many_beyond(const struct study *study)
{
	const struct capability *c = &study->c;
	double allowed = share_allowed(study);
	bool dependent = c->memory != CAPABILITY_NONE_SEEN;
	double worth = dependent ? fmin(c->n_effective / (double)c->n, 1) : 1;
	size_t all = c->n + c->missing, beyond = c->below + c->above;
	size_t n = (size_t)fmax(floor(worth * (double)all), 1);

	if (c->n < CAPABILITY_LEAST)
		return false;
	/* limits that contradict each other count some twice */
	beyond = beyond < all ? beyond : all;
	size_t part = (size_t)ceil((double)n * ((double)beyond / (double)all));
	return shows_more(beyond, all, allowed) && shows_more(part, n, allowed);
}

/* A change that lasts, or values worth few independent ones: by itself either makes normal values
 * look as if they were not. */
static bool
refusal_explained(const struct study *study)
{
	enum onset_kind kind = study->onset.kind;

	if (study->c.memory == CAPABILITY_TOO_DEPENDENT)
		return true;
	return study->stability.verdict == STABILITY_UNSTABLE &&
	       (kind == ONSET_STEP || kind == ONSET_DRIFT || kind == ONSET_SCATTER);
}

/* Why the normal Ppk, or that of a zero-bounded quantity, is withheld. */
static unsigned
reasons_overall(const struct study *study, unsigned population)
{
	bool nothing_fits = study_by_fit(study) && study->fits.used < 0;
	unsigned reasons = population;

	if (study->zero_bounded || !refusal_explained(study))
		reasons |= bit_if(nothing_fits, STUDY_NOTHING_FITS);
	if (!refusal_explained(study) || !nothing_fits)
		reasons |= bit_if(study_not_normal(study), STUDY_NOT_NORMAL);
	return reasons |
	       bit_if(!reasons && !isfinite(study->ppk.value), STUDY_OUT_OF_RANGE);
}

static void
judge_indices(struct study *study, unsigned population)
{
	struct study_index *ppk = &study->ppk, *cpk = &study->cpk;

	ppk->reasons = reasons_overall(study, population);
	ppk->quotable = ppk->reasons == 0;
	cpk->reasons = ppk->reasons | reasons_within(study);
	cpk->reasons |=
	    bit_if(!cpk->reasons && !isfinite(cpk->value), STUDY_OUT_OF_RANGE);
	cpk->quotable = cpk->reasons == 0;
}

void
study_judge(struct study *study)
{
	unsigned population = reasons_of_population(study);
	enum stability_verdict stability = study->stability.verdict;
	const struct study_shown shown = study_shown(study);
	bool dependent = study->c.memory == CAPABILITY_TOO_DEPENDENT;

	judge_indices(study, population);
	bool beyond = too_many_beyond(study);
	bool below = shown.quotable && shown.index < study->required;
	bool surely_below = below && shown.most < study->required;
	bool enough = shown.quotable && shown.least >= study->required;
	study->reasons =
	    population | bit_if(stability == STABILITY_UNSTABLE, STUDY_UNSTABLE) |
	    /* of the values there are enough, but not of what sigma comes from */
	    bit_if((stability == STABILITY_TOO_FEW ||
		       stability == STABILITY_NO_NEIGHBOURS) &&
		       !(population & STUDY_BIT(STUDY_TOO_FEW)),
		few_of_what(study)) |
	    bit_if(stability == STABILITY_NO_VARIATION, STUDY_COARSE) |
	    bit_if(dependent, STUDY_TOO_DEPENDENT) |
	    bit_if(shown.by_fit && study->fits.used < 0, STUDY_NOTHING_FITS) |
	    bit_if(study_not_normal(study), STUDY_NOT_NORMAL) |
	    bit_if(below, STUDY_INDEX_BELOW) | bit_if(beyond, STUDY_BEYOND) |
	    bit_if(
		shown.quotable && !below && !enough && !dependent, STUDY_BOUND_BELOW);
	if ((study->reasons & ~STUDY_BIT(STUDY_NOT_NORMAL)) == 0 && !shown.quotable)
		study->reasons |= STUDY_BIT(STUDY_OUT_OF_RANGE);
	study->verdict = surely_below || beyond ? STUDY_NOT_CAPABLE
	                 : enough && stability == STABILITY_STABLE
	                     ? STUDY_CAPABLE
	                     : STUDY_NOT_ESTABLISHED;
}
