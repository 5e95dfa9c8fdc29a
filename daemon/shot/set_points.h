/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The set points of one side of a line, as each heat began.
 *
 * Pure; one object belongs to one thread.  Memory does not grow.
 */
#ifndef DAEMON_SHOT_SET_POINTS_H
#define DAEMON_SHOT_SET_POINTS_H

#include "daemon/base/clock.h"

#include <stdbool.h>
#include <stdint.h>

struct edge;
struct freeze;
struct roles;
struct scan;
struct set_points;
struct settings;

enum { SET_POINTS_TEXT = 160 };

/* For the set_point channels of `roles`; both must outlive it.  NULL when memory is
 * short.  set_points_free(NULL) is allowed. */
struct set_points *set_points_new(
    const struct settings *settings, const struct roles *roles);
void set_points_free(struct set_points *points);

/* Goes over to settings with the same machine. */
void set_points_adopt(struct set_points *points, const struct settings *settings);

/* Keeps the latest good value of each. */
void set_points_scan(struct set_points *points, const struct scan *scan);

/* What the set points were as a heat began. */
struct set_points_told {
	struct mono began; /* that heat: the edge's `at` */
	struct wall wall;
	uint64_t hash; /* 0: there are none, or one of them is not known or too old */
	/* Old and new values of what changed since the last heat under the same recipe; ""
	 * where nothing did. */
	char text[SET_POINTS_TEXT];
};

/*
 * A heat begins; the one before must be settled.  True when its set points are known at once,
 * as they were read last.  Those that are read as a heat begins (at_heat) are awaited: what
 * counts is the first good reading that was asked for after it began.
 */
bool set_points_begin(struct set_points *points, const struct edge *edge, int recipe,
    struct set_points_told *told);

/* True when what was awaited has come, or has not come within a few seconds: then what was
 * read last counts.  After a restart these are counted from the first call. */
bool set_points_look(
    struct set_points *points, struct mono now, struct set_points_told *told);

/* The same without waiting; false when nothing is awaited. */
bool set_points_settle(struct set_points *points, struct set_points_told *told);

/* Whether set points are awaited, and of which heat. */
bool set_points_await(const struct set_points *points, struct mono *began);

/* The values of the last heat, its recipe and hash, so that a change is seen over a restart;
 * and what is awaited. */
void set_points_freeze(struct set_points *points, struct freeze *freeze);

#endif
