/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/capability_words.h"

#include <math.h>
#include <stdio.h>

#include "cli/wording/study_words.h"

/* From here on a larger sample is not proposed. */
enum { PROPOSED_MOST = 100000, DIGITS_MOST = 9 };

/* Digits after the point that show a hundredth of the scatter; -1: better with a power. */
static int
digits_of(const struct capability_view *view)
{
	const struct description *d = &view->study->described;
	double sd = d->sd * view->scale, most = fmax(fabs(d->min), fabs(d->max));

	if (!(sd > 0))
		sd = most * view->scale / 100;
	if (!(sd > 0))
		return 2;
	double digits = ceil(2 - log10(sd));
	if (digits > DIGITS_MOST || most * view->scale >= 1e12)
		return -1;
	return digits < 0 ? 0 : (int)digits;
}

static void
write_figure(const struct capability_view *view, double shown,
    char words[static CAPABILITY_FIGURE])
{
	int digits = digits_of(view);

	if (isnan(shown))
		snprintf(words, CAPABILITY_FIGURE, "-");
	else if (digits < 0 || fabs(shown) >= 1e15)
		snprintf(words, CAPABILITY_FIGURE, "%.8g", shown);
	else
		snprintf(words, CAPABILITY_FIGURE, "%.*f", digits, shown);
}

void
capability_value(const struct capability_view *view, double value,
    char words[static CAPABILITY_FIGURE])
{
	write_figure(view, value * view->scale + view->offset, words);
}

void
capability_deviation(const struct capability_view *view, double deviation,
    char words[static CAPABILITY_FIGURE])
{
	write_figure(view, deviation * view->scale, words);
}

const char *
capability_slot(const struct capability_view *view)
{
	return view->study->subgroups.size > 0 ? "subgroup" : "value";
}

/* --- what to do ------------------------------------------------------------------------- */

/* So many independent values would show this index; 0: no number would. */
static size_t
values_needed(double index, double required)
{
	size_t low = CAPABILITY_LEAST, high = PROPOSED_MOST;

	if (!(capability_least_pk(index, high) >= required))
		return 0;
	while (low < high) {
		size_t middle = (low + high) / 2;
		if (capability_least_pk(index, middle) >= required)
			high = middle;
		else
			low = middle + 1;
	}
	return low;
}

/* The index where it lies best between the limits; NAN with one limit. */
static double
best_index(const struct study *study)
{
	return study_shown(study).by_fit ? study_distribution(study).index.pp
	                                 : study->pp;
}

static void
advise_on_index(const struct capability_view *view, char *words, size_t room)
{
	const struct study *study = view->study;
	double middle = (study->lower + study->upper) / 2;
	double off = study->described.mean - middle, best = best_index(study);
	bool by_fit = study_shown(study).by_fit;
	const char *first = study->verdict == STUDY_NOT_CAPABLE
	                        ? ""
	                        : "More values decide it; if they bear it out: ";
	char figure[CAPABILITY_FIGURE];

	if (best >= study->required && !by_fit) {
		capability_deviation(view, fabs(off), figure);
		snprintf(words, room,
		    "%sMove the mean %s by %s%s%s, to the middle of the limits: with "
		    "this scatter Ppk would be %.2f there.",
		    first, off > 0 ? "down" : "up", figure, *view->unit ? " " : "",
		    view->unit, best);
	} else if (best < study->required) {
		snprintf(words, room,
		    "%sReduce the scatter, or widen the limits: even where it lies "
		    "best between the limits Ppk would be %.2f.",
		    first, best);
	} else {
		snprintf(words, room,
		    "%sReduce the scatter, or move the values away from the nearer "
		    "limit.",
		    first);
	}
}

static void
advise_on_bound(const struct study *study, char *words, size_t room)
{
	const struct study_shown shown = study_shown(study);
	size_t needed = values_needed(shown.index, study->required);

	if (shown.by_fit || needed <= study->described.n)
		snprintf(words, room,
		    "Take more values: the index itself would do, these few do not "
		    "show it.");
	else if (needed > 0)
		snprintf(words, room,
		    "Take more values: if the index stays where it is, about %zu show "
		    "it, and there are %zu.",
		    needed, study->described.n);
	else
		snprintf(words, room,
		    "The index lies so near to the required one that no reasonable "
		    "number of values shows it: reduce the scatter.");
}

static void
advise_on_change(const struct capability_view *view, char *words, size_t room)
{
	const struct onset *onset = &view->study->onset;

	if (onset->slot > 0)
		snprintf(words, room,
		    "Find out what changed at %s %zu, put it right, and study what "
		    "comes after.",
		    capability_slot(view), onset->slot);
	else
		snprintf(words, room,
		    "Find out what makes it wander, and study it again when it does "
		    "not.");
}

void
capability_advice(
    const struct capability_view *view, char words[static CAPABILITY_WORDS])
{
	const struct study *study = view->study;
	const size_t room = CAPABILITY_WORDS;
	const unsigned reasons = study->reasons;

	if (study->verdict == STUDY_CAPABLE)
		snprintf(words, room,
		    "Leave it as it is; study it again when material, tool or set-up "
		    "change.");
	else if (reasons & STUDY_BIT(STUDY_NO_LIMIT))
		snprintf(words, room,
		    "Give the limits that it must keep: --lower, --upper or both.");
	else if (study_words_all_beyond(study))
		snprintf(words, room,
		    "Not one value lies within the limits: see first whether column, "
		    "unit and limits are those that are meant.");
	else if (reasons & STUDY_BIT(STUDY_TOO_FEW))
		snprintf(words, room,
		    "Take at least %d values; 100 and more make the interval useful.",
		    CAPABILITY_LEAST);
	else if (reasons & STUDY_BIT(STUDY_MUCH_MISSING))
		snprintf(words, room, "Find out why so many values are missing.");
	else if (reasons & STUDY_BIT(STUDY_COARSE))
		snprintf(words, room, "Measure it with a finer resolution.");
	else if (reasons & STUDY_BIT(STUDY_UNSTABLE))
		advise_on_change(view, words, room);
	else if (reasons & STUDY_BIT(STUDY_INDEX_BELOW))
		advise_on_index(view, words, room);
	else if (reasons & STUDY_BIT(STUDY_NOTHING_FITS))
		snprintf(words, room,
		    "Look at how the values are distributed: more than one tool, lot "
		    "or "
		    "way of measuring may be mixed in them.");
	else if (reasons & STUDY_BIT(STUDY_TOO_DEPENDENT))
		snprintf(words, room,
		    "Take values over a longer time: each of these depends on the one "
		    "before it.");
	else if (reasons & STUDY_BIT(STUDY_BOUND_BELOW))
		advise_on_bound(study, words, room);
	else if (reasons & STUDY_BIT(STUDY_FEW_SUBGROUPS))
		snprintf(words, room,
		    "Take values for at least %d subgroups, or leave --subgroup out.",
		    STABILITY_LEAST);
	else
		snprintf(words, room, "Look at what is said below.");
}

/* --- stability --------------------------------------------------------------------------- */

static void
tell_onset(const struct capability_view *view, char *words, size_t room)
{
	const struct onset *onset = &view->study->onset;
	const char *slot = capability_slot(view);
	char before[CAPABILITY_FIGURE], after[CAPABILITY_FIGURE];
	bool scatter = onset->kind == ONSET_SCATTER;

	words[0] = '\0';
	(scatter ? capability_deviation : capability_value)(
	    view, onset->before, before);
	(scatter ? capability_deviation : capability_value)(view, onset->after, after);
	switch (onset->kind) {
	case ONSET_NONE:
		return;
	case ONSET_STEP:
		snprintf(words, room,
		    " Most likely a step at %s %zu (%zu to %zu, 95 %%), from %s to %s.",
		    slot, onset->slot, onset->least, onset->most, before, after);
		return;
	case ONSET_DRIFT:
		snprintf(words, room,
		    " Most likely a drift from %s %zu on (%zu to %zu, 95 %%), from %s "
		    "to %s at the end.",
		    slot, onset->slot, onset->least, onset->most, before, after);
		return;
	case ONSET_SCATTER:
		snprintf(words, room,
		    " Most likely the scatter changed at %s %zu (%zu to %zu, 95 %%): "
		    "deviation %s before, %s after.",
		    slot, onset->slot, onset->least, onset->most, before, after);
		return;
	case ONSET_SINGLE:
		snprintf(words, room,
		    " Single values stand out, the first at %s %zu; nothing lasts.",
		    slot, onset->slot);
		return;
	}
}

bool
capability_by_scores(const struct study *study)
{
	return study->subgroups.size == 0 &&
	       study_distribution(study).family != FAMILY_NORMAL;
}

/* Between which values, and by what. */
static void
tell_steady(const struct capability_view *view, char *words, size_t room)
{
	const struct study *study = view->study;
	char low[CAPABILITY_FIGURE], high[CAPABILITY_FIGURE];

	capability_value(view, study->steady.low, low);
	capability_value(view, study->steady.high, high);
	snprintf(words, room, "%s to %s (%s%.2f deviations of a %s)", low, high,
	    capability_by_scores(study) ? "as rare as " : "", study->stability.limits.k,
	    capability_by_scores(study) ? "normal distribution"
	    : study->subgroups.size > 0 ? "subgroup's mean"
					: "value");
}

static void
tell_stable(const struct capability_view *view, char words[static CAPABILITY_WORDS])
{
	const struct study *study = view->study;
	const char *slot = capability_slot(view);
	bool scores = capability_by_scores(study);
	char steady[CAPABILITY_WORDS / 4];

	tell_steady(view, steady, sizeof steady);
	snprintf(words, CAPABILITY_WORDS,
	    "Stable: no %s outside %s, no %zu in a row on one side of the %s, the "
	    "exponentially weighted moving average%s within its limits, and the "
	    "scatter%s alike throughout. So many %ss of a perfect process are called "
	    "unstable in about 5 %% of cases. A small change can go unseen: of series "
	    "of 30, 68, 160 and 300 %ss with a step of one deviation midway, 26, 40, "
	    "61 and 73 %% are found unstable.",
	    slot, steady, study->stability.limits.r, scores ? "median" : "mean",
	    scores ? " of the values' normal scores" : "", scores ? " of those" : "",
	    slot, slot);
}

/* "value 17, 9.21,": a mean of a subgroup is not at hand. */
static void
name_slot(const struct capability_view *view, size_t slot, char *words, size_t room)
{
	const struct series *series = &view->asked->series;
	char figure[CAPABILITY_FIGURE];

	if (view->study->subgroups.size > 0 || slot > series->count) {
		snprintf(words, room, "%s %zu", capability_slot(view), slot);
		return;
	}
	capability_value(view, series->values[slot - 1], figure);
	snprintf(words, room, "%s %zu, %s,", capability_slot(view), slot, figure);
}

static void
tell_unstable(const struct capability_view *view, char words[static CAPABILITY_WORDS])
{
	const struct stability *stability = &view->study->stability;
	const char *slot = capability_slot(view);
	bool scores = capability_by_scores(view->study);
	char onset[CAPABILITY_WORDS / 4], steady[CAPABILITY_WORDS / 4],
	    found[CAPABILITY_WORDS] = "", point[CAPABILITY_WORDS / 8];
	size_t at = 0;

	if (stability->beyond) {
		tell_steady(view, steady, sizeof steady);
		name_slot(view, stability->beyond, point, sizeof point);
		at += (size_t)snprintf(found + at, sizeof found - at,
		    "%s lies outside %s; ", point, steady);
	}
	if (stability->run)
		at += (size_t)snprintf(found + at, sizeof found - at,
		    "%zu in a row lie on one side of the %s, by %s %zu; ",
		    stability->limits.r, scores ? "median" : "mean", slot,
		    stability->run);
	if (stability->ewma)
		at += (size_t)snprintf(found + at, sizeof found - at,
		    "the exponentially weighted moving average%s leaves its limits at "
		    "%s %zu; ",
		    scores ? " of the values' normal scores" : "", slot,
		    stability->ewma);
	if (stability->scatter)
		at += (size_t)snprintf(found + at, sizeof found - at,
		    "the scatter is another from %s %zu on; ", slot,
		    stability->scatter);
	tell_onset(view, onset, sizeof onset);
	snprintf(words, CAPABILITY_WORDS, "Not stable: %.*s.%s",
	    (int)(at > 2 ? at - 2 : 0), found, onset);
}

void
capability_stability_words(
    const struct capability_view *view, char words[static CAPABILITY_WORDS])
{
	switch (view->study->stability.verdict) {
	case STABILITY_STABLE:
		tell_stable(view, words);
		return;
	case STABILITY_UNSTABLE:
		tell_unstable(view, words);
		return;
	case STABILITY_TOO_FEW:
		snprintf(words, CAPABILITY_WORDS, "Not judged: fewer than %d %ss.",
		    STABILITY_LEAST, capability_slot(view));
		return;
	case STABILITY_NO_NEIGHBOURS:
		snprintf(words, CAPABILITY_WORDS,
		    "Not judged: too few values follow directly on another.");
		return;
	case STABILITY_NO_VARIATION:
		snprintf(words, CAPABILITY_WORDS,
		    "Not judged: the values do not vary from one to the next.");
		return;
	}
}
