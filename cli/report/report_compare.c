/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/report/report_compare.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "cli/report/report_compare_people.h"
#include "cli/wording/shown.h"

#define COUNT(array) (sizeof(array) / sizeof((array)[0]))

enum { NAMES = REPORT_COMPARE_WORDS, FIGURE = 64 };

struct report_compare_counts
report_compare_count(const struct report_compare *report)
{
	struct report_compare_counts counts = {.refused = report->refused_count};

	for (size_t i = 0; i < report->count; i++) {
		enum equivalence_verdict both = report->list[i].both;
		if (comparison_has_changed(&report->list[i])) {
			counts.changed++;
			continue;
		}
		counts.same += both == EQUIVALENCE_SAME;
		counts.different += both == EQUIVALENCE_DIFFERENT;
		counts.open += both == EQUIVALENCE_OPEN;
	}
	return counts;
}

/* --- the answer --------------------------------------------------------------------------- */

bool
report_compare_limited(const struct comparison *one)
{
	return !isnan(one->lower) || !isnan(one->upper);
}

/* "tool_mean_c, recovery_s and 3 more": those that are different, with limits first. */
static void
names_of(const struct report_compare *report, char names[static NAMES])
{
	enum { NAMED = 6 };
	size_t used = 0, named = 0, more = 0;

	names[0] = '\0';
	for (int pass = 0; pass < 2; pass++)
		for (size_t i = 0; i < report->count; i++) {
			const struct comparison *one = &report->list[i];
			if (one->both != EQUIVALENCE_DIFFERENT ||
			    comparison_has_changed(one) ||
			    report_compare_limited(one) != (pass == 0))
				continue;
			if (named == NAMED) {
				more++;
				continue;
			}
			used += (size_t)snprintf(names + used, NAMES - used, "%s%s",
			    named++ ? ", " : "", feature_get(one->feature)->name);
		}
	if (more > 0)
		snprintf(names + used, NAMES - used, " and %zu more", more);
}

/* " Of the 4 with limits 1 different, 2 the same, 1 open." */
static void
tell_limited(const struct report_compare *report, char words[static NAMES])
{
	size_t counts[] = {0, 0, 0}, changed = 0, all = 0;
	char before[FIGURE] = "";

	for (size_t i = 0; i < report->count; i++) {
		const struct comparison *one = &report->list[i];
		if (!report_compare_limited(one))
			continue;
		all++;
		if (comparison_has_changed(one))
			changed++;
		else
			counts[one->both]++;
	}
	if (changed > 0)
		snprintf(before, sizeof before, "%zu changed, ", changed);
	words[0] = '\0';
	if (all > 0 && all < report->count)
		snprintf(words, NAMES,
		    ". Of the %zu with limits %s%zu different, %zu the same, %zu open",
		    all, before, counts[EQUIVALENCE_DIFFERENT],
		    counts[EQUIVALENCE_SAME], counts[EQUIVALENCE_OPEN]);
}

/* "1 of 40 features different: sag_s; 38 the same, 1 open", behind what changed. */
static void
put_changed(struct page *page, const struct report_compare *report, const char *names,
    const char *limited)
{
	const struct report_compare_counts counts = report_compare_count(report);
	char changed[NAMES], different[NAMES + FIGURE] = "";

	report_compare_changed(report, changed);
	if (counts.different > 0)
		snprintf(different, sizeof different, "%zu different: %s, ",
		    counts.different, names);
	page_note(page, "answer", TONE_BAD,
	    "not what it was: %s. Of all %zu features %zu changed, %s%zu the same, "
	    "%zu "
	    "open%s",
	    changed, report->count, counts.changed, different, counts.same, counts.open,
	    limited);
}

static void
put_first(struct page *page, const struct report_compare *report)
{
	const struct report_compare_counts counts = report_compare_count(report);
	char names[NAMES], limited[NAMES];

	names_of(report, names);
	tell_limited(report, limited);
	if (report->count == 0)
		page_note(page, "answer", TONE_BAD, "nothing could be compared%s",
		    counts.refused > 0 ? ": see what stands against it below" : "");
	else if (counts.changed > 0)
		put_changed(page, report, names, limited);
	else if (counts.different + counts.open == 0)
		page_note(page, "answer", TONE_GOOD,
		    "all %zu features that could be compared are shown to be what they "
		    "were%s",
		    counts.same,
		    counts.refused > 0 ? "; others could not be compared" : "");
	else if (counts.different > 0)
		page_note(page, "answer", TONE_BAD,
		    "%zu of %zu features different: %s; %zu the same, %zu open%s",
		    counts.different, report->count, names, counts.same, counts.open,
		    limited);
	else
		page_note(page, "answer", TONE_PLAIN,
		    "of %zu features none is shown to be different: %zu the same, %zu "
		    "open%s",
		    report->count, counts.same, counts.open, limited);
}

void
report_compare_put_answer(struct page *page, const struct report_compare *report)
{
	const struct report_compare_counts counts = report_compare_count(report);
	char needed[NAMES];
	size_t unsteady = 0;

	put_first(page, report);
	for (size_t i = 0; i < report->count; i++)
		unsteady += report_compare_unsteady(&report->list[i]);
	report_compare_needed(report, needed);
	if (counts.open > unsteady)
		page_note(page, "open", TONE_PLAIN,
		    "%zu open, since the shots are too few to tell, or depend on each "
		    "other too much%s",
		    counts.open - unsteady, needed);
	if (unsteady > 0)
		page_note(page, "unsteady", TONE_PLAIN,
		    "%zu open, since the shots are not steady among themselves: more "
		    "of them settle that only if they become so; 'evensoak report' "
		    "has the pictures",
		    unsteady);
}

/* --- the features ---------------------------------------------------------------------------- */

/* For machines, in the order of the catalogue. */
static const struct column columns[] = {
    {"feature", NULL, 0},
    {"line", NULL, 0},
    {"side", NULL, 0},
    {"recipe", NULL, 0},
    {"tool", NULL, 0},
    {"unit", NULL, 0},
    {"verdict", NULL, 0},
    {"mean_verdict", NULL, 0},
    {"n_then", NULL, 0},
    {"n_now", NULL, 0},
    {"mean_then", NULL, 0},
    {"mean_now", NULL, 0},
    {"difference", NULL, 0},
    {"difference_low", NULL, 0},
    {"difference_high", NULL, 0},
    {"margin", NULL, 0},
    {"margin_of", NULL, 0},
    {"p", NULL, 0},
    {"scatter_verdict", NULL, 0},
    {"sd_then", NULL, 0},
    {"sd_now", NULL, 0},
    {"scatter_ratio", NULL, 0},
    {"scatter_ratio_low", NULL, 0},
    {"scatter_ratio_high", NULL, 0},
    {"run_worth", NULL, 0},
    {"reference_worth", NULL, 0},
    {"lower", NULL, 0},
    {"upper", NULL, 0},
    {"ppk_then", NULL, 0},
    {"ppk_then_low", NULL, 0},
    {"ppk_then_high", NULL, 0},
    {"ppk_then_quotable", NULL, 0},
    {"ppk_now", NULL, 0},
    {"ppk_now_low", NULL, 0},
    {"ppk_now_high", NULL, 0},
    {"ppk_now_quotable", NULL, 0},
    {"more_shots", NULL, 0},
    {"change", NULL, 0},
    {"change_shot", NULL, 0},
    {"change_earliest", NULL, 0},
    {"change_latest", NULL, 0},
    {"change_before", NULL, 0},
    {"change_after", NULL, 0},
    {"change_deviations", NULL, 0},
};

static void
put_feature(struct page *page, const struct report_compare *report,
    const struct comparison *one)
{
	const struct settings *settings = report->settings;
	const struct equivalence *e = &one->equivalence;
	int id = one->feature;
	bool limited = report_compare_limited(one);
	const struct comparison_changed *change = &one->changed;
	bool changed = comparison_has_changed(one);
	const struct cell nothing = cell_absent(NULL);
	const struct cell cells[] = {
	    cell_words(feature_get(id)->name),
	    cell_words(report->line),
	    shown_name(report->side),
	    shown_name(report->recipe),
	    shown_name(report->tool),
	    cell_words(feature_unit_text(id)),
	    cell_words(comparison_text(one)),
	    cell_words(comparison_verdict_text(one->mean)),
	    cell_count((int64_t)one->then.n),
	    cell_count((int64_t)one->now.n),
	    shown_value(settings, id, one->then.mean),
	    shown_value(settings, id, one->now.mean),
	    shown_deviation(settings, id, e->difference),
	    shown_deviation(settings, id, e->difference_90.low),
	    shown_deviation(settings, id, e->difference_90.high),
	    shown_deviation(settings, id, e->margin),
	    cell_words(comparison_margin_text(one->margin_of)),
	    cell_number(e->p, 4),
	    cell_words(comparison_verdict_text(one->scatter)),
	    shown_deviation(settings, id, one->then.sd),
	    shown_deviation(settings, id, one->now.sd),
	    cell_number(e->scatter_ratio, 2),
	    cell_number(e->scatter_ratio_95.low, 2),
	    cell_number(e->scatter_ratio_95.high, 2),
	    cell_number(e->run_worth, 1),
	    cell_number(e->reference_worth, 1),
	    shown_value(settings, id, one->lower),
	    shown_value(settings, id, one->upper),
	    cell_number(one->ppk_then.value, 2),
	    cell_number(one->ppk_then.low, 2),
	    cell_number(one->ppk_then.high, 2),
	    limited ? cell_truth(one->ppk_then.quotable) : cell_absent(NULL),
	    cell_number(one->ppk_now.value, 2),
	    cell_number(one->ppk_now.low, 2),
	    cell_number(one->ppk_now.high, 2),
	    limited ? cell_truth(one->ppk_now.quotable) : cell_absent(NULL),
	    isfinite(one->more_shots) ? cell_count((int64_t)fmin(one->more_shots, 1e15))
				      : cell_absent(NULL),
	    changed ? cell_words(report_compare_how(change)) : nothing,
	    changed ? cell_count(change->shot) : nothing,
	    change->earliest > 0 ? cell_count(change->earliest) : nothing,
	    change->latest > 0 ? cell_count(change->latest) : nothing,
	    report_compare_change_cell(settings, one, change->before),
	    report_compare_change_cell(settings, one, change->after),
	    cell_number(change->deviations, 1),
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
	report_compare_put_people(page, report);
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
	    "is no interval. How many more would settle what is open is about so many, "
	    "and holds if means and scatters stay what they are so far.",
	    CAPABILITY_LEAST_EFFECTIVE);
	page_note(page, "changed", TONE_PLAIN,
	    "Changed during this time: the shots are unstable among themselves, a "
	    "step, "
	    "a drift or another scatter begins in one of them, and what it ends at "
	    "lies "
	    "beyond the margin by more than %.0f standard errors; a scatter beyond the "
	    "ratio. Wandered: no one beginning can be told, and its end lies beyond "
	    "the margin by more than %.0f deviations of the reference; told is the "
	    "shot "
	    "since which it has not been back within them. Then mean and scatter of "
	    "the "
	    "whole time are of no one process, and no more shots settle them: take the "
	    "time before that shot, or after.",
	    COMPARISON_BEYOND, COMPARISON_BEYOND);
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
