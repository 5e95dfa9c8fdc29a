/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/picture/tool_picture.h"

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

enum { SHOTS = 4000 };
static double coldest[SHOTS], mean[SHOTS], hottest[SHOTS], spread[TOOL_SPREADS][SHOTS];
static const struct run_mark marks[] = {
    {4, "lot A-0412", true}, {5, "note: water filter cleaned", false}};

static struct tool_picture
usual(size_t count)
{
	for (size_t i = 0; i < count; i++) {
		mean[i] = 60 + 3 * sin((double)i / 7);
		coldest[i] = mean[i] - 3;
		hottest[i] = mean[i] + 4;
		for (int k = 0; k < TOOL_SPREADS; k++)
			spread[k][i] = 7 - 2 * k + 0.3 * cos((double)i);
	}
	return (struct tool_picture){.heading = "Tool 7",
	    .y_label = "temperature, \xc2\xb0"
		       "C",
	    .spread_label = "difference, \xc2\xb0"
			    "C",
	    .count = count,
	    .coldest = coldest,
	    .mean = mean,
	    .hottest = hottest,
	    .spread_name = {"at one instant", "of the sensors' means",
		"swing within a shot"},
	    .spread = {spread[0], spread[1], spread[2]},
	    .spread_limit = {8, 5.5, NAN},
	    .marks = marks,
	    .mark_count = 2};
}

static void
draw(const char *which, const struct tool_picture *what)
{
	struct picture picture = tool_picture_make(what, "tool", "title", "words");

	drawn_take(&picture);
	drawn_is_readable(which);
}

static int
bands(void)
{
	char part[40];

	snprintf(part, sizeof part, "<polygon fill=\"#%06x\"", PALETTE_JOIN);
	return drawn_count(part) - 1; /* the key's */
}

static void
spreads_differ_by_dash_and_name(void **state)
{
	struct tool_picture picture = usual(60);
	char part[90];
	static const char *const dashes[] = {
	    " points", " stroke-dasharray=\"7 3\"", " stroke-dasharray=\"3 2.5\""};

	(void)state;
	draw("usual", &picture);
	for (int i = 0; i < TOOL_SPREADS; i++) {
		snprintf(part, sizeof part, "stroke=\"#%06x\" stroke-width=\"1.4\"%s",
		    palette_line[i], dashes[i]);
		assert_int_equal(drawn_count(part), 1);
	}
	drawn_has(">at one instant<");
	drawn_has(">of the sensors' means<");
	drawn_has(">swing within a shot<");
	drawn_has(">at most 8<");
	drawn_has(">at most 5.5<");
	assert_int_equal(drawn_count(">at most "), 2);
}

static void
a_gap_in_the_readings_is_a_gap_in_the_band(void **state)
{
	struct tool_picture picture = usual(60);

	(void)state;
	draw("whole", &picture);
	assert_int_equal(bands(), 1);
	coldest[20] = mean[20] = hottest[20] = NAN;
	coldest[22] = mean[22] = hottest[22] = NAN; /* 21 stands alone */
	draw("gaps", &picture);
	assert_int_equal(bands(), 3);
	drawn_has(">absent (2)<");
}

static void
a_spread_that_nobody_measured_is_left_out(void **state)
{
	struct tool_picture picture = usual(60);

	(void)state;
	picture.spread[1] = NULL;
	draw("two spreads", &picture);
	drawn_lacks("of the sensors' means");
	drawn_lacks("at most 5.5");
	drawn_has(">swing within a shot<");
}

static void
words_keep_apart_at_any_number_of_shots(void **state)
{
	static const size_t counts[] = {0, 1, 2, 20, 160, 400, 3000};

	(void)state;
	for (size_t i = 0; i < sizeof counts / sizeof counts[0]; i++) {
		struct tool_picture picture = usual(counts[i]);
		char which[40];
		snprintf(which, sizeof which, "%zu shots", counts[i]);
		draw(which, &picture);
		for (int k = 0; k < TOOL_SPREADS; k++) {
			picture.spread_limit[k] = 8;
			for (size_t s = 0; s < counts[i]; s++)
				spread[k][s] = 8;
		}
		draw(which, &picture); /* all at one place */
		if (counts[i] > 2) {
			coldest[2] = -1e300;
			hottest[2] = 1e300;
			draw(which, &picture);
		}
		for (size_t s = 0; s < counts[i]; s++) {
			coldest[s] = mean[s] = hottest[s] = NAN;
			for (int k = 0; k < TOOL_SPREADS; k++)
				spread[k][s] = NAN;
		}
		draw(which, &picture);
	}
}

static void
thousands_of_shots_keep_their_extremes(void **state)
{
	struct tool_picture picture = usual(3000);

	(void)state;
	draw("3000", &picture);
	drawn_has(">of 7 shots together: extremes, mean, largest differences<");
	assert_true(strlen(drawn_svg()) < 100000);
	char *before = strdup(drawn_svg());
	hottest[1234] = 70; /* within the scale's range of wild ones: seen */
	draw("3000, one hot", &picture);
	assert_string_not_equal(before, drawn_svg());
	free(before);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(spreads_differ_by_dash_and_name),
	    cmocka_unit_test(a_gap_in_the_readings_is_a_gap_in_the_band),
	    cmocka_unit_test(a_spread_that_nobody_measured_is_left_out),
	    cmocka_unit_test(words_keep_apart_at_any_number_of_shots),
	    cmocka_unit_test(thousands_of_shots_keep_their_extremes),
	};
	int failed = cmocka_run_group_tests(tests, NULL, NULL);

	drawn_release();
	return failed;
}
