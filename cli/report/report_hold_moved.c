/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What moved within its limits, on a page. */
#include "cli/report/report_hold.h"

#include <inttypes.h>
#include <stdio.h>

#include "cli/wording/shown.h"
#include "cli/wording/study_words.h"
#include "daemon/base/error.h"
#include "daemon/base/text.h"

#define COUNT(array) (sizeof(array) / sizeof((array)[0]))

enum { NUMBERS_ROOM = 1 << 20, BEGAN = 80 };

static struct cell
number_of(const struct suspects *suspects, size_t shot)
{
	return shot == SUSPECT_NONE ? cell_absent(NULL)
	                            : cell_count(suspects->asked->shots[shot].shot_no);
}

static struct cell
time_of(const struct suspects *suspects, size_t shot)
{
	return shot == SUSPECT_NONE ? cell_absent(NULL)
	                            : cell_time(suspects->asked->shots[shot].filed_at);
}

/* "60 (54 to 63)" */
static struct cell
began_cell(const struct suspects *suspects, const struct suspect_moved *moved,
    char words[static BEGAN])
{
	const struct ledger_shot *shots = suspects->asked->shots;

	if (moved->likely == SUSPECT_NONE)
		return cell_absent(NULL);
	snprintf(words, BEGAN, "%" PRId64 " (%" PRId64 " to %" PRId64 ")",
	    shots[moved->likely].shot_no, shots[moved->earliest].shot_no,
	    shots[moved->latest].shot_no);
	return cell_words(words);
}

static const struct column columns[] = {
    {"characteristic", "moved within its limits", 0},
    {"class", NULL, 0},
    {"recipe", NULL, 0},
    {"tool", NULL, 0},
    {"lot", "lot", 0},
    {"material", NULL, 0},
    {"words", "how", 0},
    {"count", "parts", 0},
    {"first", "first", 0},
    {"first_at", NULL, 0},
    {"last", "last", 0},
    {"last_at", NULL, 0},
    {NULL, "began at (95 %)", 0},
    {"onset", NULL, 0},
    {"onset_earliest", NULL, 0},
    {"onset_latest", NULL, 0},
    {"shots", NULL, 0},
};

static bool
put_moved(const struct report_hold *report, const struct suspect_moved *moved)
{
	const struct suspects *suspects = report->suspects;
	const struct ledger_shot *shot = &suspects->asked->shots[moved->first];
	char began[BEGAN];
	struct text numbers;

	text_init(&numbers, NUMBERS_ROOM);
	numbers_text(&moved->numbers, &numbers);
	const struct cell cells[] = {
	    cell_words(feature_get(moved->feature)->name),
	    cell_words(suspects->asked->unstable ? REPORT_HOLD_CLASS
						 : REPORT_HOLD_CLASS_MOVED),
	    shown_name(shot->recipe),
	    shown_name(shot->tool),
	    shown_name(shot->lot),
	    shown_name(shot->material),
	    cell_words(study_words_onset(moved->onset)),
	    cell_count((int64_t)moved->numbers.count),
	    number_of(suspects, moved->first),
	    time_of(suspects, moved->first),
	    number_of(suspects, moved->last),
	    time_of(suspects, moved->last),
	    began_cell(suspects, moved, began),
	    number_of(suspects, moved->likely),
	    number_of(suspects, moved->earliest),
	    number_of(suspects, moved->latest),
	    shown_name(numbers.bytes ? numbers.bytes : ""),
	};
	_Static_assert(COUNT(cells) == COUNT(columns), "a cell for each column");
	page_row(report->page, cells);
	bool done = !numbers.failed;
	text_release(&numbers);
	return done;
}

static void
put_words(const struct report_hold *report, size_t parts)
{
	if (report->suspects->asked->unstable)
		page_note(report->page, "moved_words", TONE_PLAIN,
		    "what moved within its limits is held too, as was asked for");
	else if (parts == 0)
		page_note(report->page, "moved_words", TONE_PLAIN,
		    "what moved within the limits of one characteristic is to be held "
		    "for another already");
	else
		page_note(report->page, "moved_words", TONE_STRONG,
		    "%zu part%s moved within the limits: made since a characteristic "
		    "became unstable, from the earliest one on in which that may have "
		    "begun, or standing out by %s. Not among the numbers to hold; "
		    "'--unstable' holds them too.",
		    parts, parts == 1 ? "" : "s", parts == 1 ? "itself" : "themselves");
}

int
report_hold_put_moved(const struct report_hold *report, struct error *error)
{
	const struct suspects *suspects = report->suspects;
	size_t parts = suspects_moved_parts(suspects);
	bool done = true;

	page_field(report->page, "moved", NULL, cell_count((int64_t)parts));
	if (suspects->moved_count > 0)
		put_words(report, parts);
	page_table(report->page, "moved_within_limits", NULL, columns, COUNT(columns));
	for (size_t i = 0; i < suspects->moved_count && done; i++)
		done = put_moved(report, &suspects->moved[i]);
	page_table_end(report->page);
	return done ? 0
	            : error_set(
			  error, ERROR_MEMORY, "out of memory: say a shorter time");
}
