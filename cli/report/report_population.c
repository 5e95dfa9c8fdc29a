/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/report/report_population.h"

#include <stdio.h>

#include "cli/population/judgement.h"
#include "cli/report/report_absent.h"
#include "cli/report/report_characteristics.h"
#include "cli/report/report_doubts.h"
#include "cli/report/report_line.h"
#include "cli/report/report_numbers.h"
#include "cli/report/report_patterns.h"
#include "cli/report/report_usual.h"
#include "cli/wording/shown.h"

enum {
	TITLE = 5 * LEDGER_NAME + 64,
	POPULATIONS_TOLD = 24, /* to people */
};

/* --- what stands in one table ------------------------------------------------------------- */

static struct report_part
part_of(const struct report_line *line, size_t i)
{
	return (struct report_part){line->page, line->settings, line->line,
	    &line->all->list[i], line->judgements[i]};
}

static void
put_tables(const struct report_parts *parts)
{
	if (parts->list[0].judgement->limited_count > 0)
		report_characteristics_put(parts);
	else
		page_note(parts->page, NULL, TONE_PLAIN,
		    "the set-up has no limits for this recipe and tool: no index");
	report_doubts_put(parts);
	report_numbers_outside(parts);
	report_numbers_far_out(parts);
	report_patterns_put(parts);
	report_usual_put(parts);
	report_absent_put(parts);
}

/* --- for machines ---------------------------------------------------------------------------- */

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
put_each(const struct report_line *line)
{
	page_open(line->page, GROUP_LIST, "populations", NULL);
	for (size_t i = 0; i < line->all->count; i++) {
		const struct report_part part = part_of(line, i);
		const struct report_parts parts = {
		    line->page, line->settings, &part, 1, false};
		page_open(line->page, GROUP_ITEM, NULL, NULL);
		put_labels(&part);
		if (part.judgement)
			put_tables(&parts);
		page_close(line->page);
	}
	page_close(line->page);
}

/* --- for people -------------------------------------------------------------------------------- */

/* "Figures of recipe 12 (pond-basin), tool T-117, lot A-0412, abs: 74 complete shots"; what is
 * unknown says so. */
static void
make_title(const struct report_parts *parts, size_t shots, char title[static TITLE])
{
	const struct population *population = parts->list[0].population;
	const struct recipe_settings *recipe =
	    settings_recipe(parts->settings, population_recipe(population->recipe));
	bool named = recipe && *recipe->name;
	char lots[2 * LEDGER_NAME + 16];

	if (parts->count > 1)
		snprintf(lots, sizeof lots, "%zu lots", parts->count);
	else
		snprintf(lots, sizeof lots, "lot %s%s%s",
		    *population->lot ? population->lot : "unknown",
		    *population->material ? ", " : "", population->material);
	snprintf(title, TITLE,
	    "Figures of recipe %s%s%s%s, tool %s, %s: %zu complete shot%s",
	    *population->recipe ? population->recipe : "unknown", named ? " (" : "",
	    named ? recipe->name : "", named ? ")" : "",
	    *population->tool ? population->tool : "unknown", lots, shots,
	    shots == 1 ? "" : "s");
}

static void
put_run(const struct report_parts *parts)
{
	char title[TITLE];
	size_t shots = 0, few = 0;

	for (size_t i = 0; i < parts->count; i++) {
		size_t complete = parts->list[i].population->complete.count;
		shots += complete;
		few += complete < CAPABILITY_LEAST;
	}
	make_title(parts, shots, title);
	page_open(parts->page, GROUP_ITEM, NULL, title);
	if (few > 0 && parts->count == 1)
		page_note(parts->page, NULL, TONE_PLAIN,
		    "too few: %zu complete shot%s, at least %d are needed for an index",
		    shots, shots == 1 ? "" : "s", CAPABILITY_LEAST);
	else if (few > 0)
		page_note(parts->page, NULL, TONE_PLAIN,
		    "too few: %zu of these lots %s fewer complete shots than the %d "
		    "that are needed for an index",
		    few, few == 1 ? "has" : "have", CAPABILITY_LEAST);
	put_tables(parts);
	page_close(parts->page);
}

/* The lots of each run side by side. */
static void
put_runs(const struct report_line *line)
{
	struct report_part list[POPULATIONS_TOLD];
	size_t told = 0, left_out = 0;

	page_open(line->page, GROUP_LIST, "populations", NULL);
	for (size_t i = 0; i < line->runs.count; i++) {
		struct report_parts parts = {line->page, line->settings, list, 0, true};
		for (size_t k = 0; k < line->all->count; k++) {
			if (!report_line_is_of(
				&line->runs.list[i], &line->all->list[k]))
				continue;
			if (told++ < POPULATIONS_TOLD)
				list[parts.count++] = part_of(line, k);
			else
				left_out++;
		}
		if (parts.count > 0)
			put_run(&parts);
	}
	if (left_out > 0)
		page_note(line->page, NULL, TONE_PLAIN,
		    "The figures of %zu more lots are left out here: ask for a shorter "
		    "time, for --lot, or for --format json or csv.",
		    left_out);
	page_close(line->page);
}

void
report_populations_put(const struct report_line *line)
{
	if (line->people)
		put_runs(line);
	else
		put_each(line);
}
