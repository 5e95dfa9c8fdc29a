/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What is on file of the delivery to the stores, read: how far each has everything, what
 * it lacks, what it refused.  As ledger_read.h: one object belongs to one thread.
 */
#ifndef DAEMON_LEDGER_LEDGER_READ_DELIVERY_H
#define DAEMON_LEDGER_LEDGER_READ_DELIVERY_H

#include "daemon/ledger/ledger_read.h"

/* The destinations that a cursor or a refusal is on file of, by name; lent to `take`. */
int ledger_read_destinations(struct ledger_read *ledger,
    int (*take)(void *arg, const char *destination), void *arg, struct error *error);

struct ledger_lack {
	/* Changes up to which it has everything, and what lies beyond them. */
	int64_t shot_cursor, event_cursor, shift_cursor;
	int64_t shots, events, shifts;
	struct wall next;  /* filed_at of the first of those shots; else of the first
	                     event; ns 0: none */
	struct wall moved; /* when a cursor moved last; ns 0: never */
	int64_t refused;   /* lines that are set aside */
	int64_t readings;  /* live ones that wait in its ring */
	int64_t lost;      /* of those that were dropped there before they went out */
};

/* All 0 for a destination that is not on file but for what it lacks: everything. */
int ledger_read_lack(struct ledger_read *ledger, const char *destination,
    struct ledger_lack *lack, struct error *error);

/* What it would lack after ledger_set_back to `from`. */
int ledger_read_lack_from(struct ledger_read *ledger, const char *destination,
    struct wall from, struct ledger_lack *lack, struct error *error);

/* A line that was refused; lent to `take`. */
struct ledger_refused {
	int64_t change;
	const char *line;   /* of a very long one the beginning */
	const char *answer; /* the server's words */
	struct wall at;     /* when it was refused */
	struct wall time;   /* of its point, to the second; ns 0: it has none */
};
/* Those of a destination, in the order of their change. */
int ledger_read_refusals(struct ledger_read *ledger, const char *destination,
    int (*take)(void *arg, const struct ledger_refused *refused), void *arg,
    struct error *error);

#endif
