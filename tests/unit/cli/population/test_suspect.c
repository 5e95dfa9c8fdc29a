/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "cli/population/suspect.h"
#include "daemon/base/text.h"

/* Around 182 C with limits of 173.9 and 190.6 C, recipe 12. */
enum { SHOTS = 200, FEATURE = FEATURE_EXIT_TOP_C };

static struct settings *settings;
static struct ledger_shot *shots;
static struct suspect_asked asked;
static struct suspects suspects;
static struct suspect_runs runs;

/* Between -1 and 1, never on one side for long, and never the same: stable. */
static double
swing(int i)
{
	double part = fmod(i * 0.6180339887498949, 1);

	return i % 2 ? 0.2 + 0.8 * part : -0.2 - 0.8 * part;
}

static int
make_shots(void **state)
{
	static struct problems problems;

	(void)state;
	settings = settings_load("conf/demo.ini", &problems);
	shots = calloc(SHOTS, sizeof *shots);
	assert_true(settings && shots);
	for (int i = 0; i < SHOTS; i++) {
		struct ledger_shot *shot = &shots[i];
		for (int id = 0; id < FEATURE_COUNT; id++) {
			shot->value[id] = NAN;
			shot->absent[id] = ABSENT_NOT_CONFIGURED;
		}
		shot->value[FEATURE] = 182 + swing(i);
		shot->absent[FEATURE] = ABSENT_NOT;
		shot->shot_no = i + 1;
		shot->filed_at.ns = (i + 1) * CLOCK_SECOND_NS;
		shot->outcome = SHOT_COMPLETE;
		text_copy(shot->recipe, sizeof shot->recipe, "12");
		text_copy(shot->lot, sizeof shot->lot, i < 100 ? "A-1" : "A-2");
	}
	asked = (struct suspect_asked){.settings = settings,
	    .feature = -1,
	    .lower = NAN,
	    .upper = NAN,
	    .shots = shots,
	    .count = SHOTS,
	    .first = 0,
	    .last = SHOTS - 1};
	return 0;
}

static int
free_shots(void **state)
{
	(void)state;
	suspects_release(&suspects);
	suspect_runs_release(&runs);
	settings_free(settings);
	free(shots);
	return 0;
}

static void
judge(void)
{
	assert_true(suspects_judge(&suspects, &asked));
	assert_true(suspects_bound(&suspects, &runs));
}

static struct ledger_shot *
shot(int64_t number)
{
	return &shots[number - 1];
}

/* The numbers of a run, as text that lasts until the next call. */
static const char *
held(size_t run)
{
	static char words[256];
	struct ranges ranges = {0};
	struct text text;

	assert_true(run < runs.count);
	assert_true(suspect_run_numbers(&suspects, &runs.list[run], &ranges));
	text_init(&text, 4096);
	ranges_text(&ranges, &text);
	snprintf(words, sizeof words, "%s", text.bytes ? text.bytes : "");
	text_release(&text);
	ranges_release(&ranges);
	return words;
}

static int64_t
number_of(size_t place)
{
	return place == SUSPECT_NONE ? 0 : shots[place].shot_no;
}

static void
a_good_run_holds_nothing(void **state)
{
	(void)state;
	judge();
	assert_int_equal(runs.count, 0);
	assert_int_equal(suspects.judged, 2); /* a lot each */
}

static void
what_is_outside_lies_between_two_good_ones(void **state)
{
	(void)state;
	shot(50)->value[FEATURE] = 195;
	shot(51)->value[FEATURE] = 160;
	judge();
	assert_int_equal(runs.count, 1);
	assert_string_equal(held(0), "50-51");
	assert_int_equal(runs.list[0].first_bad, 50);
	assert_int_equal(number_of(runs.list[0].last_good), 49);
	assert_int_equal(number_of(runs.list[0].first_good), 52);
	assert_int_equal(
	    suspects.reasons[runs.list[0].reason_first].kind, SUSPECT_OUTSIDE);
	assert_int_equal(suspects.reasons[runs.list[0].reason_first].side, 1);
}

static void
what_is_not_known_is_never_good(void **state)
{
	(void)state;
	shot(20)->value[FEATURE] = NAN;
	shot(20)->absent[FEATURE] = ABSENT_STALE;
	shot(40)->outcome = SHOT_PARTIAL;
	shot(60)->flags = SHOT_FLAG_GAP;
	shot(80)->outcome = SHOT_TIMER_RELEASE;
	judge();
	assert_int_equal(runs.count, 4);
	assert_string_equal(held(0), "20");
	assert_string_equal(held(1), "40");
	assert_string_equal(held(2), "60");
	assert_string_equal(held(3), "80");
	assert_int_equal(
	    suspects.reasons[runs.list[0].reason_first].kind, SUSPECT_ABSENT);
	assert_int_equal(
	    suspects.reasons[runs.list[1].reason_first].kind, SUSPECT_OUTCOME);
	assert_int_equal(suspects.reasons[runs.list[2].reason_first].kind, SUSPECT_GAP);
}

static void
what_is_neither_bounds_nothing(void **state)
{
	(void)state;
	/* start-up shots beside a bad one are held with it, alone they are not */
	shot(30)->outcome = SHOT_STARTUP;
	shot(31)->outcome = SHOT_STARTUP;
	shot(32)->value[FEATURE] = 195;
	shot(33)->outcome = SHOT_ABORTED; /* no part */
	shot(34)->outcome = SHOT_STARTUP;
	shot(70)->outcome = SHOT_STARTUP;
	shot(71)->outcome = SHOT_EMPTY;
	judge();
	assert_int_equal(runs.count, 1);
	assert_string_equal(held(0), "30-32, 34");
	assert_int_equal(runs.list[0].first_bad, 32);
	assert_int_equal(number_of(runs.list[0].last_good), 29);
	assert_int_equal(number_of(runs.list[0].first_good), 35);
	assert_int_equal(suspects.startup, 4);
}

static void
from_the_earliest_shot_of_a_change_on_all_is_held_if_wanted(void **state)
{
	(void)state;
	asked.unstable = true;
	for (int64_t no = 60; no <= 100; no++)
		shot(no)->value[FEATURE] += 3;
	judge();
	assert_int_equal(runs.count, 1);
	assert_true(runs.list[0].first_bad <= 60 && runs.list[0].first_bad > 50);
	/* the lot ends with it: of the next, the first is good */
	assert_int_equal(number_of(runs.list[0].first_good), 101);
	assert_int_equal(
	    suspects.reasons[runs.list[0].reason_first].kind, SUSPECT_UNSTABLE);
	assert_int_equal(suspects.reasons[runs.list[0].reason_first].onset, ONSET_STEP);
}

static void
what_moved_within_its_limits_is_told_and_not_held(void **state)
{
	(void)state;
	for (int64_t no = 60; no <= 100; no++)
		shot(no)->value[FEATURE] += 3;
	shot(80)->value[FEATURE] = 195;
	judge();
	assert_int_equal(runs.count, 1);
	assert_string_equal(held(0), "80"); /* its neighbours are within */
	assert_int_equal(number_of(runs.list[0].last_good), 79);
	assert_int_equal(suspects.moved_count, 1);
	const struct suspect_moved *moved = &suspects.moved[0];
	assert_int_equal(moved->feature, FEATURE);
	assert_int_equal(moved->onset, ONSET_STEP);
	assert_int_equal(moved->first, moved->earliest);
	assert_true(moved->earliest <= moved->likely && moved->likely <= moved->latest);
	assert_true(number_of(moved->likely) > 55 && number_of(moved->likely) < 65);
	assert_int_equal(number_of(moved->last), 100);
	/* all from there on but the one that is held */
	assert_int_equal(moved->numbers.count, moved->last - moved->first);
	assert_int_equal(suspects_moved_parts(&suspects), moved->numbers.count);
}

static void
single_ones_that_stand_out_are_told_alone(void **state)
{
	(void)state;
	shot(30)->value[FEATURE] = 189.5;
	judge();
	assert_int_equal(runs.count, 0);
	assert_int_equal(suspects.moved_count, 1);
	assert_int_equal(suspects.moved[0].onset, ONSET_SINGLE);
	assert_int_equal(suspects.moved[0].earliest, SUSPECT_NONE);
	assert_int_equal(suspects.moved[0].numbers.count, 1);
	assert_int_equal(suspects.moved[0].numbers.list[0], 30);
}

static void
what_wanders_without_a_beginning_is_told_and_not_held(void **state)
{
	(void)state;
	for (int64_t no = 1; no <= 100; no++)
		shot(no)->value[FEATURE] += 2.05 * sin((double)no * 2 * M_PI / 20);
	judge();
	assert_true(suspects.wanders[FEATURE]);
	assert_int_equal(runs.count, 0);
}

static void
a_run_that_has_not_ended_has_no_good_one_after_it(void **state)
{
	(void)state;
	shot(1)->value[FEATURE] = 195;
	shot(SHOTS)->value[FEATURE] = 195;
	judge();
	assert_int_equal(runs.count, 2);
	assert_int_equal(number_of(runs.list[0].last_good), 0);
	assert_int_equal(number_of(runs.list[0].first_good), 2);
	assert_int_equal(number_of(runs.list[1].last_good), SHOTS - 1);
	assert_int_equal(number_of(runs.list[1].first_good), 0);
}

static void
shots_beside_the_time_bound_and_are_not_reported(void **state)
{
	(void)state;
	asked.first = 100; /* shot 101 */
	asked.last = 149;
	shot(20)->value[FEATURE] = 195;
	shot(100)->value[FEATURE] = 195;
	shot(101)->value[FEATURE] = 195;
	shot(180)->value[FEATURE] = 195;
	judge();
	assert_int_equal(runs.count, 1);
	assert_string_equal(held(0), "100-101");
	assert_int_equal(number_of(runs.list[0].last_good), 99);
}

static void
numbers_without_a_record_are_held(void **state)
{
	struct lacking lacking = {0};
	struct lacking_run lacks[] = {
	    {.first = 31, .last = 33}, {.first = 61, .last = 160, .renumbered = true}};

	(void)state;
	/* numbers 31 to 33 are not there */
	memmove(&shots[30], &shots[33], (SHOTS - 33) * sizeof *shots);
	asked.count = SHOTS - 3;
	asked.last = asked.count - 1;
	lacking.runs = lacks;
	lacking.run_count = 2;
	assert_true(suspects_judge(&suspects, &asked));
	assert_true(suspects_add_lacking(&suspects, &lacking));
	assert_true(suspects_bound(&suspects, &runs));
	assert_int_equal(runs.count, 1);
	assert_string_equal(held(0), "31-33");
	assert_int_equal(runs.list[0].first_bad, 31);
	assert_int_equal(runs.list[0].first_bad_shot, SUSPECT_NONE);
	assert_int_equal(number_of(runs.list[0].last_good), 30);
	assert_int_equal(number_of(runs.list[0].first_good), 34);
}

/* As numbers one by one they would take gigabytes. */
static void
a_number_that_leaps_is_one_range(void **state)
{
	struct lacking lacking = {0};
	struct lacking_run lacks[] = {{.first = 51, .last = 4000000049999}};
	struct ranges ranges = {0};

	(void)state;
	for (size_t i = 50; i < SHOTS; i++)
		shots[i].shot_no = 4000000050000 + (int64_t)i - 50;
	lacking.runs = lacks;
	lacking.run_count = 1;
	assert_true(suspects_judge(&suspects, &asked));
	assert_true(suspects_add_lacking(&suspects, &lacking));
	assert_true(suspects_bound(&suspects, &runs));
	assert_int_equal(runs.count, 1);
	assert_string_equal(held(0), "51-4000000049999");
	assert_true(suspect_run_numbers(&suspects, &runs.list[0], &ranges));
	assert_int_equal(ranges_numbers(&ranges), 4000000049949);
	ranges_release(&ranges);
}

static void
missing_numbers_and_bad_shots_side_by_side_are_one_run(void **state)
{
	struct lacking lacking = {0};
	struct lacking_run lacks[] = {{.first = 31, .last = 33}};

	(void)state;
	shot(30)->value[FEATURE] = 195;
	shot(34)->value[FEATURE] = 195;
	memmove(&shots[30], &shots[33], (SHOTS - 33) * sizeof *shots);
	asked.count = SHOTS - 3;
	asked.last = asked.count - 1;
	lacking.runs = lacks;
	lacking.run_count = 1;
	assert_true(suspects_judge(&suspects, &asked));
	assert_true(suspects_add_lacking(&suspects, &lacking));
	assert_true(suspects_bound(&suspects, &runs));
	assert_int_equal(runs.count, 1);
	assert_string_equal(held(0), "30-34");
	assert_int_equal(runs.list[0].reason_count, 3);
}

static void
what_the_line_never_measured_is_told_and_not_held(void **state)
{
	(void)state;
	judge();
	/* which the set-up has limits of too */
	assert_true(suspects.unmeasured[FEATURE_SAG_S]);
	assert_false(suspects.unmeasured[FEATURE]);
	/* but once there was one, its absence is suspect */
	suspects_release(&suspects);
	suspect_runs_release(&runs);
	for (int64_t no = 1; no <= 100; no++) {
		shot(no)->value[FEATURE_SAG_S] = 147 + swing((int)no);
		shot(no)->absent[FEATURE_SAG_S] = ABSENT_NOT;
	}
	judge();
	assert_int_equal(runs.count, 1);
	assert_string_equal(held(0), "101-200");
}

static void
a_value_that_there_cannot_be_is_not_missed(void **state)
{
	(void)state;
	for (int64_t no = 1; no <= SHOTS; no++) {
		shot(no)->value[FEATURE_SAG_S] = 147 + swing((int)no);
		shot(no)->absent[FEATURE_SAG_S] = ABSENT_NOT;
	}
	shot(10)->value[FEATURE_SAG_S] = NAN;
	shot(10)->absent[FEATURE_SAG_S] = ABSENT_NOT_APPLICABLE;
	judge();
	assert_int_equal(runs.count, 0);
}

static void
without_limits_nothing_is_known(void **state)
{
	(void)state;
	for (int64_t no = 50; no <= 60; no++)
		text_copy(shot(no)->recipe, sizeof shot(no)->recipe, "99");
	shot(61)->value[FEATURE] = 195;
	judge();
	assert_int_equal(suspects.without_limits, 11);
	assert_int_equal(runs.count, 1);
	assert_string_equal(held(0), "50-61"); /* they bound nothing */
	suspects_release(&suspects);
	suspect_runs_release(&runs);
	asked.feature = FEATURE;
	asked.upper = 190;
	judge();
	assert_string_equal(held(0), "61");
	assert_int_equal(suspects.without_limits, 0);
}

#define with_shots(test) cmocka_unit_test_setup_teardown(test, make_shots, free_shots)

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    with_shots(a_good_run_holds_nothing),
	    with_shots(what_is_outside_lies_between_two_good_ones),
	    with_shots(what_is_not_known_is_never_good),
	    with_shots(what_is_neither_bounds_nothing),
	    with_shots(from_the_earliest_shot_of_a_change_on_all_is_held_if_wanted),
	    with_shots(what_moved_within_its_limits_is_told_and_not_held),
	    with_shots(single_ones_that_stand_out_are_told_alone),
	    with_shots(what_wanders_without_a_beginning_is_told_and_not_held),
	    with_shots(a_run_that_has_not_ended_has_no_good_one_after_it),
	    with_shots(shots_beside_the_time_bound_and_are_not_reported),
	    with_shots(numbers_without_a_record_are_held),
	    with_shots(a_number_that_leaps_is_one_range),
	    with_shots(missing_numbers_and_bad_shots_side_by_side_are_one_run),
	    with_shots(what_the_line_never_measured_is_told_and_not_held),
	    with_shots(a_value_that_there_cannot_be_is_not_missed),
	    with_shots(without_limits_nothing_is_known),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
