/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/report/report_hold_words.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "cli/wording/shown.h"
#include "cli/wording/study_words.h"
#include "daemon/base/text.h"

static const struct ledger_shot *
shot_of(const struct suspects *suspects, const struct suspect_reason *reason)
{
	return &suspects->asked->shots[reason->shot];
}

static bool
same_words(const char *a, const char *b)
{
	return a == b || (a && b && strcmp(a, b) == 0);
}

bool
report_hold_words_alike(const struct suspects *suspects, const struct suspect_reason *a,
    const struct suspect_reason *b)
{
	if (a->kind != b->kind || a->feature != b->feature || a->side != b->side ||
	    a->absent != b->absent || a->onset != b->onset ||
	    !same_words(a->words, b->words))
		return false;
	return a->kind != SUSPECT_OUTCOME ||
	       shot_of(suspects, a)->outcome == shot_of(suspects, b)->outcome;
}

static const char *
name_of(const struct suspect_reason *reason)
{
	return reason->feature >= 0 ? feature_get(reason->feature)->name : "";
}

static void
tell_outcome(const struct ledger_shot *shot, char words[static REPORT_HOLD_WORDS])
{
	char outcome[40];

	shown_words(shot_outcome_text(shot->outcome), outcome, sizeof outcome);
	snprintf(words, REPORT_HOLD_WORDS, "%s: %s", outcome,
	    shot->outcome == SHOT_PARTIAL ? "not all of it was seen"
					  : "not heated and formed in the usual way");
}

static void
tell_unstable(const struct suspect_reason *reason, char words[static REPORT_HOLD_WORDS])
{
	snprintf(words, REPORT_HOLD_WORDS, "%s unstable (%s)", name_of(reason),
	    study_words_onset(reason->onset));
}

void
report_hold_words(const struct suspects *suspects, const struct suspect_reason *reason,
    char words[static REPORT_HOLD_WORDS])
{
	const size_t room = REPORT_HOLD_WORDS;
	char why[40];

	words[0] = '\0';
	switch (reason->kind) {
	case SUSPECT_OUTSIDE:
		snprintf(words, room, "%s %s limit", name_of(reason),
		    reason->side < 0 ? "below its lower" : "above its upper");
		return;
	case SUSPECT_ABSENT:
		shown_words(absent_text(reason->absent), why, sizeof why);
		snprintf(words, room, "%s unknown (%s)", name_of(reason),
		    *why ? why : "absent");
		return;
	case SUSPECT_OUTCOME:
		tell_outcome(shot_of(suspects, reason), words);
		return;
	case SUSPECT_GAP:
		snprintf(
		    words, room, "scans are missing where the machine moved it on");
		return;
	case SUSPECT_UNSTABLE:
		tell_unstable(reason, words);
		return;
	case SUSPECT_NO_RECORD:
		snprintf(words, room, "no record");
		return;
	case SUSPECT_TOLD:
	case SUSPECT_UNLOGGED:
		snprintf(words, room, "%s", reason->words ? reason->words : "");
		return;
	case SUSPECT_KIND_COUNT:
		return;
	}
}

static bool
add_numbers(const struct suspects *suspects, const struct suspect_reason *reason,
    struct ranges *ranges)
{
	if (reason->kind == SUSPECT_UNLOGGED)
		return true;
	if (reason->kind == SUSPECT_NO_RECORD)
		return ranges_add(ranges, reason->first, reason->last);
	int64_t number = shot_of(suspects, reason)->shot_no;
	return ranges_add(ranges, number, number);
}

bool
report_hold_words_numbers(const struct suspects *suspects,
    const struct suspect_run *run, const struct suspect_reason *like, struct text *text)
{
	struct ranges ranges = {0};
	bool done = true;

	for (size_t i = 0; i < run->reason_count && done; i++) {
		const struct suspect_reason *reason =
		    &suspects->reasons[run->reason_first + i];
		if (report_hold_words_alike(suspects, like, reason))
			done = add_numbers(suspects, reason, &ranges);
	}
	ranges_text(&ranges, text);
	ranges_release(&ranges);
	return done && !text->failed;
}

void
report_hold_words_lots(
    const struct suspects *suspects, const struct suspect_run *run, struct text *text)
{
	const struct ledger_shot *shots = suspects->asked->shots;

	/* `last` of a run without shots is before its first */
	for (size_t i = run->first; i < run->last + 1; i++) {
		bool before = false;
		for (size_t k = run->first; k < i && !before; k++)
			before = strcmp(shots[k].lot, shots[i].lot) == 0;
		if (!before)
			text_printf(text, "%s%s", text->length ? ", " : "",
			    *shots[i].lot ? shots[i].lot : "unknown");
	}
}
