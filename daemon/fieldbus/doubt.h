/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Which answers of a unit on a serial line may still come late.
 *
 * A serial reply says its unit, its function and how long it is, and nothing of which
 * request it is to.  So while a request has not been answered, only a reply of another
 * length than it would have can be told from its late one.  A unit answers in the
 * order in which it was asked: once such a reply has come, no earlier one will.
 *
 * Relied on is:
 *  - where no length is left to tell by (a block of one register or of eight bits, or all
 *    lengths tried in vain), that no answer comes later than doubt_after_s after it was
 *    given up;
 *  - of a program that had the port before us and was killed, which nobody can know of,
 *    that no more than one answer comes later than the time-out that the line is listened
 *    to after opening it: that one is told by the first request to each unit, which goes
 *    out behind a probe for doubt_after_s.  A block of one register or of eight bits has
 *    no probe: there, that none comes so late, and nor does an exception;
 *  - of a program that is killed while we have the port open too, the same where we
 *    waited for it at that moment and no third one is there; else, that no answer comes
 *    but of the lengths that it had warned of when we asked that unit.
 * Zero-filled there is no doubt.  One object belongs to one thread.
 */
#ifndef DAEMON_FIELDBUS_DOUBT_H
#define DAEMON_FIELDBUS_DOUBT_H

#include "daemon/fieldbus/limit.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct read_block;

struct doubt { /* of one unit */
	bool on;
	uint8_t lengths[256 / 8]; /* bit n: n bytes of data may still come */
	struct limit until;
	bool strange; /* others may be answered, nobody knows what */
	struct limit strange_until;
};

/* How long a late answer is expected for, of a request whose time-out is `timeout_s`. */
double doubt_after_s(double timeout_s);

/* The block was asked for and is given up now. */
void doubt_add(struct doubt *doubt, const struct read_block *block, double timeout_s);

/* Whoever asked before, and what for, is not known. */
void doubt_strangers(struct doubt *doubt, double timeout_s);

/* A reply came that nothing else could have been answered with. */
void doubt_clear(struct doubt *doubt);

/* An answer of so many bytes of data may come late, as far as is known. */
bool doubt_has(const struct doubt *doubt, size_t data_bytes);

enum doubt_way {
	DOUBT_ASK,   /* the block's reply can be told from whatever may come late */
	DOUBT_PROBE, /* that of `probe` can, which is the beginning of the block */
	DOUBT_WAIT,  /* there is no such one: wait until doubt->until */
};

/* How the block can be asked for; ends what has lasted long enough. */
enum doubt_way doubt_look(
    struct doubt *doubt, const struct read_block *block, struct read_block *probe);

#endif
