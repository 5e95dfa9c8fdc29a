/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/picture/soak_picture.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

enum { NODES = 5, MOMENTS = 4, COURSE = 3 };
static const double moment_s[MOMENTS] = {0, 60, 120, 129};
static const double profile[MOMENTS * NODES] = {23, 23, 23, 23, 23, 100, 60, 40, 60, 98,
    180, 160, 150, 158, 176, 155, 158, 152, 157, 151};
static const double s[COURSE] = {0, 120, 129};
static const double top[COURSE] = {23, 180, 155}, core[COURSE] = {23, 150, 152},
		    bottom[COURSE] = {23, 176, 151};

static const struct soak_picture usual = {
    .title = "6.35 mm of a <plastic>",
    .summary = "core 152.0 C",
    .caution = "An estimate",
    .unit = "C",
    .thickness_mm = 6.35,
    .moment_count = MOMENTS,
    .node_count = NODES,
    .moment_s = moment_s,
    .profile = profile,
    .count = COURSE,
    .s = s,
    .top = top,
    .core = core,
    .bottom = bottom,
    .heat_end_s = 120,
    .core_low = 145,
    .core_high = 159,
    .window_low = 127,
    .window_high = 182,
};

static char *written;
static size_t length;

static void
draw(const struct soak_picture *what)
{
	const struct picture picture = soak_picture_make(what, "sheet");

	free(written);
	written = NULL;
	FILE *out = open_memstream(&written, &length);
	assert_non_null(out);
	assert_int_equal(picture_write(&picture, CANVAS_SVG, out), 0);
	assert_int_equal(fclose(out), 0);
}

static int
count_of(const char *part)
{
	int count = 0;

	for (const char *at = written; (at = strstr(at, part)) != NULL; at++)
		count++;
	return count;
}

static void
everything_that_is_known_is_drawn(void **state)
{
	static const char *const parts[] = {">6.35 mm of a &lt;plastic&gt;<",
	    ">core 152.0 C<", ">An estimate<", ">depth from the top face, mm<",
	    ">time, s<", ">temperature, C<", ">heat ends<", ">forming window<", ">top<",
	    ">core<", ">bottom<", ">0 s<", ">60 s<", ">120 s<", ">129 s<",
	    "dashed: on the way to the form"};

	(void)state;
	draw(&usual);
	for (size_t i = 0; i < sizeof parts / sizeof parts[0]; i++)
		if (count_of(parts[i]) < 1)
			fail_msg("'%s' is not in:\n%s", parts[i], written);
}

static void
what_is_not_known_is_left_out(void **state)
{
	struct soak_picture picture = usual;

	(void)state;
	draw(&usual);
	int shapes = count_of("<polyline");
	picture.window_low = picture.window_high = NAN;
	picture.core_low = picture.core_high = NAN;
	picture.bottom = NULL;
	draw(&picture);
	assert_int_equal(count_of("forming window"), 0);
	assert_int_equal(count_of(">bottom<"), 0);
	assert_int_equal(count_of("nan"), 0);
	assert_int_equal(
	    shapes - count_of("<polyline"), 4); /* a bar of three, a curve */
}

static void
labels_of_moments_give_way_to_each_other(void **state)
{
	enum { CROWD = 10 };
	double crowded_s[CROWD], crowded[CROWD * NODES];
	struct soak_picture picture = usual;

	(void)state;
	for (int i = 0; i < CROWD; i++) {
		crowded_s[i] = 10 * i;
		for (int node = 0; node < NODES; node++)
			crowded[i * NODES + node] = 150 + 0.01 * i;
	}
	picture.moment_count = CROWD;
	picture.moment_s = crowded_s;
	picture.profile = crowded;
	draw(&picture);
	assert_int_equal(count_of(">90 s<"), 1); /* the last stands */
	assert_int_equal(count_of(" s</text>"), 1 + count_of("time, s<"));
}

static void
nothing_outside_the_file_is_referred_to(void **state)
{
	(void)state;
	draw(&usual);
	assert_int_equal(count_of("href"), 0);
	assert_int_equal(count_of("http"), 1); /* the name space */
	assert_int_equal(count_of("font-family=\"sans-serif\""), 1);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(everything_that_is_known_is_drawn),
	    cmocka_unit_test(what_is_not_known_is_left_out),
	    cmocka_unit_test(labels_of_moments_give_way_to_each_other),
	    cmocka_unit_test(nothing_outside_the_file_is_referred_to),
	};
	int failed = cmocka_run_group_tests(tests, NULL, NULL);

	free(written);
	return failed;
}
