/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/report/report_compare.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "cli/report/report_words.h"
#include "cli/wording/shown.h"

#define COUNT(array) (sizeof(array) / sizeof((array)[0]))

enum { FIGURE = 80, NAMES = 600 };

struct report_compare_counts
report_compare_count(const struct report_compare *report)
{
	struct report_compare_counts counts = {.refused = report->refused_count};

	for (size_t i = 0; i < report->count; i++) {
		enum equivalence_verdict both = report->list[i].both;
		counts.same += both == EQUIVALENCE_SAME;
		counts.different += both == EQUIVALENCE_DIFFERENT;
		counts.open += both == EQUIVALENCE_OPEN;
	}
	return counts;
}

/* --- the answer --------------------------------------------------------------------------- */

/* "tool_mean_c, recovery_s and 3 more" */
static void
names_of(const struct report_compare *report, enum equivalence_verdict verdict,
    char names[static NAMES])
{
	enum { NAMED = 6 };
	size_t used = 0, named = 0, more = 0;

	names[0] = '\0';
	for (size_t i = 0; i < report->count; i++) {
		if (report->list[i].both != verdict)
			continue;
		if (named == NAMED) {
			more++;
			continue;
		}
		used += (size_t)snprintf(names + used, NAMES - used, "%s%s",
		    named++ ? ", " : "", feature_get(report->list[i].feature)->name);
	}
	if (more > 0)
		snprintf(names + used, NAMES - used, " and %zu more", more);
}

void
report_compare_put_answer(struct page *page, const struct report_compare *report)
{
	const struct report_compare_counts counts = report_compare_count(report);
	char names[NAMES];

	if (report->count == 0) {
		page_note(page, "answer", TONE_BAD, "nothing could be compared%s",
		    counts.refused > 0 ? ": see what stands against it below" : "");
		return;
	}
	if (counts.different + counts.open == 0) {
		page_note(page, "answer", TONE_GOOD,
		    "all %zu features that could be compared are shown to be what they "
		    "were%s",
		    counts.same,
		    counts.refused > 0 ? "; others could not be compared" : "");
		return;
	}
	if (counts.different > 0) {
		names_of(report, EQUIVALENCE_DIFFERENT, names);
		page_note(page, "answer", TONE_BAD, "%zu of %zu features different: %s",
		    counts.different, report->count, names);
	} else {
		page_note(page, "answer", TONE_PLAIN,
		    "of %zu features none is shown to be different, and %zu to be the "
		    "same",
		    report->count, counts.same);
	}
	if (counts.open > 0) {
		names_of(report, EQUIVALENCE_OPEN, names);
		page_note(page, "open", TONE_PLAIN,
		    "%zu open, since the shots are too few to tell, or depend on each "
		    "other too much: %s. Take a longer time, and a longer reference "
		    "run.",
		    counts.open, names);
	}
}

/* --- the features ---------------------------------------------------------------------------- */

static const struct column columns[] = {
    {"feature", "feature", COLUMN_EACH},
    {"line", NULL, 0},
    {"side", NULL, 0},
    {"recipe", NULL, 0},
    {"tool", NULL, 0},
    {"unit", NULL, 0},
    {NULL, "unit", 0},
    {"verdict", NULL, 0},
    {"mean_verdict", "mean is", 0},
    {"n_then", NULL, 0},
    {"n_now", NULL, 0},
    {"mean_then", "mean then", 0},
    {"mean_now", "now", 0},
    {"difference", "difference", 0},
    {"difference_low", NULL, 0},
    {"difference_high", NULL, 0},
    {"margin", "margin", 0},
    {"margin_of", NULL, 0},
    {"p", NULL, 0},
    {NULL, "n then", 1},
    {NULL, "now", 1},
    {"scatter_verdict", "scatter is", 1},
    {"sd_then", "s then", 1},
    {"sd_now", "now", 1},
    {"scatter_ratio", "ratio", 1},
    {"scatter_ratio_low", NULL, 1},
    {"scatter_ratio_high", NULL, 1},
    {"run_worth", NULL, 1},
    {"reference_worth", NULL, 1},
    {"lower", NULL, 2},
    {"upper", NULL, 2},
    {"ppk_then", "Ppk then", 2},
    {"ppk_then_low", NULL, 2},
    {"ppk_then_high", NULL, 2},
    {"ppk_then_quotable", NULL, 2},
    {"ppk_now", "now", 2},
    {"ppk_now_low", NULL, 2},
    {"ppk_now_high", NULL, 2},
    {"ppk_now_quotable", NULL, 2},
};

static struct cell
verdict_cell_of(enum equivalence_verdict verdict)
{
	struct cell cell = cell_words(comparison_verdict_text(verdict));

	switch (verdict) {
	case EQUIVALENCE_SAME:
		cell.instead = "the same";
		cell.tone = TONE_GOOD;
		break;
	case EQUIVALENCE_DIFFERENT:
		cell.tone = TONE_BAD;
		break;
	case EQUIVALENCE_OPEN:
		cell.tone = TONE_FAINT;
		break;
	}
	return cell;
}

static bool
is_there(const struct cell *cell)
{
	return cell->kind != CELL_ABSENT && isfinite(cell->shown);
}

/* "-0.32 (-0.51 to -0.13)": `centre` and its bounds as cells. */
static struct cell
between(struct cell centre, struct cell low, struct cell high, bool sign,
    char figure[static FIGURE])
{
	if (!is_there(&centre))
		return cell_absent(NULL);
	if (!is_there(&low) || !is_there(&high))
		snprintf(figure, FIGURE, sign ? "%+.*f" : "%.*f", centre.digits,
		    centre.shown);
	else
		snprintf(figure, FIGURE,
		    sign ? "%+.*f (%+.*f to %+.*f)" : "%.*f (%.*f to %.*f)",
		    centre.digits, centre.shown, centre.digits, low.shown,
		    centre.digits, high.shown);
	centre.instead = figure;
	return centre;
}

static struct cell
index_cell(const struct study_index *index, char figure[static FIGURE])
{
	struct cell cell = between(cell_number(index->value, 2),
	    cell_number(index->low, 2), cell_number(index->high, 2), false, figure);

	if (cell.kind != CELL_ABSENT && !index->quotable) {
		snprintf(figure, FIGURE, "withheld");
		cell.tone = TONE_FAINT;
	}
	return cell;
}

static void
put_feature(struct page *page, const struct report_compare *report,
    const struct comparison *one)
{
	const struct settings *settings = report->settings;
	const struct equivalence *e = &one->equivalence;
	int id = one->feature;
	bool limited = !isnan(one->lower) || !isnan(one->upper);
	char difference[FIGURE], ratio[FIGURE], then[FIGURE], now[FIGURE];
	const struct cell low = shown_deviation(settings, id, e->difference_90.low),
			  high = shown_deviation(settings, id, e->difference_90.high),
			  ratio_low = cell_number(e->scatter_ratio_95.low, 2),
			  ratio_high = cell_number(e->scatter_ratio_95.high, 2);
	const struct cell cells[] = {
	    cell_words(feature_get(id)->name),
	    cell_words(report->line),
	    shown_name(report->side),
	    shown_name(report->recipe),
	    shown_name(report->tool),
	    cell_words(feature_unit_text(id)),
	    cell_words(shown_unit(settings, id)),
	    cell_words(comparison_verdict_text(one->both)),
	    verdict_cell_of(one->mean),
	    cell_count((int64_t)one->then.n),
	    cell_count((int64_t)one->now.n),
	    shown_value(settings, id, one->then.mean),
	    shown_value(settings, id, one->now.mean),
	    between(shown_deviation(settings, id, e->difference), low, high, true,
		difference),
	    low,
	    high,
	    shown_deviation(settings, id, e->margin),
	    cell_words(comparison_margin_text(one->margin_of)),
	    cell_number(e->p, 4),
	    cell_count((int64_t)one->then.n),
	    cell_count((int64_t)one->now.n),
	    verdict_cell_of(one->scatter),
	    shown_deviation(settings, id, one->then.sd),
	    shown_deviation(settings, id, one->now.sd),
	    between(
		cell_number(e->scatter_ratio, 2), ratio_low, ratio_high, false, ratio),
	    ratio_low,
	    ratio_high,
	    cell_number(e->run_worth, 1),
	    cell_number(e->reference_worth, 1),
	    shown_value(settings, id, one->lower),
	    shown_value(settings, id, one->upper),
	    index_cell(&one->ppk_then, then),
	    cell_number(one->ppk_then.low, 2),
	    cell_number(one->ppk_then.high, 2),
	    limited ? cell_truth(one->ppk_then.quotable) : cell_absent(NULL),
	    index_cell(&one->ppk_now, now),
	    cell_number(one->ppk_now.low, 2),
	    cell_number(one->ppk_now.high, 2),
	    limited ? cell_truth(one->ppk_now.quotable) : cell_absent(NULL),
	};
	_Static_assert(COUNT(cells) == COUNT(columns), "a cell for each column");
	page_row(page, cells);
}

/* --- what could not be compared ------------------------------------------------------------------ */

static void
put_refused(struct page *page, const struct report_compare *report)
{
	static const struct column refused_columns[] = {
	    {"feature", "not compared", 0},
	    {"reason", "because", 0},
	};

	page_table(page, "refused", NULL, refused_columns, COUNT(refused_columns));
	for (size_t i = 0; i < report->refused_count; i++) {
		const struct cell cells[] = {
		    cell_words(feature_get(report->refused[i].feature)->name),
		    cell_words(report->refused[i].reason),
		};
		page_row(page, cells);
	}
	page_table_end(page);
}

static void
put_set_points(struct page *page, const struct report_compare *report)
{
	static const struct column set_point_columns[] = {
	    {"set_point", "set point", 0},
	    {"then", "then", 0},
	    {"now", "now", 0},
	};

	if (*report->set_points_words)
		page_note(page, "set_points_words", TONE_PLAIN, "%s",
		    report->set_points_words);
	page_table(
	    page, "set_points", NULL, set_point_columns, COUNT(set_point_columns));
	for (size_t i = 0; i < report->set_point_count; i++) {
		const struct report_compare_set_point *one = &report->set_points[i];
		const struct cell cells[] = {
		    cell_words(one->channel),
		    shown_channel(report->settings, one->dimension, one->then),
		    shown_channel(report->settings, one->dimension, one->now),
		};
		page_row(page, cells);
	}
	page_table_end(page);
}

void
report_compare_put(struct page *page, const struct report_compare *report)
{
	put_set_points(page, report);
	page_table(page, "features", NULL, columns, COUNT(columns));
	for (size_t i = 0; i < report->count; i++)
		put_feature(page, report, &report->list[i]);
	page_table_end(page);
	put_refused(page, report);
}

void
report_compare_put_remarks(struct page *page)
{
	page_open(page, GROUP_OBJECT, "remarks", "Remarks");
	page_note(page, "method", TONE_PLAIN,
	    "The same: the difference of the means is shown to lie within the margin "
	    "by "
	    "two one-sided tests at 5 %% each (in brackets the 90 %% interval that "
	    "belongs to them; D. J. Schuirmann 1987). Different: shown to lie outside. "
	    "Open: the shots are too few to tell. Shots that depend on each other "
	    "count for as many as they are worth; where that is fewer than %d, there "
	    "is no interval.",
	    CAPABILITY_LEAST_EFFECTIVE);
	page_note(page, "margin", TONE_PLAIN,
	    "The margin is --margin, else %.0f %% of the tolerance (upper less lower "
	    "limit), else without two limits one deviation of the reference: what "
	    "%.0f %% of the tolerance is where Pp is 1.67.",
	    100 * COMPARISON_SHARE, 100 * COMPARISON_SHARE);
	page_note(page, "scatter", TONE_PLAIN,
	    "A scatter is the same where the 95 %% interval of the ratio lies within "
	    "%.2f to %.2f, different where it lies outside. Both Ppk are by today's "
	    "limits.",
	    1 / COMPARISON_RATIO, COMPARISON_RATIO);
	page_close(page);
}
