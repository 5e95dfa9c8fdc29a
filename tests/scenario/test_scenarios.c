/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Every kind of machine, hundreds of sheets, everything that can be odd: each true sheet
 * exactly once, with the right outcome and windows, and not one pairing of one sheet's
 * heat with another's forming.
 *
 * EVENSOAK_SEEDS: so many seeds a kind (20); EVENSOAK_SEED: the first of them.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>
#include <stdlib.h>

#include "tests/scenario/logger.h"
#include "tests/unit/seed.h"

enum { SHEETS = 200, PLAYED = 250, ODDS = 25, TOLD = 5 };

static unsigned first_seed;

static unsigned
seed_count(void)
{
	const char *given = getenv("EVENSOAK_SEEDS");

	return given ? (unsigned)strtoul(given, NULL, 10) : 20;
}

static void
add(struct verdicts *sum, const struct verdicts *one)
{
	sum->sheets += one->sheets;
	sum->records += one->records;
	sum->clean += one->clean;
	sum->wrong += one->wrong;
	sum->mixed += one->mixed;
	sum->unlogged += one->unlogged;
	sum->unclear += one->unclear;
	for (int just = 0; just < JUST_COUNT; just++)
		sum->partial[just] += one->partial[just];
}

static void
tell(const char *kind, bool restart, const struct verdicts *sum)
{
	print_message("%s%s %lld sheets, %lld records, %lld untouched, %lld disagree, "
		      "%lld mixed; partial: %lld start, %lld manual, %lld silence, "
		      "%lld unseen pulse; %lld unclear, %lld unlogged\n",
	    kind, restart ? ", restarted:" : ":", (long long)sum->sheets,
	    (long long)sum->records, (long long)sum->clean, (long long)sum->wrong,
	    (long long)sum->mixed, (long long)sum->partial[JUST_START],
	    (long long)sum->partial[JUST_MANUAL], (long long)sum->partial[JUST_SILENCE],
	    (long long)sum->partial[JUST_UNSEEN], (long long)sum->unclear,
	    (long long)sum->unlogged);
}

/* What the judge lets pass with a reason must stay the exception that it is.  The shares
 * follow from how often the plan makes silences, jogs and restarts, and were set some
 * half above what twenty seeds show. */
static void
check_shares(const struct verdicts *sum, bool restart)
{
	double all = (double)(sum->sheets + sum->unlogged), partial = 0.0;

	for (int just = 0; just < JUST_COUNT; just++)
		partial += (double)sum->partial[just];
	assert_true((double)sum->clean > (restart ? 0.12 : 0.3) * all);
	assert_true((double)sum->unlogged < (restart ? 0.22 : 0.05) * all);
	assert_true((double)sum->unclear < (restart ? 0.16 : 0.04) * all);
	assert_true(partial < (restart ? 0.42 : 0.2) * all);
}

/* Every fourth line is one device, whose channels are read in three groups. */
static void
play(const char *kind, bool restart)
{
	struct verdicts sum = {.sheets = 0}, one;

	for (unsigned i = 0; i < seed_count(); i++) {
		struct scenario scenario = {.kind = kind,
		    .seed = first_seed + i,
		    .sheets = PLAYED,
		    .odds = ODDS,
		    .bus = true,
		    .restart = restart,
		    .one_device = i % 4 == 1,
		    .tell = TOLD};

		scenario_play(&scenario, &one);
		add(&sum, &one);
	}
	tell(kind, restart, &sum);
	assert_int_equal(sum.wrong, 0);
	assert_true(sum.sheets >= (int64_t)seed_count() * SHEETS);
	check_shares(&sum, restart);
}

#define KIND(function, name)                              \
	static void function(void **state)                \
	{                                                 \
		(void)state;                              \
		play(name, false);                        \
	}                                                 \
	static void function##_and_restarts(void **state) \
	{                                                 \
		(void)state;                              \
		play(name, true);                         \
	}

KIND(a_rotary, "rotary")
KIND(a_rotary_of_two_ovens, "rotary-two-ovens")
KIND(a_rotary_with_an_unload_station, "rotary-unload")
KIND(a_shuttle, "shuttle")
KIND(a_shuttle_of_two_sides, "shuttle-two-sides")
KIND(a_single_station, "single-station")

/* Nothing odd at all: every sheet that came in after the logger is complete. */
static void
nothing_odd_is_nothing_flagged(void **state)
{
	static const char *const kinds[] = {"rotary", "rotary-two-ovens",
	    "rotary-unload", "shuttle", "shuttle-two-sides", "single-station"};
	(void)state;

	for (size_t i = 0; i < 2 * sizeof kinds / sizeof kinds[0]; i++) {
		struct scenario scenario = {.kind = kinds[i / 2],
		    .seed = first_seed,
		    .sheets = 60,
		    .one_device = i % 2 > 0,
		    .tell = TOLD};
		struct verdicts verdicts;

		scenario_play(&scenario, &verdicts);
		assert_int_equal(verdicts.wrong, 0);
		assert_true(verdicts.clean >= 50);
	}
}

/* The judge is one that finds things: a tool that bears another sheet's mark. */
static void
a_wrong_pairing_does_not_pass(void **state)
{
	struct scenario scenario = {
	    .kind = "rotary", .seed = first_seed, .sheets = 60, .swap = 40};
	struct verdicts verdicts;
	(void)state;

	scenario_play(&scenario, &verdicts);
	assert_int_equal(verdicts.mixed, 1);
	assert_int_equal(verdicts.wrong, 1);
}

#define BOTH(function) \
	cmocka_unit_test(function), cmocka_unit_test(function##_and_restarts)

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(a_wrong_pairing_does_not_pass),
	    cmocka_unit_test(nothing_odd_is_nothing_flagged),
	    BOTH(a_rotary),
	    BOTH(a_rotary_of_two_ovens),
	    BOTH(a_rotary_with_an_unload_station),
	    BOTH(a_shuttle),
	    BOTH(a_shuttle_of_two_sides),
	    BOTH(a_single_station),
	};

	first_seed = seed_take(1);
	return cmocka_run_group_tests(tests, NULL, NULL);
}
