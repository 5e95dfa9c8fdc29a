/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Recordings: every scan in the order in which the trackers got it, for a replay.
 *
 * A recording begins with the line RECORDING_HEAD; then come blocks: a kind (one byte), a
 * length (4 bytes, the least significant first), and so many bytes.  A block SETTINGS is
 * the text of the configuration, and with it a new session begins; SCANS is a pack
 * (daemon/shot/pack.h) of scans taken under it.
 *
 * Writing: a disk that is full ends the recording, which is said, and hurts nothing else.
 * What is not written yet lasts RECORDING_PACK_S at most.  One thread.
 */
#ifndef DAEMON_RUN_RECORDING_H
#define DAEMON_RUN_RECORDING_H

#include <stddef.h>
#include <stdint.h>

struct error;
struct recording;
struct scan;
struct settings;

#define RECORDING_HEAD "evensoak recording 1\n"

enum {
	RECORDING_SETTINGS = 'S',
	RECORDING_SCANS = 'P',
	RECORDING_BLOCK_HEAD = 5,
	RECORDING_BLOCK_MAX = 16 << 20, /* bytes */
	RECORDING_PACK_S = 30,
};

/*
 * Goes on with the recording at `path`, where a block that was cut off is removed, or makes
 * it.  So is what a power cut left blank at its end.  NULL with the sentence in `error`: the
 * file is something else, is damaged elsewhere (nobody could read what came behind), or
 * cannot be written.
 */
struct recording *recording_open(const char *path, struct error *error);

/* Writes what is in hand. */
void recording_close(struct recording *recording);

/* A session begins. */
void recording_begin(struct recording *recording, const struct settings *settings);

void recording_put(struct recording *recording, const struct scan *scan);

/* --- reading, as a stream: the memory it takes does not depend on its length ---------- */

struct recording_reader;

struct recording_block {
	int kind;
	const unsigned char
	    *bytes; /* lent until the next is read; a NUL follows them */
	size_t length;
};

/* "-": standard input.  NULL with the sentence in `error`. */
struct recording_reader *recording_reader_open(const char *path, struct error *error);
void recording_reader_close(struct recording_reader *reader);

/*
 * The next block: 1; 0 at the end, which is told when it comes within a block: a daemon
 * that was killed leaves such a recording.  ERROR_INVALID for what is no block; ERROR_IO,
 * ERROR_MEMORY.
 */
int recording_next(struct recording_reader *reader, struct recording_block *block,
    struct error *error);

#endif
