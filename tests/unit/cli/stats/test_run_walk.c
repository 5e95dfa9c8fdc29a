/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>

#include <math.h>
#include <stdio.h>

#include "cli/stats/run_rules.h"
#include "cli/stats/run_walk.h"
#include "tests/unit/cli/stats/normal.h"
#include "tests/unit/cli/stats/numerics_started.h"
#include "tests/unit/published.h"
#include "tests/unit/seed.h"

#define LENGTH(array) (sizeof(array) / sizeof((array)[0]))

#define ONE RULE_BIT(RULE_ONE_BEYOND_3S)
#define TWO RULE_BIT(RULE_TWO_OF_THREE_BEYOND_2S)
#define FOUR RULE_BIT(RULE_FOUR_OF_FIVE_BEYOND_1S)
#define EIGHT RULE_BIT(RULE_EIGHT_ONE_SIDE)
#define NINE RULE_BIT(RULE_NINE_ONE_SIDE)
#define TREND RULE_BIT(RULE_SIX_TRENDING)
#define ALTERNATE RULE_BIT(RULE_FOURTEEN_ALTERNATING)
#define WITHIN RULE_BIT(RULE_FIFTEEN_WITHIN_1S)
#define BEYOND RULE_BIT(RULE_EIGHT_BEYOND_1S)

/*
 * How many independent normal values, centre and sigma known, until the first signal, on the
 * average.  Those without an error of their own are exact, from a Markov chain; where the
 * sets are those of C. W. Champ and W. H. Woodall, Technometrics 29:393-399, 1987 (from
 * memory), the same to 2 decimals.  The others were simulated, 200,000 runs each.
 */
static const struct run_length {
	unsigned rules, runs;
	double shift; /* of the mean, in sigmas */
	double length, error;
} run_lengths[] = {
    {ONE, 4000, 0, 370.3983, 0},
    {ONE | TWO, 4000, 0, 225.4384, 0},
    {ONE | FOUR, 4000, 0, 166.0545, 0},
    {ONE | EIGHT, 4000, 0, 152.7301, 0},
    {ONE | TWO | FOUR, 4000, 0, 132.8928, 0},
    {ONE | TWO | EIGHT, 4000, 0, 122.0508, 0},
    {ONE | FOUR | EIGHT, 4000, 0, 105.7831, 0},
    {ONE | TWO | FOUR | EIGHT, 4000, 0, 91.7508, 0},
    {ONE | NINE, 4000, 0, 216.6955, 0},
    {ONE | NINE | TWO | FOUR, 4000, 0, 109.0493, 0},
    /* fair coins: 2^m - 1 until m on one side */
    {EIGHT, 4000, 0, 255, 0},
    {NINE, 4000, 0, 511, 0},
    {TWO, 4000, 0, 510.6885, 0},
    {FOUR, 4000, 0, 291.3192, 0},
    {TREND, 4000, 0, 421.0, 0.95},
    {ALTERNATE, 5000, 0, 601, 1.4},
    {WITHIN, 5000, 0, 964, 2.2},
    {BEYOND, 300, 0, 14230, 32},
    {ONE | NINE | TREND | ALTERNATE, 4000, 0, 119.1, 0.27},
    {RULES_ALL & ~EIGHT, 4000, 0, 73.7, 0.17},
    {ONE | TWO | FOUR | EIGHT, 10000, 0.5, 27.3251, 0},
    {ONE | TWO | FOUR | EIGHT, 10000, 1, 9.2219, 0},
    {ONE | TWO | FOUR | EIGHT, 10000, 2, 3.1276, 0},
    {ONE | TWO | FOUR | EIGHT, 10000, 3, 1.6666, 0},
    {ONE, 6000, 0.5, 155.2242, 0},
    {ONE, 10000, 1, 43.8947, 0},
    {ONE, 10000, 2, 6.3030, 0},
    {ONE, 10000, 3, 2.0000, 0},
};

static double
run_once(unsigned rules, double shift, uint64_t *random)
{
	const struct run_zones zones = run_zones_of(0, 1);
	struct run_walk walk = {0};
	double length = 1;

	while (!(rules & run_walk_step(&walk, &zones, shift + normal_next(random))))
		length++;
	return length;
}

static void
first_signals_come_as_late_as_published(void **state)
{
	uint64_t random = seed_take(20261127);
	struct published_table exact = published_begin(
	    SOURCE_MEMORY_CHAMP, "mean values until a rule's first signal, simulated");
	struct published_table other = published_begin(SOURCE_NUMPY,
	    "mean values until a rule's first signal (200,000 simulated)");

	(void)state;
	for (size_t i = 0; i < LENGTH(run_lengths); i++) {
		const struct run_length *row = &run_lengths[i];
		double sum = 0, squares = 0, runs = row->runs;

		for (unsigned run = 0; run < row->runs; run++) {
			double length = run_once(row->rules, row->shift, &random);
			sum += length;
			squares += length * length;
		}
		double mean = sum / runs, variance = squares / runs - mean * mean;
		double error = sqrt(variance / runs + row->error * row->error);
		published_add(
		    row->error > 0 ? &other : &exact, mean, row->length, 3 * error);
	}
	published_end(&exact);
	published_end(&other);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(first_signals_come_as_late_as_published),
	};

	return cmocka_run_group_tests(tests, numerics_started, NULL);
}
