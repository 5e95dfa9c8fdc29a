/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/report_counts.h"

#include "cli/command/shown.h"
#include "daemon/base/text.h"

#define COUNT(array) (sizeof(array) / sizeof((array)[0]))

enum { NUMBERS_MAX_BYTES = 1 << 20 };

void
report_counts_outcomes(struct page *page, const struct populations *all)
{
	static const struct column columns[] = {
	    {"outcome", "outcome", 0},
	    {"shots", "shots", 0},
	};

	page_table(page, "outcomes", "Shots by outcome", columns, COUNT(columns));
	for (int i = SHOT_OUTCOME_COUNT - 1; i >= 0; i--) {
		if (all->by_outcome[i] == 0)
			continue;
		const struct cell cells[] = {
		    cell_words(shot_outcome_text((enum shot_outcome)i)),
		    cell_count(all->by_outcome[i]),
		};
		page_row(page, cells);
	}
	page_table_end(page);
}

void
report_counts_left_out(struct page *page, const struct populations *all)
{
	static const struct column columns[] = {
	    {"outcome", "outcome", 0},
	    {"reason", "reason", 0},
	    {"shots", "shots", 0},
	    {"shot_nos", "numbers", 0},
	};

	page_table(
	    page, "left_out", "Left out of the statistics", columns, COUNT(columns));
	for (size_t i = 0; i < all->left_out_count; i++) {
		const struct left_out *one = &all->left_out[i];
		struct text numbers;
		text_init(&numbers, NUMBERS_MAX_BYTES);
		numbers_text(&one->shots, &numbers);
		const struct cell cells[] = {
		    cell_words(shot_outcome_text(one->outcome)),
		    shown_name(one->reason),
		    cell_count((int64_t)one->shots.count),
		    cell_words(numbers.bytes),
		};
		page_row(page, cells);
		text_release(&numbers);
	}
	page_table_end(page);
}

void
report_counts_what_ran(struct page *page, const struct populations *all)
{
	static const struct column columns[] = {
	    {NULL, "recipe", COLUMN_EACH},
	    {NULL, "tool", COLUMN_EACH},
	    {NULL, "lot", COLUMN_EACH},
	    {NULL, "material", 0},
	    {NULL, "shots", 0},
	    {NULL, "complete", 0},
	    {NULL, "first", 0},
	    {NULL, "last", 0},
	};

	page_table(page, NULL, "What ran", columns, COUNT(columns));
	for (size_t i = 0; i < all->count; i++) {
		const struct population *one = &all->list[i];
		const struct cell cells[] = {
		    shown_name(one->recipe),
		    shown_name(one->tool),
		    shown_name(one->lot),
		    shown_name(one->material),
		    cell_count(one->shots),
		    cell_count((int64_t)one->complete.count),
		    cell_time(one->first),
		    cell_time(one->last),
		};
		page_row(page, cells);
	}
	page_table_end(page);
}
