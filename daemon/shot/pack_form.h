/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The form of a pack, for the two files that write and read it; nobody else includes this.
 *
 * The version and the length of the rest inflated (two numbers), and a zlib stream of
 *
 *     how many scans; how many parts, each of channels that are read together; of each part
 *     the index of its device in the settings, its first channel within the device, and how
 *     many channels it has
 *     a column with the place of each scan's part in that list
 *     and for each part, of its scans,
 *         a column of `at`: differences of differences
 *         a column of at - sent: differences
 *         a column of wall - at: differences
 *         a column a channel: runs, each 4 x its length + what is in it (enum pack_what), and
 *         after a run of READ or FROZEN the differences of so many raw values
 *
 * A column is its length in bytes (4 bytes, the least first) and its numbers.  Numbers are
 * 7 bits a byte, the least first, the high bit set on all but the last byte; a difference
 * d is written as 2 d, or as -2 d - 1 below 0.  Differences of raw values are of 32 bits.
 *
 * Version 1 had no first channels: a part was a whole device.  Its runs were 3 x their length,
 * and none was FROZEN.
 */
#ifndef DAEMON_SHOT_PACK_FORM_H
#define DAEMON_SHOT_PACK_FORM_H

#include <stdbool.h>
#include <stdint.h>

enum {
	PACK_VERSION_FIRST = 1,
	PACK_VERSION = 2,
	PACK_NUMBER_MAX = 10,   /* bytes of a number */
	PACK_COLUMN_LENGTH = 4, /* bytes before a column */
};

enum pack_what {
	PACK_READ,
	PACK_STALE,
	PACK_COMM_FAULT,
	PACK_WHAT_FIRST_COUNT, /* those of version 1 */
	PACK_FROZEN = PACK_WHAT_FIRST_COUNT,
	PACK_WHAT_COUNT
};

static inline bool
pack_has_raw(uint64_t what)
{
	return what == PACK_READ || what == PACK_FROZEN;
}

static inline uint64_t
pack_zigzag(int64_t value)
{
	return (uint64_t)value << 1 ^ (value < 0 ? UINT64_MAX : 0);
}

static inline int64_t
pack_unzigzag(uint64_t number)
{
	return (int64_t)(number >> 1 ^ (number & 1 ? UINT64_MAX : 0));
}

/* Differences and sums go round: what a damaged pack says may be anything. */
static inline int64_t
pack_minus(int64_t a, int64_t b)
{
	return (int64_t)((uint64_t)a - (uint64_t)b);
}

static inline int64_t
pack_plus(int64_t a, int64_t b)
{
	return (int64_t)((uint64_t)a + (uint64_t)b);
}

#endif
