/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The inside of struct ledger_read, shared by the files that read the ledger; nobody
 * else includes this.
 */
#ifndef DAEMON_LEDGER_LEDGER_READ_INSIDE_H
#define DAEMON_LEDGER_LEDGER_READ_INSIDE_H

#include "daemon/ledger/database.h"
#include "daemon/ledger/ledger_circumstances.h"
#include "daemon/ledger/ledger_read.h"

/* Rows that are copied out before anyone is called: the longest that a reading
 * transaction lasts. */
enum { READ_BATCH = 256 };

/* Rows of channel are added, and neither changed nor deleted. */
struct channel_name {
	int64_t id;
	char device[LEDGER_NAME], name[LEDGER_NAME], role[LEDGER_NAME];
	bool flow; /* whether it measures one */
};

struct ledger_read {
	sqlite3 *db;
	sqlite3_stmt *channels;     /* of a shot; NULL: not asked yet */
	struct channel_name *names; /* by id, as far as they were needed */
	size_t name_count;
	struct told told;
	char path[4096];
};

/* The connection alone, to a ledger of this version: close `*db` also after an error,
 * ERROR_DAMAGED among them, where it is not NULL. */
int ledger_read_connect(const char *path, sqlite3 **db, struct error *error);

/*
 * Rows of one kind, read in batches.  `statement` takes the batch's size as its last
 * parameter and what `bind_key` binds as its first; rows come in the order of that key.
 */
struct row_source {
	sqlite3_stmt *statement;
	size_t row_bytes;
	size_t limit; /* 0: all */
	/* The batch begins behind `last`; at the start when that is NULL. */
	void (*bind_key)(void *self, struct binding *binding, const void *last);
	void (*fill)(void *self, sqlite3_stmt *statement, void *row);
	int (*give)(void *self, const void *row); /* other than 0: enough */
	void *self;
};
int row_source_run(
    struct ledger_read *ledger, const struct row_source *source, struct error *error);

/* The same for a source whose statement is `sql`: prepared, run and finalized. */
int ledger_read_run(struct ledger_read *ledger, const char *sql,
    struct row_source source, struct error *error);

/* The id of a line; 0 for a name that is not in the ledger, -1 for NULL (all lines). */
int ledger_read_line(
    struct ledger_read *ledger, const char *name, int64_t *id, struct error *error);

/* The reason in a column; ABSENT_NOT for NULL. */
enum absent ledger_read_absent(sqlite3_stmt *statement, int column);

enum shot_outcome ledger_read_outcome(sqlite3_stmt *statement, int column);

#endif
