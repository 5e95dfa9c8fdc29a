/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/report/report_compare_people.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "cli/wording/shown.h"

#define COUNT(array) (sizeof(array) / sizeof((array)[0]))

enum { FIGURE = 80 };

/* --- how many more ------------------------------------------------------------------------- */

static int
by_size(const void *a, const void *b)
{
	const double *x = a, *y = b;

	return (*x > *y) - (*x < *y);
}

/* To two digits: it is about so many. */
static double
rounded(double count)
{
	double unit = pow(10, fmax(floor(log10(count)) - 1, 0));

	return ceil(count / unit - 1e-9) * unit;
}

struct needed {
	double some, most; /* shots for about half of them, for nine in ten ... */
	size_t some_count, most_count; /* ... which are so many */
	size_t count;                  /* that a number of shots would settle */
	size_t never; /* that no number would, without a longer reference run */
};

static struct needed
needed_of(const struct report_compare *report)
{
	struct needed needed = {0};
	double *counts = calloc(report->count + 1, sizeof *counts);

	for (size_t i = 0; counts && i < report->count; i++) {
		double more = report->list[i].more_shots;
		if (report_compare_unsteady(&report->list[i]))
			continue;
		needed.never += isinf(more) ? 1 : 0;
		if (isfinite(more))
			counts[needed.count++] = more;
	}
	if (counts && needed.count > 0) {
		qsort(counts, needed.count, sizeof *counts, by_size);
		needed.some_count = (needed.count + 1) / 2;
		needed.most_count = (9 * needed.count + 9) / 10;
		needed.some = rounded(counts[needed.some_count - 1]);
		needed.most = rounded(counts[needed.most_count - 1]);
	}
	free(counts);
	return needed;
}

void
report_compare_needed(
    const struct report_compare *report, char words[static REPORT_COMPARE_WORDS])
{
	const size_t room = REPORT_COMPARE_WORDS;
	const struct needed needed = needed_of(report);
	int used = 0;

	words[0] = '\0';
	if (needed.count == 1)
		used = snprintf(words, room,
		    ": about %.0f more shots of this kind would settle %s", needed.some,
		    needed.never > 0 ? "one" : "it");
	else if (needed.count > 1)
		used = snprintf(words, room,
		    ": about %.0f more shots of this kind would settle %zu of them, "
		    "about "
		    "%.0f would settle %zu",
		    needed.some, needed.some_count, needed.most, needed.most_count);
	if (needed.never > 0)
		snprintf(words + used, room - (size_t)used,
		    "%s %zu lie%s so near the edge of what matters that a longer "
		    "reference run is needed too",
		    used > 0 ? ";" : ":", needed.never, needed.never == 1 ? "s" : "");
}

/* --- cells ----------------------------------------------------------------------------------- */

/* "the same", "mean open", "mean and scatter different" */
static struct cell
verdict_cell(const struct comparison *one, char words[static FIGURE])
{
	enum equivalence_verdict both = one->both;
	const char *of = one->mean == both && one->scatter == both ? "mean and scatter"
	                 : one->mean == both                       ? "mean"
	                                                           : "scatter";

	snprintf(words, FIGURE, "%s %s", of, comparison_verdict_text(both));
	struct cell cell = cell_words(both == EQUIVALENCE_SAME ? "the same" : words);
	switch (both) {
	case EQUIVALENCE_SAME:
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

static struct cell
more_cell(const struct comparison *one)
{
	if (report_compare_unsteady(one))
		return cell_absent("not steady");
	if (isinf(one->more_shots))
		return cell_absent("reference too");
	return isnan(one->more_shots)
	           ? cell_absent(one->both == EQUIVALENCE_OPEN ? "unknown" : NULL)
	           : cell_number(rounded(one->more_shots), 0);
}

/* --- tables ---------------------------------------------------------------------------------- */

/* A row in full. */
static const struct column full[] = {
    {NULL, "feature", COLUMN_EACH}, {NULL, "verdict", 0}, {NULL, "unit", 0},
    {NULL, "mean then", 0}, {NULL, "now", 0}, {NULL, "difference", 0},
    {NULL, "margin", 1}, {NULL, "n then", 1}, {NULL, "now", 1}, {NULL, "s then", 1},
    {NULL, "now", 1}, {NULL, "ratio of s", 1}, {NULL, "lower", 2}, {NULL, "upper", 2},
    {NULL, "Ppk then", 2}, {NULL, "now", 2},
    {NULL, "more shots", 1}, /* left away where all is different */
};

static void
put_full(struct page *page, const struct report_compare *report,
    const struct comparison *one)
{
	const struct settings *settings = report->settings;
	const struct equivalence *e = &one->equivalence;
	int id = one->feature;
	bool limited = report_compare_limited(one);
	char verdict[FIGURE], difference[FIGURE], ratio[FIGURE], then[FIGURE],
	    now[FIGURE];
	const struct cell cells[] = {
	    cell_words(feature_get(id)->name),
	    verdict_cell(one, verdict),
	    cell_words(shown_unit(settings, id)),
	    shown_value(settings, id, one->then.mean),
	    shown_value(settings, id, one->now.mean),
	    between(shown_deviation(settings, id, e->difference),
		shown_deviation(settings, id, e->difference_90.low),
		shown_deviation(settings, id, e->difference_90.high), true, difference),
	    shown_deviation(settings, id, e->margin),
	    cell_count((int64_t)one->then.n),
	    cell_count((int64_t)one->now.n),
	    shown_deviation(settings, id, one->then.sd),
	    shown_deviation(settings, id, one->now.sd),
	    between(cell_number(e->scatter_ratio, 2),
		cell_number(e->scatter_ratio_95.low, 2),
		cell_number(e->scatter_ratio_95.high, 2), false, ratio),
	    limited ? shown_value(settings, id, one->lower) : cell_words(""),
	    limited ? shown_value(settings, id, one->upper) : cell_words(""),
	    limited ? index_cell(&one->ppk_then, then) : cell_words(""),
	    limited ? index_cell(&one->ppk_now, now) : cell_words(""),
	    more_cell(one),
	};
	_Static_assert(COUNT(cells) == COUNT(full), "a cell for each column");
	page_row(page, cells);
}

static const struct column compact[] = {
    {NULL, "feature", COLUMN_EACH},
    {NULL, "verdict", 0},
    {NULL, "unit", 0},
    {NULL, "mean then", 0},
    {NULL, "now", 0},
    {NULL, "difference", 0},
    {NULL, "ratio of s", 0},
    {NULL, "more shots", 0},
};

static void
put_compact(struct page *page, const struct report_compare *report,
    const struct comparison *one)
{
	const struct settings *settings = report->settings;
	const struct cell nothing = cell_absent(NULL);
	int id = one->feature;
	char verdict[FIGURE], difference[FIGURE];
	const struct cell cells[] = {
	    cell_words(feature_get(id)->name),
	    verdict_cell(one, verdict),
	    cell_words(shown_unit(settings, id)),
	    shown_value(settings, id, one->then.mean),
	    shown_value(settings, id, one->now.mean),
	    between(shown_deviation(settings, id, one->equivalence.difference), nothing,
		nothing, true, difference),
	    cell_number(one->equivalence.scatter_ratio, 2),
	    more_cell(one),
	};
	_Static_assert(COUNT(cells) == COUNT(compact), "a cell for each column");
	page_row(page, cells);
}

/* Whether a row is of the first table, the second or the third; -1: of that before them. */
static int
table_of(const struct comparison *one)
{
	if (comparison_has_changed(one))
		return -1;
	if (one->both == EQUIVALENCE_DIFFERENT)
		return 0;
	return report_compare_limited(one) ? 1 : 2;
}

/* Those of one table that have limits, or that have none. */
static void
put_rows(
    struct page *page, const struct report_compare *report, int table, bool limited)
{
	for (size_t i = 0; i < report->count; i++) {
		const struct comparison *one = &report->list[i];
		if (table_of(one) != table || report_compare_limited(one) != limited)
			continue;
		if (table < 2)
			put_full(page, report, one);
		else
			put_compact(page, report, one);
	}
}

void
report_compare_put_people(struct page *page, const struct report_compare *report)
{
	/* the last column tells of what is open */
	size_t last = report_compare_count(report).open > 0 ? 0 : 1;

	report_compare_put_changed(page, report);
	page_table(page, NULL, "Different", full, COUNT(full) - 1);
	put_rows(page, report, 0, true);
	put_rows(page, report, 0, false);
	page_table_end(page);
	page_table(page, NULL, "With limits", full, COUNT(full) - last);
	put_rows(page, report, 1, true);
	page_table_end(page);
	page_table(page, NULL, "The rest", compact, COUNT(compact) - last);
	put_rows(page, report, 2, false);
	page_table_end(page);
}
