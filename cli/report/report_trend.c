/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/report/report_trend.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "cli/report/report_trend_picture.h"
#include "cli/report/report_trend_words.h"
#include "cli/wording/shown.h"
#include "cli/wording/study_words.h"
#include "daemon/base/error.h"
#include "daemon/base/text.h"

#define COUNT(array) (sizeof(array) / sizeof((array)[0]))

enum { FIGURE = 64, WITHHELD = 200 };

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

/* --- the table of points -------------------------------------------------------------------- */

/* What these columns say stands in the same order in put_point. */
static const struct column columns[] = {
    {"characteristic", NULL, 0},
    {"line", NULL, 0},
    {"recipe", NULL, 0},
    {"tool", NULL, 0},
    {NULL, "shift", 0},
    {"shift", NULL, 0},
    {"date", NULL, 0},
    {"from", NULL, 0},
    {"to", NULL, 0},
    {"first_at", NULL, 0},
    {"last_at", NULL, 0},
    {"lot", "lot", 0},
    {"n", "n", 0},
    {"missing", NULL, 0},
    {"unit", NULL, 0},
    {NULL, "unit", 0},
    {"mean", "mean", 0},
    {"sd", "s", 0},
    {"ppk", "Ppk", 0},
    {"ppk_low", NULL, 0},
    {"ppk_high", NULL, 0},
    {"ppk_lower_bound", NULL, 0},
    {"ppk_quotable", NULL, 0},
    {"ppk_withheld", NULL, 0},
    {"cpk", "Cpk", 0},
    {"cpk_low", NULL, 0},
    {"cpk_high", NULL, 0},
    {"cpk_quotable", NULL, 0},
    {"cpk_withheld", NULL, 0},
    {"stability", "stable", 0},
    {NULL, "withheld for", 0},
    {"changes", NULL, 0},
};

/* Names of reasons with commas, for machines; with blanks for people. */
static void
reasons_words(unsigned reasons, bool people, char words[static WITHHELD])
{
	size_t used = 0;

	words[0] = '\0';
	for (int reason = 0; reason < STUDY_REASON_COUNT && used < WITHHELD; reason++)
		if (reasons & STUDY_BIT(reason))
			used += (size_t)snprintf(words + used, WITHHELD - used, "%s%s",
			    used ? ", " : "",
			    study_words_reason_name((enum study_reason)reason));
	for (char *at = words; people && *at; at++)
		if (*at == '_')
			*at = ' ';
}

static struct cell
index_cell(const struct study_index *index, char figure[static FIGURE])
{
	struct cell cell = cell_number(index->value, 2);

	if (!isfinite(index->value))
		return cell_absent(NULL);
	cell.instead = figure;
	if (!index->quotable) {
		snprintf(figure, FIGURE, "withheld");
		cell.tone = TONE_FAINT;
	} else if (isnan(index->low)) {
		snprintf(figure, FIGURE, "%.2f", index->value);
	} else {
		snprintf(figure, FIGURE, "%.2f (%.2f to %.2f)", index->value,
		    index->low, index->high);
	}
	return cell;
}

static struct cell
stability_cell(const struct study *study)
{
	enum stability_verdict verdict = study->stability.verdict;
	struct cell cell = cell_words(study_words_stability_name(verdict));

	switch (verdict) {
	case STABILITY_STABLE:
		cell.instead = "yes";
		cell.tone = TONE_GOOD;
		break;
	case STABILITY_UNSTABLE:
		cell.instead = "no";
		cell.tone = TONE_BAD;
		break;
	case STABILITY_TOO_FEW:
		cell.instead = "too few";
		cell.tone = TONE_FAINT;
		break;
	case STABILITY_NO_VARIATION:
		cell.instead = "all alike";
		cell.tone = TONE_FAINT;
		break;
	}
	return cell;
}

static void
put_point(const struct report_trend *report, size_t i, const char *changes)
{
	const struct trend_shift *point = &report->kind->points[i];
	const struct study *study = report->course->studies[i];
	const struct settings *settings = report->settings;
	int feature = report->course->feature;
	char shift[REPORT_TREND_SHIFT], date[16], ppk[FIGURE], cpk[FIGURE];
	char ppk_withheld[WITHHELD], cpk_withheld[WITHHELD], reasons[WITHHELD];

	report_trend_shift(point, shift);
	snprintf(date, sizeof date, "%04d-%02d-%02d", point->date.year % 10000,
	    point->date.month % 100, point->date.day % 100);
	reasons_words(study->ppk.reasons, false, ppk_withheld);
	reasons_words(study->cpk.reasons, false, cpk_withheld);
	/* that one method has no Cpk is no news of a shift */
	reasons_words(
	    (study->ppk.reasons | study->cpk.reasons) & ~STUDY_BIT(STUDY_ZERO_BOUNDED),
	    true, reasons);
	const struct cell cells[] = {
	    cell_words(feature_get(feature)->name),
	    cell_words(report->line),
	    shown_name(report->kind->recipe),
	    shown_name(report->kind->tool),
	    cell_words(shift),
	    shown_name(point->shift),
	    cell_words(date),
	    cell_time(point->from),
	    cell_time(point->to),
	    cell_time(point->shots.first),
	    cell_time(point->shots.last),
	    shown_name(point->shots.lot),
	    cell_count((int64_t)study->described.n),
	    cell_count((int64_t)study->described.missing),
	    cell_words(feature_unit_text(feature)),
	    cell_words(shown_unit(settings, feature)),
	    shown_value(settings, feature, study->described.mean),
	    shown_deviation(settings, feature, study->described.sd),
	    index_cell(&study->ppk, ppk),
	    cell_number(study->ppk.low, 2),
	    cell_number(study->ppk.high, 2),
	    cell_number(study->ppk.lower_bound, 2),
	    cell_truth(study->ppk.quotable),
	    shown_name(ppk_withheld),
	    index_cell(&study->cpk, cpk),
	    cell_number(study->cpk.low, 2),
	    cell_number(study->cpk.high, 2),
	    cell_truth(study->cpk.quotable),
	    shown_name(cpk_withheld),
	    stability_cell(study),
	    shown_name(reasons),
	    shown_name(changes),
	};
	_Static_assert(COUNT(cells) == COUNT(columns), "a cell for each column");
	page_row(report->page, cells);
}

static void
put_points(const struct report_trend *report)
{
	page_table(report->page, "shifts", NULL, columns, COUNT(columns));
	for (size_t i = 0; i < report->course->count; i++) {
		char changes[REPORT_TREND_CHANGES], across[REPORT_TREND_CHANGES + 8];
		report_trend_changes(report, i, changes);
		snprintf(across, sizeof across, "-- %s --", changes);
		if (*changes)
			page_across(report->page, TONE_FAINT, across);
		put_point(report, i, changes);
	}
	page_table_end(report->page);
}

/* --- the whole ------------------------------------------------------------------------------ */

static void
put_slope(struct page *page, const char *key, const struct slope *slope)
{
	page_open(page, GROUP_OBJECT, key, NULL);
	page_field(
	    page, "verdict", NULL, cell_words(report_trend_words_verdict(slope)));
	page_field(page, "points", NULL, cell_count((int64_t)slope->n));
	page_field(page, "per_week", NULL, cell_number(slope->slope, 4));
	page_field(page, "per_week_low", NULL, cell_number(slope->slope_95.low, 4));
	page_field(page, "per_week_high", NULL, cell_number(slope->slope_95.high, 4));
	page_field(page, "first", NULL, cell_number(slope->first, 4));
	page_field(page, "last", NULL, cell_number(slope->last, 4));
	page_field(page, "between_shifts_sd", NULL, cell_number(slope->between, 4));
	page_field(page, "r1", NULL, cell_number(slope->r1, 2));
	page_field(page, "r1_bound", NULL, cell_number(slope->r1_bound, 2));
	page_close(page);
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
	char mean[REPORT_TREND_WORDS], ppk[REPORT_TREND_WORDS];
	bool limited = !isnan(course->lower) || !isnan(course->upper);
	int code = 0;

	page_open(page, GROUP_ITEM, NULL, feature_get(course->feature)->name);
	put_limits(report);
	report_trend_words_mean(report->settings, course, mean);
	report_trend_words_ppk(course, ppk);
	page_note(page, "mean_words",
	    trend_direction(&course->mean) ? TONE_STRONG : TONE_PLAIN, "%s", mean);
	if (*ppk)
		page_note(page, "ppk_words",
		    trend_direction(&course->ppk) ? TONE_STRONG : TONE_PLAIN, "%s",
		    ppk);
	put_slope(page, "mean_slope", &course->mean);
	if (limited)
		put_slope(page, "ppk_slope", &course->ppk);
	if (report->pictures)
		code = report_trend_picture_put(report, error);
	put_points(report);
	page_close(page);
	return code;
}

void
report_trend_put_remarks(struct page *page, size_t slopes)
{
	page_open(page, GROUP_OBJECT, "remarks", "Remarks");
	page_note(page, "points", TONE_PLAIN,
	    "A point is of one shift and one lot, complete shots alone; a shot belongs "
	    "to the shift in which it was formed. In brackets: 95 %% intervals. A Ppk "
	    "or Cpk that is withheld is in the JSON and CSV with its reasons; what the "
	    "reasons mean says 'evensoak report' of that shift.");
	page_note(page, "slopes", TONE_PLAIN,
	    "Slopes: a straight line through the points, weighted by their "
	    "uncertainty and by the scatter between them (DerSimonian and Laird 1986; "
	    "interval after Hartung and Knapp 2001). A line says that something moved, "
	    "not why, and not that it goes on.");
	if (slopes > 1)
		page_note(page, "chance", TONE_PLAIN,
		    "Of %zu slopes here chance alone shows about %.1f as moved.",
		    slopes, 0.05 * (double)slopes);
	page_close(page);
}
