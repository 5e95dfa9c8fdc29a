/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Numbers that are missing in a list of shots of several lines.  One thread. */
#ifndef CLI_WORDING_SHOTS_MISSING_H
#define CLI_WORDING_SHOTS_MISSING_H

#include "cli/population/lacking.h"
#include "cli/page/page.h"

struct shots_missing_line {
	char line[LEDGER_NAME];
	struct lacking missing;
	size_t told; /* runs */
};

struct shots_missing {
	struct shots_missing_line *lines;
	size_t count;
};

/* `asked` of all lines: its own is not used.  0, or the error; release in either case. */
int shots_missing_find(struct shots_missing *all, struct source *source,
    const struct ledger_shot *shots, size_t count, const struct lacking_asked *asked,
    struct error *error);
void shots_missing_release(struct shots_missing *all);

/* What is missing before this shot of its line and was not told: for people, between the
 * rows of an open table.  `named`: with the line. */
void shots_missing_across(struct shots_missing *all, const struct ledger_shot *shot,
    bool named, const struct source *source, struct page *page);

/* The table "missing", for machines. */
void shots_missing_put(const struct shots_missing *all, struct page *page);

/* The same of one line, without its name. */
void shots_missing_put_runs(const struct lacking *missing, struct page *page);

#endif
