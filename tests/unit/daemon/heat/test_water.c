/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/heat/water.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "tests/unit/near.h"
#include "tests/unit/published.h"

/* As common tables of liquid water at one atmosphere print them (from memory; they go back
 * to the IAPWS formulations named in water.c). */
static const struct {
	double c, density, capacity, viscosity_mpa_s;
} table[] = {
    {20, 998.2, 4182, 1.002},
    {40, 992.2, 4178, 0.653},
    {60, 983.2, 4184, 0.466},
    {80, 971.8, 4196, 0.354},
};

static void
properties_are_those_of_the_tables(void **state)
{
	struct published_table density =
	    published_begin(SOURCE_MEMORY_WATER, "density at 20 to 80 C, kg/m3");
	struct published_table capacity = published_begin(
	    SOURCE_MEMORY_WATER, "heat capacity at 20 to 80 C, J/(kg K)");
	struct published_table viscosity =
	    published_begin(SOURCE_MEMORY_WATER, "viscosity at 20 to 80 C, mPa s");

	(void)state;
	for (size_t i = 0; i < sizeof table / sizeof table[0]; i++) {
		published_add(
		    &density, water_density(table[i].c), table[i].density, 0.06);
		published_add(&capacity, water_capacity(table[i].c), table[i].capacity,
		    0.001 * table[i].capacity);
		published_add(&viscosity, 1e3 * water_viscosity(table[i].c),
		    table[i].viscosity_mpa_s, 0.001);
	}
	published_end(&density);
	published_end(&capacity);
	published_end(&viscosity);
	published(SOURCE_KELL, "density where it is greatest, 3.98 C, kg/m3",
	    water_density(3.98), 999.972, 0.001);
	assert_true(water_density(3) < water_density(3.98));
	assert_true(water_density(5) < water_density(3.98));
}

static void
properties_are_smooth(void **state)
{
	(void)state;
	for (double c = 0; c < 100; c += 0.25) {
		assert_near(water_capacity(c + 0.25), water_capacity(c), 0.7);
		assert_true(water_viscosity(c + 0.25) < water_viscosity(c));
		assert_true(c < 4 || water_density(c + 0.25) < water_density(c));
	}
}

/* 1 L/min warmed by 1 K. */
static void
a_litre_a_minute_and_a_kelvin(void **state)
{
	(void)state;
	assert_near(water_density(20) * water_capacity(20) / 60e6, 0.0696, 6e-5);
	assert_near(water_density(60) * water_capacity(60) / 60e6, 0.0686, 6e-5);
	assert_near(water_density(80) * water_capacity(80) / 60e6, 0.0680, 6e-5);
}

/* In a bore of 8 mm at 20 C: Re = 4 V/(pi D nu), nu = 1.0034e-6 m2/s. */
static void
reynolds_is_that_of_a_pipe(void **state)
{
	double flow = 1.5 / 60e3;

	(void)state;
	published(SOURCE_MEMORY_WATER,
	    "Reynolds number of 1.5 L/min in 8 mm at 20 C (viscosity 1.0034e-6 m2/s)",
	    water_reynolds(flow, 0.008, 20, 1), 4 * flow / (M_PI * 0.008 * 1.0034e-6),
	    4);
	assert_near(
	    water_reynolds(flow, 0.008, 20, 3) / water_reynolds(flow, 0.008, 20, 1),
	    1 / 3.0, 1e-12);
	assert_true(water_reynolds(flow, 0.008, 80, 1) >
		    2 * water_reynolds(flow, 0.008, 20, 1));
	assert_true(isnan(water_reynolds(NAN, 0.008, 20, 1)));
}

static void
regimes_have_their_bounds(void **state)
{
	(void)state;
	published(SOURCE_PRACTICE_FLOW, "laminar below 2300 and not from there on",
	    !strcmp(water_regime(2299.9), "laminar") &&
		strcmp(water_regime(2300), "laminar") != 0,
	    1, 0);
	published(SOURCE_PRACTICE_FLOW, "turbulent from 4000 and not below",
	    !strcmp(water_regime(4000), "turbulent") &&
		strcmp(water_regime(3999.9), "turbulent") != 0,
	    1, 0);
	assert_string_equal(water_regime(0), "laminar");
	assert_string_equal(water_regime(2299.9), "laminar");
	assert_string_equal(water_regime(2300), "transitional");
	assert_string_equal(water_regime(3999.9), "transitional");
	assert_string_equal(water_regime(4000), "turbulent");
	assert_string_equal(water_regime(NAN), "");
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(properties_are_those_of_the_tables),
	    cmocka_unit_test(properties_are_smooth),
	    cmocka_unit_test(a_litre_a_minute_and_a_kelvin),
	    cmocka_unit_test(reynolds_is_that_of_a_pipe),
	    cmocka_unit_test(regimes_have_their_bounds),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
