/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A change that began within the run. */
#include "cli/population/comparison.h"

#include <math.h>

bool
comparison_has_changed(const struct comparison *comparison)
{
	return comparison->changed.is;
}

const char *
comparison_text(const struct comparison *comparison)
{
	return comparison_has_changed(comparison)
	           ? "changed"
	           : comparison_verdict_text(comparison->both);
}

/* Values that the reference's mean or deviation is worth. */
static double
reference_worth(const struct comparison *comparison)
{
	double worth = comparison->equivalence.reference_worth;

	return worth >= 1 ? worth : (double)comparison->then.n;
}

/* The mean that a step leads to, or the end of a line: its error is twice that of a mean. */
static bool
ends_elsewhere(
    const struct comparison *comparison, const struct study *now, double values)
{
	const struct onset *onset = &now->onset;
	double share = onset->kind == ONSET_DRIFT ? 4 : 1;
	double error = sqrt(
	    share * now->moving.sigma * now->moving.sigma / values +
	    comparison->then.sd * comparison->then.sd / reference_worth(comparison));

	return fabs(onset->after - comparison->then.mean) -
	           comparison->equivalence.margin >
	       COMPARISON_BEYOND * error;
}

/* On the scale of logarithms, where the deviation of a deviation is 1 / sqrt(2 n). */
static bool
ends_otherwise_scattered(
    const struct comparison *comparison, const struct study *now, double values)
{
	double error = sqrt(0.5 / values + 0.5 / reference_worth(comparison));

	return fabs(log(now->onset.after / comparison->then.sd)) -
	           log(COMPARISON_RATIO) >
	       COMPARISON_BEYOND * error;
}

/* The mean of slots first ... end - 1; NAN: there are no values. */
static double
mean_of(const struct comparison_values *values, size_t first, size_t end)
{
	double sum = 0;
	size_t n = 0;

	for (size_t i = first; i < end; i++) {
		if (!isfinite(values->values[i]))
			continue;
		sum += values->values[i];
		n++;
	}
	return n > 0 ? sum / (double)n : NAN;
}

/* The slot from 0, from which on no value was back within so much of the reference's mean. */
static size_t
beyond_from(const struct comparison_values *values, double centre, double within)
{
	size_t from = values->count;

	for (size_t i = values->count; i-- > 0;) {
		if (fabs(values->values[i] - centre) <= within)
			break;
		if (isfinite(values->values[i]))
			from = i;
	}
	return from;
}

static struct comparison_changed
wandered_off(
    const struct comparison *comparison, const struct comparison_values *values)
{
	const struct comparison_changed none = {
	    .before = NAN, .after = NAN, .deviations = NAN};
	size_t last = values->count / 10;
	double sd = comparison->then.sd, centre = comparison->then.mean;

	last = last < COMPARISON_LEAST ? COMPARISON_LEAST : last;
	if (values->count < 2 * last)
		return none;
	double after = mean_of(values, values->count - last, values->count);
	size_t from = beyond_from(values, centre, COMPARISON_BEYOND * sd);
	if (!(fabs(after - centre) >
		comparison->equivalence.margin + COMPARISON_BEYOND * sd) ||
	    from == values->count)
		return none;
	return (struct comparison_changed){
	    .is = true,
	    .kind = ONSET_NONE,
	    .shot = values->shot_nos[from],
	    .before = mean_of(values, 0, from),
	    .after = after,
	    .deviations = sd > 0 ? (after - centre) / sd : NAN,
	};
}

static struct comparison_changed
from_onset(const struct comparison *comparison, const struct onset *onset,
    const int64_t *shot_nos)
{
	double sd = comparison->then.sd;
	double deviations = onset->kind == ONSET_SCATTER
	                        ? onset->after / sd
	                        : (onset->after - comparison->then.mean) / sd;

	return (struct comparison_changed){
	    .is = true,
	    .kind = onset->kind,
	    .shot = shot_nos[onset->slot - 1],
	    .earliest = onset->least > 0 ? shot_nos[onset->least - 1] : 0,
	    .latest = onset->most > 0 ? shot_nos[onset->most - 1] : 0,
	    .before = onset->before,
	    .after = onset->after,
	    .deviations = isfinite(deviations) ? deviations : NAN,
	};
}

struct comparison_changed
comparison_changed_of(const struct comparison *comparison, const struct study *now,
    const struct comparison_values *values)
{
	const struct onset *onset = &now->onset;
	const struct comparison_changed none = {
	    .before = NAN, .after = NAN, .deviations = NAN};

	if (!comparison->unstable || onset->kind == ONSET_SINGLE)
		return none;
	if (onset->kind == ONSET_NONE || onset->slot == 0)
		return wandered_off(comparison, values);
	double count = (double)(values->count - onset->slot + 1);
	bool otherwise = onset->kind == ONSET_SCATTER
	                     ? ends_otherwise_scattered(comparison, now, count)
	                     : ends_elsewhere(comparison, now, count);
	return otherwise ? from_onset(comparison, onset, values->shot_nos) : none;
}
