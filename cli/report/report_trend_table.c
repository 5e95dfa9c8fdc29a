/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/report/report_trend_table.h"

#include <assert.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "cli/wording/shown.h"
#include "cli/wording/study_words.h"
#include "daemon/base/utf8.h"

#define COUNT(array) (sizeof(array) / sizeof((array)[0]))

enum { FIGURE = 64, WITHHELD = 200, LOT_SHOWN = 14 /* characters of a lot, at most */ };

/* What these columns say is added in the same order. */
static const struct column columns[] = {
    {NULL, "shift", COLUMN_EACH},
    {NULL, "lot", COLUMN_EACH},
    {"characteristic", NULL, 0},
    {"line", NULL, 0},
    {"recipe", NULL, 0},
    {"tool", NULL, 0},
    {"shift", NULL, 0},
    {"date", NULL, 0},
    {"from", NULL, 0},
    {"to", NULL, 0},
    {"first_at", NULL, 0},
    {"last_at", NULL, 0},
    {"lot", NULL, 0},
    {"n", NULL, 0},
    {"missing", NULL, 0},
    {"outside", "outside", 0},
    {NULL, "n", 0},
    {"unit", NULL, 0},
    {"mean", "mean", 0},
    {"sd", "s", 0},
    {"ppk", "Ppk", 0},
    {"ppk_low", NULL, 0},
    {"ppk_high", NULL, 0},
    {"ppk_lower_bound", NULL, 0},
    {"ppk_quotable", NULL, 0},
    {"ppk_withheld", NULL, 0},
    {"index", NULL, 0},
    {"index_low", NULL, 0},
    {"index_high", NULL, 0},
    {"index_quotable", NULL, 0},
    {"index_by_percentiles", NULL, 0},
    {"cpk", "Cpk, or why withheld", 0},
    {"cpk_low", NULL, 0},
    {"cpk_high", NULL, 0},
    {"cpk_quotable", NULL, 0},
    {"cpk_withheld", NULL, 0},
    {"stability", "stable", 0},
    {"verdict", "capable", 0},
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

/* With what withholds it where `why`. */
static struct cell
index_cell(const struct study_index *index, bool why, char figure[static FIGURE])
{
	struct cell cell = cell_number(index->value, 2);
	char reasons[WITHHELD];

	if (!isfinite(index->value)) {
		reasons_words(
		    index->reasons & STUDY_BIT(STUDY_NOTHING_FITS), true, reasons);
		snprintf(figure, FIGURE, "withheld: %.50s", reasons);
		return cell_absent(why && *reasons ? figure : NULL);
	}
	cell.instead = figure;
	if (!index->quotable) {
		reasons_words(index->reasons, true, reasons);
		snprintf(figure, FIGURE, "withheld%s%.50s", why ? ": " : "",
		    why ? reasons : "");
		cell.tone = TONE_FAINT;
	} else if (isnan(index->low)) {
		snprintf(figure, FIGURE, "%.2f (too dependent)", index->value);
	} else {
		snprintf(figure, FIGURE, "%.2f (%.2f to %.2f)", index->value,
		    index->low, index->high);
	}
	return cell;
}

/* Machines get what the normal distribution gives, people the index that the verdict rests on. */
static struct cell
ppk_cell(const struct study *study, char figure[static FIGURE])
{
	const struct study_shown shown = study_shown(study);
	bool nothing = shown.by_fit && study->fits.used < 0;
	unsigned reasons = study->ppk.reasons & ~STUDY_BIT(STUDY_NOT_NORMAL);
	const struct study_index in_use = {.value = shown.index,
	    .low = shown.low,
	    .high = shown.high,
	    .quotable = shown.quotable,
	    .reasons = reasons | (nothing ? STUDY_BIT(STUDY_NOTHING_FITS) : 0)};
	struct cell cell = cell_number(study->ppk.value, 2),
		    people = index_cell(&in_use, true, figure);

	cell.tone = people.tone;
	cell.instead =
	    people.kind == CELL_ABSENT && !people.instead ? "-" : people.instead;
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
	case STABILITY_NO_NEIGHBOURS:
		cell.instead = "few neighbours";
		cell.tone = TONE_FAINT;
		break;
	case STABILITY_NO_VARIATION:
		cell.instead = "all alike";
		cell.tone = TONE_FAINT;
		break;
	}
	return cell;
}

/* Where a long name of a lot is cut; its end where it is not. */
static const char *
lot_end(const char *lot)
{
	const char *at = lot;

	for (int i = 0; i < LOT_SHOWN && *at; i++)
		utf8_next(&at);
	return at;
}

static bool
is_cut(const char *lot)
{
	return *lot_end(lot) != '\0';
}

/* It stands whole where the lot begins, and is in each part of a table that is folded. */
static struct cell
lot_cell(const char *lot, char cut[static FIGURE])
{
	if (!is_cut(lot))
		return shown_name(lot);
	snprintf(cut, FIGURE, "%.*s\u2026", (int)(lot_end(lot) - lot), lot);
	return cell_words(cut);
}

static struct cell
outside_cell(const struct report_trend *report, size_t i, char figure[static FIGURE])
{
	const struct trend_course *course = report->course;
	const struct trend_tally tally = trend_tally(course, i, i + 1);
	struct cell cell = cell_count((int64_t)tally.outside);

	if (isnan(course->lower) && isnan(course->upper))
		return cell_absent(NULL);
	snprintf(figure, FIGURE, "%zu/%zu", tally.outside, tally.shots);
	cell.instead = figure;
	cell.tone = tally.outside > 0 ? TONE_BAD : TONE_PLAIN;
	return cell;
}

static struct cell
capable_cell(const struct study *study)
{
	struct cell cell = cell_words(study_words_verdict_name(study->verdict));

	if (isnan(study->lower) && isnan(study->upper))
		return cell_absent(NULL);
	switch (study->verdict) {
	case STUDY_CAPABLE:
		cell.instead = "yes";
		cell.tone = TONE_GOOD;
		break;
	case STUDY_NOT_CAPABLE:
		cell.instead = "no";
		cell.tone = TONE_BAD;
		break;
	case STUDY_NOT_ESTABLISHED:
		cell.instead = "not established";
		cell.tone = TONE_FAINT;
		break;
	}
	return cell;
}

/* The cells of a point, and the words that they lend. */
struct row {
	struct cell cells[COUNT(columns)];
	size_t count;
	char shift[REPORT_TREND_SHIFT], date[16], lot[FIGURE], outside[FIGURE],
	    ppk[FIGURE], cpk[FIGURE];
	char ppk_withheld[WITHHELD], cpk_withheld[WITHHELD], reasons[WITHHELD];
};

static void
add(struct row *row, struct cell cell)
{
	assert(row->count < COUNT(columns));
	row->cells[row->count++] = cell;
}

static void
add_shots(struct row *row, const struct report_trend *report, size_t i)
{
	const struct trend_shift *point = &report->kind->points[i];
	const struct study *study = report->course->studies[i];
	int feature = report->course->feature;

	report_trend_shift(point, row->shift);
	snprintf(row->date, sizeof row->date, "%04d-%02d-%02d",
	    point->date.year % 10000, point->date.month % 100, point->date.day % 100);
	add(row, cell_words(row->shift));
	add(row, lot_cell(point->shots.lot, row->lot));
	add(row, cell_words(feature_get(feature)->name));
	add(row, cell_words(report->line));
	add(row, shown_name(report->kind->recipe));
	add(row, shown_name(report->kind->tool));
	add(row, shown_name(point->shift));
	add(row, cell_words(row->date));
	add(row, cell_time(point->from));
	add(row, cell_time(point->to));
	add(row, cell_time(point->shots.first));
	add(row, cell_time(point->shots.last));
	add(row, shown_name(point->shots.lot));
	add(row, cell_count((int64_t)study->described.n));
	add(row, cell_count((int64_t)study->described.missing));
	add(row, outside_cell(report, i, row->outside));
	add(row, cell_count((int64_t)study->described.n));
	add(row, cell_words(feature_unit_text(feature)));
	add(row, shown_value(report->settings, feature, study->described.mean));
	add(row, shown_deviation(report->settings, feature, study->described.sd));
}

static void
add_overall(struct row *row, const struct study *study)
{
	const struct study_shown shown = study_shown(study);

	reasons_words(study->ppk.reasons, false, row->ppk_withheld);
	add(row, ppk_cell(study, row->ppk));
	add(row, cell_number(study->ppk.low, 2));
	add(row, cell_number(study->ppk.high, 2));
	add(row, cell_number(study->ppk.lower_bound, 2));
	add(row, cell_truth(study->ppk.quotable));
	add(row, shown_name(row->ppk_withheld));
	add(row, cell_number(shown.index, 2));
	add(row, cell_number(shown.low, 2));
	add(row, cell_number(shown.high, 2));
	add(row, cell_truth(shown.quotable));
	add(row, cell_truth(shown.by_fit));
}

static void
add_within(struct row *row, const struct study *study)
{
	/* that one method has no Cpk is no news of a shift */
	bool has_cpk = !(study->cpk.reasons & STUDY_BIT(STUDY_ZERO_BOUNDED));
	struct cell cell = index_cell(&study->cpk, false, row->cpk);

	reasons_words(study->cpk.reasons, false, row->cpk_withheld);
	reasons_words(has_cpk ? study->cpk.reasons : 0, true, row->reasons);
	if (*row->reasons && cell.kind != CELL_ABSENT && !study->cpk.quotable)
		cell.instead = row->reasons;
	add(row, cell);
	add(row, cell_number(study->cpk.low, 2));
	add(row, cell_number(study->cpk.high, 2));
	add(row, cell_truth(study->cpk.quotable));
	add(row, shown_name(row->cpk_withheld));
}

static void
put_point(const struct report_trend *report, size_t i, const char *changes)
{
	const struct study *study = report->course->studies[i];
	struct row row = {.count = 0};

	add_shots(&row, report, i);
	add_overall(&row, study);
	add_within(&row, study);
	add(&row, stability_cell(study));
	add(&row, capable_cell(study));
	add(&row, shown_name(changes));
	assert(row.count == COUNT(columns));
	page_row(report->page, row.cells);
}

/* People do not see what no row can have. */
static void
hide(const struct trend_course *course, struct column shown[static COUNT(columns)])
{
	bool limited = !isnan(course->lower) || !isnan(course->upper), cpk = false;

	for (size_t i = 0; i < course->count; i++)
		cpk = cpk || isfinite(course->studies[i]->cpk.value);
	for (size_t i = 0; i < COUNT(columns); i++) {
		const char *key = columns[i].key;
		shown[i] = columns[i];
		if (!key && strcmp(columns[i].title, "n") == 0 && limited)
			shown[i].title = NULL; /* behind what is outside */
		if (!key)
			continue;
		bool index = strcmp(key, "ppk") == 0 || strcmp(key, "verdict") == 0 ||
		             strcmp(key, "outside") == 0;
		if ((index && !limited) || (strcmp(key, "cpk") == 0 && !cpk))
			shown[i].title = NULL;
	}
}

void
report_trend_table_put(const struct report_trend *report)
{
	struct column shown[COUNT(columns)];
	char whole[LEDGER_NAME + 16];

	hide(report->course, shown);
	page_table(report->page, "shifts", NULL, shown, COUNT(columns));
	if (report->kind->count > 0 && is_cut(report->kind->points[0].shots.lot)) {
		snprintf(whole, sizeof whole, "-- lot %s --",
		    report->kind->points[0].shots.lot);
		page_across(report->page, TONE_FAINT, whole);
	}
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
