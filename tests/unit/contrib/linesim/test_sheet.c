/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>

#include <cmocka.h>
#include <math.h>

#include "contrib/linesim/sheet.h"
#include "tests/unit/near.h"
#include "tests/unit/published.h"

#define HALF_M (SHEET_THICKNESS_M / 2)

static double
seconds_of(double fourier)
{
	double diffusivity = SHEET_CONDUCTIVITY / (SHEET_DENSITY * SHEET_HEAT_CAPACITY);
	return fourier * HALF_M * HALF_M / diffusivity;
}

/* Both faces held at 1 from a sheet at 0: what is still missing in the core. */
static double
core_missing(double fourier, double step_s)
{
	static double flux[SHEET_FACES][SHEET_PATCHES];
	struct sheet sheet;
	long steps = lround(seconds_of(fourier) / step_s);

	sheet_init(&sheet, 0, SHEET_THICKNESS_M, 1);
	for (long i = 0; i < steps; i++) {
		sheet.c[0][0] = sheet.c[0][SHEET_NODES - 1] = 1;
		sheet_conduct(&sheet, flux, step_s);
	}
	return 1 - sheet_core_c(&sheet, 0);
}

/* Carslaw and Jaeger, Conduction of Heat in Solids, ch. III: the slab with both
 * faces suddenly at another temperature, theta of the midplane. */
static void
a_step_on_both_faces_follows_the_series_solution(void **state)
{
	(void)state;
	/* Fifteen nodes are 0.5 % off while the heat has just come to the core. */
	struct published_table table = published_begin(SOURCE_CARSLAW_PLATE,
	    "both faces stepped: core of the simulated line's sheet, 15 nodes");

	published_add(&table, core_missing(0.1, 0.01), 0.949306, 0.006);
	published_add(&table, core_missing(0.5, 0.01), 0.370777, 0.003);
	published_add(&table, core_missing(1.0, 0.01), 0.107977, 0.003);
	published_add(&table, core_missing(0.5, 0.1), 0.370777, 0.003);
	published_end(&table);
}

static void
push(struct sheet *sheet, double watts_per_m2, double seconds, double step_s)
{
	double flux[SHEET_FACES][SHEET_PATCHES];

	for (int face = 0; face < SHEET_FACES; face++)
		for (int patch = 0; patch < SHEET_PATCHES; patch++)
			flux[face][patch] = watts_per_m2;
	for (long i = 0; i < lround(seconds / step_s); i++)
		sheet_conduct(sheet, flux, step_s);
}

/* Same book, ch. III: constant flux on both faces, (T - T0) / (q L / k). */
static void
a_constant_flux_follows_the_series_solution(void **state)
{
	(void)state;
	static const struct {
		double fourier, core, surface;
	} rows[] = {{0.5, 0.334791, 0.831876}, {1, 0.833344, 1.333323}};
	struct published_table table = published_begin(SOURCE_CARSLAW_PLATE,
	    "a flux into both faces: core and face of that sheet");

	for (int i = 0; i < 2; i++) {
		struct sheet sheet;
		const double flux = 5000, unit_c = flux * HALF_M / SHEET_CONDUCTIVITY;
		sheet_init(&sheet, 0, SHEET_THICKNESS_M, 1);
		push(&sheet, flux, seconds_of(rows[i].fourier), 0.02);
		published_add(
		    &table, sheet_core_c(&sheet, 3) / unit_c, rows[i].core, 0.003);
		published_add(&table, sheet_surface_c(&sheet, 1, 3) / unit_c,
		    rows[i].surface, 0.003);
	}
	published_end(&table);
}

static void
no_heat_is_made_or_lost(void **state)
{
	(void)state;
	struct sheet sheet;
	const double flux = 4000, seconds = 120;
	double put_j = flux * seconds * SHEET_FACES * SHEET_LENGTH_M * SHEET_WIDTH_M;

	sheet_init(&sheet, 23, SHEET_THICKNESS_M, 1);
	push(&sheet, flux, seconds, 0.1);
	assert_near(sheet_heat_above_j(&sheet, 23) / put_j, 1, 1e-9);
}

static double
sag_after(double temperature_c, double fluidity, double seconds)
{
	struct sheet sheet;

	sheet_init(&sheet, temperature_c, SHEET_THICKNESS_M, fluidity);
	for (long i = 0; i < lround(seconds / 0.1); i++)
		sheet_sink(&sheet, 0.1);
	return sheet.sag_m;
}

/* In the model the cube of the sag grows as time times melt flow. */
static void
sag_grows_with_heat_and_melt_flow(void **state)
{
	(void)state;
	assert_true(sag_after(20, 1, 200) < 0.1 * SHEET_SAG_TRIP_M);
	assert_true(sag_after(160, 1, 10) > sag_after(150, 1, 10));
	assert_near(sag_after(150, 2, 10), sag_after(150, 1, 20), 1e-12);
	assert_near(pow(sag_after(150, 1, 20), 3) - pow(sag_after(150, 1, 10), 3),
	    pow(sag_after(150, 1, 30), 3) - pow(sag_after(150, 1, 20), 3), 1e-12);
}

static void
the_face_cools_and_the_core_follows_late(void **state)
{
	(void)state;
	struct sheet sheet;

	sheet_init(&sheet, 180, SHEET_THICKNESS_M, 1);
	for (int i = 0; i < 100; i++)
		sheet_cool(&sheet, 25, 0.1);
	assert_true(sheet_surface_c(&sheet, 0, 0) < 165);
	assert_true(sheet_core_c(&sheet, 0) > 179);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(a_step_on_both_faces_follows_the_series_solution),
	    cmocka_unit_test(a_constant_flux_follows_the_series_solution),
	    cmocka_unit_test(no_heat_is_made_or_lost),
	    cmocka_unit_test(sag_grows_with_heat_and_melt_flow),
	    cmocka_unit_test(the_face_cools_and_the_core_follows_late),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
