/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/report/report_verdicts.h"

#include <math.h>
#include <stdio.h>

#include "cli/report/report_words.h"
#include "cli/wording/shown.h"
#include "cli/wording/study_words.h"
#include "cli/wording/verdict.h"

#define COUNT(array) (sizeof(array) / sizeof((array)[0]))

/* The chance that a stable series is called unstable: see cli/stats/stability.h. */
#define FALSE_ALARM 0.05

enum {
	SENTENCES = 48, /* that people read below the table */
	ROWS = 200,     /* and in it */
};

/* --- the table ------------------------------------------------------------------------------ */

static const char *
stability_words(enum stability_verdict verdict)
{
	switch (verdict) {
	case STABILITY_STABLE:
		return "yes";
	case STABILITY_UNSTABLE:
		return "no";
	case STABILITY_TOO_FEW:
	case STABILITY_NO_VARIATION:
	case STABILITY_NO_NEIGHBOURS:
		return "unknown";
	}
	return "";
}

static void
put_verdict(const struct report_line *line, const struct population *population,
    const struct judged *judged)
{
	const struct study *study = judged->study;
	const struct study_shown shown = study_shown(study);
	char index[VERDICT_FIGURE];
	struct cell verdict = cell_words(study_words_verdict(study->verdict)),
		    ppk = cell_number(shown.index, 2),
		    least = cell_number(shown.least, 2);

	verdict.tone = verdict_tone(study->verdict);
	if (!shown.quotable) {
		bool few = study->ppk.reasons & STUDY_BIT(STUDY_TOO_FEW);
		ppk = cell_absent(few ? "too few" : "withheld");
		least = cell_absent(NULL);
	} else if (judged->polled) {
		snprintf(index, sizeof index, "%.2f (polling)", shown.index);
		ppk.instead = index;
		ppk.tone = TONE_FAINT;
	}
	const struct cell cells[] = {
	    cell_words(feature_get(judged->feature)->name),
	    shown_name(population->recipe),
	    shown_name(population->tool),
	    shown_name(population->lot),
	    cell_count((int64_t)study->described.n),
	    verdict,
	    cell_words(stability_words(study->stability.verdict)),
	    ppk,
	    least,
	    cell_number(study->required, 2),
	};
	page_row(line->page, cells);
}

/* --- all of them ---------------------------------------------------------------------------- */

/* All verdicts of a line, one after the other: by run, characteristic, lot.  Zeroed: before the
 * first. */
struct seeking {
	size_t run, place, next; /* next: of the populations */
	const struct population *population;
	const struct judged *judged;
};

static bool
seek(const struct report_line *line, struct seeking *at)
{
	for (; at->run < line->runs.count; at->run++, at->place = 0) {
		const struct run *run = &line->runs.list[at->run];
		size_t limited = report_line_limited(line, run);
		for (; at->place < limited; at->place++, at->next = 0) {
			while (at->next < line->all->count) {
				at->population = &line->all->list[at->next++];
				if (!report_line_is_of(run, at->population))
					continue;
				at->judged =
				    &report_line_judgement(line, at->population)
					 ->limited[at->place];
				return true;
			}
		}
	}
	return false;
}

/* What is required of all of them alike; NAN: not alike. */
static double
required_of_all(const struct report_line *line)
{
	struct seeking at = {0};
	double required = NAN, lowest = INFINITY, highest = -INFINITY;

	while (seek(line, &at)) {
		required = at.judged->study->required;
		lowest = fmin(lowest, required);
		highest = fmax(highest, required);
	}
	return lowest < highest ? NAN : required;
}

static void
put_table(const struct report_line *line)
{
	bool runs = line->runs.count > 1, lots = line->all->count > 1;
	double required = required_of_all(line);
	char heading[64] = "Verdicts";
	const struct column columns[] = {
	    {NULL, "characteristic", COLUMN_EACH},
	    {NULL, runs ? "recipe" : NULL, COLUMN_EACH},
	    {NULL, runs ? "tool" : NULL, COLUMN_EACH},
	    {NULL, lots ? "lot" : NULL, COLUMN_EACH},
	    {NULL, "n", 0},
	    {NULL, "verdict", 0},
	    {NULL, "stable", 0},
	    {NULL, "Ppk", 0},
	    {NULL, "at least", 0},
	    {NULL, isnan(required) ? "required" : NULL, 0},
	};

	struct seeking seeking = {0};
	if (isfinite(required))
		snprintf(heading, sizeof heading,
		    "Verdicts, where a Ppk of %.2f is required", required);
	page_table(line->page, NULL, heading, columns, COUNT(columns));
	size_t rows = 0;
	while (seek(line, &seeking))
		if (rows++ < ROWS)
			put_verdict(line, seeking.population, seeking.judged);
	page_table_end(line->page);
	if (rows > ROWS)
		page_note(line->page, NULL, TONE_PLAIN,
		    "%zu more verdicts are left out here: ask for a shorter time, or "
		    "for --format json or csv.",
		    rows - ROWS);
}

/* --- the sentences ---------------------------------------------------------------------------- */

static void
put_sentence(const struct report_line *line, const struct population *population,
    const struct judged *judged)
{
	char why[REPORT_WORDS], lot[LEDGER_NAME + 32] = "",
						  recipe[LEDGER_NAME + 32] = "";
	enum study_verdict verdict = judged->study->verdict;

	report_words_why(line->settings, judged, population->complete.list, why);
	if (line->runs.count > 1)
		snprintf(recipe, sizeof recipe, ", recipe %s",
		    *population->recipe ? population->recipe : "unknown");
	if (line->all->count > 1)
		snprintf(lot, sizeof lot, ", lot %s",
		    *population->lot ? population->lot : "unknown");
	page_note(line->page, NULL, TONE_PLAIN, "%s%s%s%s: %s",
	    feature_get(judged->feature)->name, recipe, lot,
	    verdict == STUDY_NOT_ESTABLISHED ? ": its capability is not established"
	    : verdict == STUDY_NOT_CAPABLE   ? " is not capable"
					     : " is capable",
	    why);
}

/* Too few values are said of all at once. */
static bool
goes_without(const struct judged *judged)
{
	const struct study *study = judged->study;

	return (study->reasons & STUDY_BIT(STUDY_TOO_FEW)) &&
	       study->observed_below + study->observed_above == 0;
}

/* Those of one verdict; how many there are. */
static size_t
put_sentences(const struct report_line *line, enum study_verdict verdict, size_t told)
{
	struct seeking at = {0};
	size_t count = 0;

	while (seek(line, &at))
		if (at.judged->study->verdict == verdict && !goes_without(at.judged) &&
		    told + count++ < SENTENCES)
			put_sentence(line, at.population, at.judged);
	return count;
}

static void
put_too_few(const struct report_line *line)
{
	struct seeking at = {0};
	size_t count = 0;

	while (seek(line, &at))
		count += goes_without(at.judged);
	if (count > 0)
		page_note(line->page, NULL, TONE_PLAIN,
		    "%zu of these series %s too few values: an index needs at least "
		    "%d, a word on stability %d.",
		    count, count == 1 ? "has" : "have", CAPABILITY_LEAST,
		    STABILITY_LEAST);
}

static void
put_capable(const struct report_line *line)
{
	struct seeking at = {0};
	size_t count = 0;
	double required = NAN;

	while (seek(line, &at)) {
		count += at.judged->study->verdict == STUDY_CAPABLE;
		required = at.judged->study->required;
	}
	if (count > 0)
		page_note(line->page, NULL, TONE_PLAIN,
		    "What is called capable was stable, and its Ppk is at least %.2f "
		    "with 95 %% confidence.",
		    required);
}

static void
put_false_alarms(const struct report_line *line)
{
	struct seeking at = {0};
	size_t tested = 0, unstable = 0;

	while (seek(line, &at)) {
		enum stability_verdict verdict = at.judged->study->stability.verdict;
		tested += verdict == STABILITY_STABLE || verdict == STABILITY_UNSTABLE;
		unstable += verdict == STABILITY_UNSTABLE;
	}
	page_field(line->page, "stability_tests", NULL, cell_count((int64_t)tested));
	page_field(line->page, "unstable", NULL, cell_count((int64_t)unstable));
	page_field(line->page, "unstable_by_chance", NULL,
	    cell_number(FALSE_ALARM * (double)tested, 2));
	if (tested > 0)
		page_note(line->page, NULL, TONE_FAINT,
		    "Tested for stability: %zu series; called unstable: %zu. Chance "
		    "alone would call %.2g of so many unstable if all were perfectly "
		    "stable: each has a false alarm of %g %%.",
		    tested, unstable, FALSE_ALARM * (double)tested, 100 * FALSE_ALARM);
}

void
report_verdicts_put(const struct report_line *line)
{
	put_table(line);
	size_t told = put_sentences(line, STUDY_NOT_CAPABLE, 0);
	told += put_sentences(line, STUDY_NOT_ESTABLISHED, told);
	if (told > SENTENCES)
		page_note(line->page, NULL, TONE_PLAIN,
		    "%d of these %zu verdicts are told in a sentence.", SENTENCES,
		    told);
	put_too_few(line);
	put_capable(line);
	put_false_alarms(line);
}
