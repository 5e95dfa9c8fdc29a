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

static unsigned
bit_if(bool holds, enum study_reason reason)
{
	return holds ? STUDY_BIT(reason) : 0;
}

/* Of both indices. */
static unsigned
reasons_of_population(const struct capability *c)
{
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
	return 0;
}

static bool
few_neighbours(const struct study *study)
{
	if (study->subgroups.size > 0)
		return study->subgroups.count < STABILITY_LEAST;
	return study->moving.count + 1 < CAPABILITY_LEAST;
}

static unsigned
reasons_within(const struct study *study)
{
	const struct capability *c = &study->c;

	return bit_if(few_neighbours(study), STUDY_FEW_NEIGHBOURS) |
	       bit_if(!(study->sigma_within > 0), STUDY_COARSE) |
	       bit_if(fabs(c->r1) > c->r1_bound, STUDY_AUTOCORRELATED) |
	       bit_if(study->stability.verdict == STABILITY_UNSTABLE, STUDY_UNSTABLE) |
	       bit_if(study->zero_bounded, STUDY_ZERO_BOUNDED);
}

/*
 * Values that are not normal are capable only if the percentile method says so too, where some
 * distribution fits them.  What is not stable has no distribution that a fit could tell.
 */
struct study_shown
study_shown(const struct study *study)
{
	const struct study_index *ppk = &study->ppk;
	struct study_shown shown = {ppk->value, ppk->lower_bound, study->zero_bounded};

	if (study->zero_bounded || !study_not_normal(study) || study->fits.used < 0 ||
	    study->stability.verdict == STABILITY_UNSTABLE)
		return shown;
	const struct percentile_index *beside =
	    &study->fits.list[study->fits.used].index;
	double index = fmin(beside->ppl, beside->ppu);
	shown.by_fit = index < ppk->value;
	shown.index = fmin(ppk->value, index);
	shown.least = fmin(ppk->lower_bound, study->fit_bounds.least);
	return shown;
}

/* By 95 % the share beyond a limit is more than the required index leaves beyond it. */
static bool
too_many_beyond(const struct study *study)
{
	size_t n = study->c.n, beyond = study->c.below + study->c.above;
	double limits = !isnan(study->lower) + !isnan(study->upper);
	double allowed = limits * gsl_cdf_ugaussian_Q(3 * study->required);

	/* limits that contradict each other count some twice */
	size_t inside = beyond < n ? n - beyond : 0;
	return beyond > 0 && 1 - share_most(inside, n) > allowed;
}

void
study_judge(struct study *study)
{
	unsigned population = reasons_of_population(&study->c);
	const struct study_shown counts = study_shown(study);

	if (study->zero_bounded && study->fits.used < 0)
		population |= STUDY_BIT(STUDY_NOTHING_FITS);
	study->ppk.reasons = population;
	study->ppk.quotable = population == 0 && isfinite(study->ppk.value);
	study->cpk.reasons = population | reasons_within(study);
	study->cpk.quotable = study->cpk.reasons == 0 && isfinite(study->cpk.value);

	enum stability_verdict stability = study->stability.verdict;
	bool stable = stability == STABILITY_STABLE;
	bool beyond =
	    population == STUDY_BIT(STUDY_NOTHING_FITS) && too_many_beyond(study);
	bool below = study->ppk.quotable && counts.index < study->required;
	bool shown = study->ppk.quotable && counts.least >= study->required;
	study->reasons =
	    population | bit_if(stability == STABILITY_UNSTABLE, STUDY_UNSTABLE) |
	    /* of subgroups, when the values are many and vary */
	    bit_if(
		stability == STABILITY_TOO_FEW && !population, STUDY_FEW_NEIGHBOURS) |
	    bit_if(stability == STABILITY_NO_VARIATION, STUDY_COARSE) |
	    bit_if(study->c.memory == CAPABILITY_TOO_DEPENDENT, STUDY_TOO_DEPENDENT) |
	    bit_if(study_not_normal(study), STUDY_NOT_NORMAL) |
	    bit_if(below, STUDY_INDEX_BELOW) | bit_if(beyond, STUDY_BEYOND) |
	    bit_if(study->ppk.quotable && !below && !shown && isfinite(counts.least),
		STUDY_BOUND_BELOW);
	study->verdict = below || beyond   ? STUDY_NOT_CAPABLE
	                 : shown && stable ? STUDY_CAPABLE
	                                   : STUDY_NOT_ESTABLISHED;
}
