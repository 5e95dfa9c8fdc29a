/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/report/report_population.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "cli/population/judgement.h"
#include "cli/report/report_numbers.h"
#include "cli/wording/shown.h"
#include "cli/wording/verdict.h"
#include "daemon/base/error.h"

#define COUNT(array) (sizeof(array) / sizeof((array)[0]))

void
report_population_title(const struct report_part *part, char title[static REPORT_TITLE])
{
	const struct population *population = part->population;
	const struct recipe_settings *recipe =
	    settings_recipe(part->settings, population_recipe(population->recipe));
	bool named = recipe && *recipe->name;

	snprintf(title, REPORT_TITLE, "recipe %s%s%s%s, tool %s, lot %s%s%s",
	    *population->recipe ? population->recipe : "unknown", named ? " (" : "",
	    named ? recipe->name : "", named ? ")" : "",
	    *population->tool ? population->tool : "unknown",
	    *population->lot ? population->lot : "unknown",
	    *population->material ? ", " : "", population->material);
}

/* --- the tables ------------------------------------------------------------------- */

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
    {"ppk_least", "Ppk at least", 1},
    {"ppk_quotable", NULL, 1},
    {"ppk_withheld", NULL, 1},
    {"ppk_widened", NULL, 1},
    {"ppk_interval_withheld", NULL, 1},
    {"n_effective", NULL, 1},
    {"sd_within", NULL, 1},
    {"r1", "r1", 1},
    {"r1_bound", NULL, 1},
};

static void
put_characteristic(const struct report_part *part, const struct judged *judged)
{
	const struct settings *settings = part->settings;
	const struct population *population = part->population;
	const struct capability *c = &judged->c;
	const struct capability_index *within = &c->within, *overall = &c->overall;
	bool too_dependent = c->memory == CAPABILITY_TOO_DEPENDENT;
	int id = judged->feature;
	char figures[4][VERDICT_FIGURE], why[2][VERDICT_SENTENCE];
	struct cell outside = cell_count((int64_t)(c->below + c->above));
	struct cell least = cell_number(c->ppk_least, 2);

	verdict_sentence(c, within->verdict, why[0]);
	verdict_sentence(c, overall->verdict, why[1]);
	outside.tone = c->below + c->above ? TONE_BAD : TONE_PLAIN;
	if (overall->verdict != CAPABILITY_QUOTABLE)
		least.instead = "-";
	else if (too_dependent)
		least.instead = "too dependent";
	const struct cell cells[] = {
	    cell_words(feature_get(id)->name),
	    cell_words(part->line),
	    shown_name(population->recipe),
	    shown_name(population->tool),
	    shown_name(population->lot),
	    shown_name(population->material),
	    cell_words(feature_unit_text(id)),
	    cell_words(shown_unit(settings, id)),
	    cell_count((int64_t)c->n),
	    cell_count((int64_t)c->missing),
	    shown_value(settings, id, c->mean),
	    shown_deviation(settings, id, c->sd),
	    shown_value(settings, id, c->min),
	    shown_value(settings, id, c->max),
	    shown_value(settings, id, judged->lower),
	    shown_value(settings, id, judged->upper),
	    cell_count((int64_t)c->below),
	    cell_count((int64_t)c->above),
	    outside,
	    verdict_cell(within->p, within->p_95, within->verdict, figures[0]),
	    cell_number(within->p_95.low, 2),
	    cell_number(within->p_95.high, 2),
	    cell_number(within->pl, 2),
	    cell_number(within->pu, 2),
	    verdict_cell(within->pk, within->pk_95, within->verdict, figures[1]),
	    cell_number(within->pk_95.low, 2),
	    cell_number(within->pk_95.high, 2),
	    cell_truth(within->verdict == CAPABILITY_QUOTABLE),
	    shown_name(why[0]),
	    verdict_cell(overall->p, overall->p_95, overall->verdict, figures[2]),
	    cell_number(overall->p_95.low, 2),
	    cell_number(overall->p_95.high, 2),
	    cell_number(overall->pl, 2),
	    cell_number(overall->pu, 2),
	    verdict_cell(overall->pk, overall->pk_95, overall->verdict, figures[3]),
	    cell_number(overall->pk_95.low, 2),
	    cell_number(overall->pk_95.high, 2),
	    least,
	    cell_truth(overall->verdict == CAPABILITY_QUOTABLE),
	    shown_name(why[1]),
	    cell_truth(c->memory == CAPABILITY_WIDENED),
	    cell_words(too_dependent ? "too dependent" : NULL),
	    cell_number(c->n_effective, 1),
	    shown_deviation(settings, id, c->sd_within),
	    cell_number(c->r1, 2),
	    cell_number(c->r1_bound, 2),
	};
	_Static_assert(COUNT(cells) == COUNT(characteristic_columns), "one a column");
	page_row(part->page, cells);
}

static void
put_characteristics(const struct report_part *part, const struct judgement *judgement)
{
	page_table(part->page, "characteristics", "Against limits",
	    characteristic_columns, COUNT(characteristic_columns));
	for (size_t i = 0; i < judgement->limited_count; i++)
		put_characteristic(part, &judgement->limited[i]);
	page_table_end(part->page);
}

static void
put_memory(const struct report_part *part, const char *name, const struct capability *c)
{
	switch (c->memory) {
	case CAPABILITY_NONE_SEEN:
		return;
	case CAPABILITY_WIDENED:
		page_note(part->page, NULL, TONE_PLAIN,
		    "%s: the intervals of Pp and Ppk are widened for that dependence "
		    "and approximate",
		    name);
		return;
	case CAPABILITY_TOO_DEPENDENT:
		page_note(part->page, NULL, TONE_PLAIN,
		    "%s: Pp and Ppk have no interval: too dependent: the %zu values "
		    "are worth %.1f independent ones, at least %d are needed",
		    name, c->n, c->n_effective, CAPABILITY_LEAST_EFFECTIVE);
		return;
	}
}

/* What the table cannot say. */
static void
put_doubts(const struct report_part *part, const struct judged *judged)
{
	const char *name = feature_get(judged->feature)->name;
	const struct capability *c = &judged->c;
	double uncertainty_s = part->population->uncertainty_s;
	bool one_limit = isnan(judged->lower) || isnan(judged->upper);
	char why[VERDICT_SENTENCE];

	if (part->population->complete.count < CAPABILITY_LEAST)
		return; /* said of all of them at once */
	if (c->overall.verdict != CAPABILITY_QUOTABLE)
		page_note(part->page, NULL, TONE_PLAIN, "%s: no index is quoted: %s",
		    name, (verdict_sentence(c, c->overall.verdict, why), why));
	else if (c->within.verdict != CAPABILITY_QUOTABLE)
		page_note(part->page, NULL, TONE_PLAIN, "%s: Cp and Cpk withheld: %s",
		    name, (verdict_sentence(c, c->within.verdict, why), why));
	if (c->overall.verdict == CAPABILITY_QUOTABLE)
		put_memory(part, name, c);
	if (feature_get(judged->feature)->dimension == DIMENSION_TIME &&
	    c->overall.verdict == CAPABILITY_QUOTABLE && c->sd <= uncertainty_s)
		page_note(part->page, NULL, TONE_PLAIN,
		    "%s: s is not above the uncertainty of %.1f s that polling leaves: "
		    "the index says more about polling than about the line",
		    name, uncertainty_s);
	if (judgement_bounded_at_zero(judged->feature) && one_limit &&
	    c->overall.verdict == CAPABILITY_QUOTABLE)
		page_note(part->page, NULL, TONE_PLAIN,
		    "%s: a spread cannot fall below zero and is skewed; an index by "
		    "the normal distribution flatters it",
		    name);
}

static void
put_usual(const struct report_part *part, const struct judgement *judgement)
{
	static const struct column columns[] = {
	    {"feature", "feature", 0},
	    {"unit", NULL, 0},
	    {NULL, "unit", 0},
	    {"n", "n", 0},
	    {"absent", "absent", 0},
	    {"mean", "mean", 0},
	    {"sd", "s", 0},
	    {"min", "min", 0},
	    {"max", "max", 0},
	};
	const struct settings *settings = part->settings;

	page_table(part->page, "features", "Without limits", columns, COUNT(columns));
	for (size_t i = 0; i < judgement->usual_count; i++) {
		const struct capability *c = &judgement->usual[i].c;
		int id = judgement->usual[i].feature;
		const struct cell cells[] = {
		    cell_words(feature_get(id)->name),
		    cell_words(feature_unit_text(id)),
		    cell_words(shown_unit(settings, id)),
		    cell_count((int64_t)c->n),
		    cell_count((int64_t)c->missing),
		    shown_value(settings, id, c->mean),
		    shown_deviation(settings, id, c->sd),
		    shown_value(settings, id, c->min),
		    shown_value(settings, id, c->max),
		};
		page_row(part->page, cells);
	}
	page_table_end(part->page);
}

/* --- all ---------------------------------------------------------------------------- */

static void
put_labels(const struct report_part *part)
{
	const struct population *population = part->population;
	struct page *page = part->page;

	page_field(page, "recipe", NULL, shown_name(population->recipe));
	page_field(page, "tool", NULL, shown_name(population->tool));
	page_field(page, "lot", NULL, shown_name(population->lot));
	page_field(page, "material", NULL, shown_name(population->material));
	page_field(page, "shots", NULL, cell_count(population->shots));
	page_field(
	    page, "complete", NULL, cell_count((int64_t)population->complete.count));
	page_field(page, "first_filed_at", NULL, cell_time(population->first));
	page_field(page, "last_filed_at", NULL, cell_time(population->last));
}

int
report_population_put(const struct report_part *part, struct error *error)
{
	size_t complete = part->population->complete.count;

	put_labels(part);
	if (complete == 0) {
		page_note(part->page, NULL, TONE_PLAIN,
		    "no complete shot: there is nothing to judge");
		return 0;
	}
	struct judgement *judgement = judgement_new(part->settings, part->population);
	if (!judgement)
		return error_set(error, ERROR_MEMORY, "out of memory");
	if (complete < CAPABILITY_LEAST)
		page_note(part->page, NULL, TONE_PLAIN,
		    "too few: %zu complete shots, at least %d are needed for an index",
		    complete, CAPABILITY_LEAST);
	if (judgement->limited_count > 0)
		put_characteristics(part, judgement);
	else
		page_note(part->page, NULL, TONE_PLAIN,
		    "the set-up has no limits for this population: no index");
	for (size_t i = 0; i < judgement->limited_count; i++)
		put_doubts(part, &judgement->limited[i]);
	report_numbers_outside(part, judgement);
	put_usual(part, judgement);
	report_numbers_absent(part, judgement);
	judgement_free(judgement);
	return 0;
}
