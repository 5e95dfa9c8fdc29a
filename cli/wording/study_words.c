/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/wording/study_words.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "daemon/base/text.h"

const char *
study_words_verdict(enum study_verdict verdict)
{
	switch (verdict) {
	case STUDY_CAPABLE:
		return "capable";
	case STUDY_NOT_CAPABLE:
		return "not capable";
	case STUDY_NOT_ESTABLISHED:
		return "not established";
	}
	return "";
}

const char *
study_words_verdict_name(enum study_verdict verdict)
{
	switch (verdict) {
	case STUDY_CAPABLE:
		return "capable";
	case STUDY_NOT_CAPABLE:
		return "not_capable";
	case STUDY_NOT_ESTABLISHED:
		return "not_established";
	}
	return "";
}

const char *
study_words_reason_name(enum study_reason reason)
{
	switch (reason) {
	case STUDY_NO_LIMIT:
		return "no_limit";
	case STUDY_TOO_FEW:
		return "too_few";
	case STUDY_MUCH_MISSING:
		return "much_missing";
	case STUDY_COARSE:
		return "coarse";
	case STUDY_FEW_NEIGHBOURS:
		return "few_neighbours";
	case STUDY_AUTOCORRELATED:
		return "autocorrelated";
	case STUDY_UNSTABLE:
		return "unstable";
	case STUDY_TOO_DEPENDENT:
		return "too_dependent";
	case STUDY_NOTHING_FITS:
		return "nothing_fits";
	case STUDY_NOT_NORMAL:
		return "not_normal";
	case STUDY_BOUND_BELOW:
		return "bound_below";
	case STUDY_INDEX_BELOW:
		return "index_below";
	case STUDY_ZERO_BOUNDED:
		return "zero_bounded";
	case STUDY_BEYOND:
		return "beyond";
	case STUDY_FEW_SUBGROUPS:
		return "few_subgroups";
	case STUDY_OUT_OF_RANGE:
		return "out_of_range";
	case STUDY_REASON_COUNT:
		break;
	}
	return "";
}

const char *
study_words_stability_name(enum stability_verdict verdict)
{
	switch (verdict) {
	case STABILITY_STABLE:
		return "stable";
	case STABILITY_UNSTABLE:
		return "unstable";
	case STABILITY_TOO_FEW:
		return "too_few";
	case STABILITY_NO_VARIATION:
		return "no_variation";
	case STABILITY_NO_NEIGHBOURS:
		return "few_neighbours";
	}
	return "";
}

const char *
study_words_onset(enum onset_kind kind)
{
	switch (kind) {
	case ONSET_NONE:
		return "";
	case ONSET_STEP:
		return "a step";
	case ONSET_DRIFT:
		return "a drift";
	case ONSET_SCATTER:
		return "a change of scatter";
	case ONSET_SINGLE:
		return "single values that stand out";
	}
	return "";
}

const char *
study_words_distribution(const struct study *study)
{
	if (study->reasons & STUDY_BIT(STUDY_NOTHING_FITS))
		return NULL;
	return family_table[study_distribution(study).family].name;
}

bool
study_words_approximate(const struct study *study)
{
	return study->zero_bounded || study->c.memory == CAPABILITY_WIDENED ||
	       (study->reasons & STUDY_BIT(STUDY_NOT_NORMAL));
}

/* What a bound is said to hold in. */
static const char *
confidence(const struct study *study)
{
	return study_words_approximate(study) ? "about 95 %" : "95 %";
}

/* --- reasons -------------------------------------------------------------------------- */

static void
tell_coarse(const struct study *study, char *words, size_t room)
{
	if (study->described.n == 1)
		snprintf(words, room, "one value does not show how they differ");
	else if (!(study->described.sd > 0))
		snprintf(
		    words, room, "all %zu values are the same", study->described.n);
	else if (study->c.distinct >= CAPABILITY_DISTINCT)
		snprintf(words, room,
		    "the resolution is too coarse: its steps are %.2f deviations of "
		    "all values",
		    study->rounding / study->described.sd);
	else
		snprintf(words, room,
		    "the resolution is too coarse: %zu distinct value%s inside the "
		    "limits, at least %d are needed",
		    study->c.distinct, study->c.distinct == 1 ? "" : "s",
		    CAPABILITY_DISTINCT);
}

/* "Ppk", and by what where it is not the normal distribution. */
static void
name_index(const struct study *study, const struct study_shown *shown, char words[64])
{
	const struct fit *fit =
	    study->fits.used >= 0 ? &study->fits.list[study->fits.used] : NULL;

	if (shown->by_fit && fit)
		snprintf(words, 64, "Ppk by percentiles (%s)",
		    family_table[fit->family].name);
	else
		snprintf(words, 64, "Ppk");
}

static void
tell_index(const struct study *study, char *words, size_t room)
{
	const struct study_shown shown = study_shown(study);
	char name[64];

	name_index(study, &shown, name);
	if (isnan(shown.least))
		snprintf(words, room, "%s is %.2f where %.2f is required", name,
		    shown.index, study->required);
	else
		snprintf(words, room,
		    "%s is %.2f, and by %zu values it is at least %.2f (%s) where %.2f "
		    "is required",
		    name, shown.index, study->described.n, shown.least,
		    confidence(study), study->required);
}

static void
tell_below(const struct study *study, char *words, size_t room)
{
	const struct study_shown shown = study_shown(study);
	char name[64];

	name_index(study, &shown, name);
	if (isnan(shown.most))
		snprintf(words, room, "%s is %.2f where %.2f is required", name,
		    shown.index, study->required);
	else
		snprintf(words, room,
		    "%s is %.2f, and by %zu values it is at most %.2f (%s) where %.2f "
		    "is required",
		    name, shown.index, study->described.n, shown.most,
		    confidence(study), study->required);
}

/* "no value", "only 1 value", "only 29 values". */
enum { COUNTED = 64 };
static void
count_few(size_t count, const char *what, char words[static COUNTED])
{
	if (count == 0)
		snprintf(words, COUNTED, "no %s", what);
	else
		snprintf(words, COUNTED, "only %zu %s%s", count, what,
		    count == 1 ? "" : "s");
}

static void
tell_few_neighbours(const struct study *study, char *words, size_t room)
{
	size_t pairs = study->c.neighbours;
	char counted[COUNTED];

	count_few(pairs, "value", counted);
	snprintf(words, room,
	    "%s follow%s directly on another, at least %d are needed for the spread "
	    "from one to the next",
	    counted, pairs < 2 ? "s" : "", CAPABILITY_LEAST - 1);
}

static void
tell_few_subgroups(const struct study *study, char *words, size_t room)
{
	char counted[COUNTED];

	count_few(study->subgroups.count, "complete subgroup", counted);
	snprintf(words, room, "%s of %zu values, at least %d are needed", counted,
	    study->subgroups.size, STABILITY_LEAST);
}

void
study_words_reason(const struct study *study, enum study_reason reason,
    char words[static STUDY_REASON_WORDS])
{
	const size_t room = STUDY_REASON_WORDS;
	const struct capability *c = &study->c;

	words[0] = '\0';
	switch (reason) {
	case STUDY_NO_LIMIT:
		snprintf(words, room, "it has no limits");
		return;
	case STUDY_TOO_FEW:
		snprintf(words, room, "too few values: %zu, at least %d are needed",
		    study->described.n, CAPABILITY_LEAST);
		return;
	case STUDY_MUCH_MISSING:
		snprintf(words, room, "%zu of %zu values %s absent, more than %d %%",
		    study->described.missing,
		    study->described.n + study->described.missing,
		    study->described.missing == 1 ? "is" : "are",
		    CAPABILITY_MISSING_PERCENT);
		return;
	case STUDY_COARSE:
		tell_coarse(study, words, room);
		return;
	case STUDY_FEW_NEIGHBOURS:
		tell_few_neighbours(study, words, room);
		return;
	case STUDY_AUTOCORRELATED:
		snprintf(words, room,
		    "a value depends on the one before it (lag-1 autocorrelation "
		    "%.2f, beyond %.2f), so the spread from one to the next misleads",
		    c->r1, c->r1_bound);
		return;
	case STUDY_UNSTABLE:
		snprintf(words, room, "it was not stable");
		return;
	case STUDY_TOO_DEPENDENT:
		snprintf(words, room,
		    "the %zu values depend on each other and are worth %.1f "
		    "independent ones, where at least %d are needed",
		    study->described.n, c->n_effective, CAPABILITY_LEAST_EFFECTIVE);
		return;
	case STUDY_NOTHING_FITS:
		snprintf(words, room,
		    "none of the distributions that were tried fits the values");
		return;
	case STUDY_NOT_NORMAL:
		snprintf(words, room,
		    "the values are not normally distributed (Anderson-Darling, p "
		    "below 0.005)");
		return;
	case STUDY_BOUND_BELOW:
		tell_index(study, words, room);
		return;
	case STUDY_INDEX_BELOW:
		tell_below(study, words, room);
		return;
	case STUDY_ZERO_BOUNDED:
		snprintf(words, room,
		    "it cannot fall below zero, so its index comes from percentiles, "
		    "which have none from one value to the next");
		return;
	case STUDY_BEYOND:
		snprintf(words, room,
		    "that many beyond a limit are more than a Ppk of %.2f allows",
		    study->required);
		return;
	case STUDY_FEW_SUBGROUPS:
		tell_few_subgroups(study, words, room);
		return;
	case STUDY_OUT_OF_RANGE:
		snprintf(words, room, "the index is too large or too small a number");
		return;
	case STUDY_REASON_COUNT:
		return;
	}
}

static void
add_reason(
    const struct study *study, enum study_reason reason, char words[static STUDY_WORDS])
{
	char one[STUDY_REASON_WORDS];
	size_t length = strlen(words);

	study_words_reason(study, reason, one);
	text_copy(words + length, STUDY_WORDS - length, length ? "; " : "");
	length = strlen(words);
	text_copy(words + length, STUDY_WORDS - length, one);
}

void
study_words_reasons(
    const struct study *study, unsigned reasons, char words[static STUDY_WORDS])
{
	words[0] = '\0';
	if (reasons &
	    STUDY_BIT(STUDY_BEYOND)) /* "that many": it follows on their number */
		add_reason(study, STUDY_BEYOND, words);
	for (int i = 0; i < STUDY_REASON_COUNT; i++)
		if ((reasons & STUDY_BIT(i)) && i != STUDY_BEYOND)
			add_reason(study, (enum study_reason)i, words);
}

/* --- the verdict ----------------------------------------------------------------------- */

/* What is told beside a verdict and decides nothing: it withholds Cpk alone. */
#define BESIDE                                                              \
	(STUDY_BIT(STUDY_FEW_NEIGHBOURS) | STUDY_BIT(STUDY_FEW_SUBGROUPS) | \
	    STUDY_BIT(STUDY_AUTOCORRELATED) | STUDY_BIT(STUDY_NOT_NORMAL) | \
	    STUDY_BIT(STUDY_ZERO_BOUNDED))

unsigned
study_words_decisive(const struct study *study)
{
	unsigned reasons = study->reasons & ~BESIDE;

	if (reasons & STUDY_BIT(STUDY_BEYOND)) /* whatever the distribution */
		reasons &= STUDY_BIT(STUDY_BEYOND) | STUDY_BIT(STUDY_UNSTABLE);
	return reasons ? reasons : study->reasons;
}

bool
study_words_all_beyond(const struct study *study)
{
	return study->described.n > 0 &&
	       study->observed_below + study->observed_above >= study->described.n;
}

void
study_words_why(const struct study *study, char words[static STUDY_WORDS])
{
	char index[STUDY_REASON_WORDS], reasons[STUDY_WORDS];

	switch (study->verdict) {
	case STUDY_CAPABLE:
		tell_index(study, index, sizeof index);
		snprintf(words, STUDY_WORDS, "stable over %zu values; %s",
		    study->described.n, index);
		return;
	case STUDY_NOT_CAPABLE:
	case STUDY_NOT_ESTABLISHED:
		study_words_reasons(study, study_words_decisive(study), reasons);
		snprintf(words, STUDY_WORDS, "%s%.*s",
		    study_words_all_beyond(study)
			? "every single value lies beyond the limits; "
			: "",
		    STUDY_WORDS - 60, reasons);
		return;
	}
}
