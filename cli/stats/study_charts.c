/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/stats/study_charts.h"

#include <gsl/gsl_cdf.h>
#include <math.h>
#include <stdlib.h>

/* In sds: rounded to more, values fall on one side, or within, more often than is reckoned. */
#define COARSE_FOR_RULES 0.5
/* Moving ranges under which their mean is no sigma to judge by. */
enum { RANGES_LEAST = STABILITY_LEAST / 2 };
/* Beyond it a share says no more than "far out". */
#define P_LEAST 1e-15

/* What rules, EWMA, CUSUM and stability go over: the values, or the means of subgroups. */
struct charted {
	struct series series;
	double mean, sigma; /* estimated */
	size_t n;
	double step; /* what they are rounded to; 0: nothing */
};

static struct charted
charted_of(const struct study *study, const struct study_asked *asked, double *means)
{
	const struct subgroups *groups = &study->subgroups;

	if (groups->size == 0)
		return (struct charted){asked->series, study->described.mean,
		    study->sigma_within, study->described.n, study->rounding};
	return (struct charted){
	    {.values = means,
		.count = subgroups_means(&asked->series, groups->size, means)},
	    groups->grand_mean,
	    study->sigma_within / sqrt((double)groups->size),
	    groups->count,
	    study->rounding / (double)groups->size,
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

/* What a zero stands for where there are no values below it (fit.h). */
static double
least_of(const struct study *study)
{
	size_t i = 0;

	if (!study->zero_bounded)
		return -INFINITY;
	if (study->rounding > 0)
		return study->rounding / 2;
	while (i < study->described.n && !(study->sorted[i] > 0))
		i++;
	return i < study->described.n ? study->sorted[i] / 2 : 0;
}

/* As a normal score. */
static double
score_of(const struct fit *fit, double value, double least)
{
	double x = value < least ? least : value;
	double below = family_cdf(fit->family, fit->parameters, x);
	double above = family_above(fit->family, fit->parameters, x);

	return below < above ? gsl_cdf_ugaussian_Pinv(fmax(below, P_LEAST))
	                     : gsl_cdf_ugaussian_Qinv(fmax(above, P_LEAST));
}

/* The values as normal scores of their distribution, into `scores`. */
static struct charted
score(const struct study *study, const struct study_asked *asked, double *scores,
    double *scratch)
{
	struct fit fit = study_distribution(study);
	size_t count = asked->series.count, n = 0;
	double least = least_of(study), mean = 0;

	for (size_t i = 0; i < count; i++) {
		double value = asked->series.values[i];
		scores[i] = isfinite(value) ? score_of(&fit, value, least) : NAN;
		if (isfinite(scores[i]))
			mean += (scores[i] - mean) / (double)++n;
	}
	double middle = study->described.median, half = study->rounding / 2;
	struct charted scored = {{scores, asked->series.breaks, count}, mean, NAN, n,
	    score_of(&fit, middle + half, least) -
		score_of(&fit, middle - half, least)};
	scored.sigma = describe_moving_ranges(&scored.series, scratch).sigma;
	return scored;
}

static double
value_of_score(const struct fit *fit, double at)
{
	double p = gsl_cdf_ugaussian_P(at);

	return family_quantile(
	    fit->family, fit->parameters, fmin(fmax(p, P_LEAST), 1 - P_LEAST));
}

static void
judge_stability(struct study *study, const struct charted *charted)
{
	const struct series *series = &charted->series;
	bool few = study->subgroups.size == 0 && study->moving.count < RANGES_LEAST;
	double mean = charted->mean, sigma = few ? NAN : charted->sigma;

	study->stability = stability_of(series, mean, sigma, charted->step);
	study->onset = onset_of(series, &study->stability, mean, sigma);
	double reach = study->stability.limits.k * sigma + charted->step / 2;
	study->steady = (struct interval){mean - reach, mean + reach};
	if (study->stability.verdict > STABILITY_UNSTABLE)
		study->steady = (struct interval){NAN, NAN};
}

/* The same by normal scores, told in the unit of the values.  False when memory is short. */
static bool
judge_scores(struct study *study, const struct study_asked *asked, double *scratch)
{
	struct fit fit = study_distribution(study);
	double *scores = malloc((asked->series.count + 1) * sizeof(*scores));

	if (!scores)
		return false;
	struct charted scored = score(study, asked, scores, scratch);
	judge_stability(study, &scored);
	free(scores);
	if (isfinite(study->steady.low)) {
		study->steady.low = value_of_score(&fit, study->steady.low);
		study->steady.high = value_of_score(&fit, study->steady.high);
	}
	onset_tell(&study->onset, &asked->series);
	return true;
}

/* Known of well resolved normal values alone. */
static double
chance_of_signals(const struct study *study, const struct study_asked *asked, size_t n)
{
	if (study->zero_bounded || fits_p(&study->fits, FAMILY_NORMAL) < FIT_LEAST_P ||
	    study->rounding > COARSE_FOR_RULES * study->described.sd)
		return NAN;
	return isfinite(asked->centre) && isfinite(asked->sigma)
	           ? run_rules_chance_known(asked->rules, n)
	           : run_rules_chance(asked->rules, n);
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
	study->signals_chance = chance_of_signals(study, asked, charted->n);
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

/*
 * The tests of stability are of normal values.  Single values of another distribution go
 * through them as normal scores, else a skewed process would be unstable by its tail; means of
 * subgroups are nearly normal.
 */
bool
study_charts(struct study *study, const struct study_asked *asked, double *scratch)
{
	bool scored = study_distribution(study).family != FAMILY_NORMAL &&
	              study->subgroups.size == 0;

	if (scored && !judge_scores(study, asked, scratch))
		return false;
	struct charted charted = charted_of(study, asked, scratch);
	if (!scored)
		judge_stability(study, &charted);
	return draw_charts(study, asked, &charted);
}
