/* SPDX-License-Identifier: GPL-3.0-or-later */
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

#define COUNT(array) (sizeof(array) / sizeof((array)[0]))

/* Dimensionless: half of the thickness, diffusivity and conductivity are 1; time is Fo. */
struct plate {
	struct substance substance;
	struct conduction conduction;
	struct conduction_face faces[2];
	const struct conduction_value *value;
};

/* The step of 1 s in a sheet of 6.35 mm with 8.36e-8 m2/s. */
#define USUAL_STEP (1 / 120.5)

static double
face_at(const struct conduction_value *value, double fo, int side)
{
	switch (value->kind) {
	case CASE_STEP:
	case CASE_STEP_MEAN:
	case CASE_FLUX:
		return 1;
	case CASE_ZETA:
	case CASE_C1:
	case CASE_EXCHANGE:
		return 0; /* the air; the plate starts at 1 */
	case CASE_RAMP:
		return fo;
	case CASE_TWO_SIDED:
		return side ? 0 : 1;
	case CASE_APPROACH:
		return 1 - exp(-value->parameter * fo);
	}
	return NAN;
}

static void
plate_init(struct plate *plate, const struct conduction_value *value, int nodes)
{
	struct conduction_face face = {.kind = FACE_TEMPERATURE};
	double start = 0;

	if (value->kind == CASE_FLUX)
		face.kind = FACE_FLUX;
	if (value->kind == CASE_EXCHANGE || value->kind == CASE_ZETA ||
	    value->kind == CASE_C1) {
		face.kind = FACE_EXCHANGE;
		face.w_m2k = value->parameter;
		start = 1;
	}
	plate->value = value;
	plate->faces[0] = plate->faces[1] = face;
	substance_init_diffusivity(&plate->substance, 1);
	conduction_init(&plate->conduction, &plate->substance, 2, nodes, start);
}

static void
plate_step(struct plate *plate, double from_fo, double step_fo, bool damped)
{
	for (int side = 0; side < 2; side++) {
		plate->faces[side].from = face_at(plate->value, from_fo, side);
		plate->faces[side].to = face_at(plate->value, from_fo + step_fo, side);
	}
	conduction_step(&plate->conduction, plate->faces, step_fo, damped);
}

static void
plate_run(struct plate *plate, double from_fo, double to_fo, int steps, bool backward)
{
	double step = (to_fo - from_fo) / steps;

	for (int i = 0; i < steps; i++) {
		double fo = from_fo + i * step;

		if (i > 0 || from_fo > 0 || backward) {
			plate_step(plate, fo, step, backward);
			continue;
		}
		for (int part = 0; part < 4; part++)
			plate_step(plate, fo + part * step / 4, step / 4, true);
	}
}

static double
plate_at(const struct plate *plate, double x)
{
	int middle = plate->conduction.nodes / 2;

	return plate->conduction.c[middle + (int)lround(x * middle)];
}

/* What the table has. */
static double
plate_value(struct plate *plate)
{
	const struct conduction_value *value = plate->value;
	double core, zeta;

	switch (value->kind) {
	case CASE_STEP:
		return 1 - plate_at(plate, value->place);
	case CASE_STEP_MEAN:
		return 1 - conduction_mean_c(&plate->conduction);
	case CASE_RAMP:
		return value->fo - plate_at(plate, value->place);
	case CASE_TWO_SIDED:
		return plate->conduction
		    .c[lround(value->place * (plate->conduction.nodes - 1))];
	case CASE_EXCHANGE:
	case CASE_FLUX:
	case CASE_APPROACH:
		return plate_at(plate, value->place);
	case CASE_ZETA:
	case CASE_C1: /* from how it dies away once one term is left */
		core = plate_at(plate, 0);
		plate_run(plate, 1, 2, 120, false);
		zeta = sqrt(log(core / plate_at(plate, 0)));
		return value->kind == CASE_ZETA ? zeta : core * exp(zeta * zeta);
	}
	return NAN;
}

static double
summed(const struct conduction_value *value)
{
	switch (value->kind) {
	case CASE_STEP:
		return series_step(value->fo, value->place);
	case CASE_STEP_MEAN:
		return series_step_mean(value->fo);
	case CASE_ZETA:
		return series_zeta(value->parameter, 0);
	case CASE_C1:
		return series_c1(series_zeta(value->parameter, 0));
	case CASE_EXCHANGE:
		return series_exchange(value->parameter, value->fo, value->place);
	case CASE_RAMP:
		return series_ramp(value->fo, value->place);
	case CASE_FLUX:
		return series_flux(value->fo, value->place);
	case CASE_TWO_SIDED:
		return series_two_sided(value->fo, value->place);
	case CASE_APPROACH:
		return series_approach(value->parameter, value->fo, value->place);
	}
	return NAN;
}

/* What each kind is, for the summary. */
static const char *const kind_names[] = {
    [CASE_STEP] = "both faces stepped: core and quarter, 41 nodes",
    [CASE_STEP_MEAN] = "both faces stepped: the mean",
    [CASE_ZETA] = "first root of z tan z = Bi, from how it dies away",
    [CASE_C1] = "first coefficient of exchange at the faces",
    [CASE_EXCHANGE] = "exchange at both faces: core and face",
    [CASE_RAMP] = "both faces ramped: lag of core and quarter",
    [CASE_FLUX] = "a flux into both faces: core and face",
    [CASE_TWO_SIDED] = "one face stepped, the other kept",
    [CASE_APPROACH] = "both faces near a limit exponentially: core",
};

/* The scheme's own error with 41 nodes and the usual step: measured, rounded up.  The
 * largest are those just after a jump (Fo 0.05), and at a face that takes a flux. */
static double
scheme_error(enum conduction_case kind)
{
	switch (kind) {
	case CASE_STEP:
	case CASE_STEP_MEAN:
		return 8e-4;
	case CASE_ZETA:
		return 4e-4;
	case CASE_C1:
		return 6e-4;
	case CASE_EXCHANGE:
		return 1.6e-4;
	case CASE_RAMP:
		return 1.1e-4;
	case CASE_FLUX:
		return 9e-4;
	case CASE_TWO_SIDED:
		return 3e-4;
	case CASE_APPROACH:
		return 8e-5;
	}
	return 0;
}

static void
the_series_are_those_of_the_table(void **state)
{
	(void)state;
	for (size_t i = 0; i < COUNT(conduction_values); i++)
		assert_near(
		    summed(&conduction_values[i]), conduction_values[i].value, 1e-9);
}

static void
every_value_of_the_table_is_met(void **state)
{
	size_t count = COUNT(conduction_values);
	struct published_table tables[COUNT(kind_names)];

	(void)state;
	assert_int_equal(count, 118);
	for (size_t kind = 0; kind < COUNT(kind_names); kind++)
		tables[kind] = published_begin(SOURCE_CARSLAW_PLATE, kind_names[kind]);
	for (size_t i = 0; i < count; i++) {
		const struct conduction_value *value = &conduction_values[i];
		double to_fo = value->fo > 0 ? value->fo : 1;
		struct plate plate;

		plate_init(&plate, value, 41);
		plate_run(&plate, 0, to_fo, (int)ceil(to_fo / USUAL_STEP), false);
		published_add(&tables[value->kind], plate_value(&plate), value->value,
		    scheme_error(value->kind));
	}
	for (size_t kind = 0; kind < COUNT(kind_names); kind++)
		published_end(&tables[kind]);
}

/* Four times the nodes and 16 times the steps: the errors must all but vanish. */
static void
a_finer_grid_meets_them_closer(void **state)
{
	struct published_table table = published_begin(SOURCE_CARSLAW_PLATE,
	    "all but the roots, 161 nodes and 16 times the steps");

	(void)state;
	for (size_t i = 0; i < COUNT(conduction_values); i++) {
		const struct conduction_value *value = &conduction_values[i];
		struct plate plate;

		if (value->kind == CASE_ZETA || value->kind == CASE_C1)
			continue; /* they run on with usual steps */
		plate_init(&plate, value, 161);
		plate_run(&plate, 0, value->fo, (int)ceil(16 * value->fo / USUAL_STEP),
		    false);
		published_add(&table, plate_value(&plate), value->value,
		    scheme_error(value->kind) / 10);
	}
	published_end(&table);
}

static void
an_insulated_parabola_evens_out(void **state)
{
	struct published_table table = published_begin(
	    SOURCE_CARSLAW_PLATE, "an insulated parabola evens out: core and face");

	(void)state;
	for (size_t i = 0; i < COUNT(conduction_insulated); i++) {
		const struct conduction_value none = {.kind = CASE_FLUX};
		double fo = conduction_insulated[i].fo;
		struct plate plate;

		plate_init(&plate, &none, 41);
		for (int node = 0; node < 41; node++) {
			double x = (node - 20) / 20.0;

			plate.conduction.c[node] = x * x;
		}
		for (int step = 0; step < 48; step++)
			conduction_step(&plate.conduction,
			    (struct conduction_face[2]){
				{.kind = FACE_FLUX}, {.kind = FACE_FLUX}},
			    fo / 48, step < 4);
		assert_near(
		    series_insulated(fo, 0), conduction_insulated[i].core, 1e-6);
		assert_near(
		    series_insulated(fo, 1), conduction_insulated[i].face, 1e-6);
		/* The trapezoid of the start is 1/3 + 1/2400. */
		published_add(
		    &table, plate_at(&plate, 0), conduction_insulated[i].core, 2e-3);
		published_add(
		    &table, plate_at(&plate, 1), conduction_insulated[i].face, 2e-3);
	}
	published_end(&table);
}

static const struct conduction_value smooth = {CASE_APPROACH, 1, 0.5, 0, 0};

static double
core_after(int nodes, int steps, bool backward)
{
	struct plate plate;

	plate_init(&plate, &smooth, nodes);
	for (int i = 0; i < steps; i++)
		plate_step(&plate, i * smooth.fo / steps, smooth.fo / steps, backward);
	return plate_at(&plate, 0);
}

/* The order from three grids, each twice as fine as the one before. */
static double
order(double coarse, double middle, double fine)
{
	return log2(fabs((coarse - middle) / (middle - fine)));
}

static void
crank_nicolson_is_of_second_order_in_time(void **state)
{
	(void)state;
	published(SOURCE_CRANK_NICOLSON, "order in time, from 20, 40 and 80 steps",
	    order(core_after(41, 20, false), core_after(41, 40, false),
		core_after(41, 80, false)),
	    2, 0.1);
}

static void
backward_euler_is_of_first_order_in_time(void **state)
{
	(void)state;
	assert_near(order(core_after(41, 40, true), core_after(41, 80, true),
			core_after(41, 160, true)),
	    1, 0.1);
}

static void
nodes_are_of_second_order(void **state)
{
	double exact = series_approach(1, smooth.fo, 0);
	double error = core_after(21, 2000, false) - exact;

	(void)state;
	published(SOURCE_CRANK_NICOLSON,
	    "order in the nodes, from 11, 21 and 41 of them",
	    order(core_after(11, 2000, false), core_after(21, 2000, false),
		core_after(41, 2000, false)),
	    2, 0.1);
	assert_near(core_after(41, 2000, false) - exact, error / 4, fabs(error) / 50);
}

/* Damped at first, a jump costs no order; undamped, the node beside the face rings. */
static void
a_jump_is_damped(void **state)
{
	static const struct conduction_value jump = {CASE_STEP, 0, 0.5, 0, 0};
	double core[3], exact;
	struct plate plate;

	(void)state;
	for (int i = 0; i < 3; i++) {
		plate_init(&plate, &jump, 41);
		plate_run(&plate, 0, jump.fo, 30 << i, false);
		core[i] = plate_at(&plate, 0);
	}
	assert_near(order(core[0], core[1], core[2]), 2, 0.25);
	exact = 1 - series_step(8 * USUAL_STEP, 0.95);
	plate_init(&plate, &jump, 41);
	plate_run(&plate, 0, 8 * USUAL_STEP, 2, false);
	assert_near(plate_at(&plate, 0.95), exact, 0.01);
	plate_init(&plate, &jump, 41);
	plate_step(&plate, 0, 4 * USUAL_STEP, false);
	plate_step(&plate, 4 * USUAL_STEP, 4 * USUAL_STEP, false);
	assert_true(fabs(plate_at(&plate, 0.95) - exact) > 0.04);
}

/* What is left of a step at the faces of a thin sheet (1 mm of the same in steps of 1 s:
 * forty times as coarse in Fo) never leaves the bounds. */
static void
a_thin_sheet_does_not_blow_up(void **state)
{
	static const struct conduction_value jump = {CASE_STEP, 0, 10, 0, 0};
	struct plate plate;

	(void)state;
	plate_init(&plate, &jump, 41);
	plate_run(&plate, 0, jump.fo, 30, false);
	for (int i = 0; i < 41; i++)
		assert_near(plate.conduction.c[i], 1, 1e-3);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(the_series_are_those_of_the_table),
	    cmocka_unit_test(every_value_of_the_table_is_met),
	    cmocka_unit_test(a_finer_grid_meets_them_closer),
	    cmocka_unit_test(an_insulated_parabola_evens_out),
	    cmocka_unit_test(crank_nicolson_is_of_second_order_in_time),
	    cmocka_unit_test(backward_euler_is_of_first_order_in_time),
	    cmocka_unit_test(nodes_are_of_second_order),
	    cmocka_unit_test(a_jump_is_damped),
	    cmocka_unit_test(a_thin_sheet_does_not_blow_up),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
