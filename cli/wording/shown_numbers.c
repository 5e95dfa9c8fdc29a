/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/wording/shown_numbers.h"

#include "cli/population/population.h"

enum { MOST_BYTES = 1 << 28 };

/* How many numbers the first runs hold. */
static size_t
count_first(const struct numbers *numbers)
{
	size_t count = 0;

	for (int run = 0; run < SHOWN_RUNS && count < numbers->count; run++) {
		count++;
		while (count < numbers->count &&
		       numbers->list[count] == numbers->list[count - 1] + 1)
			count++;
	}
	return count;
}

struct cell
shown_numbers_cell(
    struct page *page, const struct numbers *numbers, struct shown_numbers *shown)
{
	struct numbers first = {.list = numbers->list, .count = count_first(numbers)};

	text_init(&shown->all, MOST_BYTES);
	text_init(&shown->first, MOST_BYTES);
	numbers_text(numbers, &shown->all);
	struct cell cell = cell_words(shown->all.bytes);
	if (first.count < numbers->count) {
		numbers_text(&first, &shown->first);
		text_printf(
		    &shown->first, " and %zu more", numbers->count - first.count);
		cell.instead = shown->first.bytes;
	}
	if (shown->all.failed || shown->first.failed)
		page_fail(page);
	return cell;
}

void
shown_numbers_release(struct shown_numbers *shown)
{
	text_release(&shown->all);
	text_release(&shown->first);
}
