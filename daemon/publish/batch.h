/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The lines of one batch, and how far the store has settled them.
 *
 * Lines are settled from the first on, a span at a time.  A refused span is halved
 * down to the one line that is at fault, a taken one lets the next be twice as long:
 * one bad line among n costs about 3 log2 n posts, n bad ones n posts.
 * One object belongs to one thread.
 */
#ifndef DAEMON_PUBLISH_BATCH_H
#define DAEMON_PUBLISH_BATCH_H

#include "daemon/base/text.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct batch {
	struct text text; /* the lines, one after another */
	size_t *starts;   /* of each line in the text; then the end */
	int64_t *changes; /* the change number that each line belongs to */
	size_t count, room;
	int64_t change;     /* the cursor, once all is settled; 0: the batch is empty */
	int64_t pieces;     /* that were added */
	int64_t lost;       /* readings that never can be in a batch: the loader's */
	size_t first, span; /* the lines to post next: span from first on */
	size_t span_most;   /* 0: any; stays when it is cleared */
	int refusals;       /* of spans of it: the owner's */
	int64_t dropped;    /* the last change that lost a line by batch_drop */
};

void batch_init(struct batch *batch, size_t bytes_max);
void batch_release(struct batch *batch);
void batch_clear(struct batch *batch);

/*
 * Adds whole lines that belong together; there may be none.  `change` must not go
 * down.  ERROR_MEMORY, and then the batch is of no use until it is cleared.
 */
int batch_add(struct batch *batch, const struct text *lines, int64_t change);

bool batch_settled(const struct batch *batch);

/* The span to post next, and the length of `count` lines from its start on. */
const char *batch_span(const struct batch *batch, size_t *length);

/* The span is settled: stored, or (one line) set aside. */
void batch_take(struct batch *batch);
void batch_skip(struct batch *batch);

/* The span, of any length, is given up; the next one may be twice as long.  Returns how many changes lose a line by that, not
 * counting the one that did so last. */
int64_t batch_drop(struct batch *batch);

/* The span is refused.  False when it is one line and cannot be halved. */
bool batch_halve(struct batch *batch);

#endif
