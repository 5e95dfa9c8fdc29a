/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The lines that a store has refused, for `status`: those of the last day are wrong.  One
 * thread.
 */
#ifndef CLI_COMMAND_STATUS_REFUSED_H
#define CLI_COMMAND_STATUS_REFUSED_H

#include "daemon/ledger/ledger_read.h"

#include <stdint.h>

struct error;
struct page;

enum { STATUS_REFUSED_WORDS = 256 };

struct status_refused {
	int64_t lines, lately;            /* all; in the last 24 hours */
	char words[STATUS_REFUSED_WORDS]; /* the store's, of most of those lately */
};

/* `lines` is set before: nothing is read for 0. */
int status_refused_read(struct status_refused *refused, struct ledger_read *ledger,
    const char *store, struct error *error);

/* Tells of them; how many things are wrong, 1 or 0. */
int status_refused_put(
    struct page *page, const char *store, const struct status_refused *refused);

#endif
