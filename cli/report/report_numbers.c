/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/report/report_numbers.h"

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
