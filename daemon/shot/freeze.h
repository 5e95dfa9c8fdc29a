/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Plain values to bytes and back: one walk over a struct's members does both, so that
 * what is written and what is read cannot drift apart.
 *
 * Little-endian whatever the machine.  Writing past the room and reading past the end
 * only set `failed`; nothing is touched from then on.  Pure.
 */
#ifndef DAEMON_SHOT_FREEZE_H
#define DAEMON_SHOT_FREEZE_H

#include "daemon/base/clock.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct edge;
struct sheet;
struct stay;

/* Nothing measures in centuries: within these bounds no difference of two times overflows,
 * nor does a label made of one wall clock, one mono clock and another mono. */
#define FREEZE_MONO_MAX_NS (INT64_MAX / 4)
#define FREEZE_WALL_MAX_NS (INT64_MAX / 2) /* the year 2116 */

struct freeze {
	unsigned char *bytes; /* lent; not written to when thawing */
	size_t room, length;  /* thawing: how far it has been read */
	bool thaw, failed;
};

struct freeze freeze_into(unsigned char *bytes, size_t room);
struct freeze freeze_from(const unsigned char *bytes, size_t length);

void freeze_i64(struct freeze *freeze, int64_t *value);
void freeze_int(struct freeze *freeze, int *value);
void freeze_bool(struct freeze *freeze, bool *value);
void freeze_double(struct freeze *freeze, double *value); /* every bit of it */
void freeze_u32(struct freeze *freeze, uint32_t *value);
void freeze_u64(struct freeze *freeze, uint64_t *value);
void freeze_time(
    struct freeze *freeze, int64_t *ns); /* of a mono; fails out of bounds */
void freeze_edge(struct freeze *freeze, struct edge *edge);

void freeze_stay(struct freeze *freeze, struct stay *stay);

/* Fails on a sheet that cannot be. */
void freeze_sheet(struct freeze *freeze, struct sheet *sheet);

#endif
