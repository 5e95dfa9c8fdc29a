/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/report/report_numbers.h"

#include <math.h>
#include <stdlib.h>

#include "cli/wording/shown.h"
#include "cli/wording/shown_numbers.h"
#include "daemon/base/text.h"

#define COUNT(array) (sizeof(array) / sizeof((array)[0]))

/* --- outside a limit --------------------------------------------------------------------- */

static void
put_outside(const struct report_part *part, const struct judged *judged, bool above)
{
	const struct population *population = part->population;
	size_t column = population_column(population, judged->feature),
	       width = population->features->count;
	struct numbers which = {0};
	struct shown_numbers numbers;

	for (size_t i = 0; i < population->complete.count; i++) {
		double value = population->values[i * width + column];
		if (above ? value > judged->upper : value < judged->lower)
			numbers_add(&which, population->complete.list[i]);
	}
	const struct cell cells[] = {
	    cell_words(feature_get(judged->feature)->name),
	    shown_name(population->lot),
	    cell_words(above ? "above" : "below"),
	    cell_count((int64_t)which.count),
	    shown_numbers_cell(part->page, &which, &numbers),
	};
	if (which.count > 0)
		page_row(part->page, cells);
	shown_numbers_release(&numbers);
	free(which.list);
}

void
report_numbers_outside(const struct report_parts *parts)
{
	const struct column columns[] = {
	    {"characteristic", "characteristic", 0},
	    {NULL, parts->count > 1 ? "lot" : NULL, COLUMN_EACH},
	    {"side", "limit", 0},
	    {"shots", "shots", 0},
	    {"shot_nos", "numbers", 0},
	};

	page_table(parts->page, "outside", "Outside a limit", columns, COUNT(columns));
	for (size_t k = 0; k < parts->list[0].judgement->limited_count; k++)
		for (size_t i = 0; i < parts->count; i++)
			for (int above = 0; above <= 1; above++)
				put_outside(&parts->list[i],
				    &parts->list[i].judgement->limited[k], above);
	page_table_end(parts->page);
}

/* --- far out --------------------------------------------------------------------------------- */

static void
put_far_out(const struct report_part *part, const struct judged *judged)
{
	const struct population *population = part->population;
	const struct study *study = judged->study;
	const struct outliers *outlying = &study->outlying;
	size_t column = population_column(population, judged->feature),
	       width = population->features->count, n = study->described.n;
	double low = outlying->low ? study->sorted[outlying->low - 1] : -INFINITY,
	       high = outlying->high ? study->sorted[n - outlying->high] : INFINITY;
	struct cell without = cell_number(study->ppk_without_outliers, 2);
	struct numbers which = {0};
	struct shown_numbers numbers;

	if (study->outliers == 0)
		return;
	for (size_t i = 0; i < population->complete.count; i++) {
		double value = population->values[i * width + column];
		if (value <= low || value >= high)
			numbers_add(&which, population->complete.list[i]);
	}
	bool polled = judged->polled ||
	              (feature_get(judged->feature)->dimension == DIMENSION_TIME &&
			  study->outlying.sd <= population->uncertainty_s);
	if (!study_shown(study).quotable ||
	    polled) /* of what polling leaves it says nothing */
		without.instead = "-";
	const struct cell cells[] = {
	    cell_words(feature_get(judged->feature)->name),
	    shown_name(population->lot),
	    without,
	    cell_count((int64_t)which.count),
	    shown_numbers_cell(part->page, &which, &numbers),
	};
	page_row(part->page, cells);
	shown_numbers_release(&numbers);
	free(which.list);
}

void
report_numbers_far_out(const struct report_parts *parts)
{
	const struct column columns[] = {
	    {"characteristic", "characteristic", 0},
	    {NULL, parts->count > 1 ? "lot" : NULL, COLUMN_EACH},
	    {"ppk_without", "Ppk without them", 0},
	    {"shots", "shots", 0},
	    {"shot_nos", "numbers", 0},
	};

	page_table(parts->page, "far_out",
	    "Farther out than chance puts any, and in the figures", columns,
	    COUNT(columns));
	for (size_t k = 0; k < parts->list[0].judgement->limited_count; k++)
		for (size_t i = 0; i < parts->count; i++)
			put_far_out(
			    &parts->list[i], &parts->list[i].judgement->limited[k]);
	page_table_end(parts->page);
}
