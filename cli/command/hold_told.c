/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/hold_told.h"

#include <stdio.h>
#include <string.h>

#include "cli/command/reference_known.h"
#include "cli/wording/shown.h"

static char *
words_add(struct hold_told *words)
{
	return words->count < words->room ? words->list[words->count++] : NULL;
}

static bool
is_kind(const struct ledger_shot *shot, const struct kind *kind)
{
	const struct kind own = kind_of(shot);

	return kind_same(&own, kind);
}

/* From behind the last good one, or where it began, to where it was last seen. */
static bool
add_finding(struct suspects *suspects, const struct found *found,
    const struct finding *finding, const char *words)
{
	const struct suspect_asked *asked = suspects->asked;
	int64_t from = finding->times > 1       ? finding->earliest_shot
	               : finding->last_good > 0 ? finding->last_good + 1
	                                        : finding->first_shot;
	bool done = true;

	for (size_t i = asked->first; i <= asked->last && done; i++) {
		const struct ledger_shot *shot = &asked->shots[i];
		const struct suspect_reason reason = {
		    .kind = SUSPECT_TOLD, .shot = i, .feature = -1, .words = words};
		if (shot->shot_no < from ||
		    (!finding->lasting && shot->shot_no > finding->last_shot) ||
		    suspects->state[i] == SUSPECT_NO_PART ||
		    !is_kind(shot, &found->kind))
			continue;
		done = suspects_add(suspects, &reason);
	}
	return done;
}

bool
hold_told_found(
    struct suspects *suspects, const struct found_all *all, struct hold_told *told)
{
	bool done = true;

	for (size_t k = 0; k < all->count; k++)
		for (size_t i = 0; i < all->list[k].count && done; i++) {
			const struct found *found = &all->list[k];
			char cause[40], subject[FOUND_SUBJECT],
			    *words = words_add(told);
			if (!words)
				return false;
			shown_words(finding_cause_text(found->list[i].cause), cause,
			    sizeof cause);
			found_subject(&found->list[i], found->kind.side, subject);
			snprintf(words, HOLD_WORDS, "%s%s%s against reference %s",
			    cause, *subject ? ": " : "", subject,
			    found->reference.name);
			done = add_finding(suspects, found, &found->list[i], words);
		}
	return done;
}

/* Of what nobody logged; with the machine's counter on both sides and no cycle between
 * them, nothing was made meanwhile. */
bool
hold_told_gaps(
    struct suspects *suspects, const struct hold_read *read, struct hold_told *told)
{
	bool done = true;

	for (size_t i = 0; i < read->gaps.count && done; i++) {
		const struct shots_gap *gap = &read->gaps.list[i];
		const struct ledger_shot *behind = &read->shots[gap->before];
		if (gap->before == 0 ||
		    (gap->cycles == 0 && !*behind->side && behind->cycle_count >= 0 &&
			behind[-1].cycle_count >= 0))
			continue;
		char words[SHOTS_GAP_TEXT], *kept = words_add(told);
		if (!kept)
			return false;
		shots_gap_words(gap, "", words);
		size_t length = strlen(words);
		snprintf(kept, HOLD_WORDS, "%.*s", (int)(length > 6 ? length - 6 : 0),
		    words + 3);
		const struct suspect_reason reason = {.kind = SUSPECT_UNLOGGED,
		    .shot = gap->before,
		    .feature = -1,
		    .sheets = gap->cycles,
		    .words = kept};
		done = suspects_add(suspects, &reason);
	}
	return done;
}
