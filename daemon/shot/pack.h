/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Scans packed for keeping: column by column, each column as differences, all of it
 * deflated.  What is kept of a reading is its raw bits and whether it was read, so that
 * unpacking under the same settings gives back every bit of value and quality, and under
 * corrected ones what they make of the same registers.
 *
 * Pure: memory only.  The form begins with a version byte and is of no byte order; it is
 * stable for ever: ledgers keep it for years.
 */
#ifndef DAEMON_SHOT_PACK_H
#define DAEMON_SHOT_PACK_H

#include "daemon/base/scan.h"

#include <stddef.h>
#include <stdint.h>

struct error;
struct settings;

enum { PACK_SCANS_MAX = 1 << 20 }; /* in one pack */

/*
 * Packs scans of any devices in the order given.  Returns bytes that the caller frees
 * and their number, or NULL when memory is short.
 */
unsigned char *pack_scans(
    const struct scan *const *scans, size_t count, size_t *byte_count);

/* How a pack is read. */
struct pack_reader {
	const struct settings *made; /* that the scans were taken under */
	const struct settings
	    *wanted; /* that they are to be read under; the same, mostly */
	int (*take)(void *arg, const struct scan *scan);
	void *arg;
};

/*
 * Calls `take` for every scan, in order; the scan is lent until it returns, a return
 * other than 0 ends it and is handed on.  A channel is found again by its device's name
 * and its registers (table, address, width), so that one that was mapped wrong is never
 * taken for what stands elsewhere; one whose registers were not read is QUALITY_STALE, a
 * device that `wanted` has not is left out.  A word order that was corrected is heeded.
 *
 * A scan that was taken gives one for each run of wanted channels that were read in it, so
 * that nothing is lost where channels are read together otherwise since.  What had stood
 * still too long (QUALITY_FROZEN) is so under any settings.  Where `wanted` ties a channel to
 * a fault bit that was read apart from it, the bit's last reading before the channel's counts
 * (conf/raw.h).  Where the bit was not read until then, the channel's readings stay as they
 * came: they were believed then.
 *
 * ERROR_INVALID for bytes that are no pack, of other devices, or of times that no clock
 * shows (FREEZE_MONO_MAX_NS, FREEZE_WALL_MAX_NS): none overflows later; ERROR_MEMORY.
 */
int pack_read(const void *bytes, size_t byte_count, const struct pack_reader *reader,
    struct error *error);

/* The same of one pack of several in order: `held` of the first, and then of each as the one
 * before has left it, keeps what fault bits showed last. */
int pack_read_on(const void *bytes, size_t byte_count, const struct pack_reader *reader,
    struct reading *held, struct error *error);

/* Nothing read yet.  The caller frees; NULL when memory is short. */
struct reading *pack_held_new(const struct settings *wanted);

/* The channel of `made` that one of `wanted` is read from, by their indices in the settings; -1:
 * its registers were not read. */
int64_t pack_source(
    const struct settings *made, const struct settings *wanted, uint32_t channel);

#endif
