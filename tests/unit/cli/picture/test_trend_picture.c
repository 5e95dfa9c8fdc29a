/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/picture/trend_picture.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "cli/picture/palette.h"
#include "tests/unit/cli/picture/drawn.h"

enum { SHIFTS = 400, TICKS = 12 };
static struct trend_point points[SHIFTS];
static struct run_tick ticks[TICKS];
static char days[TICKS][12];
static struct run_mark marks[2];

static struct trend_picture
usual(size_t count)
{
	size_t tick_count = count < TICKS ? count : TICKS;

	for (size_t i = 0; i < count; i++) {
		double value = 1.5 + 0.1 * sin((double)i);
		points[i] =
		    (struct trend_point){value, value * 0.9, value * 1.1, true, false};
	}
	for (size_t i = 0; i < tick_count; i++) {
		snprintf(days[i], sizeof days[i], "%02zu Mar", i + 1);
		ticks[i] = (struct run_tick){i * count / tick_count, days[i]};
	}
	marks[0] = (struct run_mark){count / 3, "lot A-0412", true};
	marks[1] =
	    (struct run_mark){count / 3 + 1, "calibration of pyrometer 3", false};
	return (struct trend_picture){
	    .heading = "Exit temperature, top: shift by shift",
	    .y_label = "Ppk",
	    .points = points,
	    .count = count,
	    .required = 1.33,
	    .lower = NAN,
	    .upper = NAN,
	    .marks = marks,
	    .mark_count = 2,
	    .ticks = ticks,
	    .tick_count = tick_count};
}

static void
draw(const char *which, const struct trend_picture *what)
{
	struct picture picture = trend_picture_make(what, "ppk", "title", "words");

	drawn_take(&picture);
	drawn_is_readable(which);
}

static int
filled(uint32_t rgb)
{
	char part[40];

	snprintf(part, sizeof part, "<polygon fill=\"#%06x\"", rgb);
	return drawn_count(part);
}

static void
stable_unstable_and_withheld_differ_by_shape(void **state)
{
	struct trend_picture picture = usual(30);

	(void)state;
	draw("all stable", &picture);
	assert_int_equal(filled(PALETTE_SLOW), 30 + 1); /* one in the key */
	drawn_has(">stable (30)<");
	drawn_lacks("withheld");
	points[3].stable = points[4].stable = false;
	points[5].withheld = true;
	points[6].value = NAN;
	draw("mixed", &picture);
	assert_int_equal(filled(PALETTE_SLOW), 26 + 1); /* unstable ones are hollow */
	drawn_has(">stable (26)<");
	drawn_has(">not shown to be stable (2)<");
	drawn_has(">withheld (2)<");
	drawn_has(">withheld<"); /* where they stand */
}

static void
a_withheld_value_is_never_shown(void **state)
{
	struct trend_picture picture = usual(30);

	(void)state;
	points[5].withheld = true;
	draw("one withheld", &picture);
	char *before = strdup(drawn_svg());
	points[5].value = 9;
	points[5].low = 8;
	points[5].high = 10;
	draw("another withheld", &picture);
	assert_string_equal(before, drawn_svg());
	free(before);
}

static void
an_interval_without_end_ends_at_the_edge(void **state)
{
	struct trend_picture picture = usual(60);

	(void)state;
	draw("usual", &picture);
	int arrows = filled(PALETTE_POINT);
	points[7].low = -40;
	points[7].high = 90;
	points[8].low = points[8].high = NAN; /* none */
	draw("wide", &picture);
	assert_int_equal(filled(PALETTE_POINT), arrows + 2);
	drawn_lacks(">50<");
}

static void
what_hardly_moves_does_not_look_as_if_it_did(void **state)
{
	struct trend_picture picture = usual(2);

	(void)state;
	points[0] = (struct trend_point){1.35, NAN, NAN, true, false};
	points[1] = (struct trend_point){1.37, NAN, NAN, true, false};
	draw("two without intervals", &picture);
	drawn_has(">1.2<"); /* a fifth apart, not a hundredth */
	drawn_has(">1.6<");
	drawn_lacks(">interval<");
}

static void
the_required_is_a_line_with_its_number(void **state)
{
	struct trend_picture picture = usual(30);

	(void)state;
	draw("required", &picture);
	drawn_has(">required 1.33<");
	assert_int_equal(filled(PALETTE_BEYOND), 1);
	picture.required = NAN;
	draw("nothing required", &picture);
	drawn_lacks("required");
	assert_int_equal(filled(PALETTE_BEYOND), 0);
}

static void
limits_of_values_are_lines_and_what_lies_beyond_is_shaded(void **state)
{
	struct trend_picture picture = usual(30);

	(void)state;
	picture.required = NAN;
	picture.lower = 1.2;
	picture.upper = 2;
	draw("limits", &picture);
	drawn_has(">lower 1.2<");
	drawn_has(">upper 2<");
	assert_int_equal(filled(PALETTE_BEYOND), 2);
	picture.lower = NAN;
	picture.upper = 900; /* told of at the edge, the points are not flattened */
	draw("far", &picture);
	drawn_has(">upper 900<");
	drawn_lacks(">800<");
	assert_int_equal(filled(PALETTE_BEYOND), 0);
}

static void
shifts_are_named_where_there_is_room(void **state)
{
	static const char *const names[] = {"early", "late", "night"};
	const char *all[SHIFTS];

	(void)state;
	for (size_t i = 0; i < SHIFTS; i++)
		all[i] = names[i % 3];
	struct trend_picture picture = usual(6);
	picture.names = all;
	ticks[0] = (struct run_tick){0, "03-02"};
	ticks[1] = (struct run_tick){3, "03-03"};
	picture.tick_count = 2;
	draw("six named", &picture);
	assert_int_equal(drawn_count(">early<"), 2);
	assert_int_equal(drawn_count(">night<"), 2);
	drawn_has(">03-02<");
	drawn_has(">03-03<");
	for (size_t count = 1; count <= SHIFTS; count += 7) {
		picture = usual(count);
		picture.names = all;
		draw("many named", &picture);
		assert_true((drawn_count(">late<") > 0) == (count > 1 && count < 15));
	}
}

static void
words_keep_apart_at_any_number_of_shifts(void **state)
{
	(void)state;
	for (size_t count = 0; count <= SHIFTS; count += count < 5 ? 1 : 13) {
		struct trend_picture picture = usual(count);
		char which[40];
		snprintf(which, sizeof which, "%zu shifts", count);
		draw(which, &picture);
		picture.tick_count = picture.mark_count = 0;
		draw(which, &picture);
		for (size_t i = 0; i < count; i++)
			points[i].withheld = true;
		draw(which, &picture);
		drawn_has(">nothing can be shown<");
		picture.required = NAN;
		draw(which, &picture);
	}
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(stable_unstable_and_withheld_differ_by_shape),
	    cmocka_unit_test(a_withheld_value_is_never_shown),
	    cmocka_unit_test(an_interval_without_end_ends_at_the_edge),
	    cmocka_unit_test(what_hardly_moves_does_not_look_as_if_it_did),
	    cmocka_unit_test(the_required_is_a_line_with_its_number),
	    cmocka_unit_test(limits_of_values_are_lines_and_what_lies_beyond_is_shaded),
	    cmocka_unit_test(shifts_are_named_where_there_is_room),
	    cmocka_unit_test(words_keep_apart_at_any_number_of_shifts),
	};
	int failed = cmocka_run_group_tests(tests, NULL, NULL);

	drawn_release();
	return failed;
}
