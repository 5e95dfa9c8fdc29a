/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What stands along the time of a picture: lots that change, notes of people, the clock. */
#ifndef CLI_REPORT_REPORT_MARKS_H
#define CLI_REPORT_REPORT_MARKS_H

#include "cli/picture/run_picture.h"
#include "cli/report/report_line.h"

struct error;

enum { MARKS_MOST = 24, TICKS_MOST = 16, MARK_LABEL = 96 };

struct report_marks {
	struct run_mark marks[MARKS_MOST];
	struct run_tick ticks[TICKS_MOST];
	char mark_labels[MARKS_MOST][MARK_LABEL], tick_labels[TICKS_MOST][MARK_LABEL];
	size_t mark_count, tick_count;
	size_t left_out; /* marks for which there was no room */
};

/* Of the shots of a run (its tail, or all).  What people noted is in a ledger alone.  0, or
 * the error. */
int report_marks_make(struct report_marks *marks, const struct report_line *line,
    const struct run *run, struct error *error);

#endif
