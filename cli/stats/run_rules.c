/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/stats/run_rules.h"

#include "cli/stats/run_walk.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

static const char *const rule_names[RUN_RULE_COUNT] = {
    [RULE_ONE_BEYOND_3S] = "one-beyond-3s",
    [RULE_TWO_OF_THREE_BEYOND_2S] = "two-of-three-beyond-2s",
    [RULE_FOUR_OF_FIVE_BEYOND_1S] = "four-of-five-beyond-1s",
    [RULE_EIGHT_ONE_SIDE] = "eight-one-side",
    [RULE_NINE_ONE_SIDE] = "nine-one-side",
    [RULE_SIX_TRENDING] = "six-trending",
    [RULE_FOURTEEN_ALTERNATING] = "fourteen-alternating",
    [RULE_FIFTEEN_WITHIN_1S] = "fifteen-within-1s",
    [RULE_EIGHT_BEYOND_1S] = "eight-beyond-1s",
};

const char *
run_rule_name(enum run_rule rule)
{
	return rule_names[rule];
}

int
run_rule_find(const char *name)
{
	for (int rule = 0; rule < RUN_RULE_COUNT; rule++)
		if (strcmp(rule_names[rule], name) == 0)
			return rule;
	return -1;
}

static bool
signals_add(struct signals *signals, enum run_rule rule, size_t slot)
{
	if (signals->count == signals->room) {
		size_t room = signals->room ? 2 * signals->room : 16;
		struct signal *list = realloc(signals->list, room * sizeof(*list));
		if (!list)
			return false;
		signals->list = list;
		signals->room = room;
	}
	signals->list[signals->count++] = (struct signal){rule, slot};
	return true;
}

bool
run_rules_find(const struct series *series, double centre, double sigma, unsigned rules,
    struct signals *signals)
{
	struct run_zones zones = run_zones_of(centre, sigma);
	struct run_walk walk = {0};

	if (!isfinite(centre) || !isfinite(sigma) || !(sigma > 0))
		return true;
	for (size_t i = 0; i < series->count; i++) {
		if (i > 0 && !series_neighbours(series, i))
			walk = (struct run_walk){0};
		if (!isfinite(series->values[i]))
			continue;
		unsigned found =
		    rules & run_walk_step(&walk, &zones, series->values[i]);
		for (int rule = 0; found; rule++, found >>= 1)
			if ((found & 1U) &&
			    !signals_add(signals, (enum run_rule)rule, i + 1))
				return false;
	}
	return true;
}

void
signals_release(struct signals *signals)
{
	free(signals->list);
	*signals = (struct signals){0};
}
