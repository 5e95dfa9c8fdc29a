/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The findings as one table, for CSV. */
#include "cli/command/found.h"

#include "cli/wording/shown.h"

#define COUNT(array) (sizeof(array) / sizeof((array)[0]))

struct cell
found_sure_cell(const struct finding *finding)
{
	return finding->cause == FINDING_DISAGREES
	           ? cell_absent(NULL)
	           : cell_words(finding_sure_text(finding->sure));
}

static void
put_row(struct page *page, const struct settings *settings, int line,
    const struct found *found, size_t i)
{
	const struct finding *finding = &found->list[i];
	const struct finding_evidence *first = &finding->evidence[0];
	const bool told = finding->evidence_count > 0;
	char subject[FOUND_SUBJECT], channel[CALIBRATE_NAME];

	found_subject(finding, found->kind.side, subject);
	found_channel(settings, line, found, finding, channel);
	const struct cell cells[] = {
	    shown_name(found->kind.side),
	    shown_name(found->kind.recipe),
	    shown_name(found->kind.tool),
	    cell_words(found->reference.name),
	    cell_words(finding_cause_text(finding->cause)),
	    found_sure_cell(finding),
	    shown_name(subject),
	    shown_name(channel),
	    cell_truth(finding->up),
	    cell_count(finding->first_shot),
	    cell_time(finding->first_at),
	    finding->last_good > 0 ? cell_count(finding->last_good) : cell_absent(NULL),
	    cell_count(finding->last_shot),
	    cell_truth(finding->lasting),
	    cell_count(finding->times),
	    cell_words(feature_get(finding->feature)->name),
	    told ? cell_number(first->expected, 4) : cell_absent(NULL),
	    told ? cell_number(first->found, 4) : cell_absent(NULL),
	    cell_words(feature_unit_text(finding->feature)),
	    told ? cell_number(first->deviations, 1) : cell_absent(NULL),
	    shown_name(found->remark[i]),
	};
	page_row(page, cells);
}

void
found_put_table(struct page *page, const struct session *session,
    const struct found_all *all, int line)
{
	static const struct column columns[] = {
	    {"machine_side", NULL, 0},
	    {"recipe", NULL, 0},
	    {"tool", NULL, 0},
	    {"reference", NULL, 0},
	    {"cause", NULL, 0},
	    {"sure", NULL, 0},
	    {"subject", NULL, 0},
	    {"channel", NULL, 0},
	    {"up", NULL, 0},
	    {"first_shot", NULL, 0},
	    {"first_at", NULL, 0},
	    {"last_good_shot", NULL, 0},
	    {"last_shot", NULL, 0},
	    {"lasting", NULL, 0},
	    {"times", NULL, 0},
	    {"feature", NULL, 0},
	    {"expected", NULL, 0},
	    {"found", NULL, 0},
	    {"unit", NULL, 0},
	    {"deviations", NULL, 0},
	    {"remark", NULL, 0},
	};

	page_table(page, "findings_table", NULL, columns, COUNT(columns));
	for (size_t k = 0; k < all->count; k++)
		for (size_t i = 0; i < all->list[k].count; i++)
			put_row(page, session->settings, line, &all->list[k], i);
	page_table_end(page);
}
