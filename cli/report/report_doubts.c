/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/report/report_doubts.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "cli/report/report_words.h"
#include "cli/wording/study_words.h"
#include "daemon/base/text.h"

enum {
	NUMBERS_BYTES = 400,
	NUMBERS_TOLD = 24, /* shot numbers in a sentence; of more the number is told */
};

/* --- whether an index is quoted --------------------------------------------------------- */

static void
put_quoted(const struct report_part *part, const char *name, const struct study *study)
{
	unsigned beside = STUDY_BIT(STUDY_ZERO_BOUNDED);
	char why[STUDY_WORDS];

	if (!study->ppk.quotable) {
		study_words_reasons(study, study->ppk.reasons, why);
		page_note(part->page, NULL, TONE_PLAIN, "%s: no index is quoted: %s",
		    name, why);
	} else if (!study->cpk.quotable && (study->cpk.reasons & ~beside)) {
		study_words_reasons(study, study->cpk.reasons & ~beside, why);
		page_note(part->page, NULL, TONE_PLAIN, "%s: Cp and Cpk withheld: %s",
		    name, why);
	}
}

static void
put_memory(const struct report_part *part, const char *name, const struct study *study)
{
	const struct capability *c = &study->c;

	switch (c->memory) {
	case CAPABILITY_NONE_SEEN:
		return;
	case CAPABILITY_WIDENED:
		page_note(part->page, NULL, TONE_PLAIN,
		    "%s: the intervals of Pp and Ppk are widened for that dependence "
		    "and approximate",
		    name);
		return;
	case CAPABILITY_TOO_DEPENDENT:
		page_note(part->page, NULL, TONE_PLAIN,
		    "%s: Pp and Ppk have no interval: too dependent: the %zu values "
		    "are worth %.1f independent ones, at least %d are needed",
		    name, c->n, c->n_effective, CAPABILITY_LEAST_EFFECTIVE);
		return;
	}
}

/* --- the distribution ------------------------------------------------------------------- */

/* "0.43", "below 1e-20" */
static void
tell_p(const struct normality *normality, char words[static 32])
{
	snprintf(words, 32, "%s%.1g", normality->p_below ? "below " : "", normality->p);
}

static void
put_distribution(
    const struct report_part *part, const char *name, const struct study *study)
{
	const struct fit *fit =
	    study->fits.used >= 0 ? &study->fits.list[study->fits.used] : NULL;
	char p[32];

	if (study->zero_bounded && fit) {
		page_note(part->page, NULL, TONE_PLAIN,
		    "%s cannot fall below zero: its Ppk is by percentiles of the %s "
		    "distribution, the likeliest that fits (p %.2f)",
		    name, family_table[fit->family].name, fit->p);
		return;
	}
	if (study->zero_bounded || !(study->reasons & STUDY_BIT(STUDY_NOT_NORMAL)))
		return;
	tell_p(&study->normality, p);
	if (!fit) {
		page_note(part->page, NULL, TONE_PLAIN,
		    "%s is not normally distributed (Anderson-Darling %.2f, p %s), "
		    "and no other distribution that was tried fits: what the indices "
		    "say of its tails is a guess",
		    name, study->normality.a2_adjusted, p);
		return;
	}
	page_note(part->page, NULL, TONE_PLAIN,
	    "%s is not normally distributed (Anderson-Darling %.2f, p %s): by "
	    "percentiles of the %s distribution, which fits (p %.2f), its Ppk would be "
	    "%.2f, and the lower of the two counts",
	    name, study->normality.a2_adjusted, p, family_table[fit->family].name,
	    fit->p, fmin(fit->index.ppl, fit->index.ppu));
}

/* --- shots to look at ---------------------------------------------------------------------- */

/* "31-33, 52", or how many there are. */
static void
tell_numbers(const struct numbers *which, char words[static NUMBERS_BYTES])
{
	struct text text;

	text_init(&text, NUMBERS_BYTES);
	if (which->count <= NUMBERS_TOLD)
		numbers_text(which, &text);
	if (which->count <= NUMBERS_TOLD && text.bytes && !text.failed)
		snprintf(words, NUMBERS_BYTES, "shot%s %s",
		    which->count == 1 ? "" : "s", text.bytes);
	else
		snprintf(words, NUMBERS_BYTES, "%zu shots", which->count);
	text_release(&text);
}

static void
put_signals(const struct report_part *part, const char *name, const struct study *study)
{
	const int64_t *numbers = part->population->complete.list;
	struct numbers which = {0};
	char words[NUMBERS_BYTES];
	size_t last = 0;

	/* of what is not stable nobody need be told that it shows */
	if (study->signals.count == 0 || study->stability.verdict == STABILITY_UNSTABLE)
		return;
	for (size_t i = 0; i < study->signals.count; i++) {
		size_t slot = study->signals.list[i].slot;
		if (slot != last)
			numbers_add(&which, numbers[slot - 1]);
		last = slot;
	}
	tell_numbers(&which, words);
	page_note(part->page, NULL, TONE_PLAIN,
	    "%s: the usual patterns (a shot beyond three s, eight in a row on one side "
	    "of the mean) end at %s. In a perfect series of %zu they come with a "
	    "chance "
	    "of %.0f %%: they point at shots to look at and are no verdict",
	    name, words, study->described.n, 100 * study->signals_chance);
	free(which.list);
}

static void
put_outliers(
    const struct report_part *part, const struct judged *judged, const char *name)
{
	const struct population *population = part->population;
	const struct study *study = judged->study;
	const struct outliers *outlying = &study->outlying;
	size_t column = population_column(population, judged->feature),
	       width = population->features->count, n = study->described.n;
	double low = outlying->low ? study->sorted[outlying->low - 1] : -INFINITY,
	       high = outlying->high ? study->sorted[n - outlying->high] : INFINITY;
	struct numbers which = {0};
	char words[NUMBERS_BYTES], without[96] = "";

	if (study->outliers == 0)
		return;
	for (size_t i = 0; i < population->complete.count; i++) {
		double value = population->values[i * width + column];
		if (value <= low || value >= high)
			numbers_add(&which, population->complete.list[i]);
	}
	tell_numbers(&which, words);
	if (study->ppk.quotable && isfinite(study->ppk_without_outliers))
		snprintf(without, sizeof without, ": without %s, Ppk would be %.2f",
		    study->outliers == 1 ? "it" : "them", study->ppk_without_outliers);
	page_note(part->page, NULL, TONE_PLAIN,
	    "%s: %s lie%s farther out than chance puts any of %zu values, and %s among "
	    "the figures%s",
	    name, words, which.count == 1 ? "s" : "", n,
	    which.count == 1 ? "is" : "are", without);
	free(which.list);
}

/* --- all ---------------------------------------------------------------------------------- */

static void
put_polling(
    const struct report_part *part, const char *name, const struct judged *judged)
{
	double uncertainty_s = part->population->uncertainty_s;

	if (feature_get(judged->feature)->dimension != DIMENSION_TIME ||
	    !judged->study->ppk.quotable || judged->c.sd > uncertainty_s)
		return;
	page_note(part->page, NULL, TONE_PLAIN,
	    "%s: s is not above the uncertainty of %.1f s that polling leaves: the "
	    "index says more about polling than about the line",
	    name, uncertainty_s);
}

void
report_doubts_put(const struct report_part *part, const struct judged *judged)
{
	const char *name = feature_get(judged->feature)->name;
	const struct study *study = judged->study;

	if (part->population->complete.count < CAPABILITY_LEAST)
		return; /* said of all of them at once */
	put_quoted(part, name, study);
	if (study->ppk.quotable) {
		put_memory(part, name, study);
		put_distribution(part, name, study);
	}
	put_polling(part, name, judged);
	put_outliers(part, judged, name);
	put_signals(part, name, study);
}
