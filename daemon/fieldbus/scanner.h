/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * One device read once: the blocks of its plan over a link, decoded into a scan.
 * No schedule and no memory of earlier scans.  One object belongs to one thread.
 */
#ifndef DAEMON_FIELDBUS_SCANNER_H
#define DAEMON_FIELDBUS_SCANNER_H

#include "conf/settings.h"

#include <stdatomic.h>

struct error;
struct link;
struct scan;
struct scanner;

enum scan_outcome {
	SCAN_OUTCOME_FULL,   /* every block was answered */
	SCAN_OUTCOME_PART,   /* some with an exception: their channels are comm_fault */
	SCAN_OUTCOME_SILENT, /* no answer, or a wrong one: all channels are comm_fault */
};

/* `settings` must outlive it.  NULL when memory is short. */
struct scanner *scanner_new(const struct settings *settings, uint32_t device);
void scanner_free(struct scanner *scanner);

/*
 * Reads over a link that is connected; blocks for the device's time-out a block at
 * most, and gives up with the first that is not answered.  Between two blocks it
 * gives up when `stop` is set.  Unless the outcome is full, `error` says why.
 */
enum scan_outcome scanner_read(struct scanner *scanner, struct link *link,
    const atomic_bool *stop, struct error *error);

/* The scan of a device that is not asked: all channels comm_fault, now. */
void scanner_fault(struct scanner *scanner);

/* The last scan; lent until the next call. */
const struct scan *scanner_scan(const struct scanner *scanner);

#endif
