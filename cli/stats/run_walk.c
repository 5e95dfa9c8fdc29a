/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/stats/run_walk.h"

#include "cli/stats/run_rules.h"

struct run_zones
run_zones_of(double centre, double sigma)
{
	struct run_zones zones = {.centre = centre};

	for (int i = 0; i < 3; i++) {
		zones.low[i] = centre - (i + 1) * sigma;
		zones.high[i] = centre + (i + 1) * sigma;
	}
	return zones;
}

/* A row that goes on, or ends; long rows are not counted beyond what any rule asks. */
static int
row(int length, bool goes_on)
{
	enum { LONGEST = 1000 };

	return !goes_on ? 0 : length < LONGEST ? length + 1 : length;
}

static void
step_differences(struct run_walk *walk, double value)
{
	bool up = walk->started && value > walk->last;
	bool down = walk->started && value < walk->last;
	bool turns = (up && walk->falling > 0) || (down && walk->rising > 0);

	walk->alternating = turns ? row(walk->alternating, true) : up || down;
	walk->rising = row(walk->rising, up);
	walk->falling = row(walk->falling, down);
	walk->last = value;
	walk->started = true;
}

/* `newest` is beyond and so are enough of the window that it ends. */
static bool
enough_of(unsigned bits, unsigned window, int least)
{
	return (bits & 1U) && __builtin_popcount(bits & ((1U << window) - 1)) >= least;
}

unsigned
run_walk_step(struct run_walk *walk, const struct run_zones *zones, double value)
{
	bool high_1s = value > zones->high[0], low_1s = value < zones->low[0];
	bool within = value <= zones->high[0] && value >= zones->low[0];
	unsigned found = 0;

	step_differences(walk, value);
	walk->above = row(walk->above, value > zones->centre);
	walk->below = row(walk->below, value < zones->centre);
	walk->within_1s = row(walk->within_1s, within);
	walk->beyond_1s = row(walk->beyond_1s, high_1s || low_1s);
	walk->high_1s = walk->high_1s << 1 | high_1s;
	walk->low_1s = walk->low_1s << 1 | low_1s;
	walk->high_2s = walk->high_2s << 1 | (value > zones->high[1]);
	walk->low_2s = walk->low_2s << 1 | (value < zones->low[1]);

	if (value > zones->high[2] || value < zones->low[2])
		found |= RULE_BIT(RULE_ONE_BEYOND_3S);
	if (enough_of(walk->high_2s, 3, 2) || enough_of(walk->low_2s, 3, 2))
		found |= RULE_BIT(RULE_TWO_OF_THREE_BEYOND_2S);
	if (enough_of(walk->high_1s, 5, 4) || enough_of(walk->low_1s, 5, 4))
		found |= RULE_BIT(RULE_FOUR_OF_FIVE_BEYOND_1S);
	if (walk->above >= 8 || walk->below >= 8)
		found |= RULE_BIT(RULE_EIGHT_ONE_SIDE);
	if (walk->above >= 9 || walk->below >= 9)
		found |= RULE_BIT(RULE_NINE_ONE_SIDE);
	if (walk->rising >= 5 || walk->falling >= 5)
		found |= RULE_BIT(RULE_SIX_TRENDING);
	if (walk->alternating >= 13)
		found |= RULE_BIT(RULE_FOURTEEN_ALTERNATING);
	if (walk->within_1s >= 15)
		found |= RULE_BIT(RULE_FIFTEEN_WITHIN_1S);
	if (walk->beyond_1s >= 8)
		found |= RULE_BIT(RULE_EIGHT_BEYOND_1S);
	return found;
}
