/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/report/report_trend.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "cli/report/report_trend_headline.h"
#include "cli/report/report_trend_picture.h"
#include "cli/report/report_trend_table.h"
#include "cli/report/report_trend_words.h"
#include "cli/wording/shown.h"
#include "daemon/base/error.h"

void
report_trend_title(const struct settings *settings, const struct trend_kind *kind,
    char title[static REPORT_TREND_TITLE])
{
	const struct recipe_settings *recipe =
	    settings_recipe(settings, population_recipe(kind->recipe));
	bool named = recipe && *recipe->name;

	snprintf(title, REPORT_TREND_TITLE, "recipe %s%s%s%s, tool %s",
	    *kind->recipe ? kind->recipe : "unknown", named ? " (" : "",
	    named ? recipe->name : "", named ? ")" : "",
	    *kind->tool ? kind->tool : "unknown");
}

void
report_trend_shift(
    const struct trend_shift *point, char words[static REPORT_TREND_SHIFT])
{
	snprintf(words, REPORT_TREND_SHIFT, "%04d-%02d-%02d%s%s", point->date.year,
	    point->date.month, point->date.day, *point->shift ? " " : "", point->shift);
}

/* --- changes ---------------------------------------------------------------------------- */

void
report_trend_changes(const struct report_trend *report, size_t point,
    char words[static REPORT_TREND_CHANGES])
{
	const struct trend_changes *changes = report->changes;
	const char *calibrated = NULL;
	size_t more = 0, used = 0;

	words[0] = '\0';
	for (size_t i = 0; i < changes->count; i++) {
		const struct trend_change *change = &changes->list[i];
		if (change->before != point ||
		    !trend_change_concerns(
			change, report->settings, report->course->feature))
			continue;
		if (change->kind == TREND_CALIBRATION) {
			more += calibrated != NULL;
			calibrated = calibrated ? calibrated : change->name;
			continue;
		}
		bool lot = change->kind == TREND_LOT;
		used += (size_t)snprintf(words + used, REPORT_TREND_CHANGES - used,
		    "%s%s%s", used ? "; " : "",
		    lot ? "lot " : "again in the machine, after ",
		    *change->name ? change->name : "unknown");
	}
	if (calibrated && used < REPORT_TREND_CHANGES)
		used += (size_t)snprintf(words + used, REPORT_TREND_CHANGES - used,
		    "%scalibrated %s", used ? "; " : "", calibrated);
	if (more > 0 && used < REPORT_TREND_CHANGES)
		snprintf(
		    words + used, REPORT_TREND_CHANGES - used, " and %zu more", more);
}

/* --- the whole ------------------------------------------------------------------------------ */

/* A week, and over the days that were seen. */
static void
put_slope(struct page *page, const char *key, const struct slope *slope,
    const struct trend_course *course)
{
	double weeks = course->weeks;

	page_open(page, GROUP_OBJECT, key, NULL);
	page_field(
	    page, "verdict", NULL, cell_words(report_trend_words_verdict(slope)));
	page_field(page, "points", NULL, cell_count((int64_t)slope->n));
	page_field(page, "per_week", NULL, cell_number(slope->slope, 4));
	page_field(page, "per_week_low", NULL, cell_number(slope->slope_95.low, 4));
	page_field(page, "per_week_high", NULL, cell_number(slope->slope_95.high, 4));
	page_field(page, "days", NULL, cell_number(report_trend_words_days(course), 2));
	page_field(page, "change", NULL, cell_number(weeks * slope->slope, 4));
	page_field(
	    page, "change_low", NULL, cell_number(weeks * slope->slope_95.low, 4));
	page_field(
	    page, "change_high", NULL, cell_number(weeks * slope->slope_95.high, 4));
	page_field(page, "first", NULL, cell_number(slope->first, 4));
	page_field(page, "last", NULL, cell_number(slope->last, 4));
	page_field(page, "between_shifts_sd", NULL, cell_number(slope->between, 4));
	page_field(page, "r1", NULL, cell_number(slope->r1, 2));
	page_field(page, "r1_bound", NULL, cell_number(slope->r1_bound, 2));
	page_close(page);
}

/* The best there is, shown or not. */
static void
put_step(const struct report_trend *report)
{
	const struct step *step = &report->course->mean_step;
	const struct trend_shift *points = report->kind->points;
	struct page *page = report->page;
	bool there = !isnan(step->p);
	char last[REPORT_TREND_SHIFT], first[REPORT_TREND_SHIFT];

	if (there) {
		report_trend_shift(&points[step->last], last);
		report_trend_shift(&points[step->at], first);
	}
	page_open(page, GROUP_OBJECT, "mean_step", NULL);
	page_field(
	    page, "verdict", NULL, cell_words(report_trend_words_step(report->course)));
	page_field(page, "points", NULL, cell_count((int64_t)step->n));
	page_field(page, "after", NULL, there ? cell_words(last) : cell_absent(NULL));
	page_field(page, "from", NULL, there ? cell_words(first) : cell_absent(NULL));
	page_field(page, "from_at", NULL,
	    there ? cell_time(points[step->at].shots.first) : cell_absent(NULL));
	page_field(page, "mean_before", NULL, cell_number(step->before, 4));
	page_field(page, "mean_since", NULL, cell_number(step->after, 4));
	page_field(page, "p", NULL, cell_number(step->p, 4));
	page_field(page, "r1", NULL, cell_number(step->r1, 2));
	page_field(page, "r1_bound", NULL, cell_number(step->r1_bound, 2));
	page_close(page);
}

static void
put_tally(const struct report_trend *report)
{
	const struct trend_tally tally =
	    trend_tally(report->course, 0, report->course->count);
	struct page *page = report->page;

	page_field(page, "points", NULL, cell_count((int64_t)tally.points));
	page_field(page, "capable", NULL, cell_count((int64_t)tally.capable));
	page_field(page, "not_capable", NULL, cell_count((int64_t)tally.not_capable));
	page_field(page, "values", NULL, cell_count((int64_t)tally.shots));
	page_field(page, "outside", NULL, cell_count((int64_t)tally.outside));
}

static void
put_words(const struct report_trend *report)
{
	const struct trend_course *course = report->course;
	struct page *page = report->page;
	enum trend_move move = trend_move(course);
	char mean[REPORT_TREND_WORDS], ppk[REPORT_TREND_WORDS];
	char headline[REPORT_TREND_HEADLINE];

	report_trend_headline(report->kind, course, headline);
	page_note(page, "headline", report_trend_headline_tone(course), "%s", headline);
	report_trend_words_mean(report->settings, report->kind, course, mean);
	report_trend_words_ppk(course, ppk);
	page_note(page, "mean_words",
	    move == TREND_MOVE_LINE || move == TREND_MOVE_STEP ? TONE_STRONG
							       : TONE_PLAIN,
	    "%s", mean);
	if (*ppk)
		page_note(page, "ppk_words",
		    trend_direction(&course->ppk) ? TONE_STRONG : TONE_PLAIN, "%s",
		    ppk);
}

static void
put_limits(const struct report_trend *report)
{
	const struct trend_course *course = report->course;
	struct page *page = report->page;
	int feature = course->feature;

	page_field(
	    page, "characteristic", NULL, cell_words(feature_get(feature)->name));
	page_field(page, "unit", NULL, cell_words(feature_unit_text(feature)));
	page_field(page, "lower", isnan(course->lower) ? NULL : "lower limit",
	    shown_value(report->settings, feature, course->lower));
	page_field(page, "upper", isnan(course->upper) ? NULL : "upper limit",
	    shown_value(report->settings, feature, course->upper));
	page_field(
	    page, NULL, "unit", cell_words(shown_unit(report->settings, feature)));
}

int
report_trend_put(const struct report_trend *report, struct error *error)
{
	const struct trend_course *course = report->course;
	struct page *page = report->page;
	bool limited = !isnan(course->lower) || !isnan(course->upper);
	int code = 0;

	page_open(page, GROUP_ITEM, NULL, feature_get(course->feature)->name);
	put_words(report);
	put_limits(report);
	if (limited)
		put_tally(report);
	put_slope(page, "mean_slope", &course->mean, course);
	put_step(report);
	if (limited)
		put_slope(page, "ppk_slope", &course->ppk, course);
	if (report->pictures)
		code = report_trend_picture_put(report, error);
	report_trend_table_put(report);
	page_close(page);
	return code;
}

/* Lines and steps that were tried. */
static size_t
tried(const struct trend_courses *kinds, size_t count)
{
	size_t sum = 0;

	for (size_t k = 0; k < count; k++)
		for (size_t i = 0; i < kinds[k].count; i++) {
			const struct trend_course *course = kinds[k].list[i];
			sum += isnan(course->mean.slope) ? 0 : 1;
			sum += isnan(course->ppk.slope) ? 0 : 1;
			sum += isnan(course->mean_step.p) ? 0 : 1;
		}
	return sum;
}

void
report_trend_put_remarks(
    struct page *page, const struct trend_courses *kinds, size_t count)
{
	size_t chances = tried(kinds, count);

	page_open(page, GROUP_OBJECT, "remarks", "Remarks");
	page_note(page, "points", TONE_PLAIN,
	    "A point is of one shift and one lot, complete shots alone; a shot belongs "
	    "to the shift in which it was formed. Outside: shots beyond a limit, of "
	    "all "
	    "that have a value. In brackets: 95 %% intervals; too dependent: the shots "
	    "are worth too few independent ones for an interval. A Ppk of values that "
	    "are not normal is that by percentiles of the distribution that fits. A "
	    "Ppk or Cpk that is "
	    "withheld is in the JSON and CSV with its reasons; what the reasons mean "
	    "says 'evensoak report' of that shift. What was not stable performed so, "
	    "which does not say what comes.");
	page_note(page, "slopes", TONE_PLAIN,
	    "Lines and steps: a straight line through the points, and the step from "
	    "one shift to the next that leaves least, both weighted by the points' "
	    "uncertainty and by the scatter between them (DerSimonian and Laird 1986; "
	    "interval after Hartung and Knapp 2001; p of the step times the places "
	    "there are). They take shifts for independent, and say that something "
	    "moved, not why, and not that it goes on.");
	if (chances > 1)
		page_note(page, "chance", TONE_PLAIN,
		    "Of %zu lines and steps tried here chance alone shows about %.1f "
		    "at most.",
		    chances, 0.05 * (double)chances);
	page_close(page);
}
