/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/heat/substance.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "tests/reference/conduction.h"
#include "tests/unit/daemon/heat/sheets.h"
#include "tests/unit/near.h"
#include "tests/unit/published.h"

#define COUNT(array) (sizeof(array) / sizeof((array)[0]))

static void
enthalpy_is_that_of_the_reference(void **state)
{
	struct material_settings material = material_melting();
	struct substance substance;
	struct published_table table = published_begin(
	    SOURCE_MELTING_LINES, "enthalpy of the melting material above 23 C, J/kg");

	(void)state;
	assert_int_equal(substance_init(&substance, &material, NULL), 0);
	for (size_t i = 0; i < COUNT(conduction_melting_enthalpy); i++)
		published_add(&table,
		    substance_enthalpy(&substance, conduction_melting_enthalpy[i].c),
		    conduction_melting_enthalpy[i].j_kg, 10); /* so many digits */
	published_end(&table);
	assert_near(substance_enthalpy(&substance, 23), 0, 1);
}

static void
enthalpy_always_rises(void **state)
{
	struct material_settings material = material_melting();

	(void)state;
	for (double width = 0.1; width < 20; width *= 1.7) {
		struct substance substance;
		double before;

		material.melting_width_dc = width;
		assert_int_equal(substance_init(&substance, &material, NULL), 0);
		before = substance_enthalpy(&substance, -80);
		for (double c = -79.9; c < 500; c += 0.1) {
			double now = substance_enthalpy(&substance, c);

			assert_true(now > before);
			before = now;
		}
		/* All of the fusion is in it, however narrow. */
		assert_near(substance_enthalpy(&substance, 290) -
				substance_enthalpy(&substance, 23),
		    190e3 + 108 * (1850 + 2500) / 2 + 2500 * (290 - 131), 1);
	}
}

/* Summed up in small steps, the heat capacity is the enthalpy. */
static void
enthalpy_is_the_sum_of_heat_capacity(void **state)
{
	struct material_settings material = material_melting();
	struct substance substance;
	double sum = 0;

	(void)state;
	assert_int_equal(substance_init(&substance, &material, NULL), 0);
	for (int i = 0; i < 20000; i++)
		sum += 0.01 * substance_capacity(&substance, 23 + (i + 0.5) * 0.01);
	assert_near(substance_enthalpy(&substance, 223), sum, 1);
}

static void
the_slope_is_that_of_the_enthalpy(void **state)
{
	struct material_settings material = material_melting();
	struct substance substance;

	(void)state;
	assert_int_equal(substance_init(&substance, &material, NULL), 0);
	for (double c = -50; c < 400; c += 7.3) {
		double slope, other;
		double heat = substance_heat(&substance, c, &slope);

		assert_near(heat, substance_enthalpy(&substance, c), 0);
		assert_near(substance_heat(&substance, c + 1e-4, &other) - heat,
		    1e-4 * slope,
		    2e-5 * fabs(other - slope) + 1e-4 * fabs(other - slope) + 1e-6);
		assert_near(slope / substance_capacity(&substance, c), 1, 0.03);
	}
}

/* A point far away, on the very line, changes nothing. */
static void
far_points_leave_the_melting_as_it_is(void **state)
{
	struct material_settings material = material_melting(), far = material;
	struct substance near_one, far_one;

	(void)state;
	far.heat_capacity.count = 4;
	far.heat_capacity.at_c[3] = 1e9;
	far.heat_capacity.value[2] = far.heat_capacity.value[3] = 2500;
	far.heat_capacity.at_c[2] = 131;
	far.heat_capacity.value[1] = 1850;
	far.heat_capacity.at_c[1] = 23;
	far.heat_capacity.at_c[0] = -1e9;
	far.heat_capacity.value[0] = 1850;
	assert_int_equal(substance_init(&near_one, &material, NULL), 0);
	assert_int_equal(substance_init(&far_one, &far, NULL), 0);
	for (double c = -60; c < 520; c += 0.7) {
		double slope, other;

		assert_near(substance_heat(&far_one, c, &slope),
		    substance_heat(&near_one, c, &other), 2);
		assert_near(slope, other, 1);
	}
}

/* Beyond the table the curve goes on bending. */
static void
enthalpy_beyond_the_table_is_that_of_the_curve(void **state)
{
	struct material_settings material = material_amorphous();
	struct substance substance;

	(void)state;
	material.heat_capacity = curve_line(23, 1000, 500, 3000);
	assert_int_equal(substance_init(&substance, &material, NULL), 0);
	assert_near(substance_enthalpy(&substance, 500), 477 * 2000.0, 1e-3);
	assert_near(substance_enthalpy(&substance, 600), 477 * 2000.0 + 3e5, 1e-3);
}

static void
fusion_is_scaled_by_itself(void **state)
{
	struct material_settings material = material_melting();
	struct substance substance;

	(void)state;
	assert_int_equal(substance_init(&substance, &material, NULL), 0);
	substance_scale_fusion(&substance, 0.8);
	assert_near(
	    substance_enthalpy(&substance, 290) - substance_enthalpy(&substance, 23),
	    0.8 * 190e3 + 108 * (1850 + 2500) / 2 + 2500 * (290 - 131), 1);
	assert_near(material.fusion_j_kg, 190e3, 0);
	material = material_amorphous();
	assert_int_equal(substance_init(&substance, &material, NULL), 0);
	substance_scale_fusion(&substance, 0.8);
	assert_near(substance_enthalpy(&substance, 123), 205000, 1e-9);
}

static void
curves_are_level_beyond_their_ends(void **state)
{
	struct material_settings material = material_melting();
	struct substance substance;

	(void)state;
	assert_int_equal(substance_init(&substance, &material, NULL), 0);
	assert_near(substance_conductivity(&substance, -40), 0.46, 0);
	assert_near(substance_conductivity(&substance, 23), 0.46, 0);
	assert_near(substance_conductivity(&substance, 77), 0.355, 1e-12);
	assert_near(substance_conductivity(&substance, 131), 0.25, 0);
	assert_near(substance_conductivity(&substance, 900), 0.25, 0);
	assert_near(substance_capacity(&substance, -40), 1850, 1e-9);
	assert_near(substance_capacity(&substance, 900), 2500, 1e-9);
}

static void
one_point_is_constant(void **state)
{
	struct material_settings material = material_amorphous();
	struct substance substance;

	(void)state;
	assert_int_equal(substance_init(&substance, &material, NULL), 0);
	assert_true(substance.constant && !substance.melts);
	assert_near(substance_enthalpy(&substance, 123), 205000, 1e-9);
	assert_near(substance_diffusivity(&substance, 23, 180), 8.362369e-8, 1e-14);
	/* An amorphous one's melting is not looked at. */
	material.fusion_j_kg = 100e3;
	material.melting_c = 100;
	material.melting_width_dc = 5;
	assert_int_equal(substance_init(&substance, &material, NULL), 0);
	assert_true(substance.constant && !substance.melts);
}

static void
diffusivity_is_that_of_the_range(void **state)
{
	struct material_settings material = material_amorphous();
	struct substance substance;

	(void)state;
	material.heat_capacity = curve_line(20, 1300, 180, 2100);
	material.conductivity = curve_line(20, 0.17, 180, 0.21);
	assert_int_equal(substance_init(&substance, &material, NULL), 0);
	assert_near(
	    substance_diffusivity(&substance, 20, 180) / (0.19 / 1050 / 1700), 1, 1e-6);
	substance.conductivity_scale = 0.85;
	assert_near(
	    substance_diffusivity(&substance, 20, 180) / (0.85 * 0.19 / 1050 / 1700), 1,
	    1e-6);
	assert_near(
	    substance_diffusivity(&substance, 20, 20) / (0.85 * 0.17 / 1050 / 1300), 1,
	    1e-9);
}

static void
a_bare_diffusivity_is_one(void **state)
{
	struct substance substance;

	(void)state;
	substance_init_diffusivity(&substance, 9e-8);
	assert_near(substance_diffusivity(&substance, 20, 180), 9e-8, 1e-20);
	assert_null(substance.material);
}

static void
refused(const struct material_settings *material, const char *word)
{
	struct substance substance;
	struct error error = {""};

	assert_int_equal(substance_init(&substance, material, &error), ERROR_INVALID);
	assert_non_null(strstr(error.text, word));
	assert_non_null(strstr(error.text, material->name));
}

static void
what_is_missing_is_named(void **state)
{
	struct material_settings material = material_amorphous();

	(void)state;
	material.density = NAN;
	refused(&material, "density");
	material = material_amorphous();
	material.heat_capacity.count = 0;
	refused(&material, "heat capacity");
	material = material_amorphous();
	material.conductivity.count = 0;
	refused(&material, "conductivity");
}

static void
a_semicrystalline_one_without_melting_is_refused(void **state)
{
	struct material_settings material = material_melting();

	(void)state;
	material.fusion_j_kg = NAN;
	refused(&material, "fusion");
	material.fusion_j_kg = 0;
	refused(&material, "fusion");
	material = material_melting();
	material.melting_c = NAN;
	refused(&material, "melting");
	material = material_melting();
	material.melting_width_dc = NAN;
	refused(&material, "width");
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(enthalpy_is_that_of_the_reference),
	    cmocka_unit_test(enthalpy_always_rises),
	    cmocka_unit_test(enthalpy_is_the_sum_of_heat_capacity),
	    cmocka_unit_test(the_slope_is_that_of_the_enthalpy),
	    cmocka_unit_test(far_points_leave_the_melting_as_it_is),
	    cmocka_unit_test(enthalpy_beyond_the_table_is_that_of_the_curve),
	    cmocka_unit_test(fusion_is_scaled_by_itself),
	    cmocka_unit_test(curves_are_level_beyond_their_ends),
	    cmocka_unit_test(one_point_is_constant),
	    cmocka_unit_test(diffusivity_is_that_of_the_range),
	    cmocka_unit_test(a_bare_diffusivity_is_one),
	    cmocka_unit_test(what_is_missing_is_named),
	    cmocka_unit_test(a_semicrystalline_one_without_melting_is_refused),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
