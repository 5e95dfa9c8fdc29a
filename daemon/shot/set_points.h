/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The set points of one side of a line, as each heat began.
 *
 * Pure; one object belongs to one thread.  Memory does not grow.
 */
#ifndef DAEMON_SHOT_SET_POINTS_H
#define DAEMON_SHOT_SET_POINTS_H

#include "daemon/base/clock.h"

#include <stdint.h>

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

/*
 * A heat begins.  Returns the hash of the values in force, 0 when there are none or one
 * of them is not known or too old.  When it differs from that of the last heat under the
 * same recipe, `text` tells old and new values of what changed; else it is "".
 */
uint64_t set_points_begin(struct set_points *points, struct mono at, int recipe,
    char text[static SET_POINTS_TEXT]);

/* The values of the last heat, its recipe and hash: so a change is seen over a restart. */
void set_points_freeze(struct set_points *points, struct freeze *freeze);

#endif
