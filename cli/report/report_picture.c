/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/report/report_picture.h"

#include <ctype.h>
#include <inttypes.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "cli/report/report_words.h"
#include "cli/wording/shown.h"
#include "cli/wording/study_picture.h"
#include "cli/wording/study_words.h"
#include "daemon/base/error.h"
#include "daemon/base/text.h"

enum {
	DESCRIPTION = 8192,
	LOTS_NAMED = 2, /* with their verdicts, under the heading */
	VERDICT_LINE = LOTS_NAMED * (REPORT_SHORT + LEDGER_NAME + 40),
};

/* What a picture is made of, while it is drawn. */
struct material {
	const struct report_line *line;
	const struct run *run; /* all of it */
	const struct judged *judged;
	size_t cut; /* shots before those that are shown */
	double *values;
	bool *breaks;
	unsigned char *flags;
	int64_t *numbers; /* of all of the run */
};

/* --- figures ------------------------------------------------------------------------------ */

static double
shown(const void *of, double value)
{
	const struct material *m = of;

	return isfinite(value)
	           ? shown_value(m->line->settings, m->judged->feature, value).shown
	           : NAN;
}

static const struct judged *
judged_in(const struct report_line *line, const struct population *population,
    const struct judged *judged)
{
	const struct judgement *judgement = report_line_judgement(line, population);

	for (size_t i = 0; i < judgement->limited_count; i++)
		if (judgement->limited[i].feature == judged->feature)
			return &judgement->limited[i];
	return judged;
}

/* Patterns are those of each lot: the ones that the table lists. */
static void
mark_flags(const struct material *m)
{
	for (size_t i = 0; i < m->run->count; i++) {
		const struct run_shot *shot = &m->run->shots[i];
		const struct judged *own =
		    judged_in(m->line, shot->population, m->judged);
		double value = m->values[i];
		if (value < m->judged->lower || value > m->judged->upper)
			m->flags[i] |= RUN_OUTSIDE;
		if (study_picture_is_signal(own->study, shot->row))
			m->flags[i] |= RUN_SIGNAL;
	}
}

/* Lots are not pooled, and of too few values nothing is judged by them. */
static bool
has_control_limits(const struct material *m)
{
	return m->run->lots == 1 && m->judged->study->described.n >= STABILITY_LEAST;
}

static bool
has_curve(const struct material *m)
{
	return m->run->lots == 1 && study_has_distribution(m->judged->study);
}

/* --- words ---------------------------------------------------------------------------------- */

/* Of one lot: "capable", "not established: drifted from shot 87 on". */
static void
tell_lot(const struct judged *judged, const int64_t *numbers,
    char words[static REPORT_SHORT + 32])
{
	enum study_verdict verdict = judged->study->verdict;
	char why[REPORT_SHORT] = "";

	if (verdict != STUDY_CAPABLE)
		report_words_why_short(judged, numbers, why);
	snprintf(words, REPORT_SHORT + 32, "%s%s%s", study_words_verdict(verdict),
	    *why ? ": " : "", why);
}

static void
count_lots(const struct material *m, size_t count[static 3])
{
	const struct report_line *line = m->line;

	for (size_t i = 0; i < line->all->count; i++) {
		const struct population *one = &line->all->list[i];
		if (report_line_is_of(m->run, one))
			count[judged_in(line, one, m->judged)->study->verdict]++;
	}
}

/* Of several lots each one's own verdict; of many how many have which. */
static void
tell_verdict(const struct material *m, char words[static VERDICT_LINE])
{
	const struct report_line *line = m->line;
	size_t count[3] = {0}, length = 0;
	char one[REPORT_SHORT + 32];

	words[0] = '\0';
	if (m->run->lots == 1) {
		tell_lot(m->judged, m->numbers, one);
		text_copy(words, VERDICT_LINE, one);
		return;
	}
	if (m->run->lots > LOTS_NAMED) {
		count_lots(m, count);
		snprintf(words, VERDICT_LINE,
		    "of %zu lots capable %zu, not capable %zu, not established %zu",
		    m->run->lots, count[STUDY_CAPABLE], count[STUDY_NOT_CAPABLE],
		    count[STUDY_NOT_ESTABLISHED]);
		return;
	}
	for (size_t i = 0; i < line->all->count; i++) {
		const struct population *lot = &line->all->list[i];
		if (!report_line_is_of(m->run, lot))
			continue;
		tell_lot(judged_in(line, lot, m->judged), lot->complete.list, one);
		length +=
		    (size_t)snprintf(words + length, VERDICT_LINE - length, "%s%s %s",
			length ? "; " : "", *lot->lot ? lot->lot : "unknown", one);
	}
}

static void
tell_limits(struct text *text, const struct material *m)
{
	const struct settings *settings = m->line->settings;
	int feature = m->judged->feature;
	const struct study *study = m->judged->study;
	char lower[REPORT_FIGURE], upper[REPORT_FIGURE], low[REPORT_FIGURE],
	    high[REPORT_FIGURE], target[REPORT_FIGURE];

	report_words_value(settings, feature, m->judged->lower, lower);
	report_words_value(settings, feature, m->judged->upper, upper);
	report_words_value(settings, feature, study->individuals.low, low);
	report_words_value(settings, feature, study->individuals.high, high);
	if (isnan(m->judged->lower))
		text_printf(text, " The upper limit is %s;", upper);
	else if (isnan(m->judged->upper))
		text_printf(text, " The lower limit is %s;", lower);
	else
		text_printf(text, " The limits are %s and %s;", lower, upper);
	text_printf(text, " %zu of the values %s outside.",
	    study->observed_below + study->observed_above,
	    study->observed_below + study->observed_above == 1 ? "is" : "are");
	if (isfinite(m->judged->target)) {
		report_words_value(settings, feature, m->judged->target, target);
		text_printf(text, " The target is %s.", target);
	}
	if (has_control_limits(m) && isfinite(study->individuals.low))
		text_printf(text,
		    " The control limits, from the spread from shot to shot, are %s "
		    "and "
		    "%s.",
		    low, high);
}

/* What is marked in it, with the shots before which that stands. */
static void
tell_marks(
    struct text *text, const struct material *m, const struct report_marks *marks)
{
	for (size_t i = 0; i < marks->mark_count; i++)
		text_printf(text, "%s%s, before shot %" PRId64 "%s",
		    i == 0 ? " Marked: " : "; ", marks->marks[i].label,
		    m->numbers[m->cut + marks->marks[i].at],
		    i + 1 == marks->mark_count ? "." : "");
}

static void
tell_distribution(struct text *text, const struct material *m)
{
	const struct study *study = m->judged->study;

	if (has_curve(m))
		text_printf(text, " Beside it the distribution with a %s curve.",
		    family_table[study_distribution(study).family].name);
	else if (m->run->lots > 1)
		text_puts(text, " Beside it the distribution over all lots, without a "
				"curve.");
	else if (study->described.n < CAPABILITY_LEAST)
		text_puts(text, " Beside it the distribution, of too few values for a "
				"curve.");
	else
		text_puts(text, " Beside it the distribution; no curve fits it.");
}

static void
describe_picture(struct text *text, const struct material *m,
    const struct report_marks *marks, const char *verdict)
{
	const struct settings *settings = m->line->settings;
	int feature = m->judged->feature;
	const struct study *study = m->judged->study;
	char mean[REPORT_FIGURE], sd[REPORT_FIGURE], min[REPORT_FIGURE],
	    max[REPORT_FIGURE];

	report_words_value(settings, feature, study->described.mean, mean);
	report_words_deviation(settings, feature, study->described.sd, sd);
	report_words_value(settings, feature, study->described.min, min);
	report_words_value(settings, feature, study->described.max, max);
	text_printf(text,
	    "%s of the complete shots %" PRId64 " to %" PRId64
	    " in the order of time, %zu value%s: mean %s, standard deviation %s, from "
	    "%s "
	    "to %s.",
	    feature_get(feature)->name, m->numbers[m->cut],
	    m->numbers[m->run->count - 1], study->described.n,
	    study->described.n == 1 ? "" : "s", mean, sd, min, max);
	if (study->described.missing > 0)
		text_printf(text, " %zu more %s absent.", study->described.missing,
		    study->described.missing == 1 ? "is" : "are");
	tell_limits(text, m);
	tell_marks(text, m, marks);
	text_printf(text, " Verdict: %s.", verdict);
	tell_distribution(text, m);
}

/* --- all -------------------------------------------------------------------------------------- */

static void
draw(struct material *m, const struct report_marks *marks)
{
	const struct settings *settings = m->line->settings;
	int feature = m->judged->feature;
	const char *name = feature_get(feature)->name,
		   *unit = shown_unit(settings, feature);
	char verdict[VERDICT_LINE], label[REPORT_FIGURE + 64],
	    picture_name[PICTURE_NAME];
	struct study_picture from = {
	    .study = m->judged->study, .shown = shown, .of = m};
	struct text text;

	text_init(&text, DESCRIPTION);
	tell_verdict(m, verdict);
	describe_picture(&text, m, marks, verdict);
	report_picture_name(m->line, m->run, name, picture_name);
	snprintf(label, sizeof label, "%s%s%s", name, *unit ? ", " : "", unit);
	for (size_t i = 0; i < m->run->count; i++)
		m->values[i] = shown(m, m->values[i]);
	struct run_picture what = {
	    .heading = name,
	    .y_label = label,
	    .verdict = verdict,
	    .count = m->run->count - m->cut,
	    .values = m->values + m->cut,
	    .breaks = m->breaks + m->cut,
	    .flags = m->flags + m->cut,
	    .marks = marks->marks,
	    .mark_count = marks->mark_count,
	    .ticks = marks->ticks,
	    .tick_count = marks->tick_count,
	};
	study_picture_fill(&from, &what);
	if (m->run->lots > 1)
		study_picture_strip(&what);
	const struct picture picture =
	    run_picture_make(&what, picture_name, name, text.bytes ? text.bytes : "");
	page_picture(m->line->page, &picture, NULL);
	text_release(&text);
}

int
report_picture_put(const struct report_line *line, const struct run *run,
    const struct judged *judged, const struct report_marks *marks, struct error *error)
{
	struct material *m = calloc(1, sizeof *m);
	size_t count = run->count;
	int code = 0;

	if (!m)
		return error_set(error, ERROR_MEMORY, "out of memory");
	*m = (struct material){.line = line,
	    .run = run,
	    .judged = judged,
	    .cut = count > PICTURE_SHOTS ? count - PICTURE_SHOTS : 0,
	    .values = calloc(count, sizeof *m->values),
	    .breaks = calloc(count, sizeof *m->breaks),
	    .flags = calloc(count, sizeof *m->flags),
	    .numbers = calloc(count, sizeof *m->numbers)};
	if (!m->values || !m->breaks || !m->flags || !m->numbers) {
		code = error_set(error, ERROR_MEMORY, "out of memory");
	} else {
		run_series(run, judged->feature, false, m->values, m->breaks);
		for (size_t i = 0; i < count; i++)
			m->numbers[i] = run_shot_no(run, i);
		mark_flags(m);
		draw(m, marks);
	}
	free(m->values);
	free(m->breaks);
	free(m->flags);
	free(m->numbers);
	free(m);
	return code;
}

void
report_picture_name(const struct report_line *line, const struct run *run,
    const char *what, char name[static PICTURE_NAME])
{
	if (line->number == 0 && run == line->runs.list)
		snprintf(name, PICTURE_NAME, "%s", what);
	else
		snprintf(name, PICTURE_NAME, "%s-%s-%s-%s", what, line->line,
		    *run->recipe ? run->recipe : "unknown",
		    *run->tool ? run->tool : "unknown");
	for (char *at = name; *at; at++)
		if (!isalnum((unsigned char)*at) && *at != '_')
			*at = '-';
}
