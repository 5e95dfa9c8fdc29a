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

#include <stddef.h>
#include <stdint.h>

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
};

/* What the ledger knows of the line when the logger starts. */
struct tracker_start {
	int64_t last_shot_no;       /* 0 at first */
	struct wall last_closed_at; /* of that shot; ns 0 unknown */
};

/*
 * For line `line` of `settings`, which must outlive the tracker or be replaced by
 * tracker_adopt.  The sheets that stand in the machine at the first scan become partial
 * shots.  NULL when memory is short.
 */
struct tracker *tracker_new(const struct settings *settings, uint32_t line,
    struct tracker_start start, struct tracker_sink sink);
void tracker_free(struct tracker *tracker);

/* Goes over to settings with the same machine (settings_same_machine). */
void tracker_adopt(struct tracker *tracker, const struct settings *settings);

/* Takes a scan of one of the line's devices; others are ignored. */
void tracker_scan(struct tracker *tracker, const struct scan *scan);

/*
 * Gives out the shots whose sheets have left but whose last readings were still awaited.
 * Sheets that stand in the machine are not given out: whoever follows the line next
 * meets them there.
 */
void tracker_finish(struct tracker *tracker);

#endif
