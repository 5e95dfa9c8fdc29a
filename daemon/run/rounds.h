/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Once a second somebody goes round and looks at all parts: how they are goes into the
 * ledger as rows of health and of the logger, and what happened to them as events.
 *
 * One object belongs to one thread (the main one).
 */
#ifndef DAEMON_RUN_ROUNDS_H
#define DAEMON_RUN_ROUNDS_H

#include "daemon/base/clock.h"

#include <stdbool.h>
#include <stddef.h>

struct buses;
struct error;
struct notifier;
struct publisher;
struct recorder;
struct recorder_status;
struct rounds;
struct settings;

/* What there is to look at. */
struct rounds_parts {
	const struct settings *settings;
	struct recorder *recorder; /* events go there */
	const struct buses *buses;
	struct publisher **publishers; /* of the first stores of the settings */
	size_t publisher_count;
	struct notifier *notifier; /* NULL: nobody is told of events */
	const char *refused;       /* why the configuration file is not in force; "" */
	struct wall refused_at;
};

/* The logger starts.  `ledger`, its path, must outlive it.  NULL when memory is short. */
struct rounds *rounds_new(const char *ledger);
void rounds_free(struct rounds *rounds); /* says that the daemon has stopped; NULL */

/* Once the ledger is there: until then no rows are written.  Files how the run before
 * ended. */
int rounds_open(struct rounds *rounds, struct recorder *recorder, struct error *error);
bool rounds_is_open(const struct rounds *rounds);

/* Cuts the WAL too when `checkpoint`. */
void rounds_go(struct rounds *rounds, const struct rounds_parts *parts,
    const struct recorder_status *status, bool checkpoint);

/* The recorder and the buses have ended, and others begin to count. */
void rounds_carry(struct rounds *rounds, const struct recorder_status *last);

#endif
