/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What changed during the time itself. */
#include <inttypes.h>
#include <math.h>
#include <stdio.h>

#include "cli/report/report_compare_people.h"
#include "cli/wording/shown.h"
#include "cli/wording/study_words.h"

#define COUNT(array) (sizeof(array) / sizeof((array)[0]))

enum { NAMED = 4, FIGURE = 80 };

const char *
report_compare_how(const struct comparison_changed *changed)
{
	return changed->kind == ONSET_NONE ? "wandered"
	                                   : study_words_onset(changed->kind);
}

struct cell
report_compare_change_cell(
    const struct settings *settings, const struct comparison *one, double value)
{
	if (!comparison_has_changed(one))
		return cell_absent(NULL);
	return one->changed.kind == ONSET_SCATTER
	           ? shown_deviation(settings, one->feature, value)
	           : shown_value(settings, one->feature, value);
}

/* How far it went: deviations of the reference, also of a scatter. */
static double
how_far(const struct comparison *one)
{
	double far = one->changed.kind == ONSET_SCATTER ? one->changed.deviations - 1
	                                                : one->changed.deviations;

	return isnan(far) ? INFINITY : fabs(far);
}

/* Whether a is named before b: the farthest first, then by the catalogue. */
static bool
is_before(const struct comparison *a, const struct comparison *b)
{
	double x = how_far(a), y = how_far(b);

	return x > y || (!(y > x) && a->feature < b->feature);
}

/* The one behind `last` (NULL: the first); NULL when there is none. */
static const struct comparison *
next_of(const struct report_compare *report, const struct comparison *last)
{
	const struct comparison *next = NULL;

	for (size_t i = 0; i < report->count; i++) {
		const struct comparison *one = &report->list[i];
		if (comparison_has_changed(one) && (!last || is_before(last, one)) &&
		    (!next || is_before(one, next)))
			next = one;
	}
	return next;
}

void
report_compare_changed(
    const struct report_compare *report, char words[static REPORT_COMPARE_WORDS])
{
	const size_t room = REPORT_COMPARE_WORDS;
	size_t all = report_compare_count(report).changed, named = 0, used = 0;
	const struct comparison *one = NULL;

	words[0] = '\0';
	for (; named < NAMED && (one = next_of(report, one)) != NULL; named++)
		used += (size_t)snprintf(words + used, room - used,
		    named == 0 ? "%s%s changed during this time, from shot %" PRId64
				 " on"
			       : "%s%s from shot %" PRId64 " on",
		    named == 0 ? "" : ", ", feature_get(one->feature)->name,
		    one->changed.shot);
	if (all > named)
		snprintf(words + used, room - used, " and %zu more", all - named);
}

bool
report_compare_unsteady(const struct comparison *one)
{
	return one->unstable && one->both == EQUIVALENCE_OPEN &&
	       !comparison_has_changed(one);
}

static const struct column columns[] = {
    {NULL, "feature", 0},
    {NULL, "how", 0},
    {NULL, "unit", 0},
    {NULL, "mean then", 0},
    {NULL, "before", 0},
    {NULL, "since", 0},
    {NULL, "s off", 0},
    {NULL, "from shot (95 %)", 0},
};

static void
put_row(struct page *page, const struct report_compare *report,
    const struct comparison *one)
{
	const struct settings *settings = report->settings;
	const struct comparison_changed *changed = &one->changed;
	bool scatter = changed->kind == ONSET_SCATTER;
	char shot[FIGURE];

	int used = snprintf(shot, sizeof shot, "%" PRId64, changed->shot);
	if (changed->earliest > 0)
		snprintf(shot + used, sizeof shot - (size_t)used,
		    " (%" PRId64 " to %" PRId64 ")", changed->earliest,
		    changed->latest);
	const struct cell cells[] = {
	    cell_words(feature_get(one->feature)->name),
	    cell_words(scatter ? "its s" : report_compare_how(changed)),
	    cell_words(shown_unit(settings, one->feature)),
	    report_compare_change_cell(
		settings, one, scatter ? one->then.sd : one->then.mean),
	    report_compare_change_cell(settings, one, changed->before),
	    report_compare_change_cell(settings, one, changed->after),
	    scatter ? cell_absent(NULL) : cell_number(changed->deviations, 1),
	    cell_words(shot),
	};
	_Static_assert(COUNT(cells) == COUNT(columns), "a cell for each column");
	page_row(page, cells);
}

void
report_compare_put_changed(struct page *page, const struct report_compare *report)
{
	const struct comparison *one = NULL;

	page_table(page, NULL, "Changed during this time", columns, COUNT(columns));
	while ((one = next_of(report, one)) != NULL)
		put_row(page, report, one);
	page_table_end(page);
}
