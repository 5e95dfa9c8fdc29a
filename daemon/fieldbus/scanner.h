/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * One group of a device read once, request by request, and decoded into a scan.
 * No schedule and no memory of earlier scans but the frozen check's.  One object belongs
 * to one thread.
 */
#ifndef DAEMON_FIELDBUS_SCANNER_H
#define DAEMON_FIELDBUS_SCANNER_H

#include "daemon/fieldbus/answer.h"

#include <stdbool.h>
#include <stdint.h>

struct error;
struct frozen;
struct link;
struct read_plan;
struct scan;
struct scanner;
struct settings;

enum scan_outcome {
	SCAN_OUTCOME_FULL,   /* every block was answered */
	SCAN_OUTCOME_PART,   /* some with an exception: their channels are comm_fault */
	SCAN_OUTCOME_SILENT, /* no answer, or a wrong one: all channels are comm_fault */
};

/* Of group `group` of the plan's device; all three must outlive it.  NULL when memory is
 * short. */
struct scanner *scanner_new(const struct settings *settings,
    const struct read_plan *plan, uint32_t group, struct frozen *frozen);
void scanner_free(struct scanner *scanner);

/* Gives up what was begun: the next request is the first one again. */
void scanner_begin(struct scanner *scanner);

/*
 * One request over a link that is connected; blocks as link_read does.  Unless the
 * answer is good `error` says why.  The scan is given up with the first request that the
 * device does not answer itself.
 */
enum answer scanner_next(
    struct scanner *scanner, struct link *link, struct error *error);

/* Whether no request is left, or it was given up. */
bool scanner_is_done(const struct scanner *scanner);

/* Makes the scan of one that is done. */
enum scan_outcome scanner_end(struct scanner *scanner);

/* The scan of a device that is not asked: all channels comm_fault, now. */
void scanner_fault(struct scanner *scanner);

/* The last scan; lent until the next call. */
const struct scan *scanner_scan(const struct scanner *scanner);

#endif
