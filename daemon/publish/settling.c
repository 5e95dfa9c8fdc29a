/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/publish/settling.h"

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

/* A store that was away for a moment was so between two ends: those that follow each other
 * faster than that are one. */
static void
add_end(struct settling *settling, struct settling_entry *entry, int64_t change,
    int64_t now_ns)
{
	int64_t apart_ns = settling->settle_ns / SETTLING_PARTS / SETTLING_ENDS;
	bool apart = entry->end_count == 0 || now_ns - entry->end_ns >= apart_ns;

	if (apart && entry->end_count < SETTLING_ENDS) {
		entry->end_count++;
		entry->end_ns = now_ns;
	}
	entry->ends[entry->end_count - 1] = change;
}

void
settling_add(
    struct settling *settling, const struct settling_mark *mark, int64_t now_ns)
{
	size_t last = (settling->first + settling->count - 1) % SETTLING_ENTRIES;
	int64_t pieces = mark->pieces;
	bool near = settling->count > 0 && now_ns - settling->entries[last].from_ns <
	                                       settling->settle_ns / SETTLING_PARTS;

	if (near || settling->count == SETTLING_ENTRIES) {
		pieces += settling->entries[last].mark.pieces;
	} else {
		last = (settling->first + settling->count++) % SETTLING_ENTRIES;
		settling->entries[last].from_ns = now_ns;
		settling->entries[last].end_count = 0;
	}
	struct settling_entry *entry = &settling->entries[last];
	entry->mark = *mark;
	entry->mark.pieces = pieces;
	entry->until_ns = now_ns + settling->settle_ns;
	add_end(settling, entry, mark->change, now_ns);
}

const struct settling_entry *
settling_look(const struct settling *settling, int64_t now_ns)
{
	const struct settling_entry *entry = &settling->entries[settling->first];

	return settling->count > 0 && entry->until_ns <= now_ns ? entry : NULL;
}

void
settling_drop(struct settling *settling)
{
	settling->first = (settling->first + 1) % SETTLING_ENTRIES;
	settling->count--;
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
