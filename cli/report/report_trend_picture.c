/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/report/report_trend_picture.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "cli/picture/trend_picture.h"
#include "cli/population/judgement.h"
#include "cli/report/report_trend_words.h"
#include "cli/wording/shown.h"
#include "daemon/base/error.h"
#include "daemon/base/text.h"

#define NORMAL_975 1.959963984540054 /* quantile of the normal distribution */

enum {
	LABEL = 24,
	NAME = 80,
	EACH_MOST = 40, /* points that are told one by one */
	DESCRIPTION = 8000,
};

/* Room for what is drawn of one course. */
struct drawing {
	struct trend_point *points; /* of the picture */
	struct run_mark *marks;
	struct run_tick *ticks;
	char (*labels)[LABEL];
	char (*changes)[REPORT_TREND_CHANGES];
	const char **names; /* of the shifts */
	bool named;
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
	    .names = calloc(count + 1, sizeof *drawing->names),
	};
	return drawing->points && drawing->marks && drawing->ticks && drawing->labels &&
	       drawing->changes && drawing->names;
}

static void
drawing_release(struct drawing *drawing)
{
	free(drawing->points);
	free(drawing->marks);
	free(drawing->ticks);
	free(drawing->labels);
	free(drawing->changes);
	free(drawing->names);
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

/* Where all are of one name, it says nothing. */
static bool
name_shifts(struct drawing *drawing, const struct trend_kind *kind)
{
	bool differ = false;

	for (size_t i = 0; i < kind->count; i++) {
		drawing->names[i] = kind->points[i].shift;
		differ = differ || strcmp(drawing->names[i], drawing->names[0]) != 0;
	}
	return differ;
}

static void
point_ppk(struct trend_point *point, const struct study *study)
{
	const struct study_shown ppk = study_shown(study);

	*point = (struct trend_point){
	    .value = ppk.quotable ? ppk.index : NAN,
	    .low = ppk.quotable ? ppk.low : NAN,
	    .high = ppk.quotable ? ppk.high : NAN,
	    .stable = study->stability.verdict == STABILITY_STABLE,
	    .withheld = !ppk.quotable,
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
	double least = judgement_bounded_at_zero(feature) ? 0 : -INFINITY;
	bool there = mean.kind != CELL_ABSENT, spreads = spread.kind != CELL_ABSENT;

	*point = (struct trend_point){
	    .value = there ? mean.shown : NAN,
	    .low = there && spreads ? fmax(least, mean.shown - spread.shown) : NAN,
	    .high = there && spreads ? mean.shown + spread.shown : NAN,
	    .stable = study->stability.verdict == STABILITY_STABLE,
	    .withheld = !there,
	};
}

/* --- for those who cannot see it ------------------------------------------------------------ */

struct telling {
	struct text text;
	const struct report_trend *report;
	const struct trend_point *points;
	int digits;
};

static void
tell_point(struct telling *telling, const char *lead, size_t i)
{
	const struct trend_point *point = &telling->points[i];
	char shift[REPORT_TREND_SHIFT];
	int digits = telling->digits;

	report_trend_shift(&telling->report->kind->points[i], shift);
	text_printf(&telling->text, " %s%s: ", lead, shift);
	if (point->withheld || isnan(point->value)) {
		text_puts(&telling->text, "withheld;");
		return;
	}
	text_printf(&telling->text, "%.*f", digits, point->value);
	if (!isnan(point->low) && !isnan(point->high))
		text_printf(&telling->text, " (%.*f to %.*f)", digits, point->low,
		    digits, point->high);
	text_puts(&telling->text, point->stable ? ";" : ", not stable;");
}

static void
tell_points(struct telling *telling)
{
	size_t count = telling->report->kind->count, low = count, high = count;

	for (size_t i = 0; i < count; i++) {
		const struct trend_point *point = &telling->points[i];
		if (count <= EACH_MOST)
			tell_point(telling, "", i);
		if (point->withheld || isnan(point->value))
			continue;
		if (low == count || point->value < telling->points[low].value)
			low = i;
		if (high == count || point->value > telling->points[high].value)
			high = i;
	}
	if (count <= EACH_MOST || low == count)
		return;
	text_printf(&telling->text, " %zu points, of them", count);
	tell_point(telling, "the first, ", 0);
	tell_point(telling, "the lowest, ", low);
	tell_point(telling, "the highest, ", high);
	tell_point(telling, "the last, ", count - 1);
}

static void
tell_line(struct telling *telling, const char *what, double value)
{
	if (!isnan(value))
		text_printf(&telling->text, " %s %.*f.", what, telling->digits, value);
}

static void
describe_picture(
    struct telling *telling, const struct trend_picture *what, const char *words)
{
	text_puts(&telling->text, words);
	tell_line(telling, "Required:", what->required);
	tell_line(telling, "Lower limit:", what->lower);
	tell_line(telling, "Upper limit:", what->upper);
	text_printf(&telling->text, " In brackets 95 %% intervals; %s:", what->y_label);
	tell_points(telling);
}

/* --- the pictures ------------------------------------------------------------------------------ */

static double
shown(const struct cell *cell)
{
	return cell->kind == CELL_ABSENT ? NAN : cell->shown;
}

static void
put(const struct report_trend *report, const struct drawing *drawing, bool ppk)
{
	const struct trend_course *course = report->course;
	const char *feature = feature_get(course->feature)->name;
	const char *unit = shown_unit(report->settings, course->feature);
	const struct cell lower = shown_value(
			      report->settings, course->feature, course->lower),
			  upper = shown_value(
			      report->settings, course->feature, course->upper),
			  zero = shown_value(report->settings, course->feature, 0);
	char name[NAME], title[NAME], label[NAME], words[REPORT_TREND_WORDS];
	char number[24] = "";
	const struct trend_picture what = {
	    .heading = title,
	    .y_label = label,
	    .points = drawing->points,
	    .count = report->kind->count,
	    .required = ppk ? STUDY_REQUIRED : NAN,
	    .lower = ppk ? NAN : shown(&lower),
	    .upper = ppk ? NAN : shown(&upper),
	    .marks = drawing->marks,
	    .mark_count = drawing->mark_count,
	    .ticks = drawing->ticks,
	    .tick_count = drawing->tick_count,
	    .names = drawing->named ? drawing->names : NULL,
	};

	if (report->number > 0)
		snprintf(number, sizeof number, "-%zu", report->number + 1);
	snprintf(name, sizeof name, "%s%s%s", feature, ppk ? "-ppk" : "-mean", number);
	snprintf(title, sizeof title, "%s, its %s shift by shift", feature,
	    ppk ? "Ppk" : "mean");
	snprintf(label, sizeof label, "%s%s%s", ppk ? "Ppk" : "mean",
	    !ppk && *unit ? ", " : "", ppk ? "" : unit);
	if (ppk)
		report_trend_words_ppk(course, words);
	else
		report_trend_words_mean(report->settings, report->kind, course, words);
	struct telling telling = {.report = report,
	    .points = drawing->points,
	    .digits = ppk ? 2 : zero.digits};
	text_init(&telling.text, DESCRIPTION);
	describe_picture(&telling, &what, words);
	bool made = telling.text.bytes && !telling.text.failed;
	const struct picture picture =
	    trend_picture_make(&what, name, title, made ? telling.text.bytes : words);
	page_picture(report->page, &picture, NULL);
	text_release(&telling.text);
}

int
report_trend_picture_put(const struct report_trend *report, struct error *error)
{
	const struct trend_course *course = report->course;
	struct drawing drawing;

	if (!drawing_init(&drawing, course->count)) {
		drawing_release(&drawing);
		return error_set(error, ERROR_MEMORY, "out of memory");
	}
	mark_changes(&drawing, report);
	mark_days(&drawing, report->kind);
	drawing.named = name_shifts(&drawing, report->kind);
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
