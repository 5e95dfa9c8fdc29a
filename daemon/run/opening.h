/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The ledger that a filing writes to, opened at the start, or later where the disk was full
 * or the ledger damaged then.  Belongs to the filing's thread; blocks on the disk.
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
};

/* With all that the lines start from readable.  NULL with the code and the sentence. */
struct ledger *opening_first(struct opening *opening, const struct settings *settings,
    int *code, struct error *error);

/* Tries again; `last` gets each line's number given last.  A file that was there at the
 * start is not made anew: somebody is about to put a whole one in its place. */
struct ledger *opening_again(const struct opening *opening,
    const struct settings *settings, int64_t *last, struct error *error);

#endif
