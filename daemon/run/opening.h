/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The ledger that a filing writes to, opened at the start, or later where the disk was full
 * then, the ledger damaged, or its files not this user's to write.  Belongs to the filing's thread; blocks on the disk.
 */
#ifndef DAEMON_RUN_OPENING_H
#define DAEMON_RUN_OPENING_H

#include <stdbool.h>
#include <stdint.h>

struct error;
struct ledger;
struct settings;

struct opening {
	bool was_there; /* there was a file at the start */
	bool waits;     /* what failed then can be put right while we run */
};

/* With all that the lines start from readable.  NULL with the sentence; opening->waits then
 * says whether trying again makes sense. */
struct ledger *opening_first(
    struct opening *opening, const struct settings *settings, struct error *error);

/* Tries again; `last` gets each line's number given last.  A file that was there at the
 * start is not made anew: somebody is about to put a whole one in its place. */
struct ledger *opening_again(const struct opening *opening,
    const struct settings *settings, int64_t *last, struct error *error);

#endif
