/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/report/report_trend_words.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "cli/report/report_trend.h"
#include "cli/wording/shown.h"
#include "conf/feature.h"

enum { FIGURE = 32 };

/* The figures of a sentence, in the unit that is shown. */
struct told {
	char slope[FIGURE], low[FIGURE], high[FIGURE], first[FIGURE], last[FIGURE];
	char span[FIGURE]; /* "a week", "over the 1.7 days shown" */
	const char *unit;  /* "" or " F" */
	const char *step;  /* a sentence on one where no line is shown, or "" */
};

/* What a slope is told of: a week, or less where less was seen. */
static double
tell_span(const struct trend_course *course, char span[static FIGURE])
{
	if (course->weeks >= 1) {
		snprintf(span, FIGURE, "a week");
		return 1;
	}
	snprintf(
	    span, FIGURE, "over the %.1f days shown", report_trend_words_days(course));
	return course->weeks;
}

/* A slope needs a digit more than the figure itself, and its sign where it may be either. */
static void
tell_change(const struct cell *cell, bool sign, char figure[static FIGURE])
{
	if (cell->kind == CELL_ABSENT)
		snprintf(figure, FIGURE, "-");
	else if (sign)
		snprintf(figure, FIGURE, "%+.*f", cell->digits + 1, cell->shown);
	else
		snprintf(figure, FIGURE, "%.*f", cell->digits + 1, fabs(cell->shown));
}

static void
tell_level(const struct cell *cell, char figure[static FIGURE])
{
	if (cell->kind == CELL_ABSENT)
		snprintf(figure, FIGURE, "-");
	else
		snprintf(figure, FIGURE, "%.*f", cell->digits, cell->shown);
}

static void
tell_neighbours(
    double r1, double bound, const char *so, char words[static REPORT_TREND_WORDS])
{
	size_t used = strlen(words);

	if (r1 > bound)
		snprintf(words + used, REPORT_TREND_WORDS - used,
		    " Neighbouring points are alike (r1 %.2f, beyond %.2f), so %s.", r1,
		    bound, so);
}

static void
tell(const char *what, const struct slope *slope, const struct told *told,
    char words[static REPORT_TREND_WORDS])
{
	int direction = trend_direction(slope);

	if (direction == 0)
		snprintf(words, REPORT_TREND_WORDS,
		    "No straight line of its %s is shown: a change of %s to %s%s %s "
		    "fits these %zu points (95 %%).%s",
		    what, told->low, told->high, told->unit, told->span, slope->n,
		    told->step);
	else
		snprintf(words, REPORT_TREND_WORDS,
		    "Its %s %s by %s%s %s (95 %%: %s to %s), from %s to %s%s by a "
		    "line through %zu points.",
		    what, direction > 0 ? "rises" : "falls", told->slope, told->unit,
		    told->span, direction > 0 ? told->low : told->high,
		    direction > 0 ? told->high : told->low, told->first, told->last,
		    told->unit, slope->n);
	tell_neighbours(
	    slope->r1, slope->r1_bound, "this interval may be too narrow", words);
}

static void
tell_step(const struct settings *settings, const struct trend_kind *kind,
    const struct trend_course *course, char words[static REPORT_TREND_WORDS])
{
	const struct step *step = &course->mean_step;
	const char *unit = shown_unit(settings, course->feature);
	char between[REPORT_TREND_BETWEEN], before[FIGURE], after[FIGURE], p[FIGURE];
	const struct cell low = shown_value(settings, course->feature, step->before),
			  high = shown_value(settings, course->feature, step->after);

	if (step->p < 0.001)
		snprintf(p, sizeof p, "below 0.001");
	else
		snprintf(p, sizeof p, "%.*f at most", step->p < 0.01 ? 3 : 2, step->p);
	report_trend_words_between(kind, step, between);
	tell_level(&low, before);
	tell_level(&high, after);
	snprintf(words, REPORT_TREND_WORDS,
	    "Its mean stepped %s between %s, from %s to %s%s%s; by chance alone, "
	    "anywhere "
	    "in %zu points: p %s.",
	    step->after > step->before ? "up" : "down", between, before, after,
	    *unit ? " " : "", unit, step->n, p);
	tell_neighbours(step->r1, step->r1_bound,
	    "such a step comes by itself more often than that", words);
}

void
report_trend_words_mean(const struct settings *settings, const struct trend_kind *kind,
    const struct trend_course *course, char words[static REPORT_TREND_WORDS])
{
	const struct slope *slope = &course->mean;
	int feature = course->feature;
	char unit[FIGURE];
	struct told told = {
	    .unit = unit, .step = " Nor is a step from one shift to the next."};

	if (isnan(slope->slope)) {
		snprintf(words, REPORT_TREND_WORDS,
		    "Whether its mean moved cannot be told: %zu point%s with %d values "
		    "and more, at least %d at different times are needed.",
		    slope->n, slope->n == 1 ? "" : "s", TREND_LEAST, SLOPE_LEAST);
		return;
	}
	if (trend_move(course) == TREND_MOVE_STEP) {
		tell_step(settings, kind, course, words);
		return;
	}
	bool sign = trend_direction(slope) == 0;
	double weeks = tell_span(course, told.span);
	const struct cell by = shown_deviation(settings, feature, weeks * slope->slope),
			  low = shown_deviation(
			      settings, feature, weeks * slope->slope_95.low),
			  high = shown_deviation(
			      settings, feature, weeks * slope->slope_95.high),
			  first = shown_value(settings, feature, slope->first),
			  last = shown_value(settings, feature, slope->last);
	snprintf(unit, sizeof unit, "%s%s", *shown_unit(settings, feature) ? " " : "",
	    shown_unit(settings, feature));
	tell_change(&by, sign, told.slope);
	tell_change(&low, sign, told.low);
	tell_change(&high, sign, told.high);
	tell_level(&first, told.first);
	tell_level(&last, told.last);
	tell("mean", slope, &told, words);
}

void
report_trend_words_ppk(
    const struct trend_course *course, char words[static REPORT_TREND_WORDS])
{
	const struct slope *slope = &course->ppk;
	struct told told = {.unit = "", .step = ""};

	words[0] = '\0';
	if (isnan(course->lower) && isnan(course->upper))
		return;
	if (isnan(slope->slope)) {
		snprintf(words, REPORT_TREND_WORDS,
		    "Whether its Ppk moved cannot be told: it may be quoted with an "
		    "interval at %zu point%s, at least %d are needed.",
		    slope->n, slope->n == 1 ? "" : "s", SLOPE_LEAST);
		return;
	}
	bool sign = trend_direction(slope) == 0;
	double weeks = tell_span(course, told.span);
	const struct cell by = cell_number(weeks * slope->slope, 1),
			  low = cell_number(weeks * slope->slope_95.low, 1),
			  high = cell_number(weeks * slope->slope_95.high, 1),
			  first = cell_number(slope->first, 2),
			  last = cell_number(slope->last, 2);
	tell_change(&by, sign, told.slope);
	tell_change(&low, sign, told.low);
	tell_change(&high, sign, told.high);
	tell_level(&first, told.first);
	tell_level(&last, told.last);
	tell("Ppk", slope, &told, words);
}

const char *
report_trend_words_verdict(const struct slope *slope)
{
	if (isnan(slope->slope))
		return "too_few";
	switch (trend_direction(slope)) {
	case 1:
		return "rises";
	case -1:
		return "falls";
	default: /* of an int */
		return "none_shown";
	}
}

const char *
report_trend_words_step(const struct trend_course *course)
{
	const struct step *step = &course->mean_step;

	if (isnan(step->p))
		return "too_few";
	if (trend_move(course) != TREND_MOVE_STEP)
		return "none_shown";
	return step->after > step->before ? "up" : "down";
}

double
report_trend_words_days(const struct trend_course *course)
{
	return 7 * course->weeks;
}

void
report_trend_words_between(const struct trend_kind *kind, const struct step *step,
    char words[static REPORT_TREND_BETWEEN])
{
	const struct trend_shift *last = &kind->points[step->last],
				 *first = &kind->points[step->at];
	char from[REPORT_TREND_SHIFT], to[REPORT_TREND_SHIFT];

	report_trend_shift(last, from);
	report_trend_shift(first, to);
	if (last->from.ns == first->from.ns)
		snprintf(words, REPORT_TREND_BETWEEN, "the lots of %s", to);
	else if (calendar_date_same(last->date, first->date) && *last->shift &&
		 *first->shift)
		snprintf(words, REPORT_TREND_BETWEEN, "%s and %s", from, first->shift);
	else
		snprintf(words, REPORT_TREND_BETWEEN, "%s and %s", from, to);
}
