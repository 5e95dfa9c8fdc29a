/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Events that cannot get into the ledger for now, on their way past it; and which they
 * were, for when they do get there afterwards.
 *
 * Any thread puts; one thread takes and asks.
 */
#ifndef DAEMON_NOTIFY_DIRECT_H
#define DAEMON_NOTIFY_DIRECT_H

#include "daemon/ledger/ledger_read.h"

#include <pthread.h>

enum { DIRECT_MOST = 64 };

struct direct {
	pthread_mutex_t mutex; /* guards the next three */
	struct ledger_event waiting[DIRECT_MOST];
	size_t count;
	int64_t more; /* for which there was no room */
	/* The taking thread's own. */
	struct ledger_event taken[DIRECT_MOST]; /* the last of them, in a ring */
	size_t taken_count;                     /* that are known */
};

void direct_init(struct direct *direct);
void direct_release(struct direct *direct);

/* Copies; of more than DIRECT_MOST the number alone is kept. */
void direct_put(struct direct *direct, const struct ledger_event *event);

/* Gives and forgets them; returns how many had no room. */
int64_t direct_take(struct direct *direct,
    void (*take)(void *arg, const struct ledger_event *event), void *arg);

/* Whether it waits here, or was among the last DIRECT_MOST that were taken.  So whoever
 * puts an event before he files it has it told once. */
bool direct_knows(struct direct *direct, const struct ledger_event *event);

/* Knows those no more that were taken: they are told as they come from the ledger. */
void direct_forget(struct direct *direct);

#endif
