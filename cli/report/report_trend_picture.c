/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/report/report_trend_picture.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "cli/picture/trend_picture.h"
#include "cli/report/report_trend_words.h"
#include "cli/wording/shown.h"
#include "daemon/base/error.h"

#define NORMAL_975 1.959963984540054 /* quantile of the normal distribution */

enum { LABEL = 24, NAME = 80 };

/* Room for what is drawn of one course. */
struct drawing {
	struct trend_point *points; /* of the picture */
	struct run_mark *marks;
	struct run_tick *ticks;
	char (*labels)[LABEL];
	char (*changes)[REPORT_TREND_CHANGES];
	size_t mark_count, tick_count;
};

static bool
drawing_init(struct drawing *drawing, size_t count)
{
	*drawing = (struct drawing){
	    .points = calloc(count + 1, sizeof *drawing->points),
	    .marks = calloc(count + 1, sizeof *drawing->marks),
	    .ticks = calloc(count + 1, sizeof *drawing->ticks),
	    .labels = calloc(count + 1, sizeof *drawing->labels),
	    .changes = calloc(count + 1, sizeof *drawing->changes),
	};
	return drawing->points && drawing->marks && drawing->ticks && drawing->labels &&
	       drawing->changes;
}

static void
drawing_release(struct drawing *drawing)
{
	free(drawing->points);
	free(drawing->marks);
	free(drawing->ticks);
	free(drawing->labels);
	free(drawing->changes);
}

static void
mark_changes(struct drawing *drawing, const struct report_trend *report)
{
	for (size_t i = 1; i < report->kind->count; i++) {
		char *words = drawing->changes[drawing->mark_count];
		report_trend_changes(report, i, words);
		if (*words)
			drawing->marks[drawing->mark_count++] =
			    (struct run_mark){.at = i, .label = words, .strong = true};
	}
}

/* Where a day begins, so many days apart that the labels have room. */
static void
mark_days(struct drawing *drawing, const struct trend_kind *kind)
{
	enum { LABELS = 12 };
	size_t days = 1, day = 0;

	for (size_t i = 1; i < kind->count; i++)
		days +=
		    !calendar_date_same(kind->points[i].date, kind->points[i - 1].date);
	size_t stride = (days + LABELS - 1) / LABELS;
	for (size_t i = 0; i < kind->count; i++) {
		const struct calendar_date date = kind->points[i].date;
		if (i > 0 && calendar_date_same(date, kind->points[i - 1].date))
			continue;
		if (day++ % stride != 0)
			continue;
		char *label = drawing->labels[drawing->tick_count];
		snprintf(label, LABEL, "%02d-%02d", date.month % 100, date.day % 100);
		drawing->ticks[drawing->tick_count++] = (struct run_tick){i, label};
	}
}

static void
point_ppk(struct trend_point *point, const struct study *study)
{
	const struct study_index *ppk = &study->ppk;
	bool quoted = ppk->quotable && isfinite(ppk->value);

	*point = (struct trend_point){
	    .value = quoted ? ppk->value : NAN,
	    .low = quoted ? ppk->low : NAN,
	    .high = quoted ? ppk->high : NAN,
	    .stable = study->stability.verdict == STABILITY_STABLE,
	    .withheld = !quoted,
	};
}

/* With the 95 % interval of the mean of values that depend on each other. */
static void
point_mean(struct trend_point *point, const struct study *study,
    const struct report_trend *report)
{
	const struct settings *settings = report->settings;
	int feature = report->course->feature;
	double n = study->c.n_effective >= 1 ? study->c.n_effective
	                                     : (double)study->described.n;
	double half = NORMAL_975 * study->described.sd / sqrt(n);
	const struct cell mean = shown_value(settings, feature, study->described.mean),
			  spread = shown_deviation(settings, feature, half);
	bool there = mean.kind != CELL_ABSENT, spreads = spread.kind != CELL_ABSENT;

	*point = (struct trend_point){
	    .value = there ? mean.shown : NAN,
	    .low = there && spreads ? mean.shown - spread.shown : NAN,
	    .high = there && spreads ? mean.shown + spread.shown : NAN,
	    .stable = study->stability.verdict == STABILITY_STABLE,
	    .withheld = !there,
	};
}

static void
put(const struct report_trend *report, const struct drawing *drawing, bool ppk)
{
	const char *feature = feature_get(report->course->feature)->name;
	const char *unit = shown_unit(report->settings, report->course->feature);
	char name[NAME], title[NAME], label[NAME], words[REPORT_TREND_WORDS];
	char number[24] = "";
	const struct trend_picture what = {
	    .heading = title,
	    .y_label = label,
	    .points = drawing->points,
	    .count = report->kind->count,
	    .required = ppk ? STUDY_REQUIRED : NAN,
	    .marks = drawing->marks,
	    .mark_count = drawing->mark_count,
	    .ticks = drawing->ticks,
	    .tick_count = drawing->tick_count,
	};

	if (report->number > 0)
		snprintf(number, sizeof number, "-%zu", report->number + 1);
	snprintf(name, sizeof name, "%s%s%s", feature, ppk ? "-ppk" : "-mean", number);
	snprintf(title, sizeof title, "%s, shift by shift", feature);
	snprintf(label, sizeof label, "%s%s%s", ppk ? "Ppk" : "mean",
	    !ppk && *unit ? ", " : "", ppk ? "" : unit);
	if (ppk)
		report_trend_words_ppk(report->course, words);
	else
		report_trend_words_mean(report->settings, report->course, words);
	const struct picture picture = trend_picture_make(&what, name, title, words);
	page_picture(report->page, &picture, NULL);
}

int
report_trend_picture_put(const struct report_trend *report, struct error *error)
{
	const struct trend_course *course = report->course;
	struct drawing drawing;
	int code = 0;

	if (!drawing_init(&drawing, course->count)) {
		code = error_set(error, ERROR_MEMORY, "out of memory");
		drawing_release(&drawing);
		return code;
	}
	mark_changes(&drawing, report);
	mark_days(&drawing, report->kind);
	if (!isnan(course->lower) || !isnan(course->upper)) {
		for (size_t i = 0; i < course->count; i++)
			point_ppk(&drawing.points[i], course->studies[i]);
		put(report, &drawing, true);
	}
	for (size_t i = 0; i < course->count; i++)
		point_mean(&drawing.points[i], course->studies[i], report);
	put(report, &drawing, false);
	drawing_release(&drawing);
	return 0;
}
