/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Whether a ledger is whole, also one that is being written.
 *
 * Quick: every page is read, and whether the trees and the rows in them are well formed;
 * cursors beyond the newest change.  Full also: whether every index tells the same as its
 * table, whether rows point to something, numbers that a line has twice, channels without a
 * shot.  Holes in a line's numbers are no fault (old shots are forgotten, and numbers go on
 * higher after a restore).  Not seen: a bit that was turned within a number.
 *
 * Reads all of the file once (quick) or several times (full), in one reading transaction.
 */
#ifndef DAEMON_LEDGER_LEDGER_CHECK_H
#define DAEMON_LEDGER_LEDGER_CHECK_H

#include <stdbool.h>
#include <stdint.h>

struct error;

enum { LEDGER_CHECK_MOST = 100 }; /* findings told; there may be more */

struct ledger_check {
	bool full;
	/* Called every few milliseconds of work; may wait.  Other than 0 ends it.  NULL. */
	int (*pause)(void *arg);
	/* Each thing found, a sentence; NULL: only the first one is wanted. */
	void (*take)(void *arg, const char *finding);
	void *arg;
};

struct ledger_checked {
	int64_t findings;
	char first[256]; /* of them; "" */
	bool ended;      /* by pause: nothing is said of the rest */
};

/* A ledger that cannot be read as one has one finding.  Errors: it is not there, no rights,
 * memory. */
int ledger_check(const char *path, const struct ledger_check *check,
    struct ledger_checked *checked, struct error *error);

#endif
