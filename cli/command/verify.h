/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Whether a store has what it is to have, by the ledger: shots by line, number, revision
 * and how many of the features they have, events, and closed shifts, a day (UTC) at a time, so that what is missing has a name.
 * The time of a shot's points is within its second, so a day is the same in both.
 *
 * One object belongs to one thread.  Holds a day of one line in memory, and the numbers of
 * what is missing.
 */
#ifndef CLI_COMMAND_VERIFY_H
#define CLI_COMMAND_VERIFY_H

#include "cli/population/population.h"
#include "daemon/ledger/ledger_read_delivery.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct error;
struct source;

#define VERIFY_DAY_NS (INT64_C(86400) * CLOCK_SECOND_NS)

/* What a store must have by now. */
struct verify_terms {
	/* Changes up to which it took all. */
	int64_t shot_cursor, event_cursor, shift_cursor;
	struct wall hidden_from; /* what is later may be there and not be shown yet;
	                            ns 0: it shows all it has */
};

/* One shot. */
struct verify_shot {
	int64_t shot_no, revision;
	int64_t change; /* of the ledger's */
	struct wall filed_at;
	int values; /* features that are there */
};

/* A growing list of them; all 0 at first. */
struct verify_list {
	struct verify_shot *shots;
	size_t count, room;
	bool failed; /* memory was short */
};
void verify_list_add(struct verify_list *list, const struct verify_shot *shot);
void verify_list_release(struct verify_list *list);

/* Of a day and a line; or the events, or the shifts, of a day. */
struct verify_day {
	struct wall from, to;   /* a day, or the part of it that is asked for */
	const char *line;       /* lent; NULL: of events, all lines and the logger */
	bool events, shifts;    /* which; neither: shots */
	int64_t ledger, store;  /* how many each has */
	struct numbers missing; /* numbers of shots that it has not, in any revision */
	struct numbers earlier; /* of which it has not the last revision */
	struct numbers fewer;   /* of which it has, but with fewer values */
	struct numbers newer;   /* of which it has a later revision than the ledger: the
	                           ledger is a copy from before a correction; not missing */
	int64_t missing_count;  /* events that it has not; of shots all of the above */
	int64_t alone; /* that the store has and the ledger has not (any more) */
	int64_t unsent, hidden; /* not missing: not sent yet, not shown yet */
	struct wall first;      /* of what is missing; ns 0: nothing is */
};

/* Compares, and fills in what follows `events`.  Sorts both lists.  False when memory is
 * short.  The store's may hold a shot in several revisions. */
bool verify_compare(struct verify_day *day, struct verify_list *ledger,
    struct verify_list *store, const struct verify_terms *terms);
void verify_day_release(struct verify_day *day);

/* Reads a day from both, and compares; release it in either case.  Errors as of
 * source_read_shots. */
int verify_day_read(struct verify_day *day, struct ledger_read *ledger,
    struct source *source, const struct verify_terms *terms, struct error *error);

#endif
