/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What stands at a station, for people to look at.  Pure.
 */
#ifndef DAEMON_SHOT_PLACE_H
#define DAEMON_SHOT_PLACE_H

#include "daemon/shot/lane.h"
#include "daemon/shot/tracker.h"

/* `station` is an index in the line's stations. */
struct tracker_place place_look(const struct lane *lane, int station, struct mono now);

#endif
