/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/picture/oven_picture.h"

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

enum { ZONES = 220, BANKS = 6 };
static struct oven_zone zones[ZONES];
static char labels[ZONES][8];
static struct oven_bank banks[BANKS];

static struct oven_picture
usual(size_t zone_count, size_t columns, size_t bank_count)
{
	for (size_t i = 0; i < ZONES; i++) {
		snprintf(labels[i], sizeof labels[i], "z%zu", i + 1);
		zones[i] = (struct oven_zone){
		    labels[i], 0.3 + 0.002 * (double)i, 0.001 * ((double)i - 20)};
	}
	for (size_t i = 0; i < BANKS; i++)
		banks[i] = (struct oven_bank){i % 2 ? "oven 1, bottom" : "oven 1, top",
		    zones, zone_count, columns};
	return (struct oven_picture){.heading = "Heater zones",
	    .reference = "reference run spring-2026",
	    .banks = banks,
	    .bank_count = bank_count};
}

static void
draw(const char *which, const struct oven_picture *what)
{
	struct picture picture = oven_picture_make(what, "oven", "title", "words");

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
each_zone_has_its_output_and_its_difference_in_words(void **state)
{
	struct oven_picture picture = usual(9, 0, 1);

	(void)state;
	zones[0].output = 0.424;
	zones[0].difference = -0.031;
	zones[1].output = 1;
	zones[1].difference = 0.0004;
	draw("one bank", &picture);
	drawn_has(">42 %<");
	drawn_has(">100 %<");
	drawn_has(">\xe2\x88\x92"
		  "3.1<");
	drawn_has(">0<"); /* not +0.0 */
	drawn_has(">difference from reference run spring-2026<");
	drawn_has("in the order of their numbers");
	assert_int_equal(drawn_count(">z1<"), 2);
}

static void
absent_is_hatched_and_never_coloured_as_nothing(void **state)
{
	struct oven_picture picture = usual(9, 0, 1);

	(void)state;
	zones[3].output = 0;
	draw("one at 0", &picture);
	int nothing = filled(palette_amount(0));
	int hatched = drawn_count("<clipPath");
	assert_int_equal(drawn_count(">0 %<"), 2); /* one in the legend */
	zones[3].output = NAN;
	draw("one absent", &picture);
	assert_int_equal(filled(palette_amount(0)), nothing - 1);
	assert_int_equal(drawn_count("<clipPath"), hatched + 1);
	assert_int_equal(drawn_count(">0 %<"), 1);
	/* in the plan and in both legends */
	assert_int_equal(drawn_count(">absent<"), 3);
}

static void
without_a_reference_there_is_one_plan(void **state)
{
	struct oven_picture picture = usual(9, 0, 4);

	(void)state;
	picture.reference = NULL;
	draw("no reference", &picture);
	drawn_lacks("difference");
	assert_int_equal(drawn_count(">z1<"), 4);
}

static void
less_is_blue_more_is_ochre_and_the_sign_says_so(void **state)
{
	struct oven_picture picture = usual(2, 0, 1);

	(void)state;
	zones[0].difference = -0.1;
	zones[1].difference = 0.1;
	draw("two", &picture);
	assert_int_equal(filled(palette_difference(-1)), 1 + 1);
	assert_int_equal(filled(palette_difference(1)), 1 + 1);
	drawn_has(">\xe2\x88\x92"
		  "10<");
	drawn_has(">+10<");
	drawn_has(">+10 points<");
	/* and without colour, an arrow each */
	int arrows = filled(palette_words_on(palette_difference(1)));
	assert_true(arrows >= 2);
	zones[0].difference = 0.002;
	draw("one", &picture);
	assert_int_equal(filled(palette_words_on(palette_difference(1))), arrows - 1);
}

static void
small_differences_look_small(void **state)
{
	struct oven_picture picture = usual(2, 0, 1);

	(void)state;
	zones[0].difference = -0.002;
	zones[1].difference = 0.002;
	draw("two", &picture);
	drawn_has(">+5 points<"); /* the end of the scale is no nearer */
	assert_int_equal(filled(palette_difference(0.002 / 0.05)), 1);
}

static void
words_keep_apart_at_any_number_of_zones(void **state)
{
	static const size_t counts[] = {0, 1, 2, 6, 24, 60, 100, 200};
	static const size_t columns[] = {0, 1, 5, 12, 13, 20, 40};

	(void)state;
	for (size_t i = 0; i < sizeof counts / sizeof counts[0]; i++)
		for (size_t k = 0; k < sizeof columns / sizeof columns[0]; k++)
			for (size_t bank_count = 0; bank_count <= 4; bank_count += 2) {
				struct oven_picture picture =
				    usual(counts[i], columns[k], bank_count);
				char which[80];
				if (counts[i] > 0) {
					zones[counts[i] - 1].output = NAN;
					zones[counts[i] - 1].difference = NAN;
					zones[0].output = 1;
					zones[0].difference = k % 2 ? -1 : -0.06;
				}
				snprintf(which, sizeof which,
				    "%zu zones in %zu columns, %zu banks", counts[i],
				    columns[k], bank_count);
				draw(which, &picture);
				picture.reference = NULL;
				draw(which, &picture);
			}
}

static void
long_names_are_shortened(void **state)
{
	struct oven_picture picture = usual(24, 12, 2);
	static const char words[] =
	    "a name that is longer than anybody would have thought "
	    "it to be, and goes on even then for a while";

	(void)state;
	picture.heading = picture.reference = banks[0].heading = words;
	zones[5].label = words;
	draw("long names", &picture);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(each_zone_has_its_output_and_its_difference_in_words),
	    cmocka_unit_test(absent_is_hatched_and_never_coloured_as_nothing),
	    cmocka_unit_test(without_a_reference_there_is_one_plan),
	    cmocka_unit_test(less_is_blue_more_is_ochre_and_the_sign_says_so),
	    cmocka_unit_test(small_differences_look_small),
	    cmocka_unit_test(words_keep_apart_at_any_number_of_zones),
	    cmocka_unit_test(long_names_are_shortened),
	};
	int failed = cmocka_run_group_tests(tests, NULL, NULL);

	drawn_release();
	return failed;
}
