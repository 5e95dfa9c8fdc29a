/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/fieldbus/silence.h"

#include <stdlib.h>

static const int64_t longest_ns = 30 * CLOCK_SECOND_NS; /* of a cheap attempt */
static const int64_t shared_ns = 600 * CLOCK_SECOND_NS; /* among dead ones */
static const int64_t night_ns = 60 * CLOCK_SECOND_NS;

enum {
	SHARE = 120, /* of the bus: what is left of one hundredth of late readings with
	                some to spare */
	GROWTH = 4,  /* steep, for the bus is late while they grow */
	FLAKY_SHARE = 20, /* of the bus, for one that answers now and then */
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
count_dead(const struct silence *silence)
{
	int64_t dead = 0;

	for (size_t i = 0; i < silence->count; i++)
		dead += silence->units[i].failures >= SILENCE_FAILURES;
	return dead;
}

static int64_t
larger(int64_t one, int64_t other)
{
	return one > other ? one : other;
}

/* The shortest period of the others that answer; 0: not known. */
static int64_t
others_period_ns(const struct silence *silence, size_t unit)
{
	int64_t shortest_ns = 0;

	for (size_t i = 0; i < silence->count; i++) {
		const struct silence_unit *one = &silence->units[i];

		if (i != unit && one->answers && one->period_ns > 0 &&
		    (shortest_ns == 0 || one->period_ns < shortest_ns))
			shortest_ns = one->period_ns;
	}
	return shortest_ns;
}

/* Of the first failures. */
static int64_t
early_ns(const struct silence *silence, size_t unit, int64_t cost_ns)
{
	int64_t period_ns = others_period_ns(silence, unit);

	if (period_ns == 0 || cost_ns <= SILENCE_PATIENCE * period_ns)
		return 0;
	return silence->units[unit].failures * cost_ns;
}

/* Of a unit that is thought dead. */
static int64_t
growing_ns(const struct silence *silence, size_t unit, int64_t cost_ns)
{
	int64_t shared = SHARE * cost_ns * count_dead(silence);
	int64_t end_ns =
	    larger(SHARE * cost_ns, shared < shared_ns ? shared : shared_ns);
	int64_t pause_ns = larger(cost_ns, 1);

	end_ns = larger(end_ns, longest_ns);
	for (int i = SILENCE_FAILURES;
	     i <= silence->units[unit].failures && pause_ns < end_ns; i++)
		pause_ns *= GROWTH;
	return pause_ns < end_ns ? pause_ns : end_ns;
}

/* Of a unit that answers now and then. */
static int64_t
flaky_ns(const struct silence_unit *unit, int64_t cost_ns)
{
	return FLAKY_SHARE * larger(unit->lost_ns - SILENCE_FAILURES * cost_ns, 0);
}

/* No more is kept than leads to a pause for one attempt. */
static void
lose(struct silence_unit *unit, struct mono now, int64_t cost_ns)
{
	int64_t most_ns = (SILENCE_FAILURES + 1) * cost_ns;
	int64_t lost_ns = unit->lost_ns - (now.ns - unit->lost_at.ns) / FLAKY_SHARE;

	lost_ns = larger(lost_ns, 0) + cost_ns;
	unit->lost_ns = lost_ns < most_ns ? lost_ns : most_ns;
	unit->lost_at = now;
}

void
silence_fail(struct silence *silence, size_t unit, struct mono now, int64_t cost_ns)
{
	struct silence_unit *one = &silence->units[unit];
	int64_t pause_ns = 0;

	one->failures++;
	if (one->failures >= SILENCE_FAILURES)
		one->answers = false;
	lose(one, now, cost_ns);
	if (others_answer(silence, unit)) {
		pause_ns = one->failures < SILENCE_FAILURES
		               ? early_ns(silence, unit, cost_ns)
		               : growing_ns(silence, unit, cost_ns);
		pause_ns = larger(pause_ns, flaky_ns(one, cost_ns));
	} else if (silence->count > 1 && one->failures >= SILENCE_FAILURES) {
		pause_ns = 2 * count_silent(silence) * cost_ns;
	}
	one->until.ns = now.ns + pause_ns;
}

static void
revive(struct silence *silence, struct mono now)
{
	for (size_t i = 0; i < silence->count; i++)
		if (silence->units[i].failures >= SILENCE_FAILURES) {
			silence->units[i].failures = SILENCE_FAILURES - 1;
			silence->units[i].until = now;
			silence->units[i].lost_ns = 0;
		}
}

int
silence_end(struct silence *silence, size_t unit, struct mono now)
{
	struct silence_unit *one = &silence->units[unit];
	int failures = one->failures;

	if (!one->answers && !others_answer(silence, unit) &&
	    (!silence->answered || now.ns - silence->answered_at.ns >= night_ns))
		revive(silence, now);
	silence->answered = true;
	silence->answered_at = now;
	one->answers = true;
	one->failures = 0;
	return failures;
}
