/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Lines watched over the bus: pollers of its own (reading only), a tracker and the duty of
 * the bits of each line.  Nothing is kept.
 *
 * All calls belong to one thread; scans come from the pollers' threads, and what is
 * learned of them stands behind one lock, held for no longer than a scan takes.
 */
#ifndef CLI_COMMAND_WATCHER_H
#define CLI_COMMAND_WATCHER_H

#include "cli/command/watch_view.h"

struct error;
struct watcher;

/* Polls the devices of line `line`, of all lines when that is -1.  Block the signals
 * before: the pollers' threads must not take them.  `settings` must outlive it.  NULL
 * with the reason. */
struct watcher *watcher_start(
    const struct settings *settings, int line, struct error *error);

/* Ends the pollers, within one request's time-out each; frees. */
void watcher_stop(struct watcher *watcher);

/* What is known now, into a view of watch_view_init with the same settings. */
void watcher_look(struct watcher *watcher, struct watch_view *view);

/* Whether every device was asked at least once. */
bool watcher_asked_all(struct watcher *watcher);

#endif
