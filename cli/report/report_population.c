/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/report/report_population.h"

#include <stdio.h>

#include "cli/population/judgement.h"
#include "cli/report/report_characteristics.h"
#include "cli/report/report_doubts.h"
#include "cli/report/report_line.h"
#include "cli/report/report_numbers.h"
#include "cli/wording/shown.h"

#define COUNT(array) (sizeof(array) / sizeof((array)[0]))

enum {
	TITLE = 5 * LEDGER_NAME + 64,
	POPULATIONS_TOLD = 24, /* to people */
};

/* "recipe 12 (pond-basin), tool T-117, lot A-0412, abs"; what is unknown says so. */
static void
make_title(const struct report_part *part, char title[static TITLE])
{
	const struct population *population = part->population;
	const struct recipe_settings *recipe =
	    settings_recipe(part->settings, population_recipe(population->recipe));
	bool named = recipe && *recipe->name;

	snprintf(title, TITLE, "recipe %s%s%s%s, tool %s, lot %s%s%s",
	    *population->recipe ? population->recipe : "unknown", named ? " (" : "",
	    named ? recipe->name : "", named ? ")" : "",
	    *population->tool ? population->tool : "unknown",
	    *population->lot ? population->lot : "unknown",
	    *population->material ? ", " : "", population->material);
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

static void
put_population(const struct report_part *part, const struct judgement *judgement)
{
	size_t complete = part->population->complete.count;

	put_labels(part);
	if (!judgement)
		return;
	if (complete < CAPABILITY_LEAST)
		page_note(part->page, NULL, TONE_PLAIN,
		    "too few: %zu complete shots, at least %d are needed for an index",
		    complete, CAPABILITY_LEAST);
	if (judgement->limited_count > 0)
		report_characteristics_put(part, judgement);
	else
		page_note(part->page, NULL, TONE_PLAIN,
		    "the set-up has no limits for this population: no index");
	for (size_t i = 0; i < judgement->limited_count; i++)
		report_doubts_put(part, &judgement->limited[i]);
	report_numbers_outside(part, judgement);
	report_numbers_far_out(part, judgement);
	report_numbers_signals(part, judgement);
	put_usual(part, judgement);
	report_numbers_absent(part, judgement);
}

void
report_populations_put(const struct report_line *line)
{
	size_t told = line->people && line->all->count > POPULATIONS_TOLD
	                  ? POPULATIONS_TOLD
	                  : line->all->count;

	page_open(line->page, GROUP_LIST, "populations", NULL);
	for (size_t i = 0; i < told; i++) {
		const struct report_part part = {
		    line->page, line->settings, line->line, &line->all->list[i]};
		char title[TITLE], heading[TITLE + 64];
		make_title(&part, title);
		snprintf(heading, sizeof heading, "%s: %zu complete shots", title,
		    line->all->list[i].complete.count);
		/* without a complete shot people have it among what ran */
		page_open(
		    line->page, GROUP_ITEM, NULL, line->judgements[i] ? heading : NULL);
		put_population(&part, line->judgements[i]);
		page_close(line->page);
	}
	if (told < line->all->count)
		page_note(line->page, NULL, TONE_PLAIN,
		    "The figures of %zu more lots are left out here: ask for a shorter "
		    "time, or for --format json or csv.",
		    line->all->count - told);
	page_close(line->page);
}
