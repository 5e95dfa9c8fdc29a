/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What is written at the edges of a picture of a run. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "cli/picture/run_picture.h"
#include "tests/unit/cli/picture/drawn.h"

enum { SHOTS = 120 };
static double values[SHOTS];

/* Values about `middle`, so far apart; limits and control limits likewise. */
static struct run_picture
usual_about(double middle, double apart)
{
	for (int i = 0; i < SHOTS; i++)
		values[i] = middle + apart * (i * 37 % 61 - 30) / 8;
	return (struct run_picture){.heading = "exit top",
	    .y_label = "exit_top_c, F",
	    .verdict = "stable",
	    .count = SHOTS,
	    .values = values,
	    .lower = middle - 8 * apart,
	    .upper = middle + 8 * apart,
	    .target = middle,
	    .centre = middle,
	    .control_low = middle - 4.2 * apart,
	    .control_high = middle + 4.2 * apart};
}

static void
draw_readably(const char *which, const struct run_picture *what)
{
	struct picture picture = run_picture_make(what, "exit_top_c", "title", "words");

	drawn_take(&picture);
	drawn_is_readable(which);
}

static void
limits_are_told_apart_at_any_size_of_numbers(void **state)
{
	static const double sizes[][2] = {{1e9, 0.125}, {-1e9, 0.125}, {5e-7, 1e-8},
	    {1e15, 1}, {1e-300, 1e-302}, {1e100, 1e98}, {0, 1e-9}, {123456, 1e-4}};

	(void)state;
	for (size_t k = 0; k < sizeof sizes / sizeof sizes[0]; k++) {
		struct run_picture picture = usual_about(sizes[k][0], sizes[k][1]);
		draw_readably("sizes", &picture);
		for (size_t i = 0; i < drawn_texts(); i++) {
			const char *words = drawn_text(i)->words;
			if (strncmp(words, "upper ", 6) == 0 ||
			    strncmp(words, "control ", 8) == 0)
				assert_null(strstr(words, "\xe2\x80\xa6"));
		}
	}
	struct run_picture picture = usual_about(1e9, 0.125);
	draw_readably("numbers", &picture);
	drawn_has(">upper 1000000001<");
	drawn_has(">lower 999999999<");
	drawn_has(">control 1000000000.52<");
	picture = usual_about(5e-7, 1e-8);
	draw_readably("numbers", &picture);
	drawn_has(">upper 5.8e-07<");
	drawn_has(">5.0e-07<");
	drawn_has(">control 5.42e-07<");
}

static const struct drawn_text *
find_text(const char *begin)
{
	for (size_t i = 0; i < drawn_texts(); i++)
		if (strncmp(drawn_text(i)->words, begin, strlen(begin)) == 0)
			return drawn_text(i);
	fail_msg("no text begins with '%s'", begin);
	return NULL;
}

static void
the_last_number_keeps_away_from_the_distribution(void **state)
{
	struct run_picture picture = usual_about(190, 1);

	(void)state;
	draw_readably("numbers", &picture);
	assert_true(
	    find_text("longest bar")->box.left >= find_text("120")->box.right + 4);
}

static void
few_values_are_counted_once_each(void **state)
{
	(void)state;
	for (size_t count = 1; count <= 9; count++) {
		struct run_picture picture = usual_about(190, 1);
		picture.count = count;
		draw_readably("few", &picture);
		assert_int_equal(drawn_count(">shot 1<"), 1);
		assert_int_equal(drawn_count(">1<"), 0);
		assert_int_equal(drawn_count(">2<"), count > 1);
	}
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(limits_are_told_apart_at_any_size_of_numbers),
	    cmocka_unit_test(the_last_number_keeps_away_from_the_distribution),
	    cmocka_unit_test(few_values_are_counted_once_each),
	};

	int failed = cmocka_run_group_tests(tests, NULL, NULL);

	drawn_release();
	return failed;
}
