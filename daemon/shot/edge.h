/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Edges of a status bit, debounced in time.
 *
 * A bit is seen at polls only: the true edge lies between the asking of the last poll
 * with the old level and the answer of the first with the new one.  Both are kept; the edge's time is the
 * middle, its uncertainty the distance.  A change counts once the new level has
 * stood for the debounce time; the first edge of a stable change is the one kept.
 * Pure; one object belongs to one thread.
 */
#ifndef DAEMON_SHOT_EDGE_H
#define DAEMON_SHOT_EDGE_H

#include "daemon/base/clock.h"

#include <stdbool.h>

struct channel_settings;

struct edge {
	bool known;
	struct mono before, at; /* asked: old level; answered: new level */
	struct wall wall;       /* label of the middle */
};

/* The middle. */
struct mono edge_time(const struct edge *edge);

/* at - before. */
double edge_uncertainty_s(const struct edge *edge);

/* From one edge to a later one; NAN unless both are known. */
double edge_span_s(const struct edge *from, const struct edge *to);

struct bit {
	bool known, level; /* the debounced level */
	int64_t debounce_ns;
	struct mono seen; /* the last poll that agreed with the level went out */
	bool pending;
	struct edge first; /* of the change that is pending */
};

enum bit_change {
	BIT_SAME,
	BIT_ROSE,
	BIT_FELL,
};

/* What a good reading of a bit role's channel says: the bit, or on which side of its
 * thresholds the number lies, `was` between them. */
bool bit_level(const struct channel_settings *channel, double value, bool was);

void bit_init(struct bit *bit, double debounce_s);

/* Takes a poll that went out at `sent` and was answered at `at`.  At a change `*edge` is its first edge; the first poll of all sets
 * the level without an edge. */
enum bit_change bit_take(struct bit *bit, bool level, struct mono sent, struct mono at,
    struct wall wall, struct edge *edge);

#endif
