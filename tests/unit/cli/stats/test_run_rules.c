/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "cli/stats/run_rules.h"
#include "tests/reference/control_charts.h"
#include "tests/unit/cli/stats/normal.h"
#include "tests/unit/cli/stats/numerics_started.h"
#include "tests/unit/published.h"
#include "tests/unit/seed.h"

#define LENGTH(array) (sizeof(array) / sizeof((array)[0]))

/* The slots at which `rule` signals in values about 0 with sigma 1, as text: "3 4 9". */
static const char *
slots_of(enum run_rule rule, const double *values, const bool *breaks, size_t count)
{
	static char text[200];
	const struct series series = {values, breaks, count};
	struct signals signals = {0};
	size_t used = 0;

	assert_true(run_rules_find(&series, 0, 1, RULE_BIT(rule), &signals));
	text[0] = '\0';
	for (size_t i = 0; i < signals.count; i++) {
		assert_int_equal(signals.list[i].rule, rule);
		used += (size_t)snprintf(text + used, sizeof(text) - used, "%s%zu",
		    i ? " " : "", signals.list[i].slot);
	}
	signals_release(&signals);
	return text;
}

#define assert_slots(rule, wanted, ...)                                        \
	do {                                                                   \
		static const double listed[] = {__VA_ARGS__};                  \
		assert_string_equal(                                           \
		    slots_of((rule), listed, NULL, LENGTH(listed)), (wanted)); \
	} while (0)

static void
beyond_is_strict(void **state)
{
	(void)state;
	assert_slots(RULE_ONE_BEYOND_3S, "2 5", 3, 3.01, -3, 0, -3.01);
	assert_slots(RULE_TWO_OF_THREE_BEYOND_2S, "", 2, 2, 2, -2, -2);
	assert_slots(RULE_FOUR_OF_FIVE_BEYOND_1S, "", 1, 1, 1, 1, 1, 1);
	assert_slots(RULE_EIGHT_BEYOND_1S, "", 1, -1, 1, -1, 1, -1, 1, -1, 1);
	assert_slots(RULE_FIFTEEN_WITHIN_1S, "15", 1, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0,
	    0, 0, -1, 1.01, 0);
}

static void
two_of_three_are_on_one_side_and_signal_where_beyond(void **state)
{
	(void)state;
	/* fewer than three at the start still count */
	assert_slots(RULE_TWO_OF_THREE_BEYOND_2S, "2", 2.1, 2.2, 0, 0);
	assert_slots(RULE_TWO_OF_THREE_BEYOND_2S, "3 4", 2.1, 0, 2.2, 2.3, 0);
	/* a point that is not beyond never signals, though two of the last three are */
	assert_slots(RULE_TWO_OF_THREE_BEYOND_2S, "2", 2.1, 2.2, 1);
	assert_slots(RULE_TWO_OF_THREE_BEYOND_2S, "3", 2.1, -2.2, -2.1, 0, 0, 2.1);
	assert_slots(RULE_TWO_OF_THREE_BEYOND_2S, "3", -2.1, 5, -2.2);
	assert_slots(RULE_TWO_OF_THREE_BEYOND_2S, "", 2.1, 0, 0, 2.1, 0, 0, 2.1);
}

static void
four_of_five_are_on_one_side_and_signal_where_beyond(void **state)
{
	(void)state;
	assert_slots(RULE_FOUR_OF_FIVE_BEYOND_1S, "4", 1.1, 1.2, 1.3, 1.4, 0);
	assert_slots(
	    RULE_FOUR_OF_FIVE_BEYOND_1S, "5 6 7", -2, -2, 0, -2, -2, -2, -2, 0, 0);
	assert_slots(RULE_FOUR_OF_FIVE_BEYOND_1S, "", 2, 2, 2, -2, 0.5, 2, 2, 2, 0);
	assert_slots(RULE_FOUR_OF_FIVE_BEYOND_1S, "5", 2, 2, 2, -2, 2);
}

static void
every_further_point_of_a_run_signals(void **state)
{
	(void)state;
	assert_slots(RULE_EIGHT_ONE_SIDE, "8 9 10", .1, .2, .1, .3, .1, 4, .1, .1, .2,
	    .1, -.1, .1);
	assert_slots(
	    RULE_NINE_ONE_SIDE, "9 10", .1, .2, .1, .3, .1, 4, .1, .1, .2, .1, -.1, .1);
	/* on the centre line a run ends, on either side */
	assert_slots(RULE_EIGHT_ONE_SIDE, "", 1, 1, 1, 1, 1, 1, 1, 0, 1, 1);
	assert_slots(RULE_EIGHT_ONE_SIDE, "9", 0, -1, -1, -1, -1, -1, -1, -1, -1, 0);
}

static void
six_points_trend_by_five_differences(void **state)
{
	(void)state;
	assert_slots(RULE_SIX_TRENDING, "6 7", 1, 2, 3, 4, 5, 6, 7, 7, 8, 9);
	assert_slots(RULE_SIX_TRENDING, "8", 1, 2, 9, 8, 7, 6, 5, 4);
	/* an equal neighbour ends it, and the next trend begins there */
	assert_slots(RULE_SIX_TRENDING, "", 1, 2, 3, 4, 5, 5, 6, 7, 8, 9);
	assert_slots(RULE_SIX_TRENDING, "11", 1, 2, 3, 4, 5, 5, 6, 7, 8, 9, 10);
}

static void
fourteen_points_alternate_by_thirteen_differences(void **state)
{
	(void)state;
	assert_slots(RULE_FOURTEEN_ALTERNATING, "14 15", 1, 2, 1, 2, 1, 2, 1, 2, 1, 2,
	    1, 2, 1, 2, 1, .5);
	assert_slots(RULE_FOURTEEN_ALTERNATING, "", 1, 2, 1, 2, 1, 2, 1, 2, 1, 2, 1, 2,
	    1, 1, 2, 1, 2);
	/* two rises in a row: the second begins the next alternation */
	assert_slots(RULE_FOURTEEN_ALTERNATING, "15", 0, 1, 2, 1, 2, 1, 2, 1, 2, 1, 2,
	    1, 2, 1, 2);
	assert_slots(
	    RULE_FOURTEEN_ALTERNATING, "", 0, 0, 2, 1, 2, 1, 2, 1, 2, 1, 2, 1, 2, 1);
}

static void
rows_within_and_beyond_take_either_side(void **state)
{
	(void)state;
	assert_slots(RULE_FIFTEEN_WITHIN_1S, "15 16", .5, -.5, 0, 0, .9, -.9, .5, .5,
	    .5, .5, .5, -.1, -.1, -.1, -.1, .2, 1.1, .2);
	/* a point on the limit is within it, and not beyond */
	assert_slots(RULE_FIFTEEN_WITHIN_1S, "15", 1, -1, 1, -1, 0, 0, 1, 1, 1, -1, -1,
	    -1, 0, 0, 1, 1.1);
	assert_slots(RULE_EIGHT_BEYOND_1S, "", 2, 2, 2, 2, 2, 2, 2, 1, -2);
	assert_slots(
	    RULE_EIGHT_BEYOND_1S, "8 9", 2, -2, 4, -4, 1.1, 1.1, -1.1, -2, 2, .9, 2);
}

static void
a_gap_ends_every_run_and_window(void **state)
{
	static const bool breaks[] = {
	    false, false, false, false, false, false, false, true, false, false};
	static const double high[] = {2, 2.1, 2.2, 2.3, 2.4, 2.5, 2.6, 2.7, 2.8, 2.9};

	(void)state;
	assert_slots(RULE_TWO_OF_THREE_BEYOND_2S, "4", 2.1, NAN, 2.2, 2.3);
	assert_slots(RULE_EIGHT_ONE_SIDE, "", 1, 1, 1, 1, NAN, 1, 1, 1, 1, INFINITY, 1);
	assert_slots(RULE_EIGHT_ONE_SIDE, "10", NAN, NAN, 1, 1, 1, 1, 1, 1, 1, 1);
	assert_slots(RULE_SIX_TRENDING, "", 1, 2, 3, NAN, 4, 5, 6);
	assert_string_equal(slots_of(RULE_EIGHT_BEYOND_1S, high, breaks, 10), "");
	assert_string_equal(slots_of(RULE_SIX_TRENDING, high, breaks, 10), "6 7");
	assert_string_equal(
	    slots_of(RULE_TWO_OF_THREE_BEYOND_2S, high, breaks, 10), "3 4 5 6 7 9 10");
}

static void
without_a_deviation_nothing_signals(void **state)
{
	static const double values[] = {9, 9, 9, 9, 9, 9, 9, 9, 9, 9};
	const struct series series = {.values = values, .count = LENGTH(values)};
	const double sigmas[] = {0, -1, NAN, INFINITY};
	struct signals signals = {0};

	(void)state;
	for (size_t i = 0; i < LENGTH(sigmas); i++)
		assert_true(run_rules_find(&series, 0, sigmas[i], RULES_ALL, &signals));
	assert_true(run_rules_find(&series, NAN, 1, RULES_ALL, &signals));
	assert_true(
	    run_rules_find(&(struct series){.count = 0}, 0, 1, RULES_ALL, &signals));
	assert_int_equal(signals.count, 0);
	signals_release(&signals);
}

static void
the_flow_rate_example_is_in_control(void **state)
{
	/* NIST/SEMATECH e-Handbook 6.3.2.2 */
	const struct series series = {.values = nist_flow_rate, .count = 10};
	struct signals signals = {0};

	(void)state;
	assert_true(run_rules_find(&series, 50.81, 1.66413723, RULES_ALL, &signals));
	published(SOURCE_HANDBOOK_INDIVIDUALS, "signals of all run rules",
	    (double)signals.count, 0, 0);
	signals_release(&signals);
}

static void
names_lead_to_rules_and_back(void **state)
{
	(void)state;
	for (int rule = 0; rule < RUN_RULE_COUNT; rule++)
		assert_int_equal(
		    run_rule_find(run_rule_name((enum run_rule)rule)), rule);
	assert_int_equal(run_rule_find("nine-one-side"), RULE_NINE_ONE_SIDE);
	assert_int_equal(run_rule_find("nine"), -1);
	assert_int_equal(run_rule_find(""), -1);
}

/*
 * The rules once more, each by looking back from a point as its sentence says: slow and
 * plain.  `first`: where the stretch without gaps begins.
 */
static size_t
count_back(const double *x, size_t first, size_t i, size_t most, double limit)
{
	size_t found = 0;

	for (size_t back = 0; back < most && i - back + 1 > first; back++)
		found += limit > 0 ? x[i - back] > limit : x[i - back] < limit;
	return found;
}

static bool
k_of_m(const double *x, size_t first, size_t i, size_t k, size_t m, double limit)
{
	return (x[i] > limit && count_back(x, first, i, m, limit) >= k) ||
	       (x[i] < -limit && count_back(x, first, i, m, -limit) >= k);
}

/* The last m points: all on one side; all steadily changing; ... */
static bool
last(enum run_rule rule, const double *x, size_t first, size_t i, size_t m)
{
	size_t above = 0, below = 0, within = 0, beyond = 0, up = 0, down = 0,
	       turns = 0;

	if (i + 1 < first + m)
		return false;
	for (size_t j = i + 1 - m; j <= i; j++) {
		above += x[j] > 0;
		below += x[j] < 0;
		within += fabs(x[j]) <= 1;
		beyond += fabs(x[j]) > 1;
		if (j == i + 1 - m)
			continue;
		up += x[j] > x[j - 1];
		down += x[j] < x[j - 1];
		if (j > i + 2 - m)
			turns += (x[j] - x[j - 1]) * (x[j - 1] - x[j - 2]) < 0;
	}
	return (rule == RULE_EIGHT_ONE_SIDE && (above == m || below == m)) ||
	       (rule == RULE_SIX_TRENDING && (up == m - 1 || down == m - 1)) ||
	       (rule == RULE_FOURTEEN_ALTERNATING && turns == m - 2) ||
	       (rule == RULE_FIFTEEN_WITHIN_1S && within == m) ||
	       (rule == RULE_EIGHT_BEYOND_1S && beyond == m);
}

static bool
signals_at(enum run_rule rule, const double *x, size_t first, size_t i)
{
	switch (rule) {
	case RULE_ONE_BEYOND_3S:
		return fabs(x[i]) > 3;
	case RULE_TWO_OF_THREE_BEYOND_2S:
		return k_of_m(x, first, i, 2, 3, 2);
	case RULE_FOUR_OF_FIVE_BEYOND_1S:
		return k_of_m(x, first, i, 4, 5, 1);
	case RULE_EIGHT_ONE_SIDE:
		return last(RULE_EIGHT_ONE_SIDE, x, first, i, 8);
	case RULE_NINE_ONE_SIDE:
		return last(RULE_EIGHT_ONE_SIDE, x, first, i, 9);
	case RULE_SIX_TRENDING:
		return last(rule, x, first, i, 6);
	case RULE_FOURTEEN_ALTERNATING:
		return last(rule, x, first, i, 14);
	case RULE_FIFTEEN_WITHIN_1S:
		return last(rule, x, first, i, 15);
	case RULE_EIGHT_BEYOND_1S:
		return last(rule, x, first, i, 8);
	case RUN_RULE_COUNT:
		break;
	}
	return false;
}

enum { RANDOM_LENGTH = 120 };

/* Coarse values, so that equal ones and those on a limit are common; pulled towards the
 * last one, so that long patterns are. */
static void
draw(uint64_t *random, double *values, bool *breaks)
{
	double pull = 1.8 * normal_uniform(random) - 0.9;
	double scatter = 0.3 + 1.5 * normal_uniform(random), x = 0;

	for (size_t i = 0; i < RANDOM_LENGTH; i++) {
		x = pull * x + scatter * normal_next(random);
		values[i] = normal_uniform(random) < 0.015 ? NAN : round(4 * x) / 4;
		breaks[i] = normal_uniform(random) < 0.015;
	}
}

static void
a_plain_search_finds_the_same(void **state)
{
	uint64_t random = seed_take(20261127);
	size_t found[RUN_RULE_COUNT] = {0};

	(void)state;
	for (int round = 0; round < 3000; round++) {
		double values[RANDOM_LENGTH];
		bool breaks[RANDOM_LENGTH];
		struct signals signals = {0};
		size_t next = 0, first = 0;

		draw(&random, values, breaks);
		struct series series = {values, breaks, RANDOM_LENGTH};
		assert_true(run_rules_find(&series, 0, 1, RULES_ALL, &signals));
		for (size_t i = 0; i < RANDOM_LENGTH; i++) {
			if (i > 0 && !series_neighbours(&series, i))
				first = i;
			if (isnan(values[i]))
				continue;
			for (int r = 0; r < RUN_RULE_COUNT; r++) {
				enum run_rule rule = (enum run_rule)r;
				if (!signals_at(rule, values, first, i))
					continue;
				found[r]++;
				assert_true(next < signals.count);
				assert_int_equal(signals.list[next].rule, rule);
				assert_int_equal(signals.list[next].slot, i + 1);
				next++;
			}
		}
		assert_int_equal(next, signals.count);
		signals_release(&signals);
	}
	for (int rule = 0; rule < RUN_RULE_COUNT; rule++)
		assert_true(found[rule] >= 100);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(beyond_is_strict),
	    cmocka_unit_test(two_of_three_are_on_one_side_and_signal_where_beyond),
	    cmocka_unit_test(four_of_five_are_on_one_side_and_signal_where_beyond),
	    cmocka_unit_test(every_further_point_of_a_run_signals),
	    cmocka_unit_test(six_points_trend_by_five_differences),
	    cmocka_unit_test(fourteen_points_alternate_by_thirteen_differences),
	    cmocka_unit_test(rows_within_and_beyond_take_either_side),
	    cmocka_unit_test(a_gap_ends_every_run_and_window),
	    cmocka_unit_test(without_a_deviation_nothing_signals),
	    cmocka_unit_test(the_flow_rate_example_is_in_control),
	    cmocka_unit_test(names_lead_to_rules_and_back),
	    cmocka_unit_test(a_plain_search_finds_the_same),
	};

	return cmocka_run_group_tests(tests, numerics_started, NULL);
}
