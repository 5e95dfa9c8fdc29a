/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the counter tells, and what has to wait for it. */
#include "daemon/shot/lane_inside.h"

#include "conf/settings.h"
#include "daemon/shot/shot.h"

/* After a silence the counter has yet to tell of indexes in it: until then nobody knows on
 * whom the platens closed. */
bool
lane_holds_form(const struct lane *lane)
{
	return lane->signals.mover == ROLE_ROTATING &&
	       signals_have(&lane->signals, ROLE_CYCLE_COUNT) &&
	       lane->signals.counter.known && lane->signals.counter.gap;
}

/* No ring turns with its platens closed.  With `silence`: only the openings that lie in it
 * came before an index in it; what was seen afterwards came after it. */
void
lane_let_form_go(struct lane *lane, const struct edge *silence)
{
	size_t gone = 0;

	while (gone < lane->held_count &&
	       (silence == NULL ||
		   (!lane->held[gone].rose &&
		       lane->held[gone].edge.before.ns <= silence->before.ns)))
		lane_act(lane, &lane->held[gone++]);
	lane->held_count -= gone;
	for (size_t i = 0; i < lane->held_count; i++)
		lane->held[i] = lane->held[i + gone];
}

/* The ring turns again before the counter has told: whose they were stays unknown. */
static void
drop_held(struct lane *lane)
{
	struct sheet *form = &lane->stations.at[lane->stations.form];

	lane->held_count = 0;
	form->unseen = true;
	form->flags |= SHOT_FLAG_GAP;
}

void
lane_act_in_turn(
    struct lane *lane, const struct news *news, const struct change *change)
{
	bool hold = lane_holds_form(lane) || news->missed > 0;

	if (change->bit == ROLE_FORM_CLOSED && hold && lane->held_count < LANE_HELD) {
		lane->held[lane->held_count++] = *change;
		return;
	}
	if (change->bit == ROLE_ROTATING && hold && lane->held_count > 0)
		drop_held(lane);
	if (change->bit == ROLE_ROTATING || change->bit == ROLE_FORM_CLOSED)
		lane_let_form_go(lane, NULL);
	lane_act(lane, change);
}

void
lane_act_on_counter(struct lane *lane, const struct news *news)
{
	if (news->missed > 0)
		lane_let_form_go(lane, &news->when);
	for (int64_t i = 0; i < news->missed; i++) {
		lane_counted_index(lane, &news->when);
		lane_hand_on(lane);
	}
	if (news->jumped) {
		stations_flag_all(&lane->stations, SHOT_FLAG_COUNT_JUMP);
		if (lane->signals.mover == ROLE_CYCLE_COUNT)
			stations_lose(&lane->stations);
		lane_tell(lane, lane->now, "count_jump",
		    "the cycle counter was set or jumped");
	}
}
