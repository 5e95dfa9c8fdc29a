/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Coils and discrete inputs for people: ten in a row. */
#include "cli/command/registers_view.h"

#include <stdbool.h>
#include <stdio.h>

#include "cli/command/registers_ask.h"
#include "cli/command/registers_survey.h"
#include "cli/page/page.h"

enum { TENS = 10, LEAD = 2 };

static struct cell
bit_cell(const struct survey *survey, uint32_t at)
{
	static const char *const texts[] = {"0", "1", "*0", "*1"};
	const struct survey_register *one = &survey->registers[at];
	struct cell cell = cell_number(0, 0);
	bool there = at < survey->count && one->state == SURVEY_THERE;
	bool past = at >= survey->count;

	cell.instead = past    ? ""
	               : there ? texts[2 * (one->changes > 0) + one->word]
	                       : "-";
	cell.tone = !there ? TONE_FAINT : one->changes > 0 ? TONE_STRONG : TONE_PLAIN;
	return cell;
}

void
registers_view_put_bits(
    struct page *page, const struct registers_ask *ask, const struct survey *survey)
{
	static const struct column columns[LEAD + TENS] = {
	    {NULL, "address", 0},
	    {NULL, "document", 0},
	    {NULL, "+0", 0},
	    {NULL, "+1", 0},
	    {NULL, "+2", 0},
	    {NULL, "+3", 0},
	    {NULL, "+4", 0},
	    {NULL, "+5", 0},
	    {NULL, "+6", 0},
	    {NULL, "+7", 0},
	    {NULL, "+8", 0},
	    {NULL, "+9", 0},
	};
	char document[REGISTERS_DOCUMENT], hole[REGISTERS_HOLE];

	page_table(page, NULL, "Bits", columns, LEAD + TENS);
	for (uint32_t at = 0; at < survey->count; at += TENS) {
		struct cell cells[LEAD + TENS];
		registers_document(ask->table, survey->first + at, document);
		cells[0] = cell_count(survey->first + at);
		cells[1] = cell_words(document);
		for (uint32_t i = 0; i < TENS; i++)
			cells[LEAD + i] = bit_cell(survey, at + i);
		page_row(page, cells);
	}
	page_table_end(page);
	for (uint32_t at = 0; at < survey->count; at += survey_same(survey, at))
		if (survey->registers[at].state != SURVEY_THERE) {
			registers_view_hole(survey, at, survey_same(survey, at), hole);
			page_note(page, NULL, TONE_FAINT, "%s", hole);
		}
	if (survey->readings > 1)
		page_note(page, NULL, TONE_FAINT, "* moved");
}
