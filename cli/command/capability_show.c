/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/capability_put.h"

#include <math.h>
#include <stdio.h>

#include "cli/command/capability_course.h"
#include "cli/command/capability_picture.h"
#include "cli/command/capability_remarks.h"
#include "cli/command/capability_words.h"
#include "cli/wording/study_words.h"
#include "cli/wording/verdict.h"

#define COUNT(array) (sizeof(array) / sizeof((array)[0]))

enum { LABEL = 96 };

/* A value, or a deviation, with its unit behind the label. */
static void
put_value(struct page *page, const struct capability_view *view, const char *label,
    double value, bool deviation)
{
	char words[CAPABILITY_FIGURE], title[LABEL];

	(deviation ? capability_deviation : capability_value)(view, value, words);
	snprintf(
	    title, sizeof title, "%s%s%s", label, *view->unit ? ", " : "", view->unit);
	page_field(
	    page, NULL, title, isnan(value) ? cell_absent(NULL) : cell_words(words));
}

static void
put_verdict(struct page *page, const struct capability_view *view)
{
	const struct study *study = view->study;
	char why[STUDY_WORDS], advice[CAPABILITY_WORDS];

	char beyond[LABEL] = "";

	study_words_why(study, why);
	if ((study->reasons & STUDY_BIT(STUDY_BEYOND)) &&
	    !study_words_all_beyond(study))
		snprintf(beyond, sizeof beyond,
		    "%zu of %zu values lie beyond a limit; ",
		    study->observed_below + study->observed_above, study->described.n);
	capability_advice(view, advice);
	page_note(page, NULL, verdict_tone(study->verdict), "%s of %s: %s%s: %s%s.",
	    view->title, view->source,
	    study->verdict == STUDY_NOT_ESTABLISHED ? "whether it is capable is " : "",
	    study_words_verdict(study->verdict), beyond, why);
	page_note(page, NULL, TONE_PLAIN, "%s", advice);
}

/* --- the values ------------------------------------------------------------------------- */

static void
put_within(struct page *page, const struct capability_view *view)
{
	static const char *const labels[] = {
	    [STUDY_INDIVIDUALS] = "deviation from one value to the next",
	    [STUDY_MEAN_RANGE] = "deviation within subgroups, by their ranges",
	    [STUDY_MEAN_SD] = "deviation within subgroups, pooled",
	};
	const struct subgroups *groups = &view->study->subgroups;

	put_value(
	    page, view, labels[view->asked->method], view->study->sigma_within, true);
	if (groups->size == 0)
		return;
	page_field(page, NULL, "subgroups", cell_count((int64_t)groups->count));
	page_field(page, NULL, "values in each", cell_count((int64_t)groups->size));
	page_field(
	    page, NULL, "incomplete, left out", cell_count((int64_t)groups->left_out));
}

static void
put_values(struct page *page, const struct capability_view *view)
{
	const struct study *study = view->study;
	const struct description *d = &study->described;

	page_open(page, GROUP_OBJECT, NULL, "The values");
	page_field(page, NULL, "values", cell_count((int64_t)d->n));
	page_field(page, NULL, "missing", cell_count((int64_t)d->missing));
	put_value(page, view, "mean", d->mean, false);
	put_value(page, view, "deviation of all", d->sd, true);
	put_within(page, view);
	put_value(page, view, "smallest", d->min, false);
	put_value(page, view, "median", d->median, false);
	put_value(page, view, "largest", d->max, false);
	page_field(page, NULL, "different values", cell_count((int64_t)d->distinct));
	put_value(page, view, "lower limit", study->lower, false);
	put_value(page, view, "upper limit", study->upper, false);
	if (!isnan(study->target))
		put_value(page, view, "target", study->target, false);
	page_close(page);
}

/* --- the indices -------------------------------------------------------------------------- */

struct index_row {
	const char *name, *meaning;
	double value, low, high, least;
	bool withheld;
};

static void
put_index_row(struct page *page, const struct index_row *row)
{
	char interval[CAPABILITY_FIGURE];
	bool has = isfinite(row->low) && isfinite(row->high);

	if (isnan(row->value))
		return;
	snprintf(interval, sizeof interval, "%.2f to %.2f", row->low, row->high);
	const struct cell cells[] = {
	    cell_words(row->name),
	    row->withheld ? cell_words("withheld") : cell_number(row->value, 2),
	    has && !row->withheld ? cell_words(interval) : cell_absent(""),
	    isfinite(row->least) && !row->withheld ? cell_number(row->least, 2)
						   : cell_absent(""),
	    cell_words(row->meaning),
	};
	page_row(page, cells);
}

/* What the rows are of: the percentile method of a bounded quantity, or deviations. */
struct index_words {
	const char *distance, *ppk, *ppl, *ppu, *pp, *cpk, *cp;
};

static struct index_words
index_words(const struct study *study)
{
	if (study->zero_bounded)
		return (struct index_words){
		    .distance = "distance to the limits, by percentiles",
		    .ppk = "of the median to the nearer limit",
		    .ppl = "lower limit, over median to 0.135 %",
		    .ppu = "upper limit, over median to 99.865 %",
		    .pp = "between the limits, over 0.135 to 99.865 %",
		};
	bool groups = study->subgroups.size > 0;
	return (struct index_words){
	    .distance = "distance to the limits, in 3 deviations",
	    .ppk = "of the mean to the nearer limit",
	    .ppl = "to the lower limit",
	    .ppu = "to the upper limit",
	    .pp = "if the mean lay in the middle",
	    .cpk = groups ? "by the scatter within subgroups: nearer limit"
	                  : "by the scatter of neighbours: nearer limit",
	    .cp = groups ? "by the scatter within subgroups: in the middle"
	                 : "by the scatter of neighbours: in the middle",
	};
}

/* What the verdict rests on in place of a Ppk of values that are not normal. */
static void
put_percentile_row(struct page *page, const struct study *study)
{
	const struct study_shown shown = study_shown(study);
	const struct fit_bounds *bounds = &study->fit_bounds;
	char name[64];

	if (!shown.by_fit || study->zero_bounded || study->fits.used < 0)
		return;
	snprintf(name, sizeof name, "Ppk of %s",
	    family_table[study->fits.list[study->fits.used].family].name);
	const struct index_row row = {name, "of the median, by percentiles",
	    shown.index, bounds->low, bounds->high, bounds->least, !shown.quotable};
	put_index_row(page, &row);
}

static void
put_indices(struct page *page, const struct study *study)
{
	const struct index_words is = index_words(study);
	bool about = study_words_approximate(study);
	const struct column columns[] = {
	    {NULL, "index", 0},
	    {NULL, "value", 0},
	    {NULL, about ? "interval, about 95 %" : "95 % interval", 0},
	    {NULL, about ? "at least, about" : "at least", 0},
	    {NULL, is.distance, 0},
	};
	const struct study_index *ppk = &study->ppk, *cpk = &study->cpk;
	const struct index_row rows[] = {
	    {"Ppk", is.ppk, ppk->value, ppk->low, ppk->high, ppk->lower_bound,
		!ppk->quotable},
	    {"Ppl", is.ppl, study->ppl, NAN, NAN, NAN, !ppk->quotable},
	    {"Ppu", is.ppu, study->ppu, NAN, NAN, NAN, !ppk->quotable},
	    {"Pp", is.pp, study->pp, study->pp_95.low, study->pp_95.high, NAN,
		!ppk->quotable},
	    {"Cpk", is.cpk, cpk->value, cpk->low, cpk->high, cpk->lower_bound,
		!cpk->quotable},
	    {"Cp", is.cp, study->cp, study->cp_95.low, study->cp_95.high, NAN,
		!cpk->quotable},
	    {"Cpm", "all scatter about the target: in the middle", study->cpm, NAN, NAN,
		NAN, !ppk->quotable},
	};
	char words[STUDY_WORDS];

	page_table(page, NULL, "Indices", columns, COUNT(columns));
	for (size_t i = 0; i < COUNT(rows); i++)
		put_index_row(page, &rows[i]);
	put_percentile_row(page, study);
	page_table_end(page);
	study_words_reasons(study, ppk->reasons, words);
	if (*words && !(ppk->reasons & STUDY_BIT(STUDY_NO_LIMIT)))
		page_note(page, NULL, TONE_PLAIN, "Withheld, because %s.", words);
	study_words_reasons(study, cpk->reasons, words);
	if (*words && ppk->reasons == 0 && !study->zero_bounded)
		page_note(
		    page, NULL, TONE_PLAIN, "Cpk and Cp: withheld, because %s.", words);
}

/* --- the distribution ----------------------------------------------------------------------- */

static void
put_fits(struct page *page, const struct capability_view *view)
{
	static const struct column columns[] = {
	    {NULL, "distribution", 0},
	    {NULL, "fits, p", 0},
	    {NULL, "0.135 % below", 0},
	    {NULL, "median", 0},
	    {NULL, "0.135 % above", 0},
	    {NULL, "lower index", 0},
	    {NULL, "upper index", 0},
	};
	const struct study *study = view->study;

	page_table(page, NULL, NULL, columns, COUNT(columns));
	for (size_t i = 0; i < study->fits.count; i++) {
		const struct fit *fit = &study->fits.list[i];
		char low[CAPABILITY_FIGURE], median[CAPABILITY_FIGURE],
		    high[CAPABILITY_FIGURE];
		capability_value(view, fit->quantiles.x00135, low);
		capability_value(view, fit->quantiles.x50, median);
		capability_value(view, fit->quantiles.x99865, high);
		const struct cell cells[] = {
		    cell_words(family_table[fit->family].name),
		    isnan(fit->p) ? cell_absent(NULL) : cell_number(fit->p, 3),
		    cell_words(low),
		    cell_words(median),
		    cell_words(high),
		    isnan(fit->index.ppl) ? cell_absent("")
					  : cell_number(fit->index.ppl, 2),
		    isnan(fit->index.ppu) ? cell_absent("")
					  : cell_number(fit->index.ppu, 2),
		};
		page_row(page, cells);
	}
	page_table_end(page);
}

static void
put_distribution(struct page *page, const struct capability_view *view)
{
	const struct study *study = view->study;
	const struct normality *normality = &study->normality;
	const char *used = study_words_distribution(study);

	page_open(page, GROUP_OBJECT, NULL, "Distribution");
	if (!isnan(normality->p))
		page_note(page, NULL, TONE_PLAIN,
		    "Anderson-Darling of the normal distribution: A2 %.3f, adjusted "
		    "for the number of values %.3f, p %s%.3g by its published "
		    "formula.",
		    normality->a2, normality->a2_adjusted,
		    normality->p_below ? "below " : "", normality->p);
	put_fits(page, view);
	if (study->fits.count > 0)
		page_note(page, NULL, TONE_PLAIN, "Fitted by maximum likelihood%s.%s",
		    study->zero_bounded
			? ""
			: ": the normal one has n in its deviation, where all other "
			  "figures have n - 1",
		    isnan(normality->p) ? ""
					: " The p of this table decides: unlike the "
					  "published formula it allows for values that "
					  "are rounded.");
	if (used && study->described.sd > 0)
		page_note(page, NULL, TONE_PLAIN, "In use: %s%s.", used,
		    study_distribution(study).family == FAMILY_NORMAL
			? ", with the deviation of all values (n - 1)"
			: "");
	page_close(page);
}

/* A share as parts in a million. */
static struct cell
ppm(double share)
{
	return isnan(share) ? cell_absent(NULL)
	                    : cell_number(share * 1e6, share < 1e-5 ? 3 : 0);
}

static void
put_beyond(struct page *page, const struct study *study)
{
	if (isnan(study->lower) && isnan(study->upper))
		return;
	page_open(page, GROUP_OBJECT, NULL, "Beyond the limits");
	if (!isnan(study->lower)) {
		page_field(page, NULL, "seen below",
		    cell_count((int64_t)study->observed_below));
		page_field(page, NULL, "expected below, in a million",
		    ppm(study->expected_below));
	}
	if (!isnan(study->upper)) {
		page_field(page, NULL, "seen above",
		    cell_count((int64_t)study->observed_above));
		page_field(page, NULL, "expected above, in a million",
		    ppm(study->expected_above));
	}
	page_field(page, NULL, "by counting at most, in a million (95 %)",
	    ppm(study->observed_most));
	page_close(page);
}

void
capability_put_people(struct page *page, const struct capability_view *view)
{
	put_verdict(page, view);
	if (page_draws(page) && view->study->described.n > 0)
		capability_picture_put(page, view);
	put_values(page, view);
	put_indices(page, view->study);
	capability_put_course(page, view);
	put_distribution(page, view);
	put_beyond(page, view->study);
	capability_put_remarks(page, view);
}
