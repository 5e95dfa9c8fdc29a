/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Scans gathered until there are enough for a pack: copies of them in a room of a fixed
 * size, so that keeping scans takes no more memory the longer it goes on.  Pure; one thread.
 */
#ifndef DAEMON_SHOT_GATHER_H
#define DAEMON_SHOT_GATHER_H

#include <stddef.h>

struct gather;
struct scan;

/* Room for half a megabyte of scans.  NULL when memory is short. */
struct gather *gather_new(void);
void gather_free(struct gather *gather);

/* A copy, to be changed at will; NULL when there is no room: pack first. */
struct scan *gather_add(struct gather *gather, const struct scan *scan);

/* The first one that was added since the last pack; NULL when there is none. */
const struct scan *gather_first(const struct gather *gather);

/* Packs them all (pack_scans) and begins anew; without any NULL and 0 bytes.  When memory
 * is short NULL too, and they are lost. */
unsigned char *gather_pack(struct gather *gather, size_t *byte_count);

#endif
