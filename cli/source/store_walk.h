/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Through a long time in spans of whole seconds, onwards or back: short ones at first,
 * longer where there is little, shorter where there is too much.  Pure.
 */
#ifndef CLI_SOURCE_STORE_WALK_H
#define CLI_SOURCE_STORE_WALK_H

#include "daemon/base/clock.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct store_walk {
	int64_t low_s, high_s; /* what has not been gone through */
	int64_t span_s;        /* of the next step */
	int64_t after_s; /* where nothing should be: it is gone through first; 0: not */
	int64_t later_s; /* span_s behind it */
	bool back;       /* from the end to the beginning */
};

/* One step: from_s <= t < to_s. */
struct store_span {
	int64_t from_s, to_s;
};

/*
 * Over from <= t < to, ns 0: open.  `first_s` is the first step's length.  Back from an
 * open end the first step is all that lies after `now` and a day, where nothing should.
 */
void store_walk_init(struct store_walk *walk, struct wall from, struct wall to,
    bool back, int64_t first_s);
void store_walk_start_back(struct store_walk *walk, struct wall now);

/* The next step; false: all has been gone through.  It stays the next one until one of the
 * two below. */
bool store_walk_next(const struct store_walk *walk, struct store_span *span);

/* It had `count` things, of `most` that can be taken at once. */
void store_walk_pass(
    struct store_walk *walk, const struct store_span *span, size_t count, size_t most);

/* There is nothing between what has been gone through and the second `at_s`. */
void store_walk_leap(struct store_walk *walk, int64_t at_s, int64_t first_s);

/* It had too many; false: it cannot be made shorter. */
bool store_walk_shorten(struct store_walk *walk, const struct store_span *span);

#endif
