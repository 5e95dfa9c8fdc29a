/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * A new file that becomes a copy of a ledger: made beside its name, given it when it is
 * whole and on the disk.  Only for the files in this folder.
 */
#ifndef DAEMON_LEDGER_LEDGER_COPY_H
#define DAEMON_LEDGER_LEDGER_COPY_H

#include "daemon/ledger/database.h"
#include "daemon/ledger/ledger_backup.h"

enum { COPY_PATH = 4096 };

struct ledger_copy {
	char to[COPY_PATH], part[COPY_PATH];
	sqlite3 *db;     /* of the part; the only one who has it open */
	bool part_there; /* to be removed if it comes to nothing */
};

/* An empty file of "<to>.part", instead of one that was left there.  ERROR_INVALID when
 * `to` is there and not `over`, or is `ledger` itself, or in use.  `copy` is to be released
 * in either case. */
int ledger_copy_begin(struct ledger_copy *copy, const char *ledger, const char *to,
    bool over, struct error *error);

/* Whether so many bytes fit, on the ledger's own disk with room to spare: else it is the
 * daemon that finds the disk full.  ERROR_FULL. */
int ledger_copy_room(const struct ledger_copy *copy, const char *ledger, int64_t bytes,
    struct error *error);

/* What is there is a ledger: marks it as a copy, of which no sheet in flight is taken up,
 * and leaves the WAL. */
int ledger_copy_mark(struct ledger_copy *copy, struct error *error);

/* Looks through all of it; counts what there is. */
int ledger_copy_check(struct ledger_copy *copy, const struct ledger_backup_watch *watch,
    struct ledger_backup *made, struct error *error);

/* On the disk, and under its name. */
int ledger_copy_end(
    struct ledger_copy *copy, struct ledger_backup *made, struct error *error);

void ledger_copy_release(struct ledger_copy *copy);

#endif
