/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * One thing that waits, written into the ledger; before the first one, the set-up that it
 * is of.  Blocks on the disk, at most 5 s on another writer.  One object belongs to one
 * thread.
 */
#ifndef DAEMON_RUN_WRITING_H
#define DAEMON_RUN_WRITING_H

#include <stdbool.h>

struct error;
struct ledger;
struct pending;
struct settings;

struct writing {
	const struct settings *settings;
	struct ledger *ledger; /* NULL: not open yet */
	bool set_up;           /* the ledger knows these settings */
};

/* The errors of the ledger; trying again is safe.  The ledger must be open. */
int writing_put(
    struct writing *writing, const struct pending *pending, struct error *error);

#endif
