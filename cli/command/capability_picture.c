/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/capability_picture.h"

#include <ctype.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "cli/command/capability_words.h"
#include "cli/picture/run_picture.h"
#include "cli/wording/study_words.h"

enum { CURVE = 121, NAME = 64, LABEL = 240, DESCRIPTION = 2048 };

/* What a picture is made of, in the unit that is shown. */
struct material {
	double *values;
	unsigned char *flags;
	double curve_at[CURVE], curve_density[CURVE];
	size_t curve_count;
};

static double
shown(const struct capability_view *view, double value)
{
	return value * view->scale + view->offset;
}

/* Of values in a row that a pattern points at, the first; of a subgroup its first value. */
static void
mark_signals(const struct capability_view *view, unsigned char *flags)
{
	const struct signals *signals = &view->study->signals;
	size_t size = view->study->subgroups.size;

	for (size_t i = 0; i < signals->count; i++) {
		size_t slot = signals->list[i].slot;
		size_t before = i > 0 ? signals->list[i - 1].slot : 0;
		if (before == 0 || slot > before + 1)
			flags[(slot - 1) * (size ? size : 1)] |= RUN_SIGNAL;
	}
}

/* From where the values or the distribution begin to where they end. */
static void
make_curve(const struct capability_view *view, struct material *m)
{
	const struct study *study = view->study;
	const struct fit fit = study_distribution(study);

	if (!study_words_distribution(study) || !isfinite(fit.parameters[0]) ||
	    !(study->described.sd > 0))
		return;
	double low = fmin(study->described.min, fit.quantiles.x00135),
	       high = fmax(study->described.max, fit.quantiles.x99865);
	for (size_t i = 0; i < CURVE; i++) {
		double at = low + (high - low) * (double)i / (CURVE - 1);
		double density = family_density(fit.family, fit.parameters, at);
		m->curve_at[i] = shown(view, at);
		m->curve_density[i] = isfinite(density) ? density / view->scale : 0;
	}
	m->curve_count = CURVE;
}

/* Letters, digits, - and _ of the title. */
static void
make_name(const char *title, char name[static NAME])
{
	size_t length = 0;

	for (; *title && length + 1 < NAME; title++)
		name[length++] =
		    isalnum((unsigned char)*title) || *title == '-' ? *title : '_';
	name[length] = '\0';
}

static void
describe_picture(
    const struct capability_view *view, const char *why, char words[static DESCRIPTION])
{
	const struct study *study = view->study;
	const struct {
		const char *before;
		double value;
		bool deviation;
	} parts[] = {
	    {": mean ", study->described.mean, false},
	    {", standard deviation ", study->described.sd, true},
	    {", from ", study->described.min, false},
	    {" to ", study->described.max, false},
	    {"; lower limit ", study->lower, false},
	    {"; upper limit ", study->upper, false},
	};
	size_t at = (size_t)snprintf(words, DESCRIPTION,
	    "%.200s in the order of time, %zu values", view->title, study->described.n);

	for (size_t i = 0; i < sizeof parts / sizeof parts[0]; i++) {
		char figure[CAPABILITY_FIGURE];
		if (isnan(parts[i].value))
			continue;
		if (parts[i].deviation)
			capability_deviation(view, parts[i].value, figure);
		else
			capability_value(view, parts[i].value, figure);
		at += (size_t)snprintf(
		    words + at, DESCRIPTION - at, "%s%s", parts[i].before, figure);
	}
	snprintf(words + at, DESCRIPTION - at, ". Verdict: %s: %s.",
	    study_words_verdict(study->verdict), why);
}

static void
draw(struct page *page, const struct capability_view *view, const struct material *m)
{
	const struct study *study = view->study;
	char name[NAME], label[LABEL], description[DESCRIPTION], why[STUDY_WORDS];
	double control_low = study->individuals.low;

	study_words_why(study, why);
	make_name(view->title, name);
	describe_picture(view, why, description);
	snprintf(label, sizeof label, "%.200s%s%s", view->title,
	    *view->unit ? ", " : "", view->unit);
	if (study->zero_bounded && control_low < 0)
		control_low = NAN;
	const struct run_picture what = {
	    .heading = view->title,
	    .noun = view->noun,
	    .y_label = label,
	    .verdict = study_words_verdict(study->verdict),
	    .count = view->asked->series.count,
	    .values = m->values,
	    .breaks = view->asked->series.breaks,
	    .flags = m->flags,
	    .lower = shown(view, study->lower),
	    .upper = shown(view, study->upper),
	    .target = shown(view, study->target),
	    .control_low = shown(view, control_low),
	    .centre = shown(view, study->individuals.centre),
	    .control_high = shown(view, study->individuals.high),
	    .curve_at = m->curve_count ? m->curve_at : NULL,
	    .curve_density = m->curve_count ? m->curve_density : NULL,
	    .curve_count = m->curve_count,
	    .curve_name = family_table[study_distribution(study).family].name,
	};
	const struct picture picture =
	    run_picture_make(&what, name, view->title, description);
	page_picture(page, &picture, NULL);
}

void
capability_picture_put(struct page *page, const struct capability_view *view)
{
	size_t count = view->asked->series.count;
	struct material *m = calloc(1, sizeof *m);
	double *values = calloc(count + 1, sizeof *values);
	unsigned char *flags = calloc(count + 1, sizeof *flags);

	if (!m || !values || !flags) {
		page_fail(page);
	} else {
		m->values = values;
		m->flags = flags;
		for (size_t i = 0; i < count; i++)
			values[i] = shown(view, view->asked->series.values[i]);
		mark_signals(view, flags);
		make_curve(view, m);
		draw(page, view, m);
	}
	free(m);
	free(values);
	free(flags);
}
