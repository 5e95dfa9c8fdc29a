/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What the parts of a lane share.  Only for lane*.c.
 */
#ifndef DAEMON_SHOT_LANE_INSIDE_H
#define DAEMON_SHOT_LANE_INSIDE_H

#include "daemon/shot/lane.h"

void lane_tell(struct lane *lane, struct wall at, const char *kind, const char *text);

/* Does to the sheets what the edge means. */
void lane_act(struct lane *lane, const struct change *change);

/* An index that the counter alone tells. */
void lane_counted_index(struct lane *lane, const struct edge *edge);

/* Their hash for a heat that begins; 0 while they are awaited. */
uint64_t lane_set_points(struct lane *lane, const struct edge *edge, int recipe);

/* Gives the sheet what was awaited, once it has come; one that has left is without. */
void lane_look_at_set_points(struct lane *lane, struct mono now);

/* Gives away what has left. */
void lane_hand_on(struct lane *lane);

/* Frames between the form station and the load station. */
int lane_behind_form(const struct lane *lane);

/* After a silence the counter has yet to tell of indexes in it: until then nobody knows on
 * whom the platens closed. */
bool lane_holds_form(const struct lane *lane);

/* lane_act, but closings and openings of the platens wait while they are held. */
void lane_act_in_turn(
    struct lane *lane, const struct news *news, const struct change *change);

/* Those that wait go.  With `silence`: only the openings that lie in it came before an
 * index in it; what was seen afterwards came after it. */
void lane_let_form_go(struct lane *lane, const struct edge *silence);

void lane_act_on_counter(struct lane *lane, const struct news *news);

#endif
