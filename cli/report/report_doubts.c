/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/report/report_doubts.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "cli/wording/study_words.h"
#include "daemon/base/text.h"

enum { DOUBT_WORDS = STUDY_WORDS + 128, DOUBT_NAMES = 2048, DOUBTS_OF_ONE = 4 };

/* A sentence, and of what it is said. */
struct doubt {
	char words[DOUBT_WORDS];
	struct text names;
};

struct doubts {
	struct doubt *list;
	size_t count, room;
};

static void
add(struct doubts *doubts, const char *name, const char *words)
{
	size_t i = 0;

	while (i < doubts->count && strcmp(doubts->list[i].words, words) != 0)
		i++;
	if (i == doubts->room)
		return;
	struct doubt *doubt = &doubts->list[i];
	if (i == doubts->count) {
		doubts->count++;
		text_copy(doubt->words, sizeof doubt->words, words);
		text_init(&doubt->names, DOUBT_NAMES);
	}
	text_printf(&doubt->names, "%s%s", doubt->names.length ? "; " : "", name);
}

/* --- whether an index is quoted --------------------------------------------------------- */

static void
add_quoted(struct doubts *doubts, const char *name, const struct study *study)
{
	unsigned reasons = study->cpk.reasons & ~(STUDY_BIT(STUDY_ZERO_BOUNDED) |
						    STUDY_BIT(STUDY_AUTOCORRELATED));
	bool dependent = study->cpk.reasons & STUDY_BIT(STUDY_AUTOCORRELATED);
	char why[STUDY_WORDS], words[DOUBT_WORDS];

	if (!study_shown(study).quotable) {
		study_words_reasons(study,
		    study->ppk.reasons |
			(study->reasons & STUDY_BIT(STUDY_NOTHING_FITS)),
		    why);
		snprintf(words, sizeof words, "no index is quoted: %s", why);
	} else if (!study->cpk.quotable && (reasons != 0 || dependent)) {
		study_words_reasons(study, reasons, why);
		snprintf(words, sizeof words, "Cp and Cpk withheld: %s%s%s",
		    dependent ? "a value depends on the one before it (r1 is beyond "
				"its bound)"
			      : "",
		    dependent && *why ? "; " : "", why);
	} else {
		return;
	}
	add(doubts, name, words);
}

static void
add_memory(struct doubts *doubts, const char *name, const struct study *study)
{
	char words[DOUBT_WORDS];

	switch (study->c.memory) {
	case CAPABILITY_NONE_SEEN:
		return;
	case CAPABILITY_WIDENED:
		add(doubts, name,
		    "the intervals of Pp and Ppk are widened for that dependence and "
		    "approximate");
		return;
	case CAPABILITY_TOO_DEPENDENT:
		snprintf(words, sizeof words,
		    "Pp and Ppk have no interval: too dependent: the values are worth "
		    "fewer than %d independent ones",
		    CAPABILITY_LEAST_EFFECTIVE);
		add(doubts, name, words);
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

/* Where none fits, no index is quoted. */
static void
add_distribution(struct doubts *doubts, const char *name, const struct study *study)
{
	const struct fit *fit =
	    study->fits.used >= 0 ? &study->fits.list[study->fits.used] : NULL;
	char p[32], words[DOUBT_WORDS];

	if (study->zero_bounded || !fit ||
	    !(study->reasons & STUDY_BIT(STUDY_NOT_NORMAL)))
		return;
	tell_p(&study->normality, p);
	snprintf(words, sizeof words,
	    "not normally distributed (Anderson-Darling %.2f, p %s): by percentiles of "
	    "the %s distribution, which fits (p %.2f), its Ppk is %.2f",
	    study->normality.a2_adjusted, p, family_table[fit->family].name, fit->p,
	    fmin(fit->index.ppl, fit->index.ppu));
	add(doubts, name, words);
}

/* --- all ---------------------------------------------------------------------------------- */

static void
add_polling(struct doubts *doubts, const struct report_part *part, const char *name,
    const struct judged *judged)
{
	char words[DOUBT_WORDS];

	if (!judged->polled || !study_shown(judged->study).quotable)
		return;
	snprintf(words, sizeof words,
	    "s is not above the uncertainty of %.1f s that polling leaves: the index "
	    "says more about polling than about the line",
	    part->population->uncertainty_s);
	add(doubts, name, words);
}

static void
add_doubts(struct doubts *doubts, const struct report_part *part,
    const struct judged *judged, bool lots)
{
	const struct study *study = judged->study;
	char name[2 * LEDGER_NAME + 32];

	if (part->population->complete.count < CAPABILITY_LEAST)
		return; /* said of all of them at once */
	snprintf(name, sizeof name, "%s%s%s", feature_get(judged->feature)->name,
	    lots ? ", lot " : "",
	    !lots                    ? ""
	    : *part->population->lot ? part->population->lot
				     : "unknown");
	add_quoted(doubts, name, study);
	if (study_shown(study).quotable) {
		add_memory(doubts, name, study);
		add_distribution(doubts, name, study);
	}
	add_polling(doubts, part, name, judged);
}

void
report_doubts_put(const struct report_parts *parts)
{
	size_t limited = parts->list[0].judgement->limited_count;
	struct doubts doubts = {.room = DOUBTS_OF_ONE * limited * parts->count};

	doubts.list = calloc(doubts.room + 1, sizeof *doubts.list);
	if (!doubts.list) {
		page_fail(parts->page);
		return;
	}
	for (size_t k = 0; k < limited; k++)
		for (size_t i = 0; i < parts->count; i++)
			add_doubts(&doubts, &parts->list[i],
			    &parts->list[i].judgement->limited[k], parts->count > 1);
	for (size_t i = 0; i < doubts.count; i++) {
		page_note(parts->page, NULL, TONE_PLAIN, "%s: %s",
		    doubts.list[i].names.bytes, doubts.list[i].words);
		text_release(&doubts.list[i].names);
	}
	free(doubts.list);
}
