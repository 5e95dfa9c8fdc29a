/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What waits to be written into the ledger: a row of things of each kind, in the order in
 * which they came.  Each kind has a bound of its own, so that none crowds out another.
 *
 * Any thread may put; one thread takes, and what it looks at stays until it drops it.
 */
#ifndef DAEMON_RUN_WAITING_H
#define DAEMON_RUN_WAITING_H

#include "conf/settings_sizes.h"
#include "daemon/base/clock.h"

#include <pthread.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct shot;

/* In the order in which they are written. */
enum waiting_kind {
	WAITING_SHOT,
	WAITING_STANDING, /* who stands where: one a line, the latest */
	WAITING_EVENT,
	WAITING_READING, /* live readings of an interval */
	WAITING_KINDS
};

struct pending {
	struct pending *next;
	enum waiting_kind kind;
	uint32_t line; /* of the settings; of an event also FILING_LOGGER */
	struct wall at;
	struct shot *shot;    /* of a shot */
	char word[32];        /* of an event: its kind */
	char text[256];       /* the same */
	unsigned char *bytes; /* of who stands where, and of readings */
	size_t byte_count;
	char destination[SETTINGS_NAME]; /* of readings */
	int64_t keep_ns;                 /* the same: they wait there for so long */
};

/* With copies of the bytes (NULL: none).  NULL when memory is short. */
struct pending *pending_new(enum waiting_kind kind, uint32_t line, struct wall at,
    const void *bytes, size_t byte_count);
void pending_free(struct pending *pending); /* with its shot */

struct waiting {
	pthread_mutex_t lock; /* guards all below */
	struct waiting_row {
		struct pending *first, **last; /* last: where the next is hung on */
		size_t count;
	} rows[WAITING_KINDS];
};

void waiting_init(struct waiting *waiting);
void waiting_release(struct waiting *waiting);

/* Takes it, unless `bound` of its kind wait: then it stays the caller's, and false.  Of
 * who stands where it goes in the place of what the line had there. */
bool waiting_put(struct waiting *waiting, struct pending *pending, size_t bound);

/* The first of its kind, lent until it is dropped; NULL when there is none. */
struct pending *waiting_first(struct waiting *waiting, enum waiting_kind kind);
void waiting_drop(struct waiting *waiting, enum waiting_kind kind); /* that one */

/* All of its kind; returns how many there were. */
size_t waiting_clear(struct waiting *waiting, enum waiting_kind kind);

size_t waiting_count(struct waiting *waiting, enum waiting_kind kind);

#endif
