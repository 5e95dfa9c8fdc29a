/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Follows the sheets of one line through its stations: scans in, finished shots
 * out.  Pure: no I/O, no clock, no threads.  One tracker belongs to one thread.
 *
 * Scans of the line's devices must come in order of time for each device; between
 * devices they may be late by a poll period.  The same scans give the same shots,
 * bit for bit.
 */
#ifndef DAEMON_SHOT_TRACKER_H
#define DAEMON_SHOT_TRACKER_H

#include "daemon/base/clock.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct circumstances;
struct error;
struct scan;
struct settings;
struct shot;
struct tracker;

/* What the tracker tells: a finished shot (the sink owns it: shot_free), or
 * something odd that belongs to no single shot. */
struct tracker_sink {
	void (*shot)(void *arg, struct shot *shot);
	void (*event)(void *arg, struct wall at, const char *kind, const char *text);
	void *arg;
	/* The sheets stand otherwise than before, or some time has passed: tracker_save has
	 * something new.  NULL: nobody wants to know. */
	void (*moved)(void *arg);
	/* A record is about to be made: fills in what people have told that holds for a shot
	 * filed at `at` with this recipe (-1: the machine does not tell); what is lent lasts
	 * until the next call.  NULL: nobody has told anything. */
	void (*circumstances)(
	    void *arg, int recipe, struct wall at, struct circumstances *circumstances);
	/* A heat begins: what is to be read then (at_heat) is wanted now.  NULL: nobody can
	 * hurry; such set points are then known only when they happen to be read. */
	void (*heat)(void *arg);
};

/* What the ledger knows of the line when the logger starts. */
struct tracker_start {
	int64_t last_shot_no;       /* 0 at first */
	struct wall last_closed_at; /* of that shot; ns 0 unknown */
	/* What tracker_save said last for this line, or NULL; lent for the call. */
	const void *saved;
	size_t saved_bytes;
	bool no_traces; /* shots need no trace */
};

/*
 * For line `line` of `settings`, which must outlive the tracker or be replaced by
 * tracker_adopt.  Sheets that were in flight by `saved` are taken up again when the first
 * scan comes less than half a usual step later on the same clocks; then a silence is all
 * that happened, and they are flagged.  Otherwise, and without `saved`, the sheets that
 * stand in the machine at the first scan become partial shots.  NULL when memory is short.
 */
struct tracker *tracker_new(const struct settings *settings, uint32_t line,
    struct tracker_start start, struct tracker_sink sink);
void tracker_free(struct tracker *tracker);

/* Goes over to settings with the same machine (settings_same_machine). */
void tracker_adopt(struct tracker *tracker, const struct settings *settings);

/* The ledger, which could not be read at the start, had shots up to this number: those
 * still to be given out are numbered on from there. */
void tracker_number_on(struct tracker *tracker, int64_t last_shot_no);

/* Takes a scan of one of the line's devices; others are ignored. */
void tracker_scan(struct tracker *tracker, const struct scan *scan);

/*
 * Gives out the shots whose sheets have left but whose last readings were still awaited.
 * Sheets that stand in the machine are not given out: whoever follows the line next
 * meets them there.
 */
void tracker_finish(struct tracker *tracker);

/*
 * Who stands where, for tracker_start of the next logger: TRACKER_SAVED_MAX bytes of room
 * are enough.  Returns the number of bytes; 0 before the first scan.
 */
enum { TRACKER_SAVED_MAX = 64 * 1024 };
size_t tracker_save(const struct tracker *tracker, void *bytes, size_t room);

/* A station of the line and the sheet that stands there. */
struct tracker_place {
	const char *station,
	    *side; /* lent by the settings; side "" when there is one */
	bool seen; /* the logger has followed what stands there from its loading */
	int64_t
	    number; /* of the sheet, from 1 at the logger's start; 0: not seen, or none */
	bool empty;     /* nothing stands there, or an empty frame */
	double since_s; /* so long it has stood there; NAN unknown */
	bool forming;   /* the platens are closed on it */
	uint32_t flags; /* enum shot_flag */
};
enum { TRACKER_PLACES_MAX = 16 };

/* Every station of every side as of `now`, the clock of the scans; how many were written. */
size_t tracker_places(const struct tracker *tracker, struct mono now,
    struct tracker_place places[static TRACKER_PLACES_MAX]);

#endif
