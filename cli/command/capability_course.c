/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/capability_course.h"

#include <math.h>
#include <stdio.h>

#include "cli/command/capability_words.h"

#define COUNT(array) (sizeof(array) / sizeof((array)[0]))

enum { SIGNALS_SHOWN = 20, SLOTS = 96 };

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
    char words[static SLOTS])
{
	const char *slot = capability_slot(view);

	if (count == 0)
		snprintf(words, SLOTS, "never");
	else if (count == 1)
		snprintf(words, SLOTS, "at %s %zu alone", slot, first);
	else
		snprintf(words, SLOTS, "at %zu %ss, first at %s %zu", count, slot, slot,
		    first);
}

static void
put_memory_charts(struct page *page, const struct capability_view *view)
{
	const struct study *study = view->study;
	char last[CAPABILITY_FIGURE], low[CAPABILITY_FIGURE], high[CAPABILITY_FIGURE];
	char where[SLOTS];

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

void
capability_put_course(struct page *page, const struct capability_view *view)
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
