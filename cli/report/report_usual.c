/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/report/report_usual.h"

#include <stdio.h>
#include <stdlib.h>

#include "cli/report/report_words.h"
#include "cli/wording/shown.h"

#define COUNT(array) (sizeof(array) / sizeof((array)[0]))

enum { LABELS = 2, TITLE = LEDGER_NAME + 16 };

static void
put_one(const struct report_part *part)
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
	const struct judgement *judgement = part->judgement;

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

/* --- lots side by side ---------------------------------------------------------------------- */

/* A column a lot behind feature and unit, with what is lent to it. */
struct beside {
	struct column *columns;
	struct cell *cells;
	char (*titles)[TITLE], (*figures)[2 * REPORT_FIGURE];
};

static bool
beside_make(struct beside *beside, size_t lots)
{
	beside->columns = calloc(LABELS + lots, sizeof *beside->columns);
	beside->cells = calloc(LABELS + lots, sizeof *beside->cells);
	beside->titles = calloc(lots, sizeof *beside->titles);
	beside->figures = calloc(lots, sizeof *beside->figures);
	return beside->columns && beside->cells && beside->titles && beside->figures;
}

static void
beside_release(struct beside *beside)
{
	free(beside->columns);
	free(beside->cells);
	free(beside->titles);
	free(beside->figures);
}

static void
set_columns(struct beside *beside, const struct report_parts *parts)
{
	beside->columns[0] = (struct column){NULL, "feature", COLUMN_EACH};
	beside->columns[1] = (struct column){NULL, "unit", COLUMN_EACH};
	for (size_t i = 0; i < parts->count; i++) {
		const char *lot = parts->list[i].population->lot;
		snprintf(beside->titles[i], sizeof beside->titles[i], "%s: mean (s)",
		    *lot ? lot : "unknown");
		beside->columns[LABELS + i] =
		    (struct column){NULL, beside->titles[i], 0};
	}
}

static const struct judged *
find_usual(const struct judgement *judgement, int feature)
{
	for (size_t i = 0; i < judgement->usual_count; i++)
		if (judgement->usual[i].feature == feature)
			return &judgement->usual[i];
	return NULL;
}

static void
put_feature(struct beside *beside, const struct report_parts *parts, int feature)
{
	const struct settings *settings = parts->settings;
	bool any = false;

	beside->cells[0] = cell_words(feature_get(feature)->name);
	beside->cells[1] = cell_words(shown_unit(settings, feature));
	for (size_t i = 0; i < parts->count; i++) {
		const struct judged *judged =
		    find_usual(parts->list[i].judgement, feature);
		struct cell *cell = &beside->cells[LABELS + i];
		*cell = cell_absent(NULL);
		if (!judged)
			continue;
		*cell = shown_value(settings, feature, judged->c.mean);
		struct cell sd = shown_deviation(settings, feature, judged->c.sd);
		any = true;
		if (cell->kind == CELL_ABSENT || sd.kind == CELL_ABSENT)
			continue;
		snprintf(beside->figures[i], sizeof beside->figures[i], "%.*f (%.*f)",
		    cell->digits, cell->shown, sd.digits, sd.shown);
		cell->instead = beside->figures[i];
	}
	if (any)
		page_row(parts->page, beside->cells);
}

static void
put_beside(const struct report_parts *parts)
{
	struct beside beside;

	if (beside_make(&beside, parts->count)) {
		set_columns(&beside, parts);
		page_table(parts->page, NULL, "Without limits", beside.columns,
		    LABELS + parts->count);
		for (int id = 0; id < FEATURE_COUNT; id++)
			put_feature(&beside, parts, id);
		page_table_end(parts->page);
	} else {
		page_fail(parts->page);
	}
	beside_release(&beside);
}

void
report_usual_put(const struct report_parts *parts)
{
	if (parts->count > 1)
		put_beside(parts);
	else
		put_one(&parts->list[0]);
}
