/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/report/report_picture.h"

#include <ctype.h>
#include <inttypes.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "cli/report/report_words.h"
#include "cli/wording/shown.h"
#include "cli/wording/study_words.h"
#include "daemon/base/error.h"
#include "daemon/base/text.h"

enum { CURVE = 121, DESCRIPTION = 4096, VERDICT_LINE = 320 };

/* What a picture is made of, while it is drawn. */
struct material {
	const struct report_line *line;
	const struct run *run; /* all of it */
	const struct judged *judged;
	size_t cut; /* shots before those that are shown */
	double *values;
	bool *breaks;
	unsigned char *flags;
	double curve_at[CURVE], curve_density[CURVE];
	int64_t *numbers; /* of all of the run */
};

/* --- figures ------------------------------------------------------------------------------ */

static double
shown(const struct material *m, double value)
{
	return isfinite(value)
	           ? shown_value(m->line->settings, m->judged->feature, value).shown
	           : NAN;
}

static void
mark_flags(const struct material *m)
{
	const struct study *study = m->judged->study;

	for (size_t i = 0; i < m->run->count; i++) {
		double value = m->values[i];
		if (value < m->judged->lower || value > m->judged->upper)
			m->flags[i] |= RUN_OUTSIDE;
	}
	/* of shots in a row that a pattern points at, the first */
	for (size_t i = 0; i < study->signals.count; i++) {
		size_t slot = study->signals.list[i].slot;
		size_t before = i > 0 ? study->signals.list[i - 1].slot : 0;
		if (before == 0 || slot > before + 1)
			m->flags[slot - 1] |= RUN_SIGNAL;
	}
}

/* A fit that was refused is not drawn. */
static bool
has_curve(const struct study *study)
{
	const struct fit fit = study_distribution(study);
	bool refused = study->fits.used < 0 && study->fits.count > 0;

	return !refused && isfinite(fit.parameters[0]) && study->described.sd > 0;
}

/* From where the values or the fit begin to where they end. */
static size_t
make_curve(struct material *m)
{
	const struct study *study = m->judged->study;
	const struct fit fit = study_distribution(study);

	if (!has_curve(study))
		return 0;
	double low = fmin(study->described.min, fit.quantiles.x00135),
	       high = fmax(study->described.max, fit.quantiles.x99865),
	       scale = shown(m, high) - shown(m, low);
	for (size_t i = 0; i < CURVE; i++) {
		double at = low + (high - low) * (double)i / (CURVE - 1);
		double density = family_density(fit.family, fit.parameters, at);
		m->curve_at[i] = shown(m, at);
		m->curve_density[i] =
		    isfinite(density) ? density * (high - low) / scale : 0;
	}
	return CURVE;
}

/* --- words ---------------------------------------------------------------------------------- */

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

/* "capable", "not established: drifted from shot 87 on"; of several lots in how many. */
static void
tell_verdict(const struct material *m, char words[static VERDICT_LINE])
{
	const struct report_line *line = m->line;
	size_t capable = 0, lots = 0;
	char why[REPORT_SHORT];

	if (m->run->lots == 1) {
		enum study_verdict verdict = m->judged->study->verdict;
		report_words_why_short(m->judged, m->numbers, why);
		snprintf(words, VERDICT_LINE, "%s%s%s", study_words_verdict(verdict),
		    verdict != STUDY_CAPABLE && *why ? ": " : "",
		    verdict != STUDY_CAPABLE ? why : "");
		return;
	}
	for (size_t i = 0; i < line->all->count; i++) {
		const struct population *one = &line->all->list[i];
		if (!report_line_is_of(m->run, one))
			continue;
		const struct study *study = judged_in(line, one, m->judged)->study;
		lots++;
		capable += study->verdict == STUDY_CAPABLE;
	}
	report_words_why_short(m->judged, m->numbers, why);
	snprintf(words, VERDICT_LINE, "capable in %zu of %zu lots; over all lots: %s",
	    capable, lots,
	    m->judged->study->stability.verdict == STABILITY_UNSTABLE ? why : "stable");
}

static void
tell_limits(struct text *text, const struct material *m)
{
	const struct settings *settings = m->line->settings;
	int feature = m->judged->feature;
	const struct study *study = m->judged->study;
	char lower[REPORT_FIGURE], upper[REPORT_FIGURE], low[REPORT_FIGURE],
	    high[REPORT_FIGURE];

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
	if (isfinite(study->individuals.low))
		text_printf(text,
		    " The control limits, from the spread from shot to shot, are %s "
		    "and "
		    "%s.",
		    low, high);
}

static void
describe_picture(struct text *text, const struct material *m, const char *verdict)
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
	    " in the order of time, %zu values: mean %s, standard deviation %s, from "
	    "%s "
	    "to %s.",
	    feature_get(feature)->name, m->numbers[m->cut],
	    m->numbers[m->run->count - 1], study->described.n, mean, sd, min, max);
	tell_limits(text, m);
	text_printf(text, " Verdict: %s.", verdict);
	if (has_curve(study))
		text_printf(text, " Beside it the distribution with a %s curve.",
		    family_table[study_distribution(study).family].name);
	else
		text_puts(text, " Beside it the distribution; no curve fits it.");
}

/* --- all -------------------------------------------------------------------------------------- */

static void
draw(struct material *m, const struct report_marks *marks)
{
	const struct settings *settings = m->line->settings;
	const struct study *study = m->judged->study;
	int feature = m->judged->feature;
	const char *name = feature_get(feature)->name,
		   *unit = shown_unit(settings, feature);
	char verdict[VERDICT_LINE], label[REPORT_FIGURE + 64],
	    picture_name[PICTURE_NAME];
	double control_low = study->individuals.low;
	size_t curve = make_curve(m);
	struct text text;

	text_init(&text, DESCRIPTION);
	tell_verdict(m, verdict);
	describe_picture(&text, m, verdict);
	report_picture_name(m->line, m->run, name, picture_name);
	snprintf(label, sizeof label, "%s%s%s", name, *unit ? ", " : "", unit);
	if (study->zero_bounded && control_low < 0)
		control_low = NAN;
	for (size_t i = 0; i < m->run->count; i++)
		m->values[i] = shown(m, m->values[i]);
	const struct run_picture what = {
	    .heading = name,
	    .y_label = label,
	    .verdict = verdict,
	    .count = m->run->count - m->cut,
	    .values = m->values + m->cut,
	    .breaks = m->breaks + m->cut,
	    .flags = m->flags + m->cut,
	    .lower = shown(m, m->judged->lower),
	    .upper = shown(m, m->judged->upper),
	    .target = shown(m, m->judged->target),
	    .control_low = shown(m, control_low),
	    .centre = shown(m, study->individuals.centre),
	    .control_high = shown(m, study->individuals.high),
	    .marks = marks->marks,
	    .mark_count = marks->mark_count,
	    .ticks = marks->ticks,
	    .tick_count = marks->tick_count,
	    .curve_at = curve ? m->curve_at : NULL,
	    .curve_density = curve ? m->curve_density : NULL,
	    .curve_count = curve,
	    .curve_name = family_table[study_distribution(study).family].name,
	};
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
