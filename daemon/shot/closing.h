/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Sheets that have left the machine and whose last readings are still awaited, in the
 * order of leaving; and the oven stays of those that went before.  Pure; one thread.
 */
#ifndef DAEMON_SHOT_CLOSING_H
#define DAEMON_SHOT_CLOSING_H

#include "daemon/shot/sheet.h"

#include <stddef.h>

struct freeze;
struct stations;

enum { CLOSING_MAX = 8, CLOSING_PAST = 8 };

struct closed {
	int side;
	struct sheet sheet;
};

struct closing {
	size_t count;
	struct closed sheets[CLOSING_MAX];
	/* The last stays of sheets that were taken out. */
	size_t past_count;
	struct {
		int side;
		struct stay stay;
	} past[CLOSING_PAST];
};

/* At the end; there must be room. */
void closing_add(struct closing *closing, const struct closed *closed);

/* The first one, which there must be. */
struct closed closing_take(struct closing *closing);

/*
 * A sheet that leaves shared its oven with side `other`: when one of that side's sheets,
 * there or gone, was in the oven at a time when this one was, both that are still in hand
 * are in doubt (unseen, with the flag for edges in a wrong order).
 */
void closing_doubt_overlaps(
    struct closing *closing, int other, struct stations *stations, struct sheet *sheet);

/* From when on the readings are still needed; `stop_s`: see sheet_tool_cycle. */
struct mono closing_need(const struct closing *closing, double stop_s, struct mono now);

/* Fails on a side that is not under `sides`. */
void closing_freeze(struct closing *closing, struct freeze *freeze, int sides);

#endif
