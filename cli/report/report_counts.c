/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/report/report_counts.h"

#include <inttypes.h>

#include "cli/source/source.h"
#include "cli/wording/shots_missing.h"
#include "cli/wording/shown.h"
#include "cli/wording/shown_numbers.h"
#include "daemon/base/text.h"

#define COUNT(array) (sizeof(array) / sizeof((array)[0]))

enum {
	RUNS_MAX_BYTES = 1 << 20,
	MISSING_MOST = 40, /* runs that are told; their words fit in a sentence */
};

void
report_counts_outcomes(struct page *page, const struct populations *all)
{
	static const struct column columns[] = {
	    {"outcome", NULL, 0}, /* people have them among what was left out */
	    {"shots", NULL, 0},
	};

	page_table(page, "outcomes", NULL, columns, COUNT(columns));
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
		struct shown_numbers numbers;
		const struct cell cells[] = {
		    cell_words(shot_outcome_text(one->outcome)),
		    shown_name(one->reason),
		    cell_count((int64_t)one->shots.count),
		    shown_numbers_cell(page, &one->shots, &numbers),
		};
		page_row(page, cells);
		shown_numbers_release(&numbers);
	}
	page_table_end(page);
}

void
report_counts_missing(
    struct page *page, const struct lacking *missing, const struct source *source)
{
	struct text runs;

	shots_missing_put_runs(missing, page);
	for (size_t i = 0; i < missing->run_count; i++)
		if (missing->runs[i].renumbered)
			page_note(page, NULL, TONE_PLAIN,
			    "numbers go on from %" PRId64 " after %" PRId64
			    " (a copy of the ledger was put back)",
			    missing->runs[i].last + 1, missing->runs[i].first - 1);
	if (lacking_count(missing) == 0)
		return;
	text_init(&runs, RUNS_MAX_BYTES);
	lacking_text(missing, MISSING_MOST, &runs);
	page_note(page, NULL, TONE_BAD,
	    "of the numbers %" PRId64 " to %" PRId64 " are missing in %s: %s",
	    missing->have[0].shot_no, missing->have[missing->count - 1].shot_no,
	    lacking_where(source), runs.bytes ? runs.bytes : "");
	text_release(&runs);
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

int
report_counts_setups(struct page *page, const struct populations *all,
    struct source *source, struct error *error)
{
	static const struct column columns[] = {
	    {"hash", "set-up in force", 0},
	    {"shots", "shots", 0},
	};
	int code = 0;

	page_table(page, "setups", NULL, columns, COUNT(columns));
	for (size_t i = 0; i < all->setup_count && code == 0; i++) {
		char hash[17];
		code = source_setup_hash(source, all->setups[i].setup, hash, error);
		if (code != 0)
			break;
		const struct cell cells[] = {
		    cell_words(hash),
		    cell_count(all->setups[i].shots),
		};
		page_row(page, cells);
	}
	page_table_end(page);
	return code;
}
