/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/report/report_patterns.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "cli/wording/shown.h"
#include "cli/wording/shown_numbers.h"
#include "daemon/base/text.h"

#define COUNT(array) (sizeof(array) / sizeof((array)[0]))

enum { PATTERN_BYTES = 1024 };

static const char *const rule_words[RUN_RULE_COUNT] = {
    [RULE_ONE_BEYOND_3S] = "beyond 3 s",
    [RULE_TWO_OF_THREE_BEYOND_2S] = "2 of 3 beyond 2 s",
    [RULE_FOUR_OF_FIVE_BEYOND_1S] = "4 of 5 beyond 1 s",
    [RULE_EIGHT_ONE_SIDE] = "8 on one side",
    [RULE_NINE_ONE_SIDE] = "9 on one side",
    [RULE_SIX_TRENDING] = "6 rising or falling",
    [RULE_FOURTEEN_ALTERNATING] = "14 up and down in turn",
    [RULE_FIFTEEN_WITHIN_1S] = "15 within 1 s",
    [RULE_EIGHT_BEYOND_1S] = "8 beyond 1 s",
};

/* Patterns are a set of RULE_BITs; a shot that several point at counts once. */
static void
find_shots(const struct report_part *part, const struct study *study, unsigned rules,
    struct numbers *which)
{
	size_t last = 0;

	for (size_t i = 0; i < study->signals.count; i++) {
		const struct signal *signal = &study->signals.list[i];
		if (!(rules & RULE_BIT(signal->rule)) || signal->slot == last)
			continue;
		numbers_add(which, part->population->complete.list[signal->slot - 1]);
		last = signal->slot;
	}
}

static void
put_row(const struct report_part *part, const struct judged *judged, unsigned rules,
    const struct cell *pattern)
{
	const struct study *study = judged->study;
	struct numbers which = {0};
	struct shown_numbers numbers;
	char chance[32];

	find_shots(part, study, rules, &which);
	struct cell chance_cell = cell_number(study->signals_chance, 2);
	snprintf(chance, sizeof chance, "%.0f %%", 100 * study->signals_chance);
	if (isfinite(study->signals_chance))
		chance_cell.instead = chance;
	const struct cell cells[] = {
	    cell_words(feature_get(judged->feature)->name),
	    shown_name(part->population->lot),
	    *pattern,
	    chance_cell,
	    cell_count((int64_t)which.count),
	    shown_numbers_cell(part->page, &which, &numbers),
	};
	if (which.count > 0)
		page_row(part->page, cells);
	shown_numbers_release(&numbers);
	free(which.list);
}

static void
put_each(const struct report_part *part, const struct judged *judged)
{
	for (int rule = 0; rule < RUN_RULE_COUNT; rule++) {
		struct cell pattern = cell_words(run_rule_name((enum run_rule)rule));
		put_row(part, judged, RULE_BIT(rule), &pattern);
	}
}

static void
put_all(const struct report_part *part, const struct judged *judged)
{
	const struct signals *signals = &judged->study->signals;
	unsigned rules = 0;
	struct text words;

	for (size_t i = 0; i < signals->count; i++)
		rules |= RULE_BIT(signals->list[i].rule);
	text_init(&words, PATTERN_BYTES);
	for (int rule = 0; rule < RUN_RULE_COUNT; rule++)
		if (rules & RULE_BIT(rule))
			text_printf(
			    &words, "%s%s", words.length ? ", " : "", rule_words[rule]);
	struct cell pattern = cell_words(words.bytes);
	put_row(part, judged, rules, &pattern);
	text_release(&words);
}

void
report_patterns_put(const struct report_parts *parts)
{
	const struct column columns[] = {
	    {"characteristic", "characteristic", 0},
	    {NULL, parts->count > 1 ? "lot" : NULL, COLUMN_EACH},
	    {"pattern", "pattern", 0},
	    {"chance", "by chance", 0},
	    {"shots", parts->people ? NULL : "shots", 0},
	    {"shot_nos", "numbers", 0},
	};

	page_table(parts->page, "patterns", "Shots at which a pattern ends", columns,
	    COUNT(columns));
	for (size_t k = 0; k < parts->list[0].judgement->limited_count; k++)
		for (size_t i = 0; i < parts->count; i++) {
			const struct report_part *part = &parts->list[i];
			if (parts->people)
				put_all(part, &part->judgement->limited[k]);
			else
				put_each(part, &part->judgement->limited[k]);
		}
	page_table_end(parts->page);
}
