/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Whether colours are told apart, also by colour-blind readers: distances in CIE L*a*b* (D65,
 * CIE 1976) after simulation with the matrices of Machado, Oliveira and Fernandes, "A
 * physiologically-based model for simulation of color vision deficiency", IEEE TVCG 15, 2009,
 * severity 1.0, on linear RGB (from memory; each row adds up to 1, as it must for grey).
 */
#include "cli/picture/palette.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>

#include <cmocka.h>

#include "tests/unit/near.h"

enum { SIGHTS = 4 };
static const struct sight {
	const char *name;
	double of[3][3];
} sights[SIGHTS] = {
    {"all cones", {{1, 0, 0}, {0, 1, 0}, {0, 0, 1}}},
    {"protanopia", {{0.152286, 1.052583, -0.204868}, {0.114503, 0.786281, 0.099216},
		       {-0.003882, -0.048116, 1.051998}}},
    {"deuteranopia", {{0.367322, 0.860646, -0.227968}, {0.280085, 0.672501, 0.047413},
			 {-0.011820, 0.042940, 0.968881}}},
    {"tritanopia", {{1.255528, -0.076749, -0.178779}, {-0.078411, 0.930809, 0.147602},
		       {0.004733, 0.691367, 0.303900}}},
};

struct lab {
	double l, a, b;
};

static double
linear(uint32_t rgb, int shift)
{
	double c = (double)((rgb >> shift) & 0xff) / 255;

	return c <= 0.04045 ? c / 12.92 : pow((c + 0.055) / 1.055, 2.4);
}

static double
bent(double t)
{
	return t > 216.0 / 24389 ? cbrt(t) : (24389.0 / 27 * t + 16) / 116;
}

static struct lab
seen(uint32_t rgb, const struct sight *sight)
{
	const double in[3] = {linear(rgb, 16), linear(rgb, 8), linear(rgb, 0)};
	double c[3];

	for (int i = 0; i < 3; i++) {
		c[i] = sight->of[i][0] * in[0] + sight->of[i][1] * in[1] +
		       sight->of[i][2] * in[2];
		c[i] = fmin(fmax(c[i], 0), 1);
	}
	double x =
	    bent((0.4124564 * c[0] + 0.3575761 * c[1] + 0.1804375 * c[2]) / 0.95047);
	double y = bent(0.2126729 * c[0] + 0.7151522 * c[1] + 0.0721750 * c[2]);
	double z =
	    bent((0.0193339 * c[0] + 0.1191920 * c[1] + 0.9503041 * c[2]) / 1.08883);
	return (struct lab){116 * y - 16, 500 * (x - y), 200 * (y - z)};
}

static double
distance(uint32_t one, uint32_t other, const struct sight *sight)
{
	struct lab a = seen(one, sight), b = seen(other, sight);

	return sqrt(pow(a.l - b.l, 2) + pow(a.a - b.a, 2) + pow(a.b - b.b, 2));
}

static void
assert_apart(const uint32_t *colours, size_t count, double least)
{
	for (int k = 0; k < SIGHTS; k++)
		for (size_t i = 0; i < count; i++)
			for (size_t j = i + 1; j < count; j++) {
				double apart =
				    distance(colours[i], colours[j], &sights[k]);
				if (apart < least)
					fail_msg("%06x and %06x are %.1f apart to "
						 "%s, at least %.0f is wanted",
					    colours[i], colours[j], apart,
					    sights[k].name, least);
			}
}

static void
the_ruler_knows_white_black_and_grey(void **state)
{
	(void)state;
	for (int k = 0; k < SIGHTS; k++) {
		assert_near(seen(0xffffff, &sights[k]).l, 100, 0.01);
		assert_near(seen(0x000000, &sights[k]).l, 0, 0.01);
		/* grey is grey to all */
		assert_near(seen(0x808080, &sights[k]).a, 0, 0.05);
	}
	/* red and green of one lightness: apart, but hardly to a deuteranope */
	assert_true(distance(0xb35c5c, 0x7a7f2f, &sights[0]) > 40);
	assert_true(distance(0xb35c5c, 0x7a7f2f, &sights[2]) < 25);
	assert_near(palette_contrast(0x000000, 0xffffff), 21, 1e-9);
	assert_near(palette_contrast(0x777777, 0xffffff), 4.48, 0.005);
}

static void
what_means_different_things_is_told_apart_by_all(void **state)
{
	static const uint32_t run[] = {PALETTE_POINT, PALETTE_SLOW, PALETTE_LIMIT,
	    PALETTE_TARGET, PALETTE_CONTROL};

	(void)state;
	assert_apart(run, sizeof run / sizeof run[0], 20);
	assert_apart(palette_line, PALETTE_LINES, 35);
}

static void
lines_and_points_stand_out_from_their_ground(void **state)
{
	const uint32_t drawn[] = {PALETTE_POINT, PALETTE_SLOW, PALETTE_LIMIT,
	    PALETTE_TARGET, PALETTE_CONTROL, palette_line[0], palette_line[1],
	    palette_line[2]};

	(void)state;
	for (size_t i = 0; i < sizeof drawn / sizeof drawn[0]; i++)
		assert_true(palette_contrast(drawn[i], PALETTE_GROUND) >= 3);
}

static void
words_have_contrast_enough_on_every_ground(void **state)
{
	static const uint32_t grounds[] = {
	    PALETTE_GROUND, PALETTE_BEYOND, PALETTE_BAR, PALETTE_JOIN};

	(void)state;
	for (size_t i = 0; i < sizeof grounds / sizeof grounds[0]; i++)
		assert_true(palette_contrast(PALETTE_INK, grounds[i]) >= 4.5);
	assert_true(palette_contrast(PALETTE_FAINT, PALETTE_GROUND) >= 4.5);
	assert_true(palette_contrast(PALETTE_FAINT, PALETTE_BEYOND) >= 4.5);
	for (int i = -1000; i <= 1000; i++) {
		uint32_t amount = palette_amount(fabs(i / 1000.0));
		uint32_t difference = palette_difference(i / 1000.0);
		assert_true(palette_contrast(palette_words_on(amount), amount) >= 4.5);
		assert_true(
		    palette_contrast(palette_words_on(difference), difference) >= 4.5);
	}
}

static void
more_is_darker_to_all_and_in_grey(void **state)
{
	(void)state;
	for (int k = 0; k < SIGHTS; k++)
		for (int i = 0; i < 100; i++)
			assert_true(
			    seen(palette_amount(i / 100.0), &sights[k]).l >
			    seen(palette_amount((i + 1) / 100.0), &sights[k]).l);
}

static void
less_and_more_are_told_apart_by_all(void **state)
{
	(void)state;
	for (int i = 3; i <= 10; i++) {
		const uint32_t pair[] = {palette_difference(-i / 10.0),
		    palette_difference(0), palette_difference(i / 10.0)};
		assert_apart(pair, 3, i < 5 ? 8 : 15);
	}
}

static void
beyond_its_ends_a_scale_stays_at_them(void **state)
{
	(void)state;
	assert_int_equal(palette_amount(-3), palette_amount(0));
	assert_int_equal(palette_amount(7), palette_amount(1));
	assert_int_equal(palette_difference(-3), palette_difference(-1));
	assert_int_equal(palette_difference(7), palette_difference(1));
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(the_ruler_knows_white_black_and_grey),
	    cmocka_unit_test(what_means_different_things_is_told_apart_by_all),
	    cmocka_unit_test(lines_and_points_stand_out_from_their_ground),
	    cmocka_unit_test(words_have_contrast_enough_on_every_ground),
	    cmocka_unit_test(more_is_darker_to_all_and_in_grey),
	    cmocka_unit_test(less_and_more_are_told_apart_by_all),
	    cmocka_unit_test(beyond_its_ends_a_scale_stays_at_them),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
