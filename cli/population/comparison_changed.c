/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A change that began within the run. */
#include "cli/population/comparison.h"

#include <math.h>

bool
comparison_has_changed(const struct comparison *comparison)
{
	return comparison->changed.kind != ONSET_NONE;
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

struct comparison_changed
comparison_changed_of(const struct comparison *comparison, const struct study *now,
    const int64_t *shot_nos)
{
	const struct onset *onset = &now->onset;
	const struct comparison_changed none = {
	    .kind = ONSET_NONE, .before = NAN, .after = NAN, .deviations = NAN};
	size_t slots = now->described.n + now->described.missing;
	double sd = comparison->then.sd;

	if (!comparison->unstable || onset->kind == ONSET_NONE ||
	    onset->kind == ONSET_SINGLE || onset->slot == 0)
		return none;
	double values = (double)(slots - onset->slot + 1);
	bool scatter = onset->kind == ONSET_SCATTER;
	if (scatter ? !ends_otherwise_scattered(comparison, now, values)
		    : !ends_elsewhere(comparison, now, values))
		return none;
	double deviations =
	    scatter ? onset->after / sd : (onset->after - comparison->then.mean) / sd;
	return (struct comparison_changed){
	    .kind = onset->kind,
	    .shot = shot_nos[onset->slot - 1],
	    .earliest = shot_nos[(onset->least > 0 ? onset->least : onset->slot) - 1],
	    .latest = shot_nos[(onset->most > 0 ? onset->most : onset->slot) - 1],
	    .before = onset->before,
	    .after = onset->after,
	    .deviations = isfinite(deviations) ? deviations : NAN,
	};
}
