/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/report/report_doubts.h"

#include <math.h>
#include <stdio.h>

#include "cli/wording/study_words.h"

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

/* --- all ---------------------------------------------------------------------------------- */

static void
put_polling(
    const struct report_part *part, const char *name, const struct judged *judged)
{
	double uncertainty_s = part->population->uncertainty_s;

	if (!judged->polled || !judged->study->ppk.quotable)
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
}
