/* SPDX-License-Identifier: GPL-3.0-or-later */
/* No step loses or makes heat, and melting moves as it must. */
#include "daemon/heat/conduction.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "tests/reference/conduction.h"
#include "tests/unit/daemon/heat/series.h"
#include "tests/unit/daemon/heat/sheets.h"
#include "tests/unit/near.h"
#include "tests/unit/published.h"

enum { KINDS = 3, STEPS = 300 };

/* Constant properties, properties that vary, and melting. */
static struct substance substances[KINDS];
static struct material_settings materials[KINDS];

static int
make_substances(void **state)
{
	(void)state;
	materials[0] = materials[1] = material_amorphous();
	materials[1].heat_capacity = (struct material_curve){
	    .count = 3, .at_c = {20, 110, 180}, .value = {1300, 1900, 2100}};
	materials[1].conductivity = curve_line(20, 0.17, 180, 0.21);
	materials[2] = material_melting();
	for (int i = 0; i < KINDS; i++)
		if (substance_init(&substances[i], &materials[i], NULL))
			return 1;
	return 0;
}

/* Its faces are hot and its core is not. */
static void
begin(struct conduction *conduction, int kind)
{
	conduction_init(conduction, &substances[kind], 0.006, SOAK_NODES, 23);
	for (int i = 0; i < SOAK_NODES; i++) {
		double x = (i - SOAK_NODES / 2) / (SOAK_NODES / 2.0);

		conduction->c[i] = 90 + 100 * x * x + 10 * x;
	}
}

static void
an_insulated_sheet_keeps_its_heat(void **state)
{
	const struct conduction_face faces[2] = {
	    {.kind = FACE_FLUX}, {.kind = FACE_FLUX}};

	(void)state;
	for (int kind = 0; kind < KINDS; kind++)
		for (int damped = 0; damped < 2; damped++) {
			struct conduction conduction;
			double before;

			begin(&conduction, kind);
			before = conduction_enthalpy(&conduction);
			for (int i = 0; i < STEPS; i++)
				conduction_step(&conduction, faces, 1, damped);
			assert_near(
			    conduction_enthalpy(&conduction) / before, 1, 1e-10);
			/* And it did even out. */
			assert_true(fabs(conduction.c[0] - conduction.c[20]) < 10);
		}
}

static void
what_flows_in_is_what_it_gains(void **state)
{
	const struct conduction_face faces[2] = {
	    {.kind = FACE_FLUX, .from = 5000, .to = 5000},
	    {.kind = FACE_FLUX, .from = 3000, .to = 3000}};

	(void)state;
	for (int kind = 0; kind < KINDS; kind++)
		for (int damped = 0; damped < 2; damped++) {
			struct conduction conduction;
			double before, gain;

			conduction_init(
			    &conduction, &substances[kind], 0.006, SOAK_NODES, 23);
			before = conduction_enthalpy(&conduction);
			for (int i = 0; i < STEPS; i++)
				conduction_step(&conduction, faces, 1, damped);
			gain = conduction_enthalpy(&conduction) - before;
			assert_near(gain / (STEPS * 8000.0), 1, 1e-10);
		}
}

/* 5.670374419e-8 W/(m2 K4): Stefan and Boltzmann's constant, CODATA 2018. */
static double
lost_w_m2(double c, double air_c)
{
	return 12 * (c - air_c) +
	       0.93 * 5.670374419e-8 * (pow(c + 273.15, 4) - pow(air_c + 273.15, 4));
}

static void
a_free_face_loses_what_its_temperature_says(void **state)
{
	const struct conduction_face face = {.kind = FACE_EXCHANGE,
	    .from = 25,
	    .to = 25,
	    .w_m2k = 12,
	    .emissivity = 0.93};
	const struct conduction_face faces[2] = {face, face};
	struct published_table table = published_begin(SOURCE_CODATA,
	    "heat that a free sheet loses over what its faces radiate and convect");

	(void)state;
	for (int kind = 0; kind < KINDS; kind++) {
		struct conduction conduction;
		double lost = 0, before;

		begin(&conduction, kind);
		before = conduction_enthalpy(&conduction);
		for (int i = 0; i < 60; i++) {
			conduction_step(&conduction, faces, 0.5, true);
			lost += 0.5 * (lost_w_m2(conduction.c[0], 25) +
					  lost_w_m2(conduction.c[40], 25));
		}
		published_add(&table,
		    (before - conduction_enthalpy(&conduction)) / lost, 1, 1e-8);
	}
	published_end(&table);
}

/* A material that melts within 2 K, steps of 5 s: nodes jump over the melting in one step,
 * and yet no heat of fusion is lost. */
static void
newton_ends_however_sharp_the_melting(void **state)
{
	const struct conduction_face faces[2] = {
	    {.kind = FACE_FLUX, .from = 9000, .to = 9000},
	    {.kind = FACE_FLUX, .from = 9000, .to = 9000}};
	struct material_settings sharp = material_melting();
	struct substance substance;
	struct conduction conduction;
	double before, gain;

	(void)state;
	sharp.melting_width_dc = 0.5;
	assert_int_equal(substance_init(&substance, &sharp, NULL), 0);
	conduction_init(&conduction, &substance, 0.006, SOAK_NODES, 23);
	before = conduction_enthalpy(&conduction);
	for (int i = 0; i < 50; i++)
		conduction_step(&conduction, faces, 5, true);
	gain = conduction_enthalpy(&conduction) - before;
	assert_near(gain / (250 * 18000.0), 1, 1e-6);
	assert_true(conduction.c[20] > 140);
	assert_true(conduction.passes < 50 * 12);
}

static void
passes_are_few(void **state)
{
	const struct conduction_face faces[2] = {
	    {.kind = FACE_FLUX, .from = 5000, .to = 5000},
	    {.kind = FACE_FLUX, .from = 5000, .to = 5000}};
	/* on the average; constant properties need exactly one */
	static const double most[KINDS] = {1, 4, 5};

	(void)state;
	for (int kind = 0; kind < KINDS; kind++) {
		struct conduction conduction;

		conduction_init(&conduction, &substances[kind], 0.006, SOAK_NODES, 23);
		for (int i = 0; i < STEPS; i++)
			conduction_step(&conduction, faces, 1, kind == 2);
		assert_true(conduction.passes <= most[kind] * STEPS);
	}
}

/* Conductivity and heat capacity that rise alike with temperature: Kirchhoff's transform,
 * the integral of the conductivity, obeys the plain equation (Carslaw and Jaeger, 1.6), so
 * a step of both faces has the plain series.  Lost to the nodes and steps: 0.05 K. */
static void
properties_that_vary_are_met_through_kirchhoffs_transform(void **state)
{
	struct material_settings material = material_amorphous();
	const struct conduction_face faces[2] = {
	    {FACE_TEMPERATURE, 180, 180, 0, 0}, {FACE_TEMPERATURE, 180, 180, 0, 0}};
	double diffusivity = 0.15 / 1050 / 1300, half = 0.003, rise = 0.1 / 0.15 / 200;
	struct substance substance;
	struct conduction conduction;
	struct published_table table = published_begin(SOURCE_CARSLAW_KIRCHHOFF,
	    "core where properties rise with temperature, faces stepped, C");

	(void)state;
	material.conductivity = curve_line(0, 0.15, 200, 0.25);
	material.heat_capacity = curve_line(0, 1300, 200, 1300 * 0.25 / 0.15);
	assert_int_equal(substance_init(&substance, &material, NULL), 0);
	conduction_init(&conduction, &substance, 2 * half, SOAK_NODES, 20);
	for (int s = 0; s < 120; s++) {
		double cold = 20 + rise * 20 * 20 / 2, hot = 180 + rise * 180 * 180 / 2;
		double left, core;

		for (int part = 0; part < (s == 0 ? 4 : 1); part++)
			conduction_step(&conduction, faces, s == 0 ? 0.25 : 1, s == 0);
		if (s % 20 != 19)
			continue;
		left = series_step(diffusivity * (s + 1) / half / half, 0);
		core = hot - left * (hot - cold);
		published_add(&table, conduction.c[SOAK_NODES / 2],
		    (sqrt(1 + 2 * rise * core) - 1) / rise, 0.05);
	}
	published_end(&table);
}

/* Four times the nodes and a twentieth of the step: what a melting core misses of the
 * reference goes away, so it was the grid's. */
static void
a_finer_grid_meets_the_melting_reference(void **state)
{
	struct conduction conduction;
	double s = 0;
	struct published_table table = published_begin(SOURCE_MELTING_LINES,
	    "core of 6 mm while it melts, 161 nodes, steps of 0.05 s, C");

	(void)state;
	conduction_init(&conduction, &substances[2], 0.006, 161, 23);
	for (size_t i = 0; i < sizeof conduction_melting / sizeof conduction_melting[0];
	     i++) {
		long steps = lround((conduction_melting[i].s - s) / 0.05);

		for (long step = 0; step < steps; step++) {
			struct conduction_face face = {.kind = FACE_TEMPERATURE};
			struct conduction_face faces[2];

			face.from =
			    23 + 172 * (1 - exp(-(s + (double)step * 0.05) / 60));
			face.to =
			    23 + 172 * (1 - exp(-(s + (double)(step + 1) * 0.05) / 60));
			faces[0] = faces[1] = face;
			conduction_step(&conduction, faces, 0.05, true);
		}
		s = conduction_melting[i].s;
		published_add(
		    &table, conduction.c[80], conduction_melting[i].core_c, 0.015);
	}
	published_end(&table);
}

/* The root of l exp(l^2) erf(l) = Ste / sqrt(pi): Carslaw and Jaeger, "Conduction of Heat
 * in Solids", 2nd edition, 11.2. */
static double
stefan_root(double ste)
{
	double low = 0, high = 3;

	for (int i = 0; i < 100; i++) {
		double l = (low + high) / 2;

		if (l * exp(l * l) * erf(l) < ste / sqrt(M_PI))
			low = l;
		else
			high = l;
	}
	return low;
}

/* How deep it has melted, in metres. */
static double
melted_m(const struct conduction *conduction, double melting_c)
{
	const double *c = conduction->c;
	int i = 0;

	while (i + 2 < conduction->nodes && c[i + 1] > melting_c)
		i++;
	return conduction->node_m * (i + (c[i] - melting_c) / (c[i] - c[i + 1]));
}

/* A solid all but at its melting point, one face suddenly hot: the front goes as the root
 * of time.  Its true melting is sharp and ours is a bell of 0.15 K, a node 1/160 of the
 * sheet: within 1.5 %. */
static void
a_melting_front_moves_as_stefan_says(void **state)
{
	static const double roots[][2] = {
	    {0.5, 0.464786}, {1, 0.620063}, {2, 0.800601}};
	struct published_table table = published_begin(SOURCE_CARSLAW_MELTING,
	    "depth of the melting front over twice the root of diffusivity times time");

	(void)state;
	for (size_t i = 0; i < 3; i++) {
		struct material_settings material = material_melting();
		struct substance substance;
		struct conduction conduction;
		struct conduction_face faces[2] = {
		    {FACE_TEMPERATURE, 231, 231, 0, 0}, {.kind = FACE_FLUX}};
		double diffusivity = 0.3 / 950 / 2000;

		material.heat_capacity = curve_level(2000);
		material.conductivity = curve_level(0.3);
		material.melting_width_dc = 0.15;
		material.fusion_j_kg = 2000 * 100 / roots[i][0];
		assert_near(stefan_root(roots[i][0]), roots[i][1], 1e-6);
		assert_int_equal(substance_init(&substance, &material, NULL), 0);
		conduction_init(&conduction, &substance, 0.01, 161, 130.4);
		for (int step = 0; step < 1000; step++)
			conduction_step(&conduction, faces, 0.1, true);
		published_add(&table,
		    melted_m(&conduction, 131) / (2 * sqrt(diffusivity * 100)),
		    roots[i][1], 0.015 * roots[i][1]);
	}
	published_end(&table);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(an_insulated_sheet_keeps_its_heat),
	    cmocka_unit_test(what_flows_in_is_what_it_gains),
	    cmocka_unit_test(a_free_face_loses_what_its_temperature_says),
	    cmocka_unit_test(newton_ends_however_sharp_the_melting),
	    cmocka_unit_test(passes_are_few),
	    cmocka_unit_test(properties_that_vary_are_met_through_kirchhoffs_transform),
	    cmocka_unit_test(a_finer_grid_meets_the_melting_reference),
	    cmocka_unit_test(a_melting_front_moves_as_stefan_says),
	};

	return cmocka_run_group_tests(tests, make_substances, NULL);
}
