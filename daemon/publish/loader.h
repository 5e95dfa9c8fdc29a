/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Fills batches for one store with what lies beyond a mark in the ledger, of four
 * streams: shots with all their lines, events, shifts that have ended, and live readings out
 * of the store's ring.
 *
 * One object belongs to one thread.  A call blocks on the ledger.
 */
#ifndef DAEMON_PUBLISH_LOADER_H
#define DAEMON_PUBLISH_LOADER_H

#include "daemon/publish/shot_lines.h"

#include <stddef.h>
#include <stdint.h>

struct batch;
struct settings;
struct settling_mark;

enum stream { STREAM_SHOT, STREAM_EVENT, STREAM_SHIFT, STREAM_READING, STREAM_COUNT };

/* "shot", "event", "shift", "reading": the ledger's name for it. */
const char *stream_name(enum stream stream);

enum {
	LOADER_BATCH_BYTES = 1 << 20, /* of lines, before compression */
	/* A batch holds at least one shot, whole: with SETTINGS_CHANNELS channels, and
	 * their marks of some thirty revisions. */
	LOADER_PIECE_BYTES = 32 << 20,
};

struct loader {
	const struct store_settings *store;
	struct ledger_read *read;
	struct shot_lines lines;
	struct text piece;  /* the lines of one shot, event, shift or set of readings */
	size_t batch_bytes; /* a batch is full then; the owner's */
	size_t batch_lines;
	size_t piece_lines[STREAM_COUNT]; /* of the last one read; at least 1 */
};

/* For store `store` of `settings`, which are lent, out of the ledger at `ledger`.
 * loader_close either way. */
int loader_open(struct loader *loader, const struct settings *settings, size_t store,
    const char *ledger, struct error *error);
void loader_close(struct loader *loader);

/*
 * Fills an empty batch with what lies beyond `after`; it stays empty when that is nothing
 * or its first could not be read.  Readings that the ring has dropped, or that cannot be read, are
 * counted in batch->lost, on top of after->lost.
 */
int loader_fill(struct loader *loader, enum stream stream,
    const struct settling_mark *after, struct batch *batch, struct error *error);

#endif
