/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * One sheet on its way through the machine: what the tracker knows of it until it
 * leaves and becomes a shot.  Plain data.
 */
#ifndef DAEMON_SHOT_SHEET_H
#define DAEMON_SHOT_SHEET_H

#include "daemon/shot/edge.h"
#include "daemon/shot/window.h"

#include <stdbool.h>
#include <stdint.h>

struct sheet {
	bool unseen;        /* the logger did not see its way, or lost its place */
	struct mono placed; /* when this record of it began */
	bool empty;         /* the frame went into the oven without a sheet */
	bool gone;          /* the frame came to the form station without it */
	bool
	    silent; /* the controller was silent for a while as it stood in oven or form */
	double fault_s; /* so long the machine reported a fault with it in the oven */
	uint32_t flags;
	int recipe;          /* -1 unknown */
	int64_t cycle_count; /* -1 unknown */
	int sags; /* debounced rises of the sag eye while it was in the oven */
	struct edge loaded; /* clamped at the load station */
	struct edge heat_start, sag, heat_end;
	struct edge next_index; /* the index done that took it to the form station */
	struct edge form_start, form_end;
	struct mono left; /* when it left the form station */
	struct wall left_wall;

	/* The frame before it at the form station, for the cycle; unknown edges where that
	 * one was not formed. */
	struct edge last_form_start, last_form_end;
	double last_tool_mean_c; /* of the shot before; NAN unknown */
};

/* In the oven: from the index done that brought it to the start of the next. */
struct window sheet_heat(const struct sheet *sheet);

/* Platens closed on it. */
struct window sheet_form(const struct sheet *sheet);

/* The longest uncertainty among its edges; 0 when none is known. */
double sheet_uncertainty_s(const struct sheet *sheet);

#endif
