/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/fieldbus/silence.h"

#include <stdlib.h>

static const int64_t longest_ns = 30 * CLOCK_SECOND_NS; /* of a cheap attempt */

enum {
	SHARE = 120, /* of the bus: what is left of one hundredth of late readings with
	                some to spare */
	GROWTH = 4,  /* steep, for the bus is late while they grow */
};

struct silence *
silence_new(size_t count)
{
	struct silence *silence =
	    calloc(1, sizeof *silence + count * sizeof silence->units[0]);

	if (silence)
		silence->count = count;
	return silence;
}

bool
silence_holds(const struct silence *silence, size_t unit, struct mono now)
{
	return silence->units[unit].failures > 0 &&
	       now.ns < silence->units[unit].until.ns;
}

static bool
others_answer(const struct silence *silence, size_t unit)
{
	for (size_t i = 0; i < silence->count; i++)
		if (i != unit && silence->units[i].answers)
			return true;
	return false;
}

static int64_t
count_silent(const struct silence *silence)
{
	int64_t silent = 0;

	for (size_t i = 0; i < silence->count; i++)
		silent += silence->units[i].failures > 0;
	return silent;
}

static int64_t
growing_ns(int failures, int64_t cost_ns)
{
	int64_t end_ns = SHARE * cost_ns > longest_ns ? SHARE * cost_ns : longest_ns;
	int64_t pause_ns = cost_ns > 0 ? cost_ns : 1;

	if (failures < SILENCE_FAILURES)
		return 0;
	for (int i = SILENCE_FAILURES; i <= failures && pause_ns < end_ns; i++)
		pause_ns *= GROWTH;
	return pause_ns < end_ns ? pause_ns : end_ns;
}

void
silence_fail(struct silence *silence, size_t unit, struct mono now, int64_t cost_ns)
{
	struct silence_unit *one = &silence->units[unit];
	int64_t pause_ns = 0;

	one->failures++;
	if (one->failures >= SILENCE_FAILURES)
		one->answers = false;
	if (others_answer(silence, unit))
		pause_ns = growing_ns(one->failures, cost_ns);
	else if (silence->count > 1 && one->failures >= SILENCE_FAILURES)
		pause_ns = 2 * count_silent(silence) * cost_ns;
	one->until.ns = now.ns + pause_ns;
}

int
silence_end(struct silence *silence, size_t unit, struct mono now)
{
	struct silence_unit *one = &silence->units[unit];
	int failures = one->failures;

	if (!one->answers && !others_answer(silence, unit))
		for (size_t i = 0; i < silence->count; i++)
			if (silence->units[i].failures >= SILENCE_FAILURES) {
				silence->units[i].failures = SILENCE_FAILURES - 1;
				silence->units[i].until = now;
			}
	one->answers = true;
	one->failures = 0;
	return failures;
}
