/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/capability_remarks.h"

#include <math.h>

#include "cli/wording/study_words.h"

#define BISSELL "Bissell (Applied Statistics 39:331-340, 1990)"

/* --- indices by deviations ------------------------------------------------------------- */

static void
put_deviations(struct page *page, const struct capability_view *view)
{
	static const char *const within[] = {
	    [STUDY_INDIVIDUALS] = "from one value to the next (mean moving range / d2)",
	    [STUDY_MEAN_RANGE] = "within subgroups (mean range / d2)",
	    [STUDY_MEAN_SD] = "within subgroups (pooled / c4)",
	};

	page_note(page, NULL, TONE_PLAIN,
	    "Ppk, Pp: by the deviation of all values (n - 1); Cpk, Cp: by the "
	    "deviation %s, for a stable series alone.",
	    within[view->asked->method]);
}

static void
put_overall_bounds(struct page *page, const struct study *study)
{
	const struct capability *c = &study->c;

	if (!study->ppk.quotable)
		return;
	switch (c->memory) {
	case CAPABILITY_NONE_SEEN:
		page_note(page, NULL, TONE_PLAIN,
		    "Interval of Ppk after " BISSELL "%s; 'at least': one-sided 95 %% "
		    "bound by the noncentral t.%s",
		    isfinite(study->pp_95.low) ? ", of Pp by chi-square" : "",
		    study->reasons & STUDY_BIT(STUDY_NOT_NORMAL)
			? " All are those of normal values, which these are not: hence "
			  "'about'."
			: "");
		return;
	case CAPABILITY_WIDENED:
		page_note(page, NULL, TONE_PLAIN,
		    "Interval of Ppk%s and 'at least' are widened, since the %zu "
		    "values depend on each other and are worth %.0f independent ones; "
		    "they hold in about 92 %% of simulated series and one-sided in 90 "
		    "to 92 %%, hence 'about'.",
		    isfinite(study->pp_95.low) ? ", that of Pp" : "", c->n,
		    c->n_effective);
		return;
	case CAPABILITY_TOO_DEPENDENT:
		page_note(page, NULL, TONE_PLAIN,
		    "No intervals: the values depend on each other too much.");
		return;
	}
}

static void
put_within_bounds(struct page *page, const struct capability_view *view)
{
	static const char *const of[] = {
	    [STUDY_INDIVIDUALS] = "the moving ranges",
	    [STUDY_MEAN_RANGE] = "the subgroups' ranges",
	    [STUDY_MEAN_SD] = "the pooled deviation",
	};
	const struct study *study = view->study;

	if (study->cpk.quotable)
		page_note(page, NULL, TONE_PLAIN,
		    "Interval of Cpk likewise%s, with the %.4g degrees of freedom of "
		    "%s.",
		    isfinite(study->cp_95.low) ? ", of Cp by chi-square" : "",
		    study->within_df, of[view->asked->method]);
}

/* --- indices by percentiles ------------------------------------------------------------ */

static void
put_percentiles(struct page *page, const struct study *study)
{
	const struct study_shown shown = study_shown(study);

	if (!shown.by_fit || (study->fits.used < 0 && !study->zero_bounded))
		return;
	page_note(page, NULL, TONE_PLAIN,
	    "%s by percentiles of the distribution that fits (ISO 22514-2), the "
	    "distance of its median to a limit over that to its 0.135 %% or 99.865 %% "
	    "point%s.",
	    study->zero_bounded
		? "Bounded at zero: indices"
		: "Not normal (p below 0.005): the verdict rests on the "
		  "index",
	    study->zero_bounded ? "; none by the scatter within" : "");
	if (shown.quotable && isfinite(shown.least))
		page_note(page, NULL, TONE_PLAIN,
		    "%s span the likelihood bounds of every distribution that fits and "
		    "is nearly as likely%s; of simulated series of 50 to 300 values "
		    "two-sided ones held the true index in 90 to 97 %%, hence "
		    "'about'.",
		    study->zero_bounded ? "The interval and 'at least'" : "Its bounds",
		    study->c.memory == CAPABILITY_WIDENED
			? ", widened since the values depend on each other"
			: "");
}

/* --- the values ------------------------------------------------------------------------ */

static void
put_outliers(struct page *page, const struct study *study)
{
	bool one = study->outliers == 1;

	if (study->outliers == 0)
		return;
	page_note(page, NULL, TONE_PLAIN,
	    "%zu value%s farther out than chance puts so many: explain %s; none was "
	    "left out.",
	    study->outliers, one ? " lies" : "s lie", one ? "it" : "them");
	if (!isnan(study->ppk_without_outliers))
		page_note(page, NULL, TONE_PLAIN, "Without %s Ppk would be %.2f.",
		    one ? "it" : "them", study->ppk_without_outliers);
}

static void
put_left_out(struct page *page, const struct capability_view *view)
{
	size_t missing = view->study->described.missing, left_out = view->left_out,
	       empty = view->empty_at_end;

	if (missing > 0)
		page_note(page, NULL, TONE_PLAIN,
		    "%zu value%s missing; no moving range and no pattern reaches "
		    "across a gap, moving average and sums go on behind it.",
		    missing, missing == 1 ? " is" : "s are");
	if (left_out > 0)
		page_note(page, NULL, TONE_PLAIN,
		    "%zu shot%s not complete %s left out; across %s nothing is "
		    "compared.",
		    left_out, left_out == 1 ? " that is" : "s that are",
		    left_out == 1 ? "was" : "were", left_out == 1 ? "it" : "them");
	if (empty > 0)
		page_note(page, NULL, TONE_PLAIN,
		    "%zu empty line%s at the end of the file %s not counted as "
		    "missing.",
		    empty, empty == 1 ? "" : "s", empty == 1 ? "is" : "are");
}

void
capability_put_remarks(struct page *page, const struct capability_view *view)
{
	const struct study *study = view->study;
	bool limited = !isnan(study->lower) || !isnan(study->upper);

	page_open(page, GROUP_OBJECT, NULL, "Remarks");
	if (limited && !study->zero_bounded) {
		if (study->ppk.quotable || study->cpk.quotable)
			put_deviations(page, view);
		put_overall_bounds(page, study);
		put_within_bounds(page, view);
	}
	if (limited)
		put_percentiles(page, study);
	page_note(page, NULL, TONE_PLAIN,
	    "Capable is what is stable and whose Ppk is at least %.2f by its lower "
	    "bound; not capable, whose Ppk is less by its upper bound or of which too "
	    "many lie beyond a limit; all else is not established.",
	    study->required);
	put_outliers(page, study);
	put_left_out(page, view);
	page_close(page);
}
