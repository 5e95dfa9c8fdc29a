/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The thread that turns scans into shots on file: takes scans from the queue, runs each
 * line's tracker, writes every finished shot to the ledger.
 *
 * While the ledger cannot be written, finished shots wait in memory (settings
 * memory_shots of them; later ones are lost, counted and said) and writing is tried
 * again every RECORDER_RETRY_S.  A ledger whose disk is full at the start is waited for in
 * the same way.  recorder_put is safe from any thread; the rest belongs
 * to the thread that started it.
 */
#ifndef DAEMON_RUN_RECORDER_H
#define DAEMON_RUN_RECORDER_H

#include "daemon/base/clock.h"

#include <stddef.h>
#include <stdint.h>

struct error;
struct recorder;
struct scan;
struct settings;

enum { RECORDER_RETRY_S = 5 };

/*
 * Opens the ledger, takes up each line's numbering, starts the thread.  `settings` must
 * outlive it.  NULL with the sentence in `error`, but not for a full disk: then the status
 * says that it is not open yet.
 */
struct recorder *recorder_start(const struct settings *settings, struct error *error);

/* A poller_sink; `recorder` is a struct recorder. */
void recorder_put(void *recorder, const struct scan *scan);

/* Goes over, between two scans, to settings with the same machine; both must outlive it. */
void recorder_adopt(struct recorder *recorder, const struct settings *settings);

/* Works off what is in the queue, files what is finished, ends the thread, frees. */
void recorder_stop(struct recorder *recorder);

struct recorder_status {
	int open;          /* 1: the ledger has been opened */
	int writing;       /* 1: the ledger takes what it is given; 0: not */
	struct wall since; /* of that state */
	int64_t filed;     /* shots written since the start */
	int64_t lost;      /* shots given up because memory was full */
	size_t waiting;    /* shots in memory */
	size_t queued;     /* scans waiting */
	int64_t dropped;   /* scans dropped because the queue was full */
	int64_t beat;      /* goes up at least once a second while the thread lives */
	char text[256];    /* of the last failure to write */
};
void recorder_status(struct recorder *recorder, struct recorder_status *status);

#endif
