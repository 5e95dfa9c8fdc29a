/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <stdlib.h>
#include <string.h>

#include "tests/unit/daemon/shot/way.h"
#include "tests/unit/near.h"
#include "tests/unit/seed.h"
#include "conf/settings.h"
#include "daemon/shot/outcome.h"

/* A ring of two ovens; a machine of one oven is the same without the second. */
static const struct line_settings one_oven = {.station_count = 3,
    .stations = {{"load", STATION_LOAD}, {"oven", STATION_OVEN},
	{"form", STATION_FORM}},
    .oven_count = 1,
    .heat_min_s = 30.0,
    .form_min_s = 5.0,
    .startup_shots = 3};
static const struct line_settings two_ovens = {.station_count = 4,
    .stations = {{"load", STATION_LOAD}, {"oven-a", STATION_OVEN},
	{"oven-b", STATION_OVEN}, {"form", STATION_FORM}},
    .oven_count = 2,
    .heat_min_s = 30.0,
    .form_min_s = 5.0,
    .startup_shots = 3};

static const struct outcome_rules rules = {&one_oven, 230.0, 5.0, true};
static const struct outcome_rules rules_two = {&two_ovens, 230.0, 5.0, true};

/* What becomes of it, and why. */
#define assert_outcome(rules, sheet, wanted, why)                             \
	do {                                                                  \
		char reason[OUTCOME_REASON];                                  \
		assert_string_equal(                                          \
		    shot_outcome_text(outcome_of(&(rules), (sheet), reason)), \
		    shot_outcome_text(wanted));                               \
		assert_string_equal(reason, (why));                           \
	} while (0)

static void
a_sheet_that_went_the_usual_way_is_complete(void **state)
{
	struct sheet sheet = way_usual();

	(void)state;
	assert_outcome(rules, &sheet, SHOT_COMPLETE, "");
	assert_int_equal(sheet.flags, 0);
}

static void
an_oven_after_the_other_is_one_heat(void **state)
{
	struct sheet sheet = way_usual();

	(void)state;
	sheet.stay_count = 0;
	way_stay(&sheet, 0, 10.0, 110.0);
	way_stay(&sheet, 1, 118.0, 250.0);
	assert_outcome(rules_two, &sheet, SHOT_COMPLETE, "");
	assert_int_equal(sheet.flags, 0);
}

static void
a_second_heat_is_told_with_the_time_between(void **state)
{
	struct sheet sheet = way_usual();

	(void)state;
	sheet.stay_count = 0;
	way_stay(&sheet, 0, -280.0, -130.0);
	way_stay(&sheet, 0, 110.0, 250.0);
	assert_outcome(rules, &sheet, SHOT_REHEATED, "heated twice, 4 min apart");
	assert_int_equal(sheet.flags, SHOT_FLAG_REHEAT);
	sheet.stays[0].in = way_edge(-80.0);
	sheet.stays[0].out = way_edge(70.0);
	assert_outcome(rules, &sheet, SHOT_REHEATED, "heated twice, 40 s apart");
	sheet = way_usual();
	sheet.stay_count = 0;
	for (int i = 0; i < 3; i++)
		way_stay(&sheet, 0, -400.0 + 200.0 * i, -300.0 + 200.0 * i);
	assert_outcome(rules, &sheet, SHOT_REHEATED, "heated 3 times");
}

static void
both_ovens_twice_are_two_heats(void **state)
{
	struct sheet sheet = way_usual();

	(void)state;
	sheet.stay_count = 0;
	way_stay(&sheet, 0, -600.0, -500.0);
	way_stay(&sheet, 1, -492.0, -392.0);
	way_stay(&sheet, 0, -92.0, 10.0);
	way_stay(&sheet, 1, 110.0, 250.0);
	assert_outcome(rules_two, &sheet, SHOT_REHEATED, "heated twice, 5 min apart");
}

static void
every_stay_must_be_long_enough(void **state)
{
	struct sheet sheet = way_usual();

	(void)state;
	sheet.stays[0].out = way_edge(122.0);
	sheet.sag.known = false;
	assert_outcome(rules, &sheet, SHOT_ABORTED, "only 12 s in the oven");
	assert_int_equal(sheet.flags, SHOT_FLAG_SHORT_HEAT);
	sheet = way_usual();
	sheet.stay_count = 0;
	way_stay(&sheet, 0, 10.0, 150.0);
	way_stay(&sheet, 1, 158.0, 170.0);
	sheet.sag = way_edge(165.0);
	assert_outcome(rules_two, &sheet, SHOT_ABORTED, "only 12 s in oven-b");
}

static void
a_short_forming_is_none(void **state)
{
	struct sheet sheet = way_usual();

	(void)state;
	sheet.form_end = way_edge(265.0);
	assert_outcome(rules, &sheet, SHOT_ABORTED, "platens closed for only 3 s");
	assert_int_equal(sheet.flags, SHOT_FLAG_SHORT_FORM);
}

static void
platens_that_close_twice_are_flagged_and_no_more(void **state)
{
	struct sheet sheet = way_usual();

	(void)state;
	sheet.closings = 2;
	assert_outcome(rules, &sheet, SHOT_COMPLETE, "");
	assert_int_equal(sheet.flags, SHOT_FLAG_SEQUENCE);
}

static void
the_timer_counts_for_each_stay(void **state)
{
	struct sheet sheet = way_usual();

	(void)state;
	sheet.stay_count = 0;
	way_stay(&sheet, 0, -310.0, 12.0); /* 322 and 230 s, timer 230 s */
	way_stay(&sheet, 1, 20.0, 250.0);
	assert_outcome(rules_two, &sheet, SHOT_COMPLETE, "");
	sheet.sag.known = false;
	sheet.sags = 0;
	assert_outcome(rules_two, &sheet, SHOT_TIMER_RELEASE,
	    "no sag after 230 s: released by the timer");
	assert_int_equal(sheet.flags, SHOT_FLAG_TIMER);
	sheet.stays[0].in = way_edge(-408.0);
	assert_outcome(rules_two, &sheet, SHOT_INTERRUPTED, "7 min in oven-a");
}

static void
a_sag_before_any_sheet_can_is_taken_back(void **state)
{
	struct sheet sheet = way_usual();

	(void)state;
	sheet.sag = way_edge(120.0);
	assert_outcome(rules, &sheet, SHOT_COMPLETE, "");
	assert_false(sheet.sag.known);
	assert_int_equal(sheet.flags, SHOT_FLAG_SAG_STUCK);
}

static void
what_contradicts_itself_is_never_set_right(void **state)
{
	struct sheet sheet = way_usual();

	(void)state;
	sheet.empty = true;
	assert_outcome(rules, &sheet, SHOT_PARTIAL,
	    "no sheet in the frame, yet the platens closed on it");
	assert_int_equal(sheet.flags, SHOT_FLAG_SEQUENCE);
	sheet = way_usual();
	sheet.gone = true;
	assert_outcome(rules, &sheet, SHOT_PARTIAL,
	    "gone before the form station, yet the platens closed on it");
	sheet = way_usual();
	sheet.form_end.known = false;
	assert_outcome(rules, &sheet, SHOT_PARTIAL, "it left with the platens closed");
	sheet = way_usual();
	sheet.form_start = way_edge(249.0);
	assert_outcome(rules, &sheet, SHOT_PARTIAL,
	    "its signals came in an order that no machine has");
	assert_int_equal(sheet.flags, SHOT_FLAG_SEQUENCE);
}

static void
edges_within_one_poll_are_no_contradiction(void **state)
{
	struct sheet sheet = way_usual();

	(void)state;
	sheet.arrived = way_edge(249.8); /* a shuttle's: the same edge, or nearly */
	assert_outcome(rules, &sheet, SHOT_COMPLETE, "");
}

static void
what_was_not_seen_is_partial_and_says_why(void **state)
{
	struct sheet sheet = way_usual();

	(void)state;
	sheet.unseen = true;
	assert_outcome(
	    rules, &sheet, SHOT_PARTIAL, "in the machine when logging began");
	sheet.flags = SHOT_FLAG_MANUAL;
	assert_outcome(rules, &sheet, SHOT_PARTIAL, "the line was moved in manual");
	sheet.flags = SHOT_FLAG_SEQUENCE;
	assert_outcome(rules, &sheet, SHOT_PARTIAL,
	    "its signals came in an order that no machine has");
	sheet = way_usual();
	sheet.stay_count = 0;
	assert_outcome(rules, &sheet, SHOT_PARTIAL, "its heating was not seen");
	sheet = way_usual();
	sheet.form_start.before.ns -= 6000000000;
	assert_outcome(rules, &sheet, SHOT_PARTIAL,
	    "the machine's signals were missing as it moved");
	sheet = way_usual();
	sheet.silent = true;
	sheet.form_end.known = false;
	assert_outcome(rules, &sheet, SHOT_PARTIAL,
	    "the machine's signals were missing as the platens opened");
	assert_int_equal(sheet.flags, 0);
}

/* Everything at once; one after the other is taken away. */
static void
the_first_outcome_that_applies_is_told(void **state)
{
	struct sheet sheet = way_usual();

	(void)state;
	sheet.unseen = sheet.empty = sheet.gone = true;
	sheet.form_start.known = sheet.form_end.known = false;
	sheet.fault_s = 60.0;
	sheet.flags = SHOT_FLAG_STARTUP;
	sheet.stay_count = 0;
	way_stay(&sheet, 0, -320.0, -20.0);
	way_stay(&sheet, 0, 10.0, 250.0);
	sheet.sag.known = false;
	sheet.sags = 0;
	assert_outcome(
	    rules, &sheet, SHOT_PARTIAL, "in the machine when logging began");
	sheet.unseen = false;
	assert_outcome(rules, &sheet, SHOT_EMPTY, "no sheet in the frame");
	sheet.empty = false;
	assert_outcome(rules, &sheet, SHOT_SCRAPPED, "gone before the form station");
	sheet.gone = false;
	assert_outcome(rules, &sheet, SHOT_ABORTED, "not formed");
	sheet.form_start = way_edge(262.0);
	sheet.form_end = way_edge(362.0);
	assert_outcome(rules, &sheet, SHOT_INTERRUPTED,
	    "60 s of machine fault with it in the oven");
	sheet.fault_s = 9.0;
	assert_outcome(rules, &sheet, SHOT_REHEATED, "heated twice, 30 s apart");
	sheet.stays[0] = sheet.stays[1];
	sheet.stay_count = 1;
	sheet.flags &= ~(uint32_t)SHOT_FLAG_REHEAT;
	assert_outcome(rules, &sheet, SHOT_TIMER_RELEASE,
	    "no sag after 240 s: released by the timer");
	sheet.sag = way_edge(230.0);
	sheet.flags &= ~(uint32_t)SHOT_FLAG_TIMER;
	assert_outcome(rules, &sheet, SHOT_STARTUP, "among the first 3 after a stop");
	sheet.flags = 0;
	assert_outcome(rules, &sheet, SHOT_COMPLETE, "");
}

static double
roll(double most)
{
	return most * rand() / RAND_MAX;
}

/* Later than the one before as a rule; one in twenty is not, is not known, not certain. */
static struct edge
any_edge(double *now_s)
{
	struct edge edge;

	*now_s += rand() % 20 == 0 ? -roll(100.0) : roll(100.0);
	edge = way_edge(*now_s);
	edge.known = rand() % 20 != 0;
	edge.before.ns -= way_at(rand() % 20 == 0 ? roll(10.0) : 0.0).ns;
	return edge;
}

/* Whatever a sheet is made of: complete means heated, then formed, and nothing odd. */
static void
no_way_at_all_is_complete_without_heat_and_form(void **state)
{
	int complete = 0;

	(void)state;
	srand(seed_take(20260302));
	for (int i = 0; i < 300000; i++) {
		struct sheet sheet = sheet_at(way_at(0.0));
		char reason[OUTCOME_REASON];
		enum shot_outcome outcome;
		double now_s = 0.0;

		sheet.stay_count = rand() % 4;
		for (int s = 0; s < sheet.stay_count; s++) {
			sheet.stays[s].oven = rand() % 2;
			sheet.stays[s].in = any_edge(&now_s);
			sheet.stays[s].out = any_edge(&now_s);
		}
		sheet.sag = way_edge(roll(300.0));
		sheet.arrived = any_edge(&now_s);
		sheet.form_start = any_edge(&now_s);
		sheet.form_end = any_edge(&now_s);
		sheet.empty = rand() % 8 == 0;
		sheet.gone = rand() % 8 == 0;
		sheet.unseen = rand() % 8 == 0;
		sheet.silent = rand() % 8 == 0;
		outcome = outcome_of(&rules_two, &sheet, reason);
		assert_int_equal(outcome == SHOT_COMPLETE, reason[0] == '\0');
		if (outcome <= SHOT_ABORTED)
			continue;
		complete += outcome == SHOT_COMPLETE;
		assert_true(sheet_heat(&sheet).known);
		assert_true(sheet_form(&sheet).known);
		assert_true(edge_span_s(&sheet.form_start, &sheet.form_end) >= 5.0);
		assert_true(
		    sheet.form_start.at.ns >= sheet_heat_end(&sheet)->before.ns);
		for (int s = 0; s < sheet.stay_count; s++)
			assert_true(edge_span_s(&sheet.stays[s].in,
					&sheet.stays[s].out) >= 30.0);
		assert_false(sheet.empty || sheet.gone || sheet.unseen);
	}
	assert_true(complete > 100); /* the test does try such sheets */
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(a_sheet_that_went_the_usual_way_is_complete),
	    cmocka_unit_test(an_oven_after_the_other_is_one_heat),
	    cmocka_unit_test(a_second_heat_is_told_with_the_time_between),
	    cmocka_unit_test(both_ovens_twice_are_two_heats),
	    cmocka_unit_test(every_stay_must_be_long_enough),
	    cmocka_unit_test(a_short_forming_is_none),
	    cmocka_unit_test(platens_that_close_twice_are_flagged_and_no_more),
	    cmocka_unit_test(the_timer_counts_for_each_stay),
	    cmocka_unit_test(a_sag_before_any_sheet_can_is_taken_back),
	    cmocka_unit_test(what_contradicts_itself_is_never_set_right),
	    cmocka_unit_test(edges_within_one_poll_are_no_contradiction),
	    cmocka_unit_test(what_was_not_seen_is_partial_and_says_why),
	    cmocka_unit_test(the_first_outcome_that_applies_is_told),
	    cmocka_unit_test(no_way_at_all_is_complete_without_heat_and_form),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
