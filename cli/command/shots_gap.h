/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Holes in a list of shots: where the logger ended or began between two of them, or the
 * machine's counter went up by more than the shots there.  One thread.
 */
#ifndef CLI_COMMAND_SHOTS_GAP_H
#define CLI_COMMAND_SHOTS_GAP_H

#include "cli/page/page.h"
#include "daemon/ledger/ledger_read.h"

struct error;
struct source;

struct shots_gap {
	size_t before;    /* the shot that follows it, as an index in the list */
	int64_t after_no; /* the shot of the line that it follows */
	struct wall from,
	    to;         /* the logger's end and beginning, else those shots' times */
	int64_t cycles; /* by the machine's counter, of which there is no shot; 0:
	                         none, or nobody knows */
};

struct shots_gaps {
	struct shots_gap *list; /* the caller frees */
	size_t count;
};

/* Of all shots of a time, newest first within each line.  0, or the code in `error`. */
int shots_gaps_find(struct shots_gaps *gaps, struct source *source,
    const struct ledger_shot *shots, size_t count, struct error *error);

/* "-- not logged 06:24:10 to 06:26:00; 2 cycles by the machine's counter --", with the line
 * after "--" unless it is "". */
enum { SHOTS_GAP_TEXT = 256 };
void shots_gap_words(
    const struct shots_gap *gap, const char *line, char words[static SHOTS_GAP_TEXT]);

/* The table "gaps", for machines. */
void shots_gaps_put(
    struct page *page, const struct ledger_shot *shots, const struct shots_gaps *gaps);

#endif
