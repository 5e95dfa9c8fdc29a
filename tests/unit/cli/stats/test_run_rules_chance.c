/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>

#include <math.h>
#include <time.h>
#include <stdio.h>

#include "cli/stats/describe.h"
#include "cli/stats/run_rules.h"
#include "tests/unit/cli/stats/normal.h"
#include "tests/unit/cli/stats/numerics_started.h"
#include "tests/unit/near.h"
#include "tests/unit/published.h"
#include "tests/unit/seed.h"

#define LENGTH(array) (sizeof(array) / sizeof((array)[0]))

enum { LONGEST = 1000 };

/* The share of perfect series that signal, by the very functions a study uses. */
static double
simulate(unsigned rules, size_t n, unsigned rounds, uint64_t *random)
{
	unsigned with_signal = 0;

	for (unsigned round = 0; round < rounds; round++) {
		double values[LONGEST], work[LONGEST];
		const struct series series = {.values = values, .count = n};
		struct signals signals = {0};

		for (size_t i = 0; i < n; i++)
			values[i] = 5 + 2 * normal_next(random);
		size_t count = describe_sort(&series, work);
		double mean = describe(&series, work, count).mean;
		double sigma = describe_moving_ranges(&series, work).sigma;
		assert_true(run_rules_find(&series, mean, sigma, rules, &signals));
		with_signal += signals.count > 0;
		signals_release(&signals);
	}
	return with_signal / (double)rounds;
}

static void
assert_simulated(unsigned rules, size_t n, unsigned rounds, uint64_t *random)
{
	double share = simulate(rules, n, rounds, random);
	double told = run_rules_chance(rules, n);
	double variance = told * (1 - told) + 1e-4;
	double error =
	    sqrt(variance / rounds + (rules == RULES_USUAL ? 0 : 1.6e-5 * 1.5));

	if (!(fabs(share - told) <= 3 * error + 0.003))
		fail_msg("rules %#x, n %zu: %g of series signal, told %g", rules, n,
		    share, told);
}

static void
the_usual_rules_call_most_good_shifts_unstable(void **state)
{
	/* One beyond 3s and eight on one side; simulated with NumPy 1.24, 40,000 series each:
	 * two digits. */
	struct published_table table =
	    published_begin(SOURCE_NUMPY, "share of good series that the usual rules "
					  "call unstable (40,000 simulated)");

	(void)state;
	published_add(&table, run_rules_chance(RULES_USUAL, 30), 0.12, 0.01);
	published_add(&table, run_rules_chance(RULES_USUAL, 68), 0.31, 0.01);
	published_add(&table, run_rules_chance(RULES_USUAL, 160), 0.62, 0.01);
	published_add(&table, run_rules_chance(RULES_USUAL, 300), 0.84, 0.01);
	published_end(&table);
}

static void
so_many_perfect_series_signal_as_are_told(void **state)
{
	static const size_t lengths[] = {3, 5, 7, 9, 12, 25, 40, 100, 160, 300};
	uint64_t random = seed_take(20261127);

	(void)state;
	for (size_t i = 0; i < LENGTH(lengths); i++)
		assert_simulated(
		    RULES_USUAL, lengths[i], lengths[i] > 100 ? 3000 : 15000, &random);
	assert_simulated(RULES_USUAL, 1000, 500, &random);
	for (size_t i = 0; i < LENGTH(lengths); i++)
		assert_simulated(RULES_ALL, lengths[i], 2000, &random);
	for (int rule = 0; rule < RUN_RULE_COUNT; rule++) {
		assert_simulated(RULE_BIT(rule), 68, 1000, &random);
		assert_simulated(RULE_BIT(rule), 1000, 200, &random);
	}
}

static void
more_values_and_more_rules_signal_more(void **state)
{
	(void)state;
	for (size_t n = 2; n < 2000; n++)
		assert_true(run_rules_chance(RULES_USUAL, n) <=
			    run_rules_chance(RULES_USUAL, n + 1));
	assert_true(
	    run_rules_chance(RULES_ALL, 68) > run_rules_chance(RULES_USUAL, 68));
	assert_near(run_rules_chance(RULES_USUAL, 1000000), 1, 1e-9);
	assert_near(run_rules_chance(RULES_ALL, 1000000), 1, 1e-9);
}

static void
known_limits_signal_as_their_run_lengths_say(void **state)
{
	/* One beyond 3s: every point for itself.  With eight on one side: the in-control run
	 * length of 152.73 (see test_run_walk.c), a little less since a run needs eight. */
	(void)state;
	for (size_t n = 1; n < 700; n += 60)
		assert_near(run_rules_chance_known(RULE_BIT(RULE_ONE_BEYOND_3S), n),
		    1 - pow(0.9973002039367398, (double)n), 1e-12);
	for (size_t n = 30; n < 700; n += 60)
		assert_near(run_rules_chance_known(RULES_USUAL, n),
		    1 - exp(-((double)n - 4) / 152.73), 0.015);
	/* eight or more alike in a row: by counting 2 of 256 tosses, 6 of 512 */
	unsigned eight = RULE_BIT(RULE_EIGHT_ONE_SIDE);
	assert_near(run_rules_chance_known(eight, 7), 0, 1e-15);
	assert_near(run_rules_chance_known(eight, 8), 2 / 256.0, 1e-15);
	assert_near(run_rules_chance_known(eight, 9), 6 / 512.0, 1e-15);
	assert_near(run_rules_chance_known(RULE_BIT(RULE_NINE_ONE_SIDE), 10),
	    6 / 1024.0, 1e-15);
	/* the mean run length is the sum of the chances that there was none yet */
	double length = 0;
	for (size_t n = 0; n < 4000; n++)
		length += 1 - run_rules_chance_known(RULES_USUAL, n);
	assert_near(length, 152.73, 0.005);
	assert_near(run_rules_chance_known(RULES_ALL, 0), 0, 0);
	assert_near(run_rules_chance_known(0, 30), 0, 0);
}

/* Of the rules whose chance is exact, where a simulation is asked too: one standard error is
 * 0.004 in all. */
static void
simulated_chances_are_near_the_exact_ones(void **state)
{
	/* that 14 alternate in 20 values is less likely than 0.001 */
	unsigned more = RULE_BIT(RULE_FOURTEEN_ALTERNATING);
	double slowest_s = 0;

	(void)state;
	assert_near(run_rules_chance_known(RULES_USUAL | more, 20),
	    run_rules_chance_known(RULES_USUAL, 20), 0.012);
	more = RULE_BIT(RULE_NINE_ONE_SIDE); /* eight are there before */
	for (size_t n = 50; n <= 300; n += 125)
		assert_near(run_rules_chance(RULES_USUAL | more, n),
		    run_rules_chance(RULES_USUAL, n), 0.015);
	for (int rule = 0; rule < RUN_RULE_COUNT; rule++) {
		clock_t began = clock();
		run_rules_chance(RULE_BIT(rule), 300);
		slowest_s = fmax(slowest_s, (double)(clock() - began) / CLOCKS_PER_SEC);
	}
	printf("a chance of 300 values takes up to %.3f s\n", slowest_s);
}

static void
where_nothing_can_signal_nothing_is_told(void **state)
{
	(void)state;
	assert_true(isnan(run_rules_chance(RULES_USUAL, 0)));
	assert_true(isnan(run_rules_chance(RULES_ALL, 1)));
	assert_near(run_rules_chance(RULES_USUAL, 2), 0, 0);
	assert_near(run_rules_chance(RULES_ALL, 2), 0, 0);
	assert_near(run_rules_chance(0, 160), 0, 0);
	assert_near(run_rules_chance(RULE_BIT(RULE_FIFTEEN_WITHIN_1S), 14), 0, 0);
}

static void
the_same_question_has_the_same_answer(void **state)
{
	unsigned rules = RULES_ALL & ~RULE_BIT(RULE_EIGHT_ONE_SIDE);

	(void)state;
	assert_near(run_rules_chance(rules, 41), run_rules_chance(rules, 41), 0);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(the_usual_rules_call_most_good_shifts_unstable),
	    cmocka_unit_test(so_many_perfect_series_signal_as_are_told),
	    cmocka_unit_test(more_values_and_more_rules_signal_more),
	    cmocka_unit_test(known_limits_signal_as_their_run_lengths_say),
	    cmocka_unit_test(simulated_chances_are_near_the_exact_ones),
	    cmocka_unit_test(where_nothing_can_signal_nothing_is_told),
	    cmocka_unit_test(the_same_question_has_the_same_answer),
	};

	return cmocka_run_group_tests(tests, numerics_started, NULL);
}
