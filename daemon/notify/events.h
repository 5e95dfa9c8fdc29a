/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The events of the ledger from a cursor on, each given once; the cursor stands in the
 * ledger.  Belongs to one thread; blocks on the disk.  A ledger that fails is told by those
 * who file: here it is tried again at the next call.
 */
#ifndef DAEMON_NOTIFY_EVENTS_H
#define DAEMON_NOTIFY_EVENTS_H

#include "conf/settings_sizes.h"
#include "daemon/ledger/ledger.h"

#include <stdbool.h>
#include <stdint.h>

struct ledger_event;
struct ledger_read;

/* How the cursor stands in the table `delivery`: a stream of no store. */
#define EVENTS_DESTINATION "[notify]"
#define EVENTS_STREAM "notice"

/* Zeroed to begin with, but for the path. */
struct events {
	char path[SETTINGS_PATH];
	struct ledger *ledger; /* for the cursor; NULL: not open yet */
	struct ledger_read *read;
	struct ledger_delivered cursor; /* on file; at ns 0: none is */
	bool first;                     /* nothing has been read from there yet */
	int64_t read_to;                /* the last change that was given */
};
void events_close(struct events *events);

/* Opens the ledger if need be, and gives what came since the last call.  The very first
 * time that a ledger is asked, nothing: all that is there is from before. */
void events_give(struct events *events,
    void (*take)(void *arg, const struct ledger_event *event), void *arg);

/* Moves the cursor behind all that was given.  Where that cannot be written it stays, and
 * after a restart some are given again. */
void events_settle(struct events *events);

/* What was given since the cursor was moved is given again. */
void events_give_again(struct events *events);

#endif
