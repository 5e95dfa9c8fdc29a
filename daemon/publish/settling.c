/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/publish/settling.h"

/* An entry holds what was acknowledged within a part of the time, so that the entries
 * suffice: SPAN_PARTS + 1 of them can be unsettled at once, and one may be due. */
enum { SPAN_PARTS = SETTLING_ENTRIES - 2 };

void
settling_init(struct settling *settling, double settle_s)
{
	*settling = (struct settling){.settle_ns = (int64_t)(settle_s * 1e9)};
}

void
settling_clear(struct settling *settling)
{
	settling->first = settling->count = 0;
}

void
settling_add(
    struct settling *settling, const struct settling_mark *mark, int64_t now_ns)
{
	size_t last = (settling->first + settling->count - 1) % SETTLING_ENTRIES;
	int64_t pieces = mark->pieces;
	bool near = settling->count > 0 && now_ns - settling->entries[last].from_ns <
	                                       settling->settle_ns / SPAN_PARTS;

	if (near || settling->count == SETTLING_ENTRIES) {
		pieces += settling->entries[last].mark.pieces;
	} else {
		last = (settling->first + settling->count++) % SETTLING_ENTRIES;
		settling->entries[last].from_ns = now_ns;
	}
	settling->entries[last].mark = *mark;
	settling->entries[last].mark.pieces = pieces;
	settling->entries[last].until_ns = now_ns + settling->settle_ns;
}

/* How many entries, from the first on, are settled. */
static size_t
count_due(const struct settling *settling, int64_t now_ns)
{
	size_t due = 0;

	while (due < settling->count &&
	       settling->entries[(settling->first + due) % SETTLING_ENTRIES].until_ns <=
		   now_ns)
		due++;
	return due;
}

bool
settling_look(
    const struct settling *settling, int64_t now_ns, struct settling_mark *mark)
{
	size_t due = count_due(settling, now_ns);
	int64_t pieces = 0;

	for (size_t i = 0; i < due; i++) {
		*mark =
		    settling->entries[(settling->first + i) % SETTLING_ENTRIES].mark;
		pieces += mark->pieces;
	}
	if (due > 0)
		mark->pieces = pieces;
	return due > 0;
}

void
settling_drop(struct settling *settling, int64_t now_ns)
{
	size_t due = count_due(settling, now_ns);

	settling->first = (settling->first + due) % SETTLING_ENTRIES;
	settling->count -= due;
}

int64_t
settling_pieces(const struct settling *settling)
{
	int64_t pieces = 0;

	for (size_t i = 0; i < settling->count; i++)
		pieces += settling->entries[(settling->first + i) % SETTLING_ENTRIES]
		              .mark.pieces;
	return pieces;
}

int64_t
settling_due_ns(const struct settling *settling)
{
	return settling->count > 0 ? settling->entries[settling->first].until_ns
	                           : INT64_MAX;
}
