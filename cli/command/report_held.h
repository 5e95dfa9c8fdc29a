/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The parts of a report that a ledger alone has: findings against a reference run, and what
 * the sensors were calibrated by. */
#ifndef CLI_COMMAND_REPORT_HELD_H
#define CLI_COMMAND_REPORT_HELD_H

#include "cli/command/found.h"
#include "cli/report/report_line.h"

/* The findings about what the line's report is of; of a store none.  0 or the error; release
 * with found_release in either case. */
int report_held_read(struct found_all *all, const struct session *session,
    const char *reference, const struct report_line *line, struct error *error);

/* In one sentence those that are sure or likely: below the answer. */
void report_held_answer(struct page *page, const struct found_all *all);

/* The findings (`as_table`: for CSV), and the runs with their zones against the reference. */
int report_held_put(const struct found_all *all, const struct session *session,
    const struct report_line *line, bool as_table, struct error *error);

/* Until when the sensors' calibrations hold, or that a store has none. */
int report_held_calibrated(
    const struct session *session, const struct report_line *line, struct error *error);

#endif
