/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Patterns in a series that chance makes seldom: points beyond, runs, trends.  They point at
 * shots to look at; they are no verdict on a series (see stability.h).
 *
 * "Beyond" is strict: a point on the limit centre -+ m sigma is within it.  A run
 * signals at the point that completes it and at every further point of it (a run of ten on
 * one side: eight-one-side at its points 8, 9 and 10).  A point on the centre line ends a run
 * on one side; an equal neighbour ends a trend and an alternation.  A k-of-m rule signals at
 * every point that is itself beyond and is the k-th or later among the last m on its side;
 * fewer than m points at the start still count.  A missing value, and a break, end every run
 * and window.  Pure; any thread.
 *
 * The rules are those of the Statistical Quality Control Handbook (Western Electric, 1956)
 * and of L. S. Nelson, Journal of Quality Technology 16:237-239, 1984 (both from memory).
 */
#ifndef CLI_STATS_RUN_RULES_H
#define CLI_STATS_RUN_RULES_H

#include "cli/stats/series.h"

enum run_rule {
	RULE_ONE_BEYOND_3S,
	RULE_TWO_OF_THREE_BEYOND_2S, /* on one side */
	RULE_FOUR_OF_FIVE_BEYOND_1S, /* on one side */
	RULE_EIGHT_ONE_SIDE,
	RULE_NINE_ONE_SIDE,
	RULE_SIX_TRENDING, /* six points: five differences, all up or all down */
	RULE_FOURTEEN_ALTERNATING, /* thirteen differences, each turning back */
	RULE_FIFTEEN_WITHIN_1S,
	RULE_EIGHT_BEYOND_1S, /* on either side */
	RUN_RULE_COUNT
};

#define RULE_BIT(rule) (1U << (rule))
#define RULES_ALL ((1U << RUN_RULE_COUNT) - 1)
/* W. A. Shewhart's limits and runs, what most charts on a wall have. */
#define RULES_USUAL (RULE_BIT(RULE_ONE_BEYOND_3S) | RULE_BIT(RULE_EIGHT_ONE_SIDE))

/* "one-beyond-3s" ... */
const char *run_rule_name(enum run_rule rule);
/* -1 when there is none of that name. */
int run_rule_find(const char *name);

struct signal {
	enum run_rule rule;
	size_t
	    slot; /* from 1, missing values counted: the point that completes the pattern */
};

struct signals {
	struct signal *list; /* by slot, then by rule */
	size_t count, room;
};

/* Adds those of the rules in the set.  centre and sigma finite, sigma > 0 (else none).
 * False when memory is short; what was added until then stays. */
bool run_rules_find(const struct series *series, double centre, double sigma,
    unsigned rules, struct signals *signals);
/* `signals` is as new: all zero. */
void signals_release(struct signals *signals);

/*
 * The chance that n independent normal values, centre and sigma estimated from them (mean,
 * mean moving range), show at least one signal of the set; NAN for n < 2.  RULES_USUAL: from
 * a table, to 0.003.  Other sets: by a simulation that takes some ten milliseconds and always
 * begins with the same seed, so the same question has the same answer; standard error 0.004
 * and less.
 */
double run_rules_chance(unsigned rules, size_t n);
/* Likewise, centre and sigma known beforehand: exact for sets of one-beyond-3s, eight-one-side
 * and nine-one-side, by simulation for others. */
double run_rules_chance_known(unsigned rules, size_t n);

#endif
