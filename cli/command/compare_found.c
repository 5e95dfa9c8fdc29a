/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/compare_found.h"

#include <inttypes.h>
#include <stdio.h>

#include "cli/page/page.h"
#include "cli/wording/shown.h"

enum { NAMED = 3, WORDS = 700 };

/* "blocked circuit: water circuit 2 (sure, from shot 103 on)" */
static size_t
tell(const struct found *found, const struct finding *finding, bool first, char *words,
    size_t room)
{
	char cause[40], subject[FOUND_SUBJECT];

	shown_words(finding_cause_text(finding->cause), cause, sizeof cause);
	found_subject(finding, found->kind.side, subject);
	int used = snprintf(words, room, "%s%s%s%s (%s, from shot %" PRId64 " on)",
	    first ? "" : "; ", cause, *subject ? ": " : "", subject,
	    finding_sure_text(finding->sure),
	    finding->times > 1 ? finding->earliest_shot : finding->first_shot);
	return used < 0 ? 0 : (size_t)used < room ? (size_t)used : room - 1;
}

static void
put(struct page *page, const struct found *found)
{
	char words[WORDS] = "";
	size_t used = 0, named = 0, more = 0;

	for (size_t i = 0; i < found->count; i++) {
		const struct finding *finding = &found->list[i];
		if (finding->sure == FINDING_POSSIBLE)
			continue;
		if (named == NAMED) {
			more++;
			continue;
		}
		used += tell(
		    found, finding, named++ == 0, words + used, sizeof words - used);
	}
	if (named == 0)
		return;
	if (more > 0)
		snprintf(words + used, sizeof words - used, "; and %zu more", more);
	page_note(page, "found", TONE_BAD,
	    "found against the same reference: %s; 'evensoak report' has the figures",
	    words);
}

void
compare_found_put(
    struct page *page, const struct found_all *all, const struct kind *kind)
{
	for (size_t i = 0; i < all->count; i++)
		if (kind_same(&all->list[i].kind, kind))
			put(page, &all->list[i]);
}
