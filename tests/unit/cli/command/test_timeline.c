/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>

#include <cmocka.h>

#include "cli/command/timeline.h"
#include "tests/unit/near.h"

#define AT_S INT64_C(1000000)

/* Seen between two polls, half a second apart, around `s`. */
static struct edge
edge(double s)
{
	int64_t ns = (int64_t)((AT_S + s) * 1e9);

	return (struct edge){.known = true,
	    .before = {ns - 250000000},
	    .at = {ns + 250000000},
	    .wall = {ns}};
}

/* Loaded 60 s before its heat, 100 s in one oven, 8 s on the way, 80 s in the next. */
static struct sheet
two_ovens(void)
{
	struct sheet sheet = sheet_at((struct mono){AT_S * CLOCK_SECOND_NS});

	sheet.loaded = edge(-60);
	sheet.stay_count = 2;
	sheet.stays[0] = (struct stay){0, edge(0), edge(100)};
	sheet.stays[1] = (struct stay){1, edge(108), edge(188)};
	sheet.sag = edge(187);
	sheet.form_start = edge(199);
	sheet.form_end = edge(299);
	sheet.left_wall = edge(330).wall;
	return sheet;
}

static const struct line_settings line = {
    .station_count = 4,
    .oven_count = 2,
    .stations = {{"load", STATION_LOAD}, {"oven-a", STATION_OVEN},
	{"oven-b", STATION_OVEN}, {"form", STATION_FORM}},
};

static void
expect(const struct step *step, const char *name, double after_s, double lasts_s)
{
	assert_string_equal(step->name, name);
	if (isnan(after_s))
		assert_true(isnan(step->after_s));
	else
		assert_near(step->after_s, after_s, 1e-6);
	if (isnan(lasts_s))
		assert_true(isnan(step->lasts_s));
	else
		assert_near(step->lasts_s, lasts_s, 1e-6);
}

static void
the_way_has_each_stay_and_the_gap_between(void **state)
{
	const struct sheet sheet = two_ovens();
	struct timeline timeline;

	(void)state;
	timeline_of_sheet(&timeline, &sheet, &line);
	assert_int_equal(timeline.count, 8);
	expect(&timeline.steps[0], "loaded", -60, 60);
	expect(&timeline.steps[1], "heat in oven-a", 0, 100);
	expect(&timeline.steps[2], "gap", 100, 8);
	expect(&timeline.steps[3], "heat in oven-b", 108, 80);
	expect(&timeline.steps[4], "sagged", 187, NAN);
	expect(&timeline.steps[5], "transfer", 188, 11);
	expect(&timeline.steps[6], "form", 199, 100);
	expect(&timeline.steps[7], "gone", NAN, NAN);
	/* each edge is known to a quarter of a second both ways */
	assert_near(timeline.steps[1].within_s, 0.5, 1e-6);
	assert_string_equal(timeline_at(&timeline, 104)->name, "gap");
	assert_string_equal(timeline_at(&timeline, 187.5)->name, "heat in oven-b");
	assert_null(timeline_at(&timeline, 299.5));
	assert_null(timeline_at(&timeline, -60.5));
}

static void
what_nobody_saw_is_not_there(void **state)
{
	struct sheet sheet = two_ovens();
	struct timeline timeline;

	(void)state;
	sheet.stay_count = 0;
	sheet.loaded.known = sheet.sag.known = false;
	timeline_of_sheet(&timeline, &sheet, &line);
	assert_int_equal(timeline.count, 2);
	expect(&timeline.steps[0], "form", NAN, 100);
	expect(&timeline.steps[1], "gone", NAN, NAN);
	assert_null(timeline_at(&timeline, 0));
}

static void
the_longest_way_has_room(void **state)
{
	struct sheet sheet = two_ovens();
	struct timeline timeline;

	(void)state;
	sheet.stay_count = SHEET_STAYS_MAX;
	for (int i = 0; i < SHEET_STAYS_MAX; i++)
		sheet.stays[i] = (struct stay){0, edge(i * 10), edge(i * 10 + 6)};
	timeline_of_sheet(&timeline, &sheet, &line);
	assert_int_equal(timeline.count, 1 + SHEET_STAYS_MAX * 2 - 1 + 4);
	assert_true(timeline.count <= TIMELINE_MAX);
}

static void
without_a_trace_it_comes_from_the_file(void **state)
{
	struct ledger_shot shot = {
	    .loaded_at = edge(-60).wall,
	    .heat_start_at = edge(0).wall,
	    .heat_end_at = edge(188).wall,
	    .form_start_at = edge(199).wall,
	    .uncertainty_s = 0.5,
	};
	struct timeline timeline;

	(void)state;
	for (int id = 0; id < FEATURE_COUNT; id++)
		shot.value[id] = NAN;
	shot.value[FEATURE_HEAT_S] = 188;
	shot.value[FEATURE_TRANSFER_S] = 11;
	timeline_of_shot(&timeline, &shot);
	assert_int_equal(timeline.count, 4);
	expect(&timeline.steps[0], "loaded", -60, 60);
	expect(&timeline.steps[1], "heat", 0, 188);
	expect(&timeline.steps[2], "transfer", 188, 11);
	expect(&timeline.steps[3], "form", 199, NAN);
	assert_near(timeline.steps[1].within_s, 0.5, 0);
	assert_true(isnan(timeline.steps[3].within_s));
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(the_way_has_each_stay_and_the_gap_between),
	    cmocka_unit_test(what_nobody_saw_is_not_there),
	    cmocka_unit_test(the_longest_way_has_room),
	    cmocka_unit_test(without_a_trace_it_comes_from_the_file),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
