/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The readings of one line's devices, as far back as the sheets in the machine need
 * them: a ring of scans for all channels of a device that are read together.
 *
 * Memory grows with what is kept and is bounded twice, below; nothing is
 * allocated a sample once a ring has its size.  Pure; one thread.
 */
#ifndef DAEMON_SHOT_HISTORY_H
#define DAEMON_SHOT_HISTORY_H

#include "daemon/base/clock.h"
#include "daemon/base/scan.h"

#include <stddef.h>
#include <stdint.h>

struct history;
struct settings;

/* A heat of thick sheet lasts over an hour; a long stop must not fill a line PC. */
enum {
	HISTORY_KEEP_S = 7200,
	HISTORY_BYTES_MAX = 8 * 1024 * 1024, /* a line */
};

/* For the devices of line `line`; NULL when memory is short.  The settings are lent for
 * as long as it lives. */
struct history *history_new(const struct settings *settings, uint32_t line);
void history_free(struct history *history);

/* Keeps a scan of one of the devices; one that is older than the last of the same channels,
 * was answered before it was asked (a forged trace), or is of another line, is left out.  Past a bound the oldest scan goes.  The scans of a
 * channel must all be of the same channels. */
void history_take(struct history *history, const struct scan *scan);

/* What is to be added to the readings of each channel from now on, by its index in the
 * settings; NULL: nothing.  Lent until the next call.  Only series heed it: what is kept
 * stays as it came. */
void history_correct(struct history *history, const double *correction);

/* How often each channel was polled, by its index in the settings, where it was otherwise than
 * they say; NULL: as they say.  Lent until the next call. */
void history_paced(struct history *history, const double *period_s);

double history_period_s(const struct history *history, uint32_t channel);

/* Lets go of what is older than `before`. */
void history_forget(struct history *history, struct mono before);

/* The readings of one channel asked for and answered within from to to; their time is
 * the answer's.  Lent until the next take or forget. */
struct series {
	const struct history_ring *ring;
	size_t first, count;
	uint32_t column;
	double period_s;       /* at which the channel is polled */
	double correction;     /* added to the readings */
	double min_si, max_si; /* of the channel; a corrected reading outside is out of
	                          range */
};
struct series history_series(
    const struct history *history, uint32_t channel, struct mono from, struct mono to);

struct mono series_time(const struct series *series, size_t index);
struct reading series_reading(const struct series *series, size_t index);

/*
 * Calls `take` for every scan that is kept and was asked for and answered within from to
 * to, in the order of the answers.  The scan is lent, its wall time unknown; a return
 * other than 0 ends it and is handed on.  ERROR_MEMORY.
 */
int history_scans(const struct history *history, struct mono from, struct mono to,
    int (*take)(void *arg, const struct scan *scan), void *arg);

#endif
