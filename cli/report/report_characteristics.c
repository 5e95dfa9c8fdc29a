/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/report/report_characteristics.h"

#include <assert.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "cli/report/report_words.h"
#include "cli/wording/shown.h"
#include "cli/wording/study_words.h"
#include "cli/wording/verdict.h"
#include "daemon/base/text.h"

#define COUNT(array) (sizeof(array) / sizeof((array)[0]))

enum { BLOCKS = 3 };

/* The columns, and below them the cells, in the same order. */
static const struct column characteristic_columns[] = {
    {"characteristic", "characteristic", 0},
    {"line", NULL, 0},
    {"recipe", NULL, 0},
    {"tool", NULL, 0},
    {"lot", NULL, 0},
    {"material", NULL, 0},
    {"unit", NULL, 0},
    {NULL, "unit", 0},
    {"n", "n", 0},
    {"absent", "absent", 0},
    {"mean", "mean", 0},
    {"sd", "s", 0},
    {"min", "min", 0},
    {"max", "max", 0},
    {"lower", "lower", 0},
    {"upper", "upper", 0},
    {"below", NULL, 0},
    {"above", NULL, 0},
    {NULL, "outside", 0},
    {"cp", "Cp", 1},
    {"cp_low", NULL, 1},
    {"cp_high", NULL, 1},
    {"cpl", NULL, 1},
    {"cpu", NULL, 1},
    {"cpk", "Cpk", 1},
    {"cpk_low", NULL, 1},
    {"cpk_high", NULL, 1},
    {"cpk_quotable", NULL, 1},
    {"cpk_withheld", NULL, 1},
    {"pp", "Pp", 1},
    {"pp_low", NULL, 1},
    {"pp_high", NULL, 1},
    {"ppl", NULL, 1},
    {"ppu", NULL, 1},
    {"ppk", "Ppk", 1},
    {"ppk_low", NULL, 1},
    {"ppk_high", NULL, 1},
    {"ppk_least", "at least", 1},
    {"ppk_quotable", NULL, 1},
    {"ppk_withheld", NULL, 1},
    {"ppk_widened", NULL, 1},
    {"ppk_interval_withheld", NULL, 1},
    {"n_effective", NULL, 1},
    {"sd_within", NULL, 1},
    {"r1", "r1", 2},
    {"r1_bound", NULL, 2},
    {"target", "target", 2},
    {"cpm", "Cpm", 2},
    {"required", NULL, 2},
    {"verdict", NULL, 2},
    {"reasons", NULL, 2},
    {"why", NULL, 2},
    {"performance", NULL, 2},
    {"performance_low", NULL, 2},
    {"performance_high", NULL, 2},
    {"performance_least", NULL, 2},
    {"distribution", "distribution", 2},
    {"distribution_p", "p of fit", 2},
    {"normality_a2", NULL, 2},
    {"normality_p", "p normal", 2},
    {"x00135", NULL, 2},
    {"x50", NULL, 2},
    {"x99865", NULL, 2},
    {"expected_below_ppm", NULL, 2},
    {"expected_above_ppm", NULL, 2},
    {NULL, "ppm", 2},
    {"outside_at_most_ppm", NULL, 2},
    {"stability", NULL, 2},
    {"onset", NULL, 2},
    {"onset_shot_no", NULL, 2},
    {"onset_least_shot_no", NULL, 2},
    {"onset_most_shot_no", NULL, 2},
    {"onset_before", NULL, 2},
    {"onset_after", NULL, 2},
    {"signals", NULL, 2},
    {"signals_chance", NULL, 2},
    {"outliers", NULL, 2},
    {"ppk_without_outliers", NULL, 2},
    {"distinct", NULL, 2},
    {"step", NULL, 2},
};

/* The cells that several functions fill, and the words that they lend. */
struct row {
	struct cell cells[COUNT(characteristic_columns)];
	size_t count;
	char figures[3][VERDICT_FIGURE], least[32], cpk_why[STUDY_WORDS],
	    ppk_why[STUDY_WORDS], reasons[STUDY_WORDS], why[REPORT_WORDS];
};

static void
add(struct row *row, struct cell cell)
{
	assert(row->count < COUNT(row->cells));
	row->cells[row->count++] = cell;
}

static void
add_labels(struct row *row, const struct report_part *part, int id)
{
	const struct population *population = part->population;

	add(row, cell_words(feature_get(id)->name));
	add(row, cell_words(part->line));
	add(row, shown_name(population->recipe));
	add(row, shown_name(population->tool));
	add(row, shown_name(population->lot));
	add(row, shown_name(population->material));
	add(row, cell_words(feature_unit_text(id)));
	add(row, cell_words(shown_unit(part->settings, id)));
}

static void
add_description(
    struct row *row, const struct settings *settings, const struct judged *judged)
{
	const struct capability *c = &judged->c;
	struct cell outside = cell_count((int64_t)(c->below + c->above));
	int id = judged->feature;

	outside.tone = c->below + c->above ? TONE_BAD : TONE_PLAIN;
	add(row, cell_count((int64_t)c->n));
	add(row, cell_count((int64_t)c->missing));
	add(row, shown_value(settings, id, c->mean));
	add(row, shown_deviation(settings, id, c->sd));
	add(row, shown_value(settings, id, c->min));
	add(row, shown_value(settings, id, c->max));
	add(row, shown_value(settings, id, judged->lower));
	add(row, shown_value(settings, id, judged->upper));
	add(row, cell_count((int64_t)c->below));
	add(row, cell_count((int64_t)c->above));
	add(row, outside);
}

static void
add_within(struct row *row, const struct judged *judged)
{
	const struct study *study = judged->study;
	const struct capability_index *within = &judged->c.within;

	study_words_reasons(study, study->cpk.reasons, row->cpk_why);
	add(row, verdict_cell(within->p, within->p_95, &study->cpk, row->figures[0]));
	add(row, cell_number(within->p_95.low, 2));
	add(row, cell_number(within->p_95.high, 2));
	add(row, cell_number(within->pl, 2));
	add(row, cell_number(within->pu, 2));
	add(row, verdict_cell(within->pk, within->pk_95, &study->cpk, row->figures[1]));
	add(row, cell_number(within->pk_95.low, 2));
	add(row, cell_number(within->pk_95.high, 2));
	add(row, cell_truth(study->cpk.quotable));
	add(row, shown_name(row->cpk_why));
}

/* Machines get what the normal distribution gives, people the index in use. */
static struct cell
ppk_cell(const struct study *study, double ppk, char figure[static VERDICT_FIGURE])
{
	const struct study_shown shown = study_shown(study);
	const struct fit_bounds *bounds = &study->fit_bounds;
	const struct interval in_95 = {shown.by_fit ? bounds->low : study->ppk.low,
	    shown.by_fit ? bounds->high : study->ppk.high};
	struct study_index in_use = study->ppk; /* whether it is quoted, and why not */
	struct cell cell = cell_number(ppk, 2);

	in_use.quotable = shown.quotable;
	struct cell people = verdict_cell(shown.index, in_95, &in_use, figure);
	cell.tone = people.tone;
	cell.instead = people.kind == CELL_ABSENT ? "-" : people.instead;
	if (!shown.quotable && (study->reasons & STUDY_BIT(STUDY_NOTHING_FITS)))
		cell.instead = "withheld";
	return cell;
}

/* Its interval is for machines. */
static struct cell
pp_cell(const struct study *study, double pp)
{
	struct cell cell = cell_number(pp, 2);

	if (isnan(study->pp))
		cell.instead = "-";
	else if (!study->ppk.quotable || !study_shown(study).quotable)
		cell.instead = "withheld";
	return cell;
}

static void
add_overall(struct row *row, const struct judged *judged)
{
	const struct study *study = judged->study;
	const struct capability *c = &judged->c;
	const struct capability_index *overall = &c->overall;
	const struct study_shown shown = study_shown(study);
	unsigned reasons = study->ppk.reasons;
	struct cell least = cell_number(c->ppk_least, 2);

	if (study->zero_bounded)
		reasons |= STUDY_BIT(STUDY_ZERO_BOUNDED);
	study_words_reasons(study, reasons, row->ppk_why);
	snprintf(row->least, sizeof row->least, "%.2f", shown.least);
	least.instead = shown.quotable && isfinite(shown.least) ? row->least : "-";
	add(row, pp_cell(study, overall->p));
	add(row, cell_number(overall->p_95.low, 2));
	add(row, cell_number(overall->p_95.high, 2));
	add(row, cell_number(overall->pl, 2));
	add(row, cell_number(overall->pu, 2));
	add(row, ppk_cell(study, overall->pk, row->figures[2]));
	add(row, cell_number(overall->pk_95.low, 2));
	add(row, cell_number(overall->pk_95.high, 2));
	add(row, least);
	add(row, cell_truth(study->ppk.quotable && !study->zero_bounded));
	add(row, shown_name(row->ppk_why));
}

/* --- the verdict, and what it rests on --------------------------------------------------- */

/* "too_few unstable" */
static void
name_reasons(unsigned reasons, char *names, size_t room)
{
	size_t length = 0;

	names[0] = '\0';
	for (int i = 0; i < STUDY_REASON_COUNT; i++)
		if (reasons & STUDY_BIT(i) && length < room)
			length += (size_t)snprintf(names + length, room - length,
			    "%s%s", length ? " " : "",
			    study_words_reason_name((enum study_reason)i));
}

static void
add_verdict(
    struct row *row, const struct report_part *part, const struct judged *judged)
{
	const struct study *study = judged->study;
	int id = judged->feature;

	name_reasons(study->reasons, row->reasons, sizeof row->reasons);
	report_words_why(
	    part->settings, judged, part->population->complete.list, row->why);
	add(row, shown_value(part->settings, id, judged->target));
	add(row, cell_number(study->cpm, 2));
	add(row, cell_number(study->required, 2));
	add(row, cell_words(study_words_verdict_name(study->verdict)));
	add(row, shown_name(row->reasons));
	add(row, cell_words(row->why));
	add(row, cell_number(study->ppk.value, 2));
	add(row, cell_number(study->ppk.low, 2));
	add(row, cell_number(study->ppk.high, 2));
	add(row, cell_number(study->ppk.lower_bound, 2));
}

/* Share as parts of a million. */
static struct cell
ppm(double share)
{
	struct cell cell = cell_number(1e6 * share, 0);

	if (share < 1e-6 && share >= 0)
		cell.instead = "below 1";
	return cell;
}

static struct cell
chance(double p, int digits)
{
	struct cell cell = cell_number(p, digits);

	if (p < 0.001)
		cell.instead = "<0.001";
	return cell;
}

static void
add_distribution(
    struct row *row, const struct settings *settings, const struct judged *judged)
{
	const struct study *study = judged->study;
	const struct fit fit = study_distribution(study);
	const char *name = study_words_distribution(study);
	int id = judged->feature;
	double share = (isnan(study->expected_below) ? 0 : study->expected_below) +
	               (isnan(study->expected_above) ? 0 : study->expected_above);
	struct cell expected = ppm(share);

	if (!study_shown(study).quotable ||
	    study->stability.verdict != STABILITY_STABLE)
		expected = cell_absent(NULL);
	add(row, cell_words(name));
	add(row, chance(name ? fit.p : NAN, 3));
	add(row, cell_number(study->normality.a2_adjusted, 3));
	add(row, chance(study->normality.p, 3));
	add(row, shown_value(settings, id, name ? fit.quantiles.x00135 : NAN));
	add(row, shown_value(settings, id, name ? fit.quantiles.x50 : NAN));
	add(row, shown_value(settings, id, name ? fit.quantiles.x99865 : NAN));
	add(row, ppm(study->expected_below));
	add(row, ppm(study->expected_above));
	add(row, expected);
	add(row, ppm(study->observed_most));
}

static void
add_onset(struct row *row, const struct report_part *part, const struct judged *judged)
{
	static const char *const names[] = {[ONSET_STEP] = "step",
	    [ONSET_DRIFT] = "drift",
	    [ONSET_SCATTER] = "scatter",
	    [ONSET_SINGLE] = "single"};
	const struct study *study = judged->study;
	const struct onset *onset = &study->onset;
	const int64_t *numbers = part->population->complete.list;
	const size_t slots[] = {onset->slot, onset->least, onset->most};

	add(row, cell_words(study_words_stability_name(study->stability.verdict)));
	add(row, cell_words(names[onset->kind]));
	for (size_t i = 0; i < COUNT(slots); i++)
		add(row, onset->kind != ONSET_NONE && slots[i] > 0
			     ? cell_count(numbers[slots[i] - 1])
			     : cell_absent(NULL));
	add(row, cell_number(onset->kind == ONSET_NONE ? NAN : onset->before, 3));
	add(row, cell_number(onset->kind == ONSET_NONE ? NAN : onset->after, 3));
}

static void
add_doubts(
    struct row *row, const struct settings *settings, const struct judged *judged)
{
	const struct study *study = judged->study;

	add(row, cell_count((int64_t)study->signals.count));
	add(row, cell_number(study->signals_chance, 2));
	add(row, cell_count((int64_t)study->outliers));
	add(row, cell_number(study->ppk_without_outliers, 2));
	add(row, cell_count((int64_t)study->described.distinct));
	add(row, shown_deviation(settings, judged->feature, study->step));
}

static void
put_characteristic(const struct report_part *part, const struct judged *judged)
{
	const struct settings *settings = part->settings;
	struct row row = {.count = 0};

	add_labels(&row, part, judged->feature);
	add_description(&row, settings, judged);
	add_within(&row, judged);
	add_overall(&row, judged);
	add(&row, cell_truth(judged->c.memory == CAPABILITY_WIDENED));
	add(&row,
	    cell_words(
		judged->c.memory == CAPABILITY_TOO_DEPENDENT ? "too dependent" : NULL));
	add(&row, cell_number(judged->c.n_effective, 1));
	add(&row, shown_deviation(settings, judged->feature, judged->c.sd_within));
	add(&row, cell_number(judged->c.r1, 2));
	add(&row, cell_number(judged->c.r1_bound, 2));
	add_verdict(&row, part, judged);
	add_distribution(&row, settings, judged);
	add_onset(&row, part, judged);
	add_doubts(&row, settings, judged);
	assert(row.count == COUNT(characteristic_columns));
	page_row(part->page, row.cells);
}

/* Columns that have nothing to tell here are left to machines. */
static void
choose_columns(struct column *columns, const struct report_parts *parts)
{
	bool aimed = false;

	for (size_t i = 0; i < parts->count; i++)
		for (size_t k = 0; k < parts->list[i].judgement->limited_count; k++)
			aimed |= !isnan(parts->list[i].judgement->limited[k].target);
	for (size_t i = 0; i < COUNT(characteristic_columns); i++) {
		const char *key = columns[i].key;
		if (key && !aimed &&
		    (strcmp(key, "target") == 0 || strcmp(key, "cpm") == 0))
			columns[i].title = NULL;
		if (key && strcmp(key, "absent") == 0 && parts->count > 1)
			columns[i].title = NULL; /* told below */
		if (key && strcmp(key, "lot") == 0 && parts->count > 1)
			columns[i] = (struct column){key, "lot", COLUMN_EACH};
	}
}

static void
put_rows(const struct report_parts *parts)
{
	for (size_t k = 0; k < parts->list[0].judgement->limited_count; k++)
		for (size_t i = 0; i < parts->count; i++)
			put_characteristic(
			    &parts->list[i], &parts->list[i].judgement->limited[k]);
}

/* Of all columns those of one block, as a table of its own: a sheet breaks between them. */
static void
put_block(const struct report_parts *parts, const struct column *all, int block)
{
	static const char *const headings[BLOCKS] = {
	    "Against limits", "Indices", "Distributions"};
	struct column columns[COUNT(characteristic_columns)];

	memcpy(columns, all, sizeof columns);
	for (size_t i = 1; i < COUNT(columns); i++) {
		if (columns[i].block == COLUMN_EACH)
			continue;
		if (columns[i].block != block)
			columns[i].title = NULL;
		columns[i].block = 0;
	}
	page_table(parts->page, NULL, headings[block], columns, COUNT(columns));
	put_rows(parts);
	page_table_end(parts->page);
}

void
report_characteristics_put(const struct report_parts *parts)
{
	struct column columns[COUNT(characteristic_columns)];

	memcpy(columns, characteristic_columns, sizeof columns);
	choose_columns(columns, parts);
	for (int block = 0; block < BLOCKS && parts->people; block++)
		put_block(parts, columns, block);
	if (parts->people)
		return;
	page_table(parts->page, "characteristics", NULL, columns, COUNT(columns));
	put_rows(parts);
	page_table_end(parts->page);
}
