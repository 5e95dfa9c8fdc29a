/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Numbers of shots that should be there and are not: a line numbers its shots one by one,
 * so each number between two others had a shot.  Found by the set of numbers, in whatever
 * order the shots came.  One thread.
 */
#ifndef CLI_POPULATION_LACKING_H
#define CLI_POPULATION_LACKING_H

#include "daemon/ledger/ledger_read.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct error;
struct page;
struct source;
struct text;

struct lacking_have {
	int64_t shot_no;
	struct wall filed_at;
};

struct lacking_run {
	int64_t first, last;
	bool renumbered; /* nothing is missing: numbers went on higher after a copy of
	                    the ledger was put in its place */
};

/* Of one line.  All zero: empty. */
struct lacking {
	struct lacking_have *have; /* by number once lacking_find was called */
	size_t count, room;
	struct lacking_run *runs; /* growing */
	size_t run_count;
};

/* One that is there, no matter how often.  False when memory is short. */
bool lacking_add(struct lacking *missing, const struct ledger_shot *shot);

struct lacking_asked {
	const char *line;
	struct wall from, to; /* filed_at of all that were added; ns 0: open */
};
/* Finds the runs.  A number that was filed before or after that time is not missing: where
 * there is a run, the source is asked for those beside it.  0, or the error. */
int lacking_find(struct lacking *missing, struct source *source,
    const struct lacking_asked *asked, struct error *error);
void lacking_release(struct lacking *missing);

/* Adds "31-41, 52": those that are missing.  `most` runs and how many more. */
void lacking_text(const struct lacking *missing, size_t most, struct text *text);

/* How many numbers are missing. */
int64_t lacking_count(const struct lacking *missing);

/* "this ledger", "store plant"; lent. */
const char *lacking_where(const struct source *source);

#endif
