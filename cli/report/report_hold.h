/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Which parts to hold, on a page. */
#ifndef CLI_REPORT_REPORT_HOLD_H
#define CLI_REPORT_REPORT_HOLD_H

#include "cli/page/page.h"
#include "cli/population/suspect.h"

struct error;

/* What a part is listed for: "class" for machines. */
#define REPORT_HOLD_CLASS "hold_and_inspect"
#define REPORT_HOLD_CLASS_MOVED "moved_within_limits"

struct report_hold {
	struct page *page;
	const char *line;
	const struct suspects *suspects;
	const struct suspect_runs *runs;
	size_t back; /* shots before the time that were looked at */
	bool begins; /* there are no more */
};

/* The runs, each with its bounds and reasons: "holds" for machines.  0, or ERROR_MEMORY. */
int report_hold_put(const struct report_hold *report, struct error *error);

/* The same as a table "holds_table", for CSV alone. */
int report_hold_put_table(const struct report_hold *report, struct error *error);

/* What moved within its limits: "moved_within_limits" for machines.  0, or ERROR_MEMORY. */
int report_hold_put_moved(const struct report_hold *report, struct error *error);

/* How it was judged, and what was not. */
void report_hold_put_remarks(const struct report_hold *report);

#endif
