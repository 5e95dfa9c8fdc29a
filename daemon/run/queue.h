/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The bounded queue of scans between the pollers and the recorder: one of the two
 * places where threads meet (the other is the ledger).
 *
 * Any thread may put; one thread takes.  When it is full the new scan is dropped and
 * counted: a poller never waits, so that one slow disk does not stop the bus.
 */
#ifndef DAEMON_RUN_QUEUE_H
#define DAEMON_RUN_QUEUE_H

#include <stddef.h>
#include <stdint.h>

struct queue;
struct scan;

/* Room for `slots` scans of `width` readings at most; NULL when memory is short. */
struct queue *queue_new(size_t slots, uint32_t width);
void queue_free(struct queue *queue);

/* Copies the scan in; does nothing once the queue is closed. */
void queue_put(struct queue *queue, const struct scan *scan);

/*
 * The oldest scan, lent until the next call; waits `wait_ms` of the system's time for
 * one.  NULL when none came, or when the queue is closed and empty (`*closed`).
 */
const struct scan *queue_take(struct queue *queue, int wait_ms, int *closed);

/* No more will come. */
void queue_close(struct queue *queue);

struct queue_status {
	size_t waiting, most; /* now; the most there ever were */
	int64_t dropped;
};
struct queue_status queue_status(struct queue *queue);

#endif
