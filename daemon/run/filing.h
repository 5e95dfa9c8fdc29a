/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The way into the ledger: shots first, in the order in which they came, then who stands
 * where, then events, then live readings.
 *
 * While the ledger cannot be written they wait in memory (waiting.h; shots: settings
 * memory_shots of them; later ones are lost, counted and said) and writing is tried again
 * every FILING_RETRY_S.  Only live readings do not: they are dropped and counted.  A
 * ledger whose disk is full at the start, or that is damaged where it is read then, is
 * waited for in the same way.  One object belongs to one thread, but for filing_status and
 * filing_put_event.
 */
#ifndef DAEMON_RUN_FILING_H
#define DAEMON_RUN_FILING_H

#include "daemon/base/clock.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct circumstances;
struct error;
struct filing;
struct settings;
struct shot;
struct tracker_start;

enum { FILING_RETRY_S = 5 };

#define FILING_LOGGER UINT32_MAX /* in the place of a line: the logger itself */

/* Told for each line of a ledger that was opened late: it has this many shots. */
struct filing_hook {
	void (*found)(void *arg, uint32_t line, int64_t last_shot_no);
	void *arg;
};

/*
 * Opens the ledger; `settings` must outlive the filing, or be replaced by filing_adopt.
 * NULL with the sentence in `error`, but not for a full disk or a damaged ledger: then the
 * status says that it is not open yet.
 */
struct filing *filing_open(const struct settings *settings, struct error *error);

/* What still waits is lost, and that is said. */
void filing_free(struct filing *filing);

void filing_set_hook(struct filing *filing, struct filing_hook hook);

/* As ledger_set_hasty: for a replay.  The ledger must be open. */
int filing_set_hasty(struct filing *filing, bool hasty, struct error *error);

/* What the ledger knows of a line; zeroed when it is not open yet.  `saved` is lent until
 * the next call. */
int filing_start(struct filing *filing, uint32_t line, struct tracker_start *start,
    struct error *error);

/* What people told that holds for a shot of the line filed at `at`, as the ledger has it
 * now; nothing, when it is not open yet or cannot be read.  See tracker_sink. */
void filing_circumstances(struct filing *filing, uint32_t line, int recipe,
    struct wall at, struct circumstances *circumstances);

/* Takes the shot. */
void filing_put_shot(struct filing *filing, uint32_t line, struct shot *shot);

/* Copies.  Safe from any thread. */
void filing_put_event(struct filing *filing, uint32_t line, struct wall at,
    const char *kind, const char *text);

/* Who stands where on a line: copied, in the place of what the line put before. */
void filing_put_standing(struct filing *filing, uint32_t line, struct wall at,
    const void *bytes, size_t byte_count);

/* What a line's channels read over an interval that ends at `at`, packed (reading_pack.h),
 * for store `store` of the settings: copied. */
void filing_put_reading(struct filing *filing, size_t store, uint32_t line,
    struct wall at, const void *bytes, size_t byte_count);

/* Writes what waits, also when it was refused less than FILING_RETRY_S ago if `insist`;
 * true when nothing waits any more. */
bool filing_write(struct filing *filing, bool insist);

/* Goes over to settings with the same lines: no shot may be waiting (assert). */
void filing_adopt(struct filing *filing, const struct settings *settings);

/* Once an hour, when no shot waits: lets the ledger forget what is too old (keeping.h),
 * some of it at each call. */
void filing_tidy(struct filing *filing, struct wall now);

struct filing_status {
	int open;          /* 1: the ledger has been opened */
	int writing;       /* 1: the ledger takes what it is given; 0: not */
	struct wall since; /* of that state */
	int64_t filed;     /* shots written since the start */
	int64_t lost;      /* shots given up because memory was full */
	size_t waiting;    /* shots in memory */
	int64_t events_lost, readings_lost; /* events; intervals of live readings */
	char text[256];                     /* of the last failure to write */
};
void filing_status(struct filing *filing, struct filing_status *status);

#endif
