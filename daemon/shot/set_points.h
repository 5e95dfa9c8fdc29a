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
	uint64_t hash; /* 0: there are none, or one of them is not known */
	/* Old and new values of what changed since the last heat under the same recipe; ""
	 * where nothing did. */
	char text[SET_POINTS_TEXT];
};

/*
 * A heat begins; what the one before still awaits is given up.  True when its set points are
 * told at once.  One that is polled counts as it was read last, unless that is four polls or
 * more ago; one that is read as a heat begins (at_heat) as it is first read well when asked
 * for after the heat began, and else it is not known: whatever was read before may have been
 * changed since.
 */
bool set_points_begin(struct set_points *points, const struct edge *edge, int recipe,
    struct set_points_told *told);

/* True when what was awaited has come, or has not come within a few seconds.  After a restart
 * these are counted from the first call. */
bool set_points_look(
    struct set_points *points, struct mono now, struct set_points_told *told);

/* The values of the last heat, its recipe and hash, so that a change is seen over a restart;
 * and what is awaited. */
void set_points_freeze(struct set_points *points, struct freeze *freeze);

#endif
