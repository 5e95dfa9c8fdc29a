/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Numbers of shots as ranges: as many as there are, however far they leap.  Pure. */
#ifndef CLI_POPULATION_RANGES_H
#define CLI_POPULATION_RANGES_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct text;

struct range {
	int64_t first, last;
};

/* Growing; zeroed: none. */
struct ranges {
	struct range *list;
	size_t count, room;
};

/* Adds first ... last, which goes on from the range before where it follows on it.  False when
 * memory is short; release. */
bool ranges_add(struct ranges *ranges, int64_t first, int64_t last);

/* How many numbers they are. */
int64_t ranges_numbers(const struct ranges *ranges);

/* Adds "3, 7-9, 12". */
void ranges_text(const struct ranges *ranges, struct text *text);
void ranges_release(struct ranges *ranges);

#endif
