/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What can still be read of a damaged ledger, in a new one.
 *
 * Row by row, around what cannot be read: SQLite finds the rows behind a damaged page by
 * their numbers.  Nothing is made up: a row is there as it was, or it is not there.  Where a
 * row that is gone was pointed to, an empty one stands in (a set-up without text, a line of
 * the name "unknown-" and its number); what hangs on a shot that is gone goes with it.  SQLite
 * keeps no checksums: a number in which a bit was turned is read like any other.
 */
#ifndef DAEMON_LEDGER_LEDGER_SALVAGE_H
#define DAEMON_LEDGER_LEDGER_SALVAGE_H

#include "daemon/ledger/ledger_backup.h"

/* Of one kind of rows. */
struct ledger_salvaged {
	const char *table;
	int64_t rows;   /* read */
	int64_t places; /* where there was something that could not be */
};

/* Shots that were there, by an index that can be read, and are lost. */
struct ledger_lost {
	const char *line;
	int64_t first_no, last_no, count;
	struct wall after, before; /* filed_at of those left beside them; ns 0: none */
};

/* Shots that are there, of which rows of that kind may be lost: the places that could not be
 * read are between theirs. */
struct ledger_incomplete {
	const char *table; /* "shot_channel", "absent", "trace" */
	const char *line;
	int64_t first_no, last_no, count;
};

/* Strings are lent until it returns.  In this order. */
struct ledger_salvage_take {
	void (*table)(void *arg, const struct ledger_salvaged *salvaged);
	void (*lost)(void *arg, const struct ledger_lost *lost);
	void (*incomplete)(void *arg, const struct ledger_incomplete *incomplete);
	void *arg;
};

struct ledger_salvage_order {
	const char *to;
	bool over, dry; /* dry: nothing is left at `to`, but the room is needed */
	const struct ledger_backup_watch *watch; /* may be NULL */
	struct ledger_salvage_take take;
};

/* As ledger_backup.  ERROR_DAMAGED when not even the list of tables can be read.  The ledger
 * stays as it is. */
int ledger_salvage(const char *ledger, const struct ledger_salvage_order *order,
    struct ledger_backup *made, struct error *error);

#endif
