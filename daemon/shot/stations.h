/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The sheets on the stations of one side of a line, and how edges move them on.
 *
 * A sheet is a record that travels; edges move the records, and what happens at a
 * station happens to the record that stands there.  So the heat that the oven gives and
 * the forming that the tool does at one time belong to two different sheets.
 * There are two ways to move: a ring takes every frame one station on at once; a frame of
 * its own carries one sheet from station to station.  A sheet that nothing can happen to
 * any more is put into `leaving`.  Pure; one thread.
 */
#ifndef DAEMON_SHOT_STATIONS_H
#define DAEMON_SHOT_STATIONS_H

#include "daemon/shot/sheet.h"

struct freeze;
struct line_settings;

enum { STATIONS_MAX = 8 };

struct stations {
	const struct line_settings *line; /* lent */
	int count, first_oven, last_oven, form;
	struct sheet at[STATIONS_MAX]; /* `filed`: nobody's, or nothing there */
	int leaving_count;
	struct sheet leaving[STATIONS_MAX]; /* for the caller to take out */
	int64_t numbers;                    /* given to sheets so far */
	struct mono last_move; /* index done, or into the oven; ns 0: none seen */
	double step_s;         /* between the last two of them; NAN unknown */
	struct edge last_form_start,
	    last_form_end; /* of the sheet that left form last */
	uint32_t
	    stranger; /* flags of a sheet that nobody knew of as the platens closed */
	struct edge emptied; /* the frame lost its sheet, the clamp still closed */
};

/* Nothing stands anywhere. */
void stations_init(struct stations *stations, const struct line_settings *line);

/* A sheet that nobody saw arrive, at that station. */
void stations_find(
    struct stations *stations, int station, struct mono now, uint32_t flags);

/* A frame that waits for its sheet at the load station. */
void stations_await(struct stations *stations, struct mono now);

/* Adds flags to the sheets in ovens and form station, or to all of them. */
void stations_flag_working(struct stations *stations, uint32_t flags);
void stations_flag_all(struct stations *stations, uint32_t flags);

/* Nobody watched the sheets in ovens and form station for a while. */
void stations_silence(struct stations *stations);

/* The platens were not watched for a while; or what tells that a sheet is taken off: clamp,
 * or an eye on the frame or at the load station. */
void stations_platens_unwatched(struct stations *stations);
void stations_taking_off_unwatched(struct stations *stations);

/* The sheet at the form station has been followed from its heat through its forming. */
bool stations_formed(const struct stations *stations);

/*
 * Nobody knows how the sheets moved, and what stands there now will be looked for anew:
 * what was formed has left, what was behind the form station too, in doubt.
 */
void stations_give_up(struct stations *stations, struct mono at, struct wall wall);

/* Nobody knows any more which sheet stands where. */
void stations_lose(struct stations *stations);

/* The machine was in fault from `from` to `to`, with a sheet in an oven or not. */
void stations_fault(
    struct stations *stations, const struct edge *from, const struct edge *to);

/* --- everywhere ---------------------------------------------------------------------- */

/* The sheet now at the load station is clamped. */
void stations_loaded(struct stations *stations, const struct edge *edge);

/* The sag eye, debounced.  Belongs to the sheet in the last oven if it was there. */
void stations_sag(struct stations *stations, const struct edge *edge);

/* The same for an edge that nothing but the going of the sheet confirms: it counts where
 * there was no other. */
void stations_sagging(struct stations *stations, const struct edge *edge);

/* Platens.  Closing on nothing that was followed is a sheet that nobody saw heated. */
void stations_form_closes(
    struct stations *stations, const struct edge *edge, int64_t cycle_count);
void stations_form_opens(struct stations *stations, const struct edge *edge);

/* What a sheet takes with it into the first oven. */
struct intake {
	int recipe;
	uint64_t set_points;
	uint32_t flags; /* into the first oven */
	bool sag_stuck; /* the eye is on as it comes to the last oven */
};

/* --- a ring ------------------------------------------------------------------------ */

/* The frames start to move; what the eyes say of the frames at load and form. */
void stations_index_starts(struct stations *stations, const struct edge *edge,
    bool load_empty, bool form_empty);

/* They have arrived: everything is one station further.  With `eye` there is one at the
 * load station that tells when a sheet is taken off: until then an unformed one may go
 * round again. */
void stations_index_done(struct stations *stations, const struct edge *edge,
    const struct intake *intake, bool eye);

/* An unformed sheet has come round to the load station. */
bool stations_came_round(const struct stations *stations);

/* The frame at the load station holds nothing: what came round unformed is off. */
void stations_load_clear(struct stations *stations, struct mono at, struct wall wall);

/* --- a frame of its own ---------------------------------------------------------------- */

void stations_clamp_closes(struct stations *stations, const struct edge *edge);
void stations_clamp_opens(struct stations *stations, const struct edge *edge);

/* The frame lost its sheet. */
void stations_frame_empties(struct stations *stations, const struct edge *edge);

/* Into the oven.  `held`: a clamp or an eye says that the frame has not been emptied since
 * it came out of the oven, so an unformed sheet goes in again. */
void stations_oven_takes(struct stations *stations, const struct edge *edge,
    const struct intake *intake, bool empty, bool held);
void stations_oven_gives(struct stations *stations, const struct edge *edge);

/* --- keeping ------------------------------------------------------------------------- */

/* From when on the readings are still needed. */
struct mono stations_need(const struct stations *stations, struct mono now);

void stations_freeze(struct stations *stations, struct freeze *freeze);

#endif
