/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Which answers of a unit on a serial line may still come late.
 *
 * A serial reply says its unit, its function and how long it is, and nothing of which
 * request it is to.  So while a request has not been answered, only a reply of another
 * length than it would have can be told from its late one.  A unit answers in the
 * order in which it was asked: once such a reply has come, no earlier one will.
 *
 * Where no length is left to tell by (a block of one register or of eight bits, or all
 * lengths tried in vain), it is relied on that no answer comes later than doubt_after_s
 * after it was given up.  Zero-filled there is no doubt.  One object belongs to one
 * thread.
 */
#ifndef DAEMON_FIELDBUS_DOUBT_H
#define DAEMON_FIELDBUS_DOUBT_H

#include "daemon/fieldbus/limit.h"

#include <stdbool.h>
#include <stdint.h>

struct read_block;

struct doubt { /* of one unit */
	bool on;
	uint8_t lengths[256 / 8]; /* bit n: n bytes of data may still come */
	struct limit until;
};

/* How long a late answer is expected for, of a request whose time-out is `timeout_s`. */
double doubt_after_s(double timeout_s);

/* The block was asked for and is given up now. */
void doubt_add(struct doubt *doubt, const struct read_block *block, double timeout_s);

/* A reply came that nothing else could have been answered with. */
void doubt_clear(struct doubt *doubt);

enum doubt_way {
	DOUBT_ASK,   /* the block's reply can be told from whatever may come late */
	DOUBT_PROBE, /* that of `probe` can, which is the beginning of the block */
	DOUBT_WAIT,  /* there is no such one: wait until doubt->until */
};

/* How the block can be asked for. */
enum doubt_way doubt_look(
    struct doubt *doubt, const struct read_block *block, struct read_block *probe);

#endif
