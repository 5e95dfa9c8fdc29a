/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The trackers of all lines of a configuration, each taken up where the ledger has left it,
 * and what they give out on its way to the filing.
 *
 * One object belongs to one thread, that of its filing.
 */
#ifndef DAEMON_RUN_LINES_H
#define DAEMON_RUN_LINES_H

#include "daemon/base/clock.h"

#include <stdbool.h>
#include <stdint.h>

struct error;
struct filing;
struct lines;
struct scan;
struct settings;

/*
 * `filing` and `settings` must outlive it, or be replaced by lines_adopt.  Who stands where
 * is filed whenever it changes; but `replayed` scans are not waited for by anybody: then it
 * is filed at the end, and events are not logged.  Of each kind of event LINES_DAY of a
 * day are told; more are counted, and the count is told afterwards.  NULL with the
 * sentence in `error`.
 */
enum { LINES_DAY = 100 };
struct lines *lines_start(const struct settings *settings, struct filing *filing,
    bool replayed, struct error *error);
void lines_free(struct lines *lines);

/* Whom to tell that a heat begins on a line, in the thread that gives the scans; it must
 * not wait.  NULL: nobody. */
struct lines_hook {
	void (*heat)(void *arg, uint32_t line);
	void *arg;
};
void lines_set_hook(struct lines *lines, struct lines_hook hook);

/* When the last shot that the ledger has of any line was closed; ns 0: it has none. */
struct wall lines_last_closed(const struct lines *lines);

/* Of any line's device. */
void lines_scan(struct lines *lines, const struct scan *scan);

/* Goes over to settings with the same machine. */
void lines_adopt(struct lines *lines, const struct settings *settings);

/* An event of the logger itself, for each line. */
void lines_event(
    struct lines *lines, struct wall at, const char *kind, const char *text);

/* No more scans come: gives out what has left, and files who stands where. */
void lines_finish(struct lines *lines);

#endif
