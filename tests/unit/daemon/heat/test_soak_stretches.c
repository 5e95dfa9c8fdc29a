/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Boundaries other than two measured faces, and one stretch after another. */
#include "daemon/heat/soak.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "daemon/heat/conduction.h"
#include "tests/unit/daemon/heat/explicit.h"
#include "tests/unit/daemon/heat/series.h"
#include "tests/unit/daemon/heat/stretches.h"
#include "tests/unit/near.h"
#include "tests/unit/published.h"

#define COUNT(array) (sizeof(array) / sizeof((array)[0]))

static void
a_convection_oven_is_met(void **state)
{
	struct soak_stretch stretch = {
	    .boundary = SOAK_AIR, .from_s = 100, .to_s = 110, .air_w_m2k = 25};
	struct soak_case soak = case_empty(&amorphous, 170);
	double fo = soak_fourier(DIFFUSIVITY, THICKNESS_M, 10);
	double bi = 25 * THICKNESS_M / 2 / 0.18;
	struct soak_result result;

	(void)state;
	other.count = 0;
	readings_add(&other, 100, 25);
	readings_add(&other, 110, 25);
	stretch.air = readings_history(&other);
	add_stretch(&soak, &stretch);
	result = follow(&soak);
	assert_near(25 + 145 * series_exchange(bi, fo, 0), 169.772630, 1e-6);
	assert_near(25 + 145 * series_exchange(bi, fo, 1), 151.352583, 1e-6);
	published(SOURCE_CARSLAW_PLATE, "core of 6.35 mm after 10 s in air of 25 C, C",
	    result.state[0].core_c, 169.772630, 0.02);
	published(SOURCE_CARSLAW_PLATE, "its face, C", result.state[0].surface_top_c,
	    151.352583, 0.05);
	assert_near(
	    result.state[0].surface_bottom_c, result.state[0].surface_top_c, 1e-9);
}

/* Air that rises steadily, two hours: the sheet follows at its own distance. */
static void
oven_air_may_move(void **state)
{
	struct soak_stretch stretch = {
	    .boundary = SOAK_AIR, .from_s = 0, .to_s = 7200, .air_w_m2k = 20};
	struct soak_case soak = case_empty(&amorphous, 23);
	double rate = 150 / 7200.0, half = THICKNESS_M / 2;
	struct soak_result result;

	(void)state;
	other.count = 0;
	readings_add(&other, 0, 23);
	readings_add(&other, 7200, 173);
	stretch.air = readings_history(&other);
	add_stretch(&soak, &stretch);
	result = follow(&soak);
	/* In the end all rises alike: rate rho cp L through the face, a parabola inside. */
	assert_near(
	    173 - result.state[0].surface_top_c, rate * 1050 * 2050 * half / 20, 0.01);
	assert_near(result.state[0].surface_top_c - result.state[0].core_c,
	    rate * half * half / (2 * DIFFUSIVITY), 0.01);
}

/* 6.35 mm from a parabola of 180 C at the faces and 150 C inside into 30 C, 6 W/(m2 K) and
 * an emissivity of 0.93: to 0.1 K as another program of this project once had it (no
 * published source), and as the explicit scheme has it here. */
static void
on_the_way_to_the_form_the_faces_cool_below_the_core(void **state)
{
	static const double known[][3] = {{3, 163.5, 151.5}, {5, 159.5, 152.5},
	    {10, 153.2, 154.6}, {15, 149.1, 155.8}, {20, 146.1, 156.1}};
	struct explicit_sheet sheet = {.thickness_m = THICKNESS_M,
	    .conductivity = 0.18,
	    .density = 1050,
	    .capacity = 2050,
	    .w_m2k = 6,
	    .emissivity = 0.93,
	    .air_c = 30,
	    .limit_c = INFINITY};
	const struct conduction_face free_face = {FACE_EXCHANGE, 30, 30, 6, 0.93};
	const struct conduction_face faces[2] = {free_face, free_face};
	struct conduction conduction;
	double s = 0;

	(void)state;
	conduction_init(&conduction, &amorphous, THICKNESS_M, SOAK_NODES, 0);
	for (int i = 0; i < SOAK_NODES; i++)
		conduction.c[i] = 150 + 30 * pow((i - 20) / 20.0, 2);
	for (int i = 0; i < EXPLICIT_NODES; i++)
		sheet.c[i] = 150 + 30 * pow((i - 60) / 60.0, 2);
	for (size_t i = 0; i < COUNT(known); i++) {
		explicit_run(&sheet, known[i][0] - s);
		for (; s < known[i][0] - 1e-9; s += 0.25)
			for (int part = 0; part < (s > 0 ? 1 : 4); part++)
				conduction_step(&conduction, faces,
				    s > 0 ? 0.25 : 0.0625, !(s > 0));
		assert_near(conduction.c[0], sheet.c[0], 0.12);
		assert_near(conduction.c[20], sheet.c[60], 0.03);
		assert_near(conduction.c[0], known[i][1], 0.15);
		assert_near(conduction.c[20], known[i][2], 0.1);
	}
	assert_true(conduction.c[0] < conduction.c[20]);
}

/* Heated between measured faces, then free: each stretch goes on from the last. */
static void
a_stretch_begins_with_what_the_last_one_left(void **state)
{
	struct soak_stretch heat = {
	    .boundary = SOAK_SURFACES, .from_s = 0, .to_s = 170};
	struct soak_stretch way = {.boundary = SOAK_FREE,
	    .from_s = 170,
	    .to_s = 182,
	    .air_w_m2k = 8,
	    .air_c = 28};
	struct soak_case soak = case_empty(&amorphous, 23), parted;
	struct explicit_sheet sheet = {.thickness_m = THICKNESS_M,
	    .conductivity = 0.18,
	    .density = 1050,
	    .capacity = 2050,
	    .w_m2k = 8,
	    .emissivity = 0.93,
	    .air_c = 28,
	    .limit_c = INFINITY};
	double b = THICKNESS_M * THICKNESS_M / 4 / DIFFUSIVITY / 55;
	double fo = soak_fourier(DIFFUSIVITY, THICKNESS_M, 170);
	struct soak_result result, other_result;

	(void)state;
	fill(&face, 0, 170, 0);
	heat.top = heat.bottom = readings_history(&face);
	add_stretch(&soak, &heat);
	add_stretch(&soak, &way);
	result = follow(&soak);
	for (int i = 0; i < EXPLICIT_NODES; i++)
		sheet.c[i] = 23 + 165 * series_approach(b, fo, (i - 60) / 60.0);
	assert_near(result.state[0].core_c, sheet.c[60], 0.02);
	explicit_run(&sheet, 12);
	assert_near(result.state[1].core_c, sheet.c[60], 0.03);
	assert_near(result.state[1].surface_top_c, sheet.c[0], 0.1);
	assert_near(result.state[1].quarter_top_c, sheet.c[30], 0.05);
	/* The same heat in two stretches. */
	parted = soak;
	parted.stretches[2] = parted.stretches[1];
	parted.stretches[1] = parted.stretches[0];
	parted.stretches[0].to_s = parted.stretches[1].from_s = 80;
	parted.stretch_count = 3;
	other_result = follow(&parted);
	assert_near(other_result.state[2].core_c, result.state[1].core_c, 0.02);
}

/* The flux of which only what it did to the surface is known. */
static void
an_exit_surface_tells_the_core(void **state)
{
	static const double lag_s[] = {0, 3};
	double half = THICKNESS_M / 2, flux = 2500;
	struct published_table table = published_begin(SOURCE_CARSLAW_PLATE,
	    "core and face of 6.35 mm from its exit surface, by a flux, C");

	(void)state;
	for (size_t i = 0; i < COUNT(lag_s); i++) {
		struct soak_stretch stretch = {
		    .boundary = SOAK_EXIT, .from_s = 50, .to_s = 210};
		struct soak_case soak = case_empty(&amorphous, 23);
		double fo = soak_fourier(DIFFUSIVITY, THICKNESS_M, 160);
		double seen = soak_fourier(DIFFUSIVITY, THICKNESS_M, 160 - lag_s[i]);
		double seen_c = 23 + flux * half / 0.18 * series_flux(seen, 1);
		struct soak_result result;

		/* The mean of both sides is what counts. */
		stretch.exit_top_c = seen_c + 4;
		stretch.exit_bottom_c = seen_c - 4;
		soak.lag_s = lag_s[i];
		add_stretch(&soak, &stretch);
		result = follow(&soak);
		published_add(&table, result.state[0].core_c,
		    23 + flux * half / 0.18 * series_flux(fo, 0), 0.02);
		published_add(&table, result.state[0].surface_top_c,
		    23 + flux * half / 0.18 * series_flux(fo, 1), 0.02);
		/* One side alone stands for both. */
		soak.stretches[0].exit_top_c = NAN;
		soak.stretches[0].exit_bottom_c = seen_c;
		assert_near(
		    follow(&soak).state[0].core_c, result.state[0].core_c, 1e-6);
	}
	published_end(&table);
}

static void
an_exit_surface_tells_the_core_of_a_melting_sheet(void **state)
{
	const struct conduction_face in = {.kind = FACE_FLUX, .from = 4000, .to = 4000};
	const struct conduction_face faces[2] = {in, in};

	(void)state;
	for (int s = 100; s <= 300; s += 50) {
		struct soak_stretch stretch = {
		    .boundary = SOAK_EXIT, .from_s = 0, .to_s = s};
		struct soak_case soak = case_empty(&melting, 23);
		struct conduction conduction;
		struct soak_result result;

		conduction_init(&conduction, &melting, THICKNESS_M, SOAK_NODES, 23);
		for (int i = 0; i < 4 * s; i++)
			conduction_step(&conduction, faces, 0.25, true);
		stretch.exit_top_c = stretch.exit_bottom_c = conduction.c[0];
		add_stretch(&soak, &stretch);
		result = follow(&soak);
		assert_near(result.state[0].core_c, conduction.c[20], 0.01);
	}
}

/* The second oven of two, whose sheets are seen as they leave each. */
static void
exits_may_follow_each_other(void **state)
{
	struct soak_stretch first = {.boundary = SOAK_EXIT,
	    .from_s = 0,
	    .to_s = 90,
	    .exit_top_c = 140,
	    .exit_bottom_c = 144};
	struct soak_stretch second = {.boundary = SOAK_EXIT,
	    .from_s = 90,
	    .to_s = 180,
	    .exit_top_c = 180,
	    .exit_bottom_c = 176};
	struct soak_case soak = case_empty(&amorphous, 23);
	struct soak_result result;

	(void)state;
	add_stretch(&soak, &first);
	add_stretch(&soak, &second);
	result = follow(&soak);
	assert_near(result.state[0].surface_top_c, 142, 1e-3);
	assert_near(result.state[1].surface_top_c, 178, 1e-3);
	assert_true(result.state[1].core_c > result.state[0].core_c + 20);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(a_convection_oven_is_met),
	    cmocka_unit_test(oven_air_may_move),
	    cmocka_unit_test(on_the_way_to_the_form_the_faces_cool_below_the_core),
	    cmocka_unit_test(a_stretch_begins_with_what_the_last_one_left),
	    cmocka_unit_test(an_exit_surface_tells_the_core),
	    cmocka_unit_test(an_exit_surface_tells_the_core_of_a_melting_sheet),
	    cmocka_unit_test(exits_may_follow_each_other),
	};

	return cmocka_run_group_tests(tests, make_substances, NULL);
}
