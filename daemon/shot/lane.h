/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * One side of a line: its signals, its stations, and what each edge does to the sheets
 * there.  A line that is not a shuttle of two sides is one lane.
 *
 * Pure; one thread.
 */
#ifndef DAEMON_SHOT_LANE_H
#define DAEMON_SHOT_LANE_H

#include "daemon/shot/set_points.h"
#include "daemon/shot/signals.h"
#include "daemon/shot/stations.h"

struct tracker_sink;

enum { LANE_HELD = 4 };

/* How the line as a whole goes on, over all its sides. */
struct lane;

struct pace {
	struct mono last_move;      /* of any side; ns 0: none seen */
	struct wall last_closed_at; /* of the last shot before the logger started */
	int startup_left;           /* sheets that are still start-up */
	const struct lane *lanes;   /* all sides */
	int lane_count;
};

struct lane {
	const struct settings *settings; /* lent */
	uint32_t line;
	int side;
	const struct tracker_sink *sink; /* lent */
	/* Takes a sheet that nothing can happen to any more; it is lent. */
	void (*take)(void *arg, struct lane *lane, const struct sheet *sheet);
	void *take_arg;
	struct pace *pace; /* lent, shared by the sides */
	struct roles roles;
	struct signals signals;
	struct stations stations;
	struct set_points *set_points;
	struct edge fault; /* known while the machine reports one */
	size_t
	    held_count; /* closings and openings of the platens after a silence, ... */
	struct change held[LANE_HELD]; /* ... while it is not sure whose they are */
	bool begun;                    /* it is known what stands where */
	/* What stood at the form station as it was forgotten has left; the counter then. */
	bool form_gone;
	int64_t count_then;
	/* Unwatched since a frame came to the load station: whatever is in it may have come
	 * round in it. */
	bool load_unsure;
	int unsure_next; /* the same of so many frames that come there next */
	bool moved;      /* something changed since the caller looked last */
	struct wall now; /* of the scan being taken */
};

/* All but `pace` and `sink` is the lane's own; `take` is to be set by the caller.
 * 0, or ERROR_MEMORY. */
int lane_init(struct lane *lane, const struct settings *settings, uint32_t line,
    int side, struct pace *pace, const struct tracker_sink *sink);
void lane_release(struct lane *lane);

/* Goes over to settings with the same machine. */
void lane_adopt(struct lane *lane, const struct settings *settings);

/*
 * What stands where, and every level, is not known any more; set points stay.  A sheet that
 * had been formed has left by then, and so has one behind the form station; the others are
 * found again where they stand now.
 */
void lane_forget(struct lane *lane, struct mono at, struct wall wall);

void lane_scan(struct lane *lane, const struct scan *scan);

void lane_freeze(struct lane *lane, struct freeze *freeze);

#endif
