/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/capability_picture.h"

#include <ctype.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "cli/command/capability_words.h"
#include "cli/wording/study_picture.h"
#include "cli/wording/study_words.h"

enum { NAME = 64, LABEL = 240, DESCRIPTION = 2048 };

static double
shown(const void *of, double value)
{
	const struct capability_view *view = of;

	return value * view->scale + view->offset;
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
draw(struct page *page, const struct capability_view *view, const double *values,
    const unsigned char *flags)
{
	const struct study *study = view->study;
	char name[NAME], label[LABEL], description[DESCRIPTION], why[STUDY_WORDS];
	struct study_picture from = {.study = study, .shown = shown, .of = view};

	study_words_why(study, why);
	make_name(view->title, name);
	describe_picture(view, why, description);
	snprintf(label, sizeof label, "%.200s%s%s", view->title,
	    *view->unit ? ", " : "", view->unit);
	struct run_picture what = {
	    .heading = view->title,
	    .noun = view->noun,
	    .y_label = label,
	    .verdict = study_words_verdict(study->verdict),
	    .count = view->asked->series.count,
	    .values = values,
	    .breaks = view->asked->series.breaks,
	    .flags = flags,
	};
	study_picture_fill(&from, &what);
	const struct picture picture =
	    run_picture_make(&what, name, view->title, description);
	page_picture(page, &picture, NULL);
}

void
capability_picture_put(struct page *page, const struct capability_view *view)
{
	size_t count = view->asked->series.count;
	double *values = calloc(count + 1, sizeof *values);
	unsigned char *flags = calloc(count + 1, sizeof *flags);

	if (!values || !flags) {
		page_fail(page);
	} else {
		for (size_t i = 0; i < count; i++) {
			values[i] = shown(view, view->asked->series.values[i]);
			if (study_picture_is_signal(view->study, i))
				flags[i] = RUN_SIGNAL;
		}
		draw(page, view, values, flags);
	}
	free(values);
	free(flags);
}
