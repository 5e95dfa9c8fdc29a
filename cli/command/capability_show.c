/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/capability_put.h"

#include <math.h>
#include <stdio.h>

#include "cli/command/capability_picture.h"
#include "cli/command/capability_remarks.h"
#include "cli/command/capability_words.h"
#include "cli/wording/study_words.h"

#define COUNT(array) (sizeof(array) / sizeof((array)[0]))

enum { SIGNALS_SHOWN = 20, LABEL = 96 };

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

static enum page_tone
tone_of(enum study_verdict verdict)
{
	switch (verdict) {
	case STUDY_CAPABLE:
		return TONE_GOOD;
	case STUDY_NOT_CAPABLE:
		return TONE_BAD;
	case STUDY_NOT_ESTABLISHED:
		return TONE_STRONG;
	}
	return TONE_PLAIN;
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
	page_note(page, NULL, tone_of(study->verdict), "%s of %s: %s%s: %s%s.",
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

/* --- the course of time --------------------------------------------------------------------- */

static void
put_signals(struct page *page, const struct capability_view *view)
{
	const struct column columns[] = {
	    {NULL, capability_slot(view), 0}, {NULL, "pattern", 0}};
	const struct study *study = view->study;
	const struct signals *signals = &study->signals;

	if (view->asked->rules == 0)
		return;
	page_table(page, NULL, NULL, columns, COUNT(columns));
	for (size_t i = 0; i < signals->count && i < SIGNALS_SHOWN; i++) {
		const struct cell cells[] = {
		    cell_count((int64_t)signals->list[i].slot),
		    cell_words(run_rule_name(signals->list[i].rule)),
		};
		page_row(page, cells);
	}
	page_table_end(page);
	if (signals->count > SIGNALS_SHOWN)
		page_note(page, NULL, TONE_PLAIN,
		    "... and %zu more; --format json has all.",
		    signals->count - SIGNALS_SHOWN);
	if (study->described.n == 0)
		return;
	const char *there = signals->count > 0 ? "these are" : "none is";
	if (isnan(study->signals_chance))
		page_note(page, NULL, TONE_PLAIN,
		    "Patterns point at %ss to look at, and %s there. How often a "
		    "perfect series of such values shows one is not known.",
		    capability_slot(view), there);
	else
		page_note(page, NULL, TONE_PLAIN,
		    "Patterns point at %ss to look at, and %s there. A perfect series "
		    "of this length shows at least one in %s%.0f %% of cases.",
		    capability_slot(view), there,
		    study->signals_chance < 0.005   ? "less than "
		    : study->signals_chance > 0.995 ? "more than "
						    : "",
		    100 * fmin(fmax(study->signals_chance, 0.01), 0.99));
}

/* "never", "at value 17 alone", "at 5 values, first at value 3". */
static void
tell_slots(const struct capability_view *view, size_t count, size_t first,
    char words[static LABEL])
{
	const char *slot = capability_slot(view);

	if (count == 0)
		snprintf(words, LABEL, "never");
	else if (count == 1)
		snprintf(words, LABEL, "at %s %zu alone", slot, first);
	else
		snprintf(words, LABEL, "at %zu %ss, first at %s %zu", count, slot, slot,
		    first);
}

static void
put_memory_charts(struct page *page, const struct capability_view *view)
{
	const struct study *study = view->study;
	char last[CAPABILITY_FIGURE], low[CAPABILITY_FIGURE], high[CAPABILITY_FIGURE];
	char where[LABEL];

	if (view->asked->ewma && !isnan(study->ewma.last)) {
		capability_value(view, study->ewma.last, last);
		capability_value(view, study->ewma.low, low);
		capability_value(view, study->ewma.high, high);
		tell_slots(
		    view, study->ewma.signal_count, study->ewma.first_signal, where);
		page_note(page, NULL, TONE_PLAIN,
		    "Exponentially weighted moving average: %s at the end, its limits "
		    "there %s and %s; beyond its limits %s.",
		    last, low, high, where);
	}
	if (view->asked->cusum && !isnan(study->cusum.high_last)) {
		capability_deviation(view, study->cusum.high_last, high);
		capability_deviation(view, study->cusum.low_last, low);
		tell_slots(
		    view, study->cusum.signal_count, study->cusum.first_signal, where);
		page_note(page, NULL, TONE_PLAIN,
		    "Cumulative sums: %s above and %s below at the end; beyond the "
		    "limit %s.",
		    high, low, where);
	}
}

static void
put_course(struct page *page, const struct capability_view *view)
{
	const struct capability *c = &view->study->c;
	char words[CAPABILITY_WORDS];

	page_open(page, GROUP_OBJECT, NULL, "In the course of time");
	capability_stability_words(view, words);
	page_note(page, NULL, TONE_PLAIN, "%s", words);
	put_signals(page, view);
	put_memory_charts(page, view);
	if (fabs(c->r1) > c->r1_bound)
		page_note(page, NULL, TONE_PLAIN,
		    "A value depends on the one before it: lag-1 autocorrelation %.2f, "
		    "by chance within %.2f. The %zu values tell as much as %.0f "
		    "independent ones.",
		    c->r1, c->r1_bound, c->n, c->n_effective);
	else if (!isnan(c->r1))
		page_note(page, NULL, TONE_PLAIN,
		    "No dependence of a value on the one before it is seen: lag-1 "
		    "autocorrelation %.2f, by chance within %.2f.",
		    c->r1, c->r1_bound);
	page_close(page);
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
	put_course(page, view);
	put_distribution(page, view);
	put_beyond(page, view->study);
	capability_put_remarks(page, view);
}
