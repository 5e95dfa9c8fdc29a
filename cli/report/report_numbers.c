/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/report/report_numbers.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "daemon/base/text.h"

#define COUNT(array) (sizeof(array) / sizeof((array)[0]))

enum { NUMBERS_MAX_BYTES = 1 << 20 };

/* Why a shot is told: one of these, or an enum absent. */
enum { BELOW = -1, ABOVE = -2 };

static bool
is_told(const struct population *population, size_t at, const struct judged *judged,
    int why)
{
	if (why == BELOW)
		return population->values[at] < judged->lower;
	if (why == ABOVE)
		return population->values[at] > judged->upper;
	return population->absent[at] == why;
}

/* A row of the shots that are told for it, if there are any. */
static void
put_row(const struct report_part *part, const struct judged *judged, int why,
    const char *words)
{
	const struct population *population = part->population;
	size_t column = population_column(population, judged->feature),
	       width = population->features->count;
	struct numbers which = {
	    .list = calloc(population->complete.count, sizeof *which.list)};
	struct text numbers;

	for (size_t i = 0; which.list && i < population->complete.count; i++)
		if (is_told(population, i * width + column, judged, why))
			which.list[which.count++] = population->complete.list[i];
	text_init(&numbers, NUMBERS_MAX_BYTES);
	numbers_text(&which, &numbers);
	const struct cell cells[] = {
	    cell_words(feature_get(judged->feature)->name),
	    cell_words(words),
	    cell_count((int64_t)which.count),
	    cell_words(numbers.bytes),
	};
	if (which.count > 0)
		page_row(part->page, cells);
	text_release(&numbers);
	free(which.list);
}

void
report_numbers_outside(
    const struct report_part *part, const struct judgement *judgement)
{
	static const struct column columns[] = {
	    {"characteristic", "characteristic", 0},
	    {"side", "limit", 0},
	    {"shots", "shots", 0},
	    {"shot_nos", "numbers", 0},
	};

	page_table(part->page, "outside", "Outside a limit", columns, COUNT(columns));
	for (size_t i = 0; i < judgement->limited_count; i++) {
		put_row(part, &judgement->limited[i], BELOW, "below");
		put_row(part, &judgement->limited[i], ABOVE, "above");
	}
	page_table_end(part->page);
}

static void
put_absent(const struct report_part *part, const struct judged *judged, size_t count)
{
	for (size_t i = 0; i < count; i++)
		for (int why = ABSENT_STALE;
		     judged[i].c.missing > 0 && why <= ABSENT_NOT_CONFIGURED; why++)
			put_row(part, &judged[i], why, absent_text((enum absent)why));
}

void
report_numbers_absent(const struct report_part *part, const struct judgement *judgement)
{
	static const struct column columns[] = {
	    {"feature", "feature", 0},
	    {"reason", "reason", 0},
	    {"shots", "shots", 0},
	    {"shot_nos", "numbers", 0},
	};

	page_table(part->page, "absent", "Absent values", columns, COUNT(columns));
	put_absent(part, judgement->limited, judgement->limited_count);
	put_absent(part, judgement->usual, judgement->usual_count);
	page_table_end(part->page);
}

/* --- shots to look at ------------------------------------------------------------------ */

static const char *const rule_words[RUN_RULE_COUNT] = {
    [RULE_ONE_BEYOND_3S] = "beyond three s",
    [RULE_TWO_OF_THREE_BEYOND_2S] = "two of three beyond two s",
    [RULE_FOUR_OF_FIVE_BEYOND_1S] = "four of five beyond one s",
    [RULE_EIGHT_ONE_SIDE] = "eight in a row on one side",
    [RULE_NINE_ONE_SIDE] = "nine in a row on one side",
    [RULE_SIX_TRENDING] = "six rising or falling",
    [RULE_FOURTEEN_ALTERNATING] = "fourteen up and down in turn",
    [RULE_FIFTEEN_WITHIN_1S] = "fifteen within one s",
    [RULE_EIGHT_BEYOND_1S] = "eight beyond one s",
};

static void
put_rule(
    const struct report_part *part, const struct judged *judged, enum run_rule rule)
{
	const struct study *study = judged->study;
	struct numbers which = {0};
	struct text numbers;
	char chance[32];

	for (size_t i = 0; i < study->signals.count; i++)
		if (study->signals.list[i].rule == rule)
			numbers_add(&which, part->population->complete
						.list[study->signals.list[i].slot - 1]);
	text_init(&numbers, NUMBERS_MAX_BYTES);
	numbers_text(&which, &numbers);
	snprintf(chance, sizeof chance, "%.0f %%", 100 * study->signals_chance);
	struct cell chance_cell = cell_number(study->signals_chance, 2);
	chance_cell.instead = chance;
	struct cell pattern = cell_words(run_rule_name(rule));
	pattern.instead = rule_words[rule];
	const struct cell cells[] = {
	    cell_words(feature_get(judged->feature)->name),
	    pattern,
	    chance_cell,
	    cell_count((int64_t)which.count),
	    cell_words(numbers.bytes),
	};
	if (which.count > 0)
		page_row(part->page, cells);
	text_release(&numbers);
	free(which.list);
}

void
report_numbers_signals(
    const struct report_part *part, const struct judgement *judgement)
{
	static const struct column columns[] = {
	    {"characteristic", "characteristic", 0},
	    {"pattern", "pattern that ends there", 0},
	    {"chance", "by chance", 0},
	    {"shots", "shots", 0},
	    {"shot_nos", "numbers", 0},
	};

	page_table(
	    part->page, "patterns", "Patterns to look at", columns, COUNT(columns));
	for (size_t i = 0; i < judgement->limited_count; i++)
		for (int rule = 0; rule < RUN_RULE_COUNT; rule++)
			put_rule(part, &judgement->limited[i], (enum run_rule)rule);
	page_table_end(part->page);
}

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
	struct text numbers;

	if (study->outliers == 0)
		return;
	for (size_t i = 0; i < population->complete.count; i++) {
		double value = population->values[i * width + column];
		if (value <= low || value >= high)
			numbers_add(&which, population->complete.list[i]);
	}
	text_init(&numbers, NUMBERS_MAX_BYTES);
	numbers_text(&which, &numbers);
	bool polled = feature_get(judged->feature)->dimension == DIMENSION_TIME &&
	              study->outlying.sd <= population->uncertainty_s;
	if (!study->ppk.quotable || polled) /* of what polling leaves it says nothing */
		without.instead = "-";
	const struct cell cells[] = {
	    cell_words(feature_get(judged->feature)->name),
	    without,
	    cell_count((int64_t)which.count),
	    cell_words(numbers.bytes),
	};
	page_row(part->page, cells);
	text_release(&numbers);
	free(which.list);
}

void
report_numbers_far_out(
    const struct report_part *part, const struct judgement *judgement)
{
	static const struct column columns[] = {
	    {"characteristic", "characteristic", 0},
	    {"ppk_without", "Ppk without them", 0},
	    {"shots", "shots", 0},
	    {"shot_nos", "numbers", 0},
	};

	page_table(part->page, "far_out",
	    "Farther out than chance puts any, and in the figures", columns,
	    COUNT(columns));
	for (size_t i = 0; i < judgement->limited_count; i++)
		put_far_out(part, &judgement->limited[i]);
	page_table_end(part->page);
}
