/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/picture/run_picture.h"

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
#include "tests/unit/near.h"
#include "tests/unit/seed.h"

enum { SHOTS = 4000, MARKS = 300, CURVE = 81, TICKS = 9 };
static double values[SHOTS], curve_at[CURVE], curve_density[CURVE];
static bool breaks[SHOTS];
static unsigned char flags[SHOTS];
static struct run_mark marks[MARKS];
static char labels[MARKS][80];
static struct run_tick ticks[TICKS];
static const char *const hours[TICKS] = {
    "06:00", "07:00", "08:00", "09:00", "10:00", "11:00", "12:00", "13:00", "14:00"};
static unsigned seed;
static unsigned short noise[3];

static double
scatter(void)
{
	double sum = -6;

	for (int i = 0; i < 12; i++)
		sum += erand48(noise);
	return sum;
}

/* In C about 190, or in F the same. */
static struct run_picture
usual(size_t count, bool fahrenheit)
{
	double scale = fahrenheit ? 1.8 : 1, zero = fahrenheit ? 32 : 0;

	noise[0] = (unsigned short)seed;
	for (size_t i = 0; i < count; i++) {
		values[i] = zero + scale * (190 + 1.4 * scatter());
		flags[i] = 0;
		breaks[i] = false;
	}
	for (int i = 0; i < CURVE; i++) {
		double z = i / 10.0 - 4;
		curve_at[i] = zero + scale * (190 + 1.4 * z);
		curve_density[i] = exp(-z * z / 2) / (1.4 * scale * 2.5066);
	}
	for (size_t i = 0; i < TICKS; i++)
		ticks[i] = (struct run_tick){i * count / TICKS, hours[i]};
	return (struct run_picture){.heading = "Exit temperature, top",
	    .y_label = fahrenheit ? "exit_top_c, \xc2\xb0"
	                            "F"
	                          : "exit_top_c, \xc2\xb0"
	                            "C",
	    .verdict = "Stable; not established as capable.",
	    .count = count,
	    .values = values,
	    .breaks = breaks,
	    .flags = flags,
	    .lower = zero + scale * 183,
	    .upper = zero + scale * 197,
	    .target = zero + scale * 190,
	    .control_low = zero + scale * 185.8,
	    .centre = zero + scale * 190.02,
	    .control_high = zero + scale * 194.2,
	    .ticks = ticks,
	    .tick_count = TICKS,
	    .curve_at = curve_at,
	    .curve_density = curve_density,
	    .curve_count = CURVE,
	    .curve_name = "normal"};
}

static void
put_marks(struct run_picture *picture, size_t count, const char *words)
{
	for (size_t i = 0; i < count; i++) {
		snprintf(labels[i], sizeof labels[i], "%s %zu", words, i);
		marks[i] = (struct run_mark){
		    i * picture->count / count, labels[i], i % 3 != 1};
	}
	picture->marks = marks;
	picture->mark_count = count;
}

static void
draw(const struct run_picture *what)
{
	struct picture picture = run_picture_make(what, "exit_top_c", "title", "words");

	assert_near(picture.size.x, 640, 1e-9);
	assert_true(picture.size.y > 200 && picture.size.y < 460);
	drawn_take(&picture);
}

static void
draw_readably(const char *which, const struct run_picture *what)
{
	draw(what);
	drawn_is_readable(which);
}

/* --- what is said ------------------------------------------------------------------ */

static void
limits_are_named_with_their_numbers(void **state)
{
	struct run_picture picture = usual(160, false);

	(void)state;
	picture.upper = 196.25;
	draw(&picture);
	drawn_has(">upper 196.25<");
	drawn_has(">lower 183<");
	drawn_has(">target 190<");
	drawn_has(">control 185.8<");
	drawn_has(">control 194.2<");
	drawn_has(">centre 190.0<");
	drawn_has(">curve: normal<");
	drawn_has(">Stable; not established as capable.<");
}

static void
what_is_not_known_is_left_out(void **state)
{
	struct run_picture picture = usual(160, false);

	(void)state;
	picture.lower = picture.target = picture.control_low = NAN;
	picture.centre = picture.control_high = NAN;
	picture.curve_at = picture.curve_density = NULL;
	picture.flags = NULL;
	picture.breaks = NULL;
	draw_readably("little known", &picture);
	drawn_has(">upper 197<");
	drawn_has(">no curve<");
	drawn_lacks("lower ");
	drawn_lacks("control ");
	drawn_lacks("centre ");
	drawn_lacks("target ");
}

/* --- points and lines ------------------------------------------------------------------ */

/* Lines from shot to shot, of the colour of no other line. */
static int
joins(void)
{
	char part[60];

	snprintf(part, sizeof part, "<polyline fill=\"none\" stroke=\"#%06x\"",
	    PALETTE_JOIN);
	return drawn_count(part);
}

static void
lines_join_neighbours_alone(void **state)
{
	struct run_picture picture = usual(20, false);

	(void)state;
	draw(&picture);
	assert_int_equal(joins(), 1);
	breaks[5] = true;
	draw(&picture);
	assert_int_equal(joins(), 2);
	values[12] = NAN;
	draw(&picture);
	assert_int_equal(joins(), 3);
	drawn_has(">absent (1)<");
	values[14] = NAN; /* 13 stands alone: a point, no line */
	draw(&picture);
	assert_int_equal(joins(), 3);
	drawn_has(">absent (2)<");
}

static int
shapes(uint32_t rgb)
{
	char part[40];

	snprintf(part, sizeof part, "<polygon fill=\"#%06x\"", rgb);
	return drawn_count(part);
}

static void
every_shot_is_one_shape(void **state)
{
	struct run_picture picture = usual(50, false);

	(void)state;
	draw(&picture);
	assert_int_equal(shapes(PALETTE_POINT), 50 + 1); /* one in the key */
	values[3] = NAN;
	values[10] = 198;
	flags[10] = RUN_OUTSIDE;
	flags[20] = RUN_SIGNAL;
	draw(&picture);
	assert_int_equal(shapes(PALETTE_POINT), 48 + 1);
	assert_int_equal(shapes(PALETTE_LIMIT), 1 + 1);
	drawn_has(">outside a limit (1)<");
	drawn_has(">a pattern points at it (1)<");
}

static void
outside_differs_by_shape_and_not_by_colour_alone(void **state)
{
	struct run_picture picture = usual(20, false);
	const char *at;
	int corners = 0;
	char part[40];

	(void)state;
	values[10] = 198;
	draw(&picture);
	snprintf(part, sizeof part, "<polygon fill=\"#%06x\"", PALETTE_LIMIT);
	at = strstr(drawn_svg(), part);
	assert_non_null(at);
	for (; *at != '>'; at++)
		corners += *at == ',';
	assert_int_equal(corners, 4);
	snprintf(part, sizeof part, "<polygon fill=\"#%06x\"", PALETTE_POINT);
	at = strstr(drawn_svg(), part);
	assert_non_null(at);
	for (corners = 0; *at != '>'; at++)
		corners += *at == ',';
	assert_int_equal(corners, 10);
}

static void
a_value_on_a_limit_is_inside(void **state)
{
	struct run_picture picture = usual(20, false);

	(void)state;
	values[10] = picture.upper;
	values[11] = picture.lower;
	draw(&picture);
	drawn_lacks("outside a limit");
	values[10] = nextafter(picture.upper, INFINITY);
	draw(&picture);
	drawn_has(">outside a limit (1)<");
}

static void
thousands_of_shots_are_drawn_as_columns(void **state)
{
	struct run_picture picture = usual(3000, false);

	(void)state;
	values[700] = 199;
	draw_readably("3000", &picture);
	drawn_has(">lowest to highest of 16 shots<");
	drawn_has(">outside a limit (1)<");
	assert_int_equal(shapes(PALETTE_POINT), 0);
	assert_int_equal(shapes(PALETTE_LIMIT), 1 + 1);
	assert_true(strlen(drawn_svg()) < 100000);
}

/* --- values and limits far apart -------------------------------------------------------- */

static void
limits_far_off_are_told_at_the_edge(void **state)
{
	struct run_picture picture = usual(60, false);

	(void)state;
	picture.lower = 100;
	picture.upper = 300;
	draw_readably("far limits", &picture);
	drawn_has(">upper 300<");
	drawn_has(">lower 100<");
	drawn_has(">192<"); /* the scale is that of the values */
	drawn_lacks(">300<");
	assert_int_equal(shapes(PALETTE_LIMIT), 2); /* arrows */
}

static void
a_wild_value_flattens_nothing(void **state)
{
	struct run_picture picture = usual(60, false);

	(void)state;
	values[20] = 1370;
	values[21] = -INFINITY;
	draw_readably("wild", &picture);
	drawn_has(">one off the scale: 1370<");
	drawn_has(">one off the scale: -inf<");
	drawn_has(">190<");
	drawn_lacks(">500<");
}

static void
many_far_values_are_no_wild_ones(void **state)
{
	struct run_picture picture = usual(60, false);

	(void)state;
	for (int i = 0; i < 6; i++)
		values[10 * i] = 260;
	draw_readably("two kinds", &picture);
	drawn_lacks("off the scale");
	drawn_has(">outside a limit (6)<");
}

/* --- degenerate ---------------------------------------------------------------------------- */

static void
nothing_is_said_to_be_nothing(void **state)
{
	struct run_picture picture = usual(30, false);

	(void)state;
	for (int i = 0; i < 30; i++)
		values[i] = NAN;
	draw_readably("all absent", &picture);
	drawn_has(">nothing has a value<");
	drawn_has(">upper 197<");
	picture.count = 0;
	picture.lower = picture.upper = picture.target = NAN;
	picture.control_low = picture.centre = picture.control_high = NAN;
	picture.curve_at = NULL;
	picture.tick_count = 0;
	draw_readably("none", &picture);
	drawn_has(">nothing has a value<");
}

static void
one_value_and_equal_values_have_a_scale(void **state)
{
	static const double rows[] = {190, 0, -7.5, 3e-7, 1e9, 1e140, 1e300};
	struct run_picture picture = usual(30, false);

	(void)state;
	picture.lower = picture.upper = picture.target = NAN;
	picture.control_low = picture.centre = picture.control_high = NAN;
	picture.curve_at = NULL;
	for (size_t k = 0; k < sizeof rows / sizeof rows[0]; k++) {
		for (int i = 0; i < 30; i++)
			values[i] = rows[k];
		picture.count = 30;
		draw_readably("equal", &picture);
		picture.count = 1;
		draw_readably("one", &picture);
	}
}

static void
extreme_numbers_do_no_harm(void **state)
{
	struct run_picture picture = usual(60, false);

	(void)state;
	for (int k = -300; k <= 300; k += 20) {
		for (int i = 0; i < 60; i++)
			values[i] = scatter() * pow(10, k);
		draw_readably("extreme", &picture);
		for (int i = 0; i < 60; i++)
			values[i] = pow(10, fabs(k / 20.0)) + scatter();
		draw_readably("offset", &picture);
	}
}

/* --- words ------------------------------------------------------------------------------------- */

static void
words_keep_apart_however_many_shots(void **state)
{
	static const size_t counts[] = {1, 2, 20, 68, 160, 400, 3000};

	(void)state;
	for (size_t i = 0; i < sizeof counts / sizeof counts[0]; i++)
		for (int f = 0; f < 2; f++) {
			struct run_picture picture = usual(counts[i], f);
			char which[60];
			snprintf(
			    which, sizeof which, "%zu shots in %c", counts[i], "CF"[f]);
			draw_readably(which, &picture);
			put_marks(&picture, 3, "lot A-0412");
			draw_readably(which, &picture);
			values[counts[i] / 2] = picture.upper + 1;
			values[counts[i] / 3] = NAN;
			flags[counts[i] / 4] = RUN_SIGNAL;
			draw_readably(which, &picture);
		}
}

static void
words_keep_apart_however_many_marks(void **state)
{
	static const char *const words[] = {"x", "lot A-0412",
	    "note: the window of the pyrometer over zone 12 was wiped by hand, twice"};

	(void)state;
	for (size_t k = 0; k < 3; k++)
		for (size_t count = 1; count <= MARKS; count += count < 15 ? 1 : 19) {
			struct run_picture picture = usual(400, false);
			char which[60];
			put_marks(&picture, count, words[k]);
			snprintf(
			    which, sizeof which, "%zu marks of kind %zu", count, k);
			draw_readably(which, &picture);
		}
}

static void
few_marks_are_named_and_many_are_numbered(void **state)
{
	struct run_picture picture = usual(400, false);

	(void)state;
	put_marks(&picture, 3, "lot A-041");
	draw(&picture);
	drawn_has(">lot A-041 0<");
	drawn_lacks(">1<");
	put_marks(&picture, 20, "lot A-041");
	draw(&picture);
	drawn_has(">lot A-041 0<");
	drawn_has(">lot A-041 19<");
	drawn_has(">1<");
	put_marks(&picture, 200, "lot A-041");
	draw(&picture);
	drawn_has(">and 169 more<"); /* of eight lines of four, the last is the count */
}

static void
marks_at_one_shot_keep_apart(void **state)
{
	struct run_picture picture = usual(100, false);

	(void)state;
	for (size_t count = 2; count < 30; count++) {
		put_marks(&picture, count, "tool 7, door inner");
		for (size_t i = 0; i < count; i++)
			marks[i].at = 97;
		draw_readably("one shot", &picture);
	}
}

static void
long_words_are_shortened_or_parted(void **state)
{
	struct run_picture picture = usual(100, false);
	char words[700];

	(void)state;
	for (size_t i = 0; i + 1 < sizeof words; i++)
		words[i] = i % 9 == 8 ? ' ' : (char)('a' + i % 26);
	words[sizeof words - 1] = '\0';
	picture.heading = picture.verdict = picture.y_label = picture.curve_name =
	    words;
	draw_readably("long words", &picture);
	memset(words, 'W', sizeof words - 1);
	draw_readably("one long word", &picture);
	put_marks(&picture, 2, "lot");
	marks[0].label = marks[1].label = words;
	draw_readably("long marks", &picture);
	picture.heading = picture.verdict = picture.y_label = picture.curve_name = "";
	marks[0].label = "";
	draw_readably("no words", &picture);
}

static void
limits_close_together_keep_their_words_apart(void **state)
{
	struct run_picture picture = usual(100, false);

	(void)state;
	picture.lower = picture.control_low = picture.centre = 190;
	picture.upper = picture.control_high = picture.target = 190.01;
	draw_readably("close limits", &picture);
	drawn_has(">upper 190.01<");
	picture.lower = picture.control_low = picture.centre = 185;
	picture.upper = picture.control_high = picture.target = 185;
	draw_readably("limits at the foot", &picture);
}

static void
a_drift_is_led_through_the_scatter(void **state)
{
	struct run_picture picture = usual(160, false);

	(void)state;
	draw(&picture);
	drawn_has(">median of 11 shots<");
	picture = usual(30, false);
	draw(&picture);
	drawn_lacks("median of");
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(limits_are_named_with_their_numbers),
	    cmocka_unit_test(what_is_not_known_is_left_out),
	    cmocka_unit_test(lines_join_neighbours_alone),
	    cmocka_unit_test(every_shot_is_one_shape),
	    cmocka_unit_test(outside_differs_by_shape_and_not_by_colour_alone),
	    cmocka_unit_test(a_value_on_a_limit_is_inside),
	    cmocka_unit_test(thousands_of_shots_are_drawn_as_columns),
	    cmocka_unit_test(limits_far_off_are_told_at_the_edge),
	    cmocka_unit_test(a_wild_value_flattens_nothing),
	    cmocka_unit_test(many_far_values_are_no_wild_ones),
	    cmocka_unit_test(nothing_is_said_to_be_nothing),
	    cmocka_unit_test(one_value_and_equal_values_have_a_scale),
	    cmocka_unit_test(extreme_numbers_do_no_harm),
	    cmocka_unit_test(words_keep_apart_however_many_shots),
	    cmocka_unit_test(words_keep_apart_however_many_marks),
	    cmocka_unit_test(few_marks_are_named_and_many_are_numbered),
	    cmocka_unit_test(marks_at_one_shot_keep_apart),
	    cmocka_unit_test(long_words_are_shortened_or_parted),
	    cmocka_unit_test(limits_close_together_keep_their_words_apart),
	    cmocka_unit_test(a_drift_is_led_through_the_scatter),
	};

	seed = seed_take(23);
	int failed = cmocka_run_group_tests(tests, NULL, NULL);

	drawn_release();
	return failed;
}
