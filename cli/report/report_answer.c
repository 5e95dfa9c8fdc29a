/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/report/report_answer.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "cli/report/report_words.h"
#include "daemon/base/text.h"

enum {
	ANSWER_BYTES = 4096,
	NAMED = 6, /* characteristics that the answer names of each kind */
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
						   : "; capability not established: ",
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
	text_printf(text, "%zu of %zu characteristic%s shown to be capable%s", capable,
	    limited, limited == 1 ? "" : "s", run->lots > 1 ? " in every lot" : "");
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
