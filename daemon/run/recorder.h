/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The thread that turns scans into shots on file: takes scans from the queue, gives them
 * to the lines' trackers and to the live readings, and lets what those give out be filed.
 *
 * recorder_put, recorder_event and recorder_status are safe from any thread; the rest belongs to the thread
 * that started it.
 */
#ifndef DAEMON_RUN_RECORDER_H
#define DAEMON_RUN_RECORDER_H

#include "daemon/run/filing.h"
#include "daemon/run/lines.h"

struct recorder;
struct recording;
struct scan;

/*
 * Opens the ledger, takes up each line where that has left it, starts the thread.
 * `settings` must outlive it.  Every scan goes into `recording`, which is lent until
 * recorder_stop; NULL: into none.  NULL with the sentence in `error`, but not for a full
 * disk: then the status says that the ledger is not open yet.  `hook` is called from the
 * thread, until recorder_stop returns.
 */
struct recorder *recorder_start(const struct settings *settings,
    struct recording *recording, struct lines_hook hook, struct error *error);

/* A poller_sink; `recorder` is a struct recorder. */
void recorder_put(void *recorder, const struct scan *scan);

/* Files an event of the logger itself. */
void recorder_event(
    struct recorder *recorder, struct wall at, const char *kind, const char *text);

/* Goes over, between two scans, to settings with the same machine; both must outlive it. */
void recorder_adopt(struct recorder *recorder, const struct settings *settings);

/* Those that it has gone over to.  They may be an earlier call's still; beside them, and
 * those that it was started with, it reads no others once they are the last call's. */
const struct settings *recorder_settings(struct recorder *recorder);

struct recorder_status {
	struct filing_status filing;
	size_t queued;      /* scans waiting */
	size_t queued_most; /* of them, ever */
	int64_t dropped;    /* scans dropped because the queue was full */
	int64_t beat;       /* goes up at least once a second while the thread lives */
};
/* Works off what is in the queue, files what is finished, ends the thread, frees.  `last`
 * is how it was at the end; NULL: not wanted. */
void recorder_stop(struct recorder *recorder, struct recorder_status *last);

void recorder_status(struct recorder *recorder, struct recorder_status *status);

#endif
