/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/report/report_answer.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "cli/report/report_words.h"
#include "cli/wording/shown.h"
#include "cli/wording/study_words.h"
#include "daemon/base/text.h"

#define COUNT(array) (sizeof(array) / sizeof((array)[0]))

/* The chance that a stable series is called unstable: see cli/stats/stability.h. */
#define FALSE_ALARM 0.05

enum {
	ANSWER_BYTES = 4096,
	NAMED = 6,      /* characteristics that the answer names of each kind */
	SENTENCES = 48, /* that people read below the table */
	ROWS = 200,     /* and in it */
};

/* --- the worst of a characteristic's lots ------------------------------------------------- */

/* A characteristic of a run: its worst lot. */
struct worst {
	const struct judged *judged;
	const struct population *population;
};

static int
badness(const struct judged *judged)
{
	switch (judged->study->verdict) {
	case STUDY_CAPABLE:
		return 0;
	case STUDY_NOT_ESTABLISHED:
		return judged->study->stability.verdict == STABILITY_UNSTABLE ? 2 : 1;
	case STUDY_NOT_CAPABLE:
		return 3;
	}
	return 0;
}

/* The one of that place among those with limits, which all lots of a run have alike. */
static struct worst
find_worst(const struct report_line *line, const struct run *run, size_t place)
{
	const struct population *first = run->shots[0].population;
	struct worst worst = {
	    &report_line_judgement(line, first)->limited[place], first};

	for (size_t i = 0; i < line->all->count; i++) {
		const struct population *population = &line->all->list[i];
		if (!report_line_is_of(run, population))
			continue;
		const struct judged *judged =
		    &report_line_judgement(line, population)->limited[place];
		if (badness(judged) > badness(worst.judged))
			worst = (struct worst){judged, population};
	}
	return worst;
}

/* --- the sentence -------------------------------------------------------------------------- */

/* Names of those with one verdict: "sag_s (drifted from shot 87 on), ...". */
static void
add_names(struct text *text, const struct report_line *line, const struct run *run,
    enum study_verdict verdict)
{
	size_t count = 0, limited = report_line_limited(line, run);

	for (size_t place = 0; place < limited; place++) {
		struct worst worst = find_worst(line, run, place);
		char why[REPORT_SHORT];
		if (worst.judged->study->verdict != verdict || ++count > NAMED)
			continue;
		report_words_why_short(
		    worst.judged, worst.population->complete.list, why);
		text_printf(text, "%s%s%s%s%s",
		    count > 1                      ? ", "
		    : verdict == STUDY_NOT_CAPABLE ? "; not capable: "
						   : "; not established: ",
		    feature_get(worst.judged->feature)->name, *why ? " (" : "", why,
		    *why ? ")" : "");
	}
	if (count > NAMED)
		text_printf(text, " and %zu more", count - NAMED);
}

/* Each characteristic in each lot. */
static bool
is_too_few(const struct report_line *line, const struct run *run)
{
	for (size_t i = 0; i < line->all->count; i++)
		if (report_line_is_of(run, &line->all->list[i]) &&
		    line->all->list[i].complete.count >= CAPABILITY_LEAST)
			return false;
	return true;
}

static void
add_run(struct text *text, const struct report_line *line, const struct run *run)
{
	size_t capable = 0, limited = report_line_limited(line, run);

	if (line->runs.count > 1)
		text_printf(text,
		    "recipe %s, tool %s: ", *run->recipe ? run->recipe : "unknown",
		    *run->tool ? run->tool : "unknown");
	if (limited == 0) {
		text_puts(text, "no characteristic has limits, so none is judged");
		return;
	}
	if (is_too_few(line, run)) {
		text_printf(text,
		    "nothing can be judged yet: too few complete shots, at least %d "
		    "are "
		    "needed",
		    CAPABILITY_LEAST);
		return;
	}
	for (size_t place = 0; place < limited; place++)
		capable += find_worst(line, run, place).judged->study->verdict ==
		           STUDY_CAPABLE;
	if (capable == 0)
		text_puts(text, line->runs.count > 1 ? "none" : "None");
	else
		text_printf(text, "%zu", capable);
	text_printf(text, " of %zu characteristic%s %s capable%s", limited,
	    limited == 1 ? "" : "s", capable > 1 ? "are" : "is",
	    run->lots > 1 ? " in every lot" : "");
	add_names(text, line, run, STUDY_NOT_CAPABLE);
	add_names(text, line, run, STUDY_NOT_ESTABLISHED);
}

void
report_answer_put(const struct report_line *line)
{
	bool good = line->runs.count > 0;
	struct text text;

	text_init(&text, ANSWER_BYTES);
	if (line->runs.count == 0)
		text_puts(&text, "no complete shot: there is nothing to judge");
	for (size_t i = 0; i < line->runs.count; i++) {
		const struct run *run = &line->runs.list[i];
		size_t limited = report_line_limited(line, run);
		text_puts(&text, i > 0 ? ". " : "");
		add_run(&text, line, run);
		good &= limited > 0;
		for (size_t place = 0; place < limited; place++)
			good &= find_worst(line, run, place).judged->study->verdict ==
			        STUDY_CAPABLE;
	}
	page_note(line->page, "answer", good ? TONE_GOOD : TONE_STRONG, "%s",
	    text.bytes ? text.bytes : "");
	text_release(&text);
}

/* --- the table ------------------------------------------------------------------------------ */

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
	struct cell verdict = cell_words(study_words_verdict(study->verdict)),
		    ppk = cell_number(shown.index, 2),
		    least = cell_number(shown.least, 2);

	verdict.tone = tone_of(study->verdict);
	if (!study->ppk.quotable)
		ppk = least = cell_absent(NULL);
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

static void
put_table(const struct report_line *line)
{
	bool runs = line->runs.count > 1, lots = line->all->count > 1;
	const struct column columns[] = {
	    {NULL, "characteristic", 0},
	    {NULL, runs ? "recipe" : NULL, 0},
	    {NULL, runs ? "tool" : NULL, 0},
	    {NULL, lots ? "lot" : NULL, 0},
	    {NULL, "n", 0},
	    {NULL, "verdict", 0},
	    {NULL, "stable", 0},
	    {NULL, "Ppk", 0},
	    {NULL, "at least", 0},
	    {NULL, "required", 0},
	};

	struct seeking seeking = {0};
	page_table(line->page, NULL, "Verdicts", columns, COUNT(columns));
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
	page_note(line->page, NULL, TONE_PLAIN, "%s%s%s is %s: %s",
	    feature_get(judged->feature)->name, recipe, lot,
	    study_words_verdict(verdict), why);
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
		    "%zu of these series %s too few values: of fewer than %d nothing "
		    "is "
		    "said.",
		    count, count == 1 ? "has" : "have", CAPABILITY_LEAST);
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
		    "Of %zu series that were tested for stability %zu %s called "
		    "unstable. Of so many that are perfectly stable chance alone would "
		    "call %.2g unstable: each has a false alarm of %g %%.",
		    tested, unstable, unstable == 1 ? "was" : "were",
		    FALSE_ALARM * (double)tested, 100 * FALSE_ALARM);
}

void
report_answer_verdicts(const struct report_line *line)
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
