/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * A copy of a ledger, also of one that a daemon is writing: the ledger as it was at one
 * instant, in one plain file that opens anywhere, from a disk that cannot be written too.
 *
 * Only read rights on the ledger are needed.  The writer is never held up; while the copy
 * is made its WAL is not begun anew, so it grows by what is written meanwhile, up to
 * BACKUP_WAL_MOST: then the copy is given up.  Pages are copied as they are, in the order of
 * the file, rather than rows: that takes the shortest time, and the WAL grows by that.
 */
#ifndef DAEMON_LEDGER_LEDGER_BACKUP_H
#define DAEMON_LEDGER_LEDGER_BACKUP_H

#include "daemon/base/clock.h"

#include <stdbool.h>
#include <stdint.h>

struct error;

#define BACKUP_WAL_MOST (INT64_C(1) << 30)

enum ledger_backup_stage { BACKUP_COPYING, BACKUP_CHECKING };

/* Told now and then; `ratio` is how much of the stage is done, NAN where nobody knows. */
struct ledger_backup_watch {
	void (*tell)(void *arg, enum ledger_backup_stage stage, double ratio);
	void *arg;
};

struct ledger_backup {
	int64_t bytes, shots, events;
	struct wall first, last; /* filed_at of its shots; ns 0: none */
};

/*
 * Writes `to`.part, checks it, and gives it its name when it is on the disk; else removes
 * it.  ERROR_INVALID when `to` is there and not `over`, or is in use as a ledger; ERROR_FULL,
 * ERROR_IO; a ledger that is damaged has no copy (see ledger_salvage).  `watch` may be NULL.
 */
int ledger_backup(const char *ledger, const char *to, bool over,
    const struct ledger_backup_watch *watch, struct ledger_backup *made,
    struct error *error);

#endif
