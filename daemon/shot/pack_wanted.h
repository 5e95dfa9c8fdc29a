/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * A part of a pack as it is to be read: the wanted channels that have their registers in it.
 * Only for pack_read.c.  Pure.
 *
 * A part is of channels that were read together.  Of a device's wanted channels those that
 * find their registers in one part and stand next to each other are a run: each scan of the
 * part gives a scan of each of its runs.  A channel whose registers were not read at all goes
 * with the run before it (before the first: with that).  So what the runs of a device are does
 * not depend on which of its parts happen to be in a pack.
 */
#ifndef DAEMON_SHOT_PACK_WANTED_H
#define DAEMON_SHOT_PACK_WANTED_H

#include "daemon/base/scan.h"

#include <stddef.h>
#include <stdint.h>

struct settings;

/* Channels that were read together. */
struct pack_part {
	uint32_t device, first,
	    width; /* in the settings that the pack was taken under */
};

enum { PACK_NO_SOURCE = -1 };

struct pack_run {
	uint32_t first, count; /* within the wanted device */
};

struct pack_wanted {
	size_t run_count; /* 0: nobody wants anything of it */
	struct pack_run *runs;
	struct scan
	    *whole; /* room from the first run to the last, with what lies between */
	struct scan *scan; /* room for any of the runs */
	int64_t
	    *sources; /* by reading of `whole`: which of the part's it is, or none */
};

/*
 * Part number `place` of these, of scans taken under `made`, as `wanted` has it.  0, or
 * ERROR_MEMORY; release in either case.
 */
int pack_wanted_init(struct pack_wanted *part, const struct settings *made,
    const struct settings *wanted, const struct pack_part *parts, size_t part_count,
    size_t place);
void pack_wanted_release(struct pack_wanted *part);

/*
 * Gives `take` a scan of each run: times and readings are those of part->whole, where the
 * caller has put what each channel with a source shows.  `held`, by channel of `wanted`, is
 * what each showed last, zeroed at first: a fault bit that stands in another part speaks by
 * that, and what is read here is noted there.
 */
int pack_wanted_give(struct pack_wanted *part, const struct settings *wanted,
    struct reading *held, int (*take)(void *arg, const struct scan *scan), void *arg);

#endif
