/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What a store has acknowledged but may still lose: how far it is with one stream, and from
 * when on that can be relied upon.  Takes no memory, however long it lasts: what was
 * acknowledged at nearly one time is one entry.  Pure; times are the system's.
 */
#ifndef DAEMON_PUBLISH_SETTLING_H
#define DAEMON_PUBLISH_SETTLING_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* How far: everything up to `change` is acknowledged, `lost` readings never can be. */
struct settling_mark {
	int64_t change, lost;
	int64_t pieces; /* shots, events or sets of readings since the mark before */
};

/*
 * An entry holds what was acknowledged within a part of the time: one more than the parts
 * can be unsettled at once, the rest is for those that are due and still looked into.  Of
 * each the ends of so many batches are remembered, by which somebody can ask the store
 * whether it still has them.
 */
enum { SETTLING_PARTS = 14, SETTLING_ENTRIES = 32, SETTLING_ENDS = 16 };

struct settling_entry {
	struct settling_mark mark;
	int64_t from_ns, until_ns;   /* of its first; settled from then on */
	int64_t ends[SETTLING_ENDS]; /* changes, the last one mark.change */
	size_t end_count;
	int64_t end_ns; /* of the last end but what came at nearly that time */
};

struct settling {
	int64_t settle_ns;
	size_t first, count;
	struct settling_entry entries[SETTLING_ENTRIES];
};

/* `settle_s` 0: what is acknowledged is settled. */
void settling_init(struct settling *settling, double settle_s);
void settling_clear(struct settling *settling);

/* `mark` was acknowledged at `now_ns`; neither goes down from one call to the next. */
void settling_add(
    struct settling *settling, const struct settling_mark *mark, int64_t now_ns);

/* The first entry, if it is settled at `now_ns`, lent until the next call; NULL when it is
 * not or there is none.  It stays until settling_drop. */
const struct settling_entry *settling_look(
    const struct settling *settling, int64_t now_ns);
void settling_drop(struct settling *settling);

int64_t settling_pieces(const struct settling *settling);

/* When the first entry is settled; INT64_MAX: there is none. */
int64_t settling_due_ns(const struct settling *settling);

#endif
