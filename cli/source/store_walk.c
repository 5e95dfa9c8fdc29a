/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/source/store_walk.h"

enum {
	DAY_S = 86400,
	LONGER = 4, /* times, where there was nothing */
};

/* A time of 64 bits in nanoseconds ends there. */
static const int64_t last_s = INT64_MAX / CLOCK_SECOND_NS;

static int64_t
seconds_below(int64_t ns)
{
	int64_t s = ns / CLOCK_SECOND_NS;

	return s - (ns % CLOCK_SECOND_NS < 0);
}

void
store_walk_init(struct store_walk *walk, struct wall from, struct wall to, bool back,
    int64_t first_s)
{
	*walk = (struct store_walk){.back = back, .span_s = first_s};
	walk->low_s = from.ns > 0 ? seconds_below(from.ns) : 0;
	walk->high_s = to.ns != 0 ? seconds_below(to.ns - 1) + 1 : last_s;
}

void
store_walk_start_back(struct store_walk *walk, struct wall now)
{
	int64_t after_s = seconds_below(now.ns) + DAY_S;

	if (!walk->back || walk->high_s != last_s || after_s <= walk->low_s)
		return;
	walk->later_s = walk->span_s;
	walk->after_s = after_s;
	walk->span_s = last_s - after_s;
}

bool
store_walk_next(const struct store_walk *walk, struct store_span *span)
{
	int64_t low_s = walk->after_s != 0 ? walk->after_s : walk->low_s;
	int64_t left_s = walk->high_s - low_s;
	int64_t span_s = walk->span_s < left_s ? walk->span_s : left_s;

	if (left_s <= 0)
		return false;
	span->from_s = walk->back ? walk->high_s - span_s : low_s;
	span->to_s = span->from_s + span_s;
	return true;
}

void
store_walk_pass(
    struct store_walk *walk, const struct store_span *span, size_t count, size_t most)
{
	int64_t span_s = span->to_s - span->from_s;

	if (walk->back)
		walk->high_s = span->from_s;
	else
		walk->low_s = span->to_s;
	if (walk->after_s != 0 && span->from_s == walk->after_s) {
		walk->after_s = 0;
		walk->span_s = walk->later_s;
		return;
	}
	if (count == 0 && span_s < last_s / LONGER)
		walk->span_s = LONGER * span_s;
	else if (count < most / LONGER && span_s < last_s / 2)
		walk->span_s = 2 * span_s;
	else
		walk->span_s = span_s;
}

void
store_walk_leap(struct store_walk *walk, int64_t at_s, int64_t first_s)
{
	walk->span_s = first_s;
	if (walk->back && at_s + 1 < walk->high_s)
		walk->high_s = at_s + 1 > walk->low_s ? at_s + 1 : walk->low_s;
	if (!walk->back && at_s > walk->low_s)
		walk->low_s = at_s < walk->high_s ? at_s : walk->high_s;
}

bool
store_walk_shorten(struct store_walk *walk, const struct store_span *span)
{
	int64_t span_s = span->to_s - span->from_s;

	walk->span_s = span_s / LONGER > 1 ? span_s / LONGER : 1;
	return span_s > 1;
}
