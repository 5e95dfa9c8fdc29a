/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The shots of one span of time, put together from the points of a store: those come in
 * any order, a whole one at once or field by field, and of every revision.
 *
 * One object belongs to one thread.  Its size is bounded: of a span with more shots a
 * shorter one is to be read.
 */
#ifndef CLI_SOURCE_HARVEST_H
#define CLI_SOURCE_HARVEST_H

#include "daemon/ledger/ledger_read.h"

#include <stddef.h>
#include <stdint.h>

struct error;

/* Revisions of shots in one span. */
enum { HARVEST_MOST = 8000 };

/* One revision of a shot. */
struct harvest_row {
	struct ledger_shot shot;
	int64_t point_ns; /* the time of its points */
	char set_up[17];
};

struct harvest {
	struct harvest_row **rows; /* owned */
	size_t count, room;
	size_t *index; /* by line, time and revision, 2 * room + 1: row + 1, 0 free */
	size_t last;   /* the row that was asked for last: mostly the next one too */
};

void harvest_init(struct harvest *harvest);
void harvest_release(struct harvest *harvest);
void harvest_clear(struct harvest *harvest);

/* The row of that point, a blank one at first.  NULL: ERROR_FULL in `*code` beyond
 * HARVEST_MOST, or ERROR_MEMORY. */
struct harvest_row *harvest_row(struct harvest *harvest, const char *line,
    int64_t point_ns, int64_t revision, int *code);

/*
 * Keeps the highest revision of each shot and drops what is none (the marks of revisions
 * that were never there), in the order of filed_at, line, shot_no.
 */
void harvest_finish(struct harvest *harvest);

#endif
