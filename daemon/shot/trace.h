/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The trace of a shot: its sheet's way (every edge) and the readings that its features
 * were made from, in one piece of bytes.  Pure.
 *
 * Oven channels are kept over the heat (where the pyrometers see the sheet only as it
 * leaves, that too), tool and water over the tool's cycle, bits and the rest over the
 * whole way, each with all that its edges may lie in and TRACE_MARGIN_S (longer
 * where its polls are slow) around it; what lies outside is stale.
 */
#ifndef DAEMON_SHOT_TRACE_H
#define DAEMON_SHOT_TRACE_H

#include "daemon/shot/features.h"

#include <stddef.h>

struct error;
struct pack_reader;
struct shot;

#define TRACE_MARGIN_S 15.0

/* The trace of source->sheet; the caller frees; NULL when memory is short. */
unsigned char *trace_make(const struct feature_source *source, size_t *byte_count);

/* A trace, and the settings that its readings were taken under; lent. */
struct trace_kept {
	const void *bytes;
	size_t byte_count;
	const struct settings *made;
};

/*
 * Makes outcome, features, channels and reason of `shot` again from its trace, as the
 * tracker would with `wanted` in force and `circumstances` told.  With the same of both
 * every bit comes out the same.  One thing it cannot make again, since
 * the readings of the shot before are not in it: under tool channels that mean something
 * else tool_drift_dc is not applicable.  `shot` is one of shot_new, with room
 * for every measure of the line; its line, side and shot_no are the caller's to set, line
 * and side as in `wanted`.  ERROR_INVALID when the trace is none or of another line.
 */
int trace_recompute(const struct trace_kept *kept, const struct settings *wanted,
    const struct circumstances *circumstances, struct shot *shot, struct error *error);

/* The sheet's way that the trace begins with.  0 or ERROR_INVALID. */
int trace_sheet(
    const void *bytes, size_t byte_count, struct sheet *sheet, struct error *error);

/* Its scans, in the order of their answers; as pack_read. */
int trace_scans(const void *bytes, size_t byte_count, const struct pack_reader *reader,
    struct error *error);

#endif
