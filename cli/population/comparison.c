/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/population/comparison.h"

#include <math.h>
#include <stdlib.h>

#include "cli/population/judgement.h"

const char *
comparison_margin_text(enum comparison_margin margin)
{
	switch (margin) {
	case MARGIN_ASKED:
		return "asked";
	case MARGIN_TOLERANCE:
		return "tolerance";
	case MARGIN_SCATTER:
		return "reference_scatter";
	}
	return "";
}

const char *
comparison_verdict_text(enum equivalence_verdict verdict)
{
	switch (verdict) {
	case EQUIVALENCE_SAME:
		return "same";
	case EQUIVALENCE_DIFFERENT:
		return "different";
	case EQUIVALENCE_OPEN:
		return "open";
	}
	return "";
}

static struct study *
study(const struct comparison_values *values, const struct comparison_asked *asked)
{
	bool *breaks = calloc(values->count + 1, sizeof *breaks);
	struct study *made = NULL;

	for (size_t i = 1; breaks && i < values->count; i++)
		breaks[i] = values->shot_nos[i] != values->shot_nos[i - 1] + 1;
	if (breaks)
		made = judgement_study(&(struct judgement_asked){
		    .series = {values->values, breaks, values->count},
		    .feature = asked->feature,
		    .lower = asked->lower,
		    .upper = asked->upper,
		    .target = NAN,
		});
	free(breaks);
	return made;
}

static double
margin_of(
    const struct comparison_asked *asked, double sd_then, enum comparison_margin *from)
{
	double tolerance = asked->upper - asked->lower;

	*from = MARGIN_ASKED;
	if (!isnan(asked->margin))
		return asked->margin;
	*from = MARGIN_TOLERANCE;
	if (tolerance > 0)
		return COMPARISON_SHARE * tolerance;
	*from = MARGIN_SCATTER;
	return sd_then;
}

/* Whether an interval lies within the margin, outside, or on its edge. */
static enum equivalence_verdict
judge_scatter(const struct interval *ratio)
{
	if (ratio->low >= 1 / COMPARISON_RATIO && ratio->high <= COMPARISON_RATIO)
		return EQUIVALENCE_SAME;
	if (ratio->low > COMPARISON_RATIO || ratio->high < 1 / COMPARISON_RATIO)
		return EQUIVALENCE_DIFFERENT;
	return EQUIVALENCE_OPEN; /* also of NAN */
}

/* What never scatters has no interval: a count that is always 0, a time by a timer. */
static void
judge_still(struct comparison *comparison)
{
	double difference = fabs(comparison->now.mean - comparison->then.mean);
	double margin = comparison->equivalence.margin;

	if (comparison->then.sd > 0 || comparison->now.sd > 0)
		return;
	comparison->scatter = EQUIVALENCE_SAME;
	comparison->mean = difference <= margin || !(difference > 0)
	                       ? EQUIVALENCE_SAME
	                       : EQUIVALENCE_DIFFERENT;
}

static enum equivalence_verdict
worse(enum equivalence_verdict a, enum equivalence_verdict b)
{
	if (a == EQUIVALENCE_DIFFERENT || b == EQUIVALENCE_DIFFERENT)
		return EQUIVALENCE_DIFFERENT;
	return a == EQUIVALENCE_OPEN || b == EQUIVALENCE_OPEN ? EQUIVALENCE_OPEN
	                                                      : EQUIVALENCE_SAME;
}

static struct series
series_of(const struct comparison_values *values, bool *breaks)
{
	for (size_t i = 1; i < values->count; i++)
		breaks[i] = values->shot_nos[i] != values->shot_nos[i - 1] + 1;
	return (struct series){values->values, breaks, values->count};
}

static bool
compare(struct comparison *comparison, const struct comparison_asked *asked)
{
	bool *breaks = calloc(asked->then.count + asked->now.count + 1, sizeof *breaks);

	if (!breaks)
		return false;
	const struct series then = series_of(&asked->then, breaks),
			    now = series_of(&asked->now, breaks + asked->then.count);
	double margin = margin_of(asked, comparison->then.sd, &comparison->margin_of);
	comparison->equivalence = equivalence_of(&now, &then, margin);
	comparison->mean = comparison->equivalence.verdict;
	comparison->scatter = judge_scatter(&comparison->equivalence.scatter_ratio_95);
	judge_still(comparison);
	comparison->both = worse(comparison->mean, comparison->scatter);
	free(breaks);
	return true;
}

/* --- how many more ------------------------------------------------------------------------ */

/* How many times as long the run has to be until `reach`, of which `share` is squared the part
 * of the run and the rest that of the reference, is down to `wanted`. */
static double
times_as_long(double reach, double share, double wanted)
{
	double squared = reach * reach;
	double left = wanted * wanted - (1 - share) * squared;

	if (isnan(reach) || isnan(wanted))
		return NAN;
	return left > 0 ? share * squared / left : INFINITY;
}

static double
mean_times(const struct comparison *comparison)
{
	const struct equivalence *e = &comparison->equivalence;
	double a = comparison->now.sd * comparison->now.sd / e->run_worth,
	       b = comparison->then.sd * comparison->then.sd / e->reference_worth;
	double reach = e->difference_90.high - e->difference;

	/* what it would be about where dependence allows no interval */
	if (isnan(reach))
		reach = 1.645 * sqrt(a + b);
	return e->margin > 0
	           ? times_as_long(reach, a / (a + b), e->margin - fabs(e->difference))
	           : NAN;
}

/* On the scale of logarithms, where the deviation of a deviation is 1 / sqrt(2 n); of the side
 * of the interval that lies on the edge. */
static double
scatter_times(const struct comparison *comparison)
{
	const struct equivalence *e = &comparison->equivalence;
	double a = 0.5 / e->run_worth, b = 0.5 / e->reference_worth;
	double ratio = log(e->scatter_ratio);
	double wanted = log(COMPARISON_RATIO) - fabs(ratio);
	double reach = (ratio > 0) == (wanted > 0)
	                   ? log(e->scatter_ratio_95.high) - ratio
	                   : ratio - log(e->scatter_ratio_95.low);

	if (isnan(reach))
		reach = 1.96 * sqrt(a + b);
	return times_as_long(reach, a / (a + b), wanted);
}

/* NAN where one is. */
static double
larger(double a, double b)
{
	return isnan(a) || isnan(b) ? NAN : fmax(a, b);
}

static double
more_shots(const struct comparison *comparison)
{
	const struct equivalence *e = &comparison->equivalence;
	bool known = !isnan(e->difference_90.low);
	double times = 0, n = (double)comparison->now.n;

	if (comparison->both != EQUIVALENCE_OPEN || comparison_has_changed(comparison))
		return NAN;
	if (!known && e->reference_worth < CAPABILITY_LEAST_EFFECTIVE)
		return INFINITY;
	if (comparison->mean == EQUIVALENCE_OPEN)
		times = mean_times(comparison);
	if (comparison->scatter == EQUIVALENCE_OPEN && !isnan(times))
		times = larger(times, scatter_times(comparison));
	if (!known)
		times = larger(times, CAPABILITY_LEAST_EFFECTIVE / e->run_worth);
	return larger(1, ceil(n * (times - 1)));
}

bool
comparison_make(struct comparison *comparison, const struct comparison_asked *asked)
{
	const struct study_index none = {
	    .value = NAN, .low = NAN, .high = NAN, .lower_bound = NAN};
	struct study *then = study(&asked->then, asked);
	struct study *now = study(&asked->now, asked);
	bool done = then && now;

	*comparison = (struct comparison){.feature = asked->feature,
	    .lower = asked->lower,
	    .upper = asked->upper,
	    .ppk_then = none,
	    .ppk_now = none};
	if (done) {
		comparison->then = then->described;
		comparison->now = now->described;
		if (isfinite(asked->lower) || isfinite(asked->upper)) {
			comparison->ppk_then = then->ppk;
			comparison->ppk_now = now->ppk;
		}
		done = compare(comparison, asked);
		comparison->unstable = now->stability.verdict == STABILITY_UNSTABLE;
		comparison->changed =
		    comparison_changed_of(comparison, now, &asked->now);
		comparison->more_shots = more_shots(comparison);
	}
	study_free(then);
	study_free(now);
	return done;
}
