/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The run rules one value at a time: what run_rules_find lists and run_rules_chance counts.
 * Inside of run_rules.  Pure; any thread.
 */
#ifndef CLI_STATS_RUN_WALK_H
#define CLI_STATS_RUN_WALK_H

#include <stdbool.h>

struct run_zones {
	double centre;
	double low[3], high[3]; /* centre -+ 1, 2, 3 sigma */
};

struct run_zones run_zones_of(double centre, double sigma);

/* What is remembered of the values before; all zero at the start, and after a gap. */
struct run_walk {
	double last;
	bool started;             /* there is a `last` */
	int above, below;         /* in a row on that side */
	int rising, falling;      /* differences in a row */
	int alternating;          /* differences in a row, each turning back */
	int within_1s, beyond_1s; /* in a row */
	/* one bit a value, the newest lowest */
	unsigned high_1s, low_1s, high_2s, low_2s;
};

/* Takes the next value, which is finite; RULE_BITs of all rules that signal at it. */
unsigned run_walk_step(
    struct run_walk *walk, const struct run_zones *zones, double value);

#endif
