/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/picture/margin_picture.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "cli/picture/palette.h"
#include "tests/unit/cli/picture/drawn.h"

static const struct margin_row rows[] = {
    {"exit_top_c", "+5.40 F", 1.8, 1.62, 1.98, ROW_DIFFERENT},
    {"sag_s", "+0.00 s", 0, -0.06, 0.06, ROW_SAME},
    {"tool_spread_of_means_dc", "-1.200 F", -0.7, -1.3, 0.1, ROW_OPEN},
    {"cycle_s", "-120.0 s", -40, -70, -10, ROW_DIFFERENT},
    {"transfer_s", "+0.30 s", 0.4, NAN, NAN, ROW_OPEN},
    {"recovery_s", "-", NAN, NAN, NAN, ROW_OPEN},
};
enum { ROWS = sizeof rows / sizeof *rows };

static void
draw(const char *which, size_t count)
{
	const struct margin_picture what = {.heading = "line-3: against approved",
	    .caption = "difference of the means, in margins",
	    .rows = rows,
	    .count = count};
	const struct picture picture =
	    margin_picture_make(&what, "difference", "title", "words");

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
rows_stand_with_their_names_and_differences(void **state)
{
	(void)state;
	draw("all", ROWS);
	for (size_t i = 0; i < ROWS; i++) {
		drawn_has(rows[i].name);
		drawn_has(rows[i].words);
	}
	drawn_has(">shown to be different (2)<");
	drawn_has(">shown to be the same (1)<");
	drawn_has(">open (3)<");
	drawn_has(">90 % interval<");
	drawn_release();
}

static void
what_is_far_off_ends_in_an_arrow(void **state)
{
	(void)state;
	draw("near", 3);
	assert_int_equal(filled(PALETTE_POINT), 0);
	drawn_lacks(">+4<"); /* the scale is as wide as they need */
	draw("far", 4);
	assert_true(filled(PALETTE_POINT) > 0);
	drawn_has(">+5<");
	drawn_release();
}

static void
verdicts_differ_by_shape(void **state)
{
	(void)state;
	draw("first", 1);
	int different = filled(PALETTE_LIMIT), same = filled(PALETTE_SLOW);
	draw("second", 2);
	assert_int_equal(filled(PALETTE_LIMIT), different);
	assert_true(filled(PALETTE_SLOW) > same);
	drawn_release();
}

static void
nothing_is_drawn_of_no_rows(void **state)
{
	(void)state;
	draw("none", 0);
	drawn_lacks("interval");
	drawn_release();
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(rows_stand_with_their_names_and_differences),
	    cmocka_unit_test(what_is_far_off_ends_in_an_arrow),
	    cmocka_unit_test(verdicts_differ_by_shape),
	    cmocka_unit_test(nothing_is_drawn_of_no_rows),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
