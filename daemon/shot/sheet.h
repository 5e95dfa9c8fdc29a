/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * One sheet on its way through the machine: what the tracker knows of it until it
 * leaves and becomes a shot.  Plain data; freeze.c carries every member of it over a
 * restart and into the trace.
 */
#ifndef DAEMON_SHOT_SHEET_H
#define DAEMON_SHOT_SHEET_H

#include "daemon/shot/edge.h"
#include "daemon/shot/window.h"

#include <stdbool.h>
#include <stdint.h>

enum {
	SHEET_STAYS_MAX = 8
}; /* a sheet that goes in more often is flagged and no more */

/* Once in an oven: from the move that brought it to the start of the one that took it. */
struct stay {
	int oven; /* which of the line's, from 0 */
	struct edge in, out;
};

struct sheet {
	int64_t
	    number; /* in the order of loading, from 1 at the logger's start; 0: unseen */
	bool unseen;        /* the logger did not see its way, or lost its place */
	struct mono placed; /* when this record of it began */
	bool empty;         /* the frame went into the oven without a sheet */
	bool gone;          /* the frame came to the form station without it */
	bool silent;    /* the controller was silent as it stood at the form station */
	bool filed;     /* its record is given out: the frame goes on, nobody's */
	double fault_s; /* so long the machine reported a fault with it in the oven */
	uint32_t flags;
	int recipe;          /* -1 unknown */
	int64_t cycle_count; /* -1 unknown */
	uint64_t set_points; /* hash of those in force as it came in; 0: none read */
	int sags; /* debounced rises of the sag eye while it was in the oven */
	struct edge loaded; /* clamped at the load station */
	int stay_count;
	struct stay stays[SHEET_STAYS_MAX];
	struct edge sag;                  /* in the last stay */
	struct edge arrived;              /* at the form station */
	int closings;                     /* of the platens on it */
	struct edge form_start, form_end; /* the first closing, the last opening */
	struct mono left;                 /* when nothing could happen to it any more */
	struct wall left_wall;

	/* The frame before it at the form station, for the cycle; unknown edges where that
	 * one was not formed. */
	struct edge last_form_start, last_form_end;
	/* Of the shot before, as the sensors showed it: what a calibration adds may be told
	 * later, and of another shot.  NAN unknown. */
	double last_tool_mean_c;
};

/* A sheet that nobody knows anything of yet. */
struct sheet sheet_at(struct mono placed);

/* Into the first oven; out of the last one that it has been in (unknown while it is in
 * there).  Lent; an unknown edge when there was none. */
const struct edge *sheet_heat_start(const struct sheet *sheet);
const struct edge *sheet_heat_end(const struct sheet *sheet);

/* It stands in an oven now; NULL when it does not. */
struct stay *sheet_stay(struct sheet *sheet);

/* The polls that surely lie inside a stay. */
struct window sheet_stay_window(const struct stay *stay);

/* From the first oven to the last: gaps between ovens included. */
struct window sheet_heat(const struct sheet *sheet);

/* Time between its stays; 0 with one stay; NAN while an edge between is unknown. */
double sheet_heat_gap_s(const struct sheet *sheet);

/* Whether it was taken into an oven that it had been in before. */
bool sheet_reheated(const struct sheet *sheet);

/* Platens closed on it. */
struct window sheet_form(const struct sheet *sheet);

/* On its way out of the oven of stay number `stay`: from the first poll after it began to
 * leave to the first after it was in the next oven, or had come to the form station (where
 * that is one with leaving: after the platens closed). */
struct window sheet_exit(const struct sheet *sheet, int stay);

/* The tool's cycle: from the platens opened on the sheet before to opened on this one.
 * Not known when they stood open for over `stop_s` between: a stop is no cycle. */
struct window sheet_tool_cycle(const struct sheet *sheet, double stop_s);

/* Within that, platens open between the two sheets. */
struct window sheet_tool_open(const struct sheet *sheet, double stop_s);

/* From when on the readings for its record are needed. */
struct mono sheet_need(const struct sheet *sheet, double stop_s);

/* As shot_time of its record: form start, else heat end, else when it left. */
struct wall sheet_filed_at(const struct sheet *sheet);

/* The longest uncertainty among its edges; 0 when none is known. */
double sheet_uncertainty_s(const struct sheet *sheet);

#endif
