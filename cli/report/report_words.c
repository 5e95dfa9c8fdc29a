/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/report/report_words.h"

#include <inttypes.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "cli/wording/shown.h"
#include "cli/wording/study_words.h"
#include "daemon/base/text.h"

/* --- figures --------------------------------------------------------------------------- */

static void
tell_cell(const struct cell *cell, const char *unit, char words[static REPORT_FIGURE])
{
	if (cell->kind == CELL_ABSENT)
		text_copy(words, REPORT_FIGURE, "-");
	else
		snprintf(words, REPORT_FIGURE, "%.*f%s%s", cell->digits, cell->shown,
		    *unit ? " " : "", unit);
}

void
report_words_value(const struct settings *settings, int feature, double value,
    char words[static REPORT_FIGURE])
{
	const struct cell cell = shown_value(settings, feature, value);

	tell_cell(&cell, shown_unit(settings, feature), words);
}

void
report_words_deviation(const struct settings *settings, int feature, double value,
    char words[static REPORT_FIGURE])
{
	const struct cell cell = shown_deviation(settings, feature, value);

	tell_cell(&cell, shown_unit(settings, feature), words);
}

/* --- when it began --------------------------------------------------------------------- */

static int64_t
number_at(const int64_t *numbers, size_t slot)
{
	return numbers[slot > 0 ? slot - 1 : 0];
}

void
report_words_onset_short(const struct judged *judged, const int64_t *numbers,
    char words[static REPORT_SHORT])
{
	const struct onset *onset = &judged->study->onset;
	const size_t room = REPORT_SHORT;
	int64_t number = number_at(numbers, onset->slot);

	switch (onset->kind) {
	case ONSET_NONE:
		snprintf(words, room, "wandered");
		return;
	case ONSET_STEP:
		snprintf(words, room, "stepped at shot %" PRId64, number);
		return;
	case ONSET_DRIFT:
		snprintf(words, room, "drifted from shot %" PRId64 " on", number);
		return;
	case ONSET_SCATTER:
		snprintf(words, room, "scattered otherwise from shot %" PRId64 " on",
		    number);
		return;
	case ONSET_SINGLE:
		snprintf(
		    words, room, "single shots stand out, first shot %" PRId64, number);
		return;
	}
}

void
report_words_onset(const struct settings *settings, const struct judged *judged,
    const int64_t *numbers, char words[static REPORT_ONSET])
{
	const struct onset *onset = &judged->study->onset;
	char begins[REPORT_SHORT], bounds[96] = "", before[REPORT_FIGURE],
				   after[REPORT_FIGURE];

	report_words_onset_short(judged, numbers, begins);
	if (onset->kind == ONSET_NONE) {
		snprintf(words, REPORT_ONSET,
		    "it wandered, with no beginning that could be told");
		return;
	}
	if (onset->kind == ONSET_SINGLE) {
		text_copy(words, REPORT_ONSET, begins);
		return;
	}
	if (onset->most > onset->least)
		snprintf(bounds, sizeof bounds,
		    " (by 95 %% between %" PRId64 " and %" PRId64 ")",
		    number_at(numbers, onset->least), number_at(numbers, onset->most));
	if (onset->kind == ONSET_SCATTER) {
		report_words_deviation(
		    settings, judged->feature, onset->before, before);
		report_words_deviation(settings, judged->feature, onset->after, after);
	} else {
		report_words_value(settings, judged->feature, onset->before, before);
		report_words_value(settings, judged->feature, onset->after, after);
	}
	snprintf(words, REPORT_ONSET, "it %s%s, %sfrom %s to %s", begins, bounds,
	    onset->kind == ONSET_SCATTER ? "s " : "", before, after);
}

/* --- why --------------------------------------------------------------------------------- */

static void
tell_outside(const struct study *study, char words[static REPORT_SHORT])
{
	size_t outside = study->observed_below + study->observed_above;

	words[0] = '\0';
	if (outside > 0)
		snprintf(words, REPORT_SHORT, "%zu of %zu shots outside the limit%s; ",
		    outside, study->described.n,
		    isnan(study->lower) || isnan(study->upper) ? "" : "s");
}

/* What an engineer of a process that remembers can say of it all the same. */
static void
tell_performance(const struct study *study, char words[static REPORT_SHORT])
{
	const struct study_shown shown = study_shown(study);
	double least = shown.quotable        ? shown.least
	               : study->ppk.quotable ? study->ppk.lower_bound
	                                     : NAN;

	words[0] = '\0';
	if (study->verdict == STUDY_NOT_ESTABLISHED &&
	    (study->reasons & STUDY_BIT(STUDY_UNSTABLE)) && isfinite(least))
		snprintf(words, REPORT_SHORT,
		    "; its performance over these shots, without a claim of stability: "
		    "Ppk at least %.2f",
		    least);
}

/* A step or drift that a series of dependent shots makes without a cause. */
#define EXPLAINED_WELL 0.7

static void
tell_wandering(const struct study *study, char words[static REPORT_SHORT])
{
	bool dependent = study->cpk.reasons & STUDY_BIT(STUDY_AUTOCORRELATED);

	words[0] = '\0';
	if (!dependent || study->onset.explained > EXPLAINED_WELL ||
	    (study->onset.kind != ONSET_STEP && study->onset.kind != ONSET_DRIFT))
		return;
	if (study->reasons & STUDY_BIT(STUDY_TOO_DEPENDENT))
		text_copy(words, REPORT_SHORT, ", or only wandered"); /* r1 is told */
	else
		snprintf(words, REPORT_SHORT,
		    ", or only wandered: a shot depends on the one before (r1 %.2f)",
		    study->c.r1);
}

void
report_words_why(const struct settings *settings, const struct judged *judged,
    const int64_t *numbers, char words[static REPORT_WORDS])
{
	const struct study *study = judged->study;
	unsigned reasons = study_words_decisive(study);
	char why[STUDY_WORDS], onset[REPORT_ONSET] = "", outside[REPORT_SHORT],
			       wandered[REPORT_SHORT] = "", performance[REPORT_SHORT];

	tell_outside(study, outside);
	tell_performance(study, performance);
	if (judged->polled)
		performance[0] = '\0'; /* of what polling leaves it says nothing */
	if (study->verdict != STUDY_CAPABLE && (reasons & STUDY_BIT(STUDY_UNSTABLE))) {
		report_words_onset(settings, judged, numbers, onset);
		study_words_reasons(study, reasons & ~STUDY_BIT(STUDY_UNSTABLE), why);
		tell_wandering(study, wandered);
	} else {
		study_words_why(study, why);
	}
	snprintf(words, REPORT_WORDS, "%s%s%s%s%s%s%s", outside,
	    *onset ? "not stable: " : "", onset, wandered, *onset && *why ? "; " : "",
	    why, performance);
}

/* The reason that a list of names gives, the foremost first. */
static const struct {
	enum study_reason reason;
	const char *words;
} in_short[] = {
    {STUDY_TOO_FEW, "too few values"},
    {STUDY_MUCH_MISSING, "many values are absent"},
    {STUDY_COARSE, "too coarse a resolution"},
    {STUDY_TOO_DEPENDENT, "a shot depends on the one before"},
    {STUDY_BEYOND, "too many outside"},
    {STUDY_NOTHING_FITS, "no distribution fits"},
    {STUDY_INDEX_BELOW, "Ppk is below what is required"},
    {STUDY_BOUND_BELOW, "too few values to be sure of it"},
    {STUDY_NO_LIMIT, "no limits"},
};

void
report_words_why_short(const struct judged *judged, const int64_t *numbers,
    char words[static REPORT_SHORT])
{
	const struct study *study = judged->study;
	size_t outside = study->observed_below + study->observed_above, length;

	words[0] = '\0';
	if (study->stability.verdict == STABILITY_UNSTABLE)
		report_words_onset_short(judged, numbers, words);
	for (size_t i = 0; !*words && i < sizeof in_short / sizeof in_short[0]; i++)
		if (study->reasons & STUDY_BIT(in_short[i].reason))
			text_copy(words, REPORT_SHORT, in_short[i].words);
	length = strlen(words);
	if (outside > 0)
		snprintf(words + length, REPORT_SHORT - length, "%s%zu of %zu outside",
		    length ? ", " : "", outside, study->described.n);
}
