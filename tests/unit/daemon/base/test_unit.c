/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/base/unit.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>

#include <cmocka.h>

#include "tests/unit/near.h"
#include "tests/unit/published.h"
#include "tests/unit/seed.h"

static void
factors_are_those_of_nist_sp_811(void **state)
{
	/* NIST Special Publication 811 (2008), appendix B.8: seven digits, or exact. */
	static const struct {
		enum unit unit;
		enum dimension dimension;
		double si, near;
	} rows[] = {
	    {UNIT_PSI, DIMENSION_PRESSURE, 6.894757e+03, 1e-7},
	    {UNIT_BAR, DIMENSION_PRESSURE, 1.0e+05, 0},
	    {UNIT_GALLON_PER_MINUTE, DIMENSION_FLOW, 6.309020e-05, 1e-7},
	    {UNIT_LITRE_PER_MINUTE, DIMENSION_FLOW, 1e-3 / 60, 1e-15},
	    {UNIT_KILOWATT_HOUR, DIMENSION_ENERGY, 3.6e+06, 0},
	    {UNIT_KILOWATT, DIMENSION_POWER, 1e+03, 0},
	    {UNIT_INCH, DIMENSION_LENGTH, 2.54e-02, 0},
	    {UNIT_MILLIMETRE, DIMENSION_LENGTH, 1e-03, 0},
	    {UNIT_PERCENT, DIMENSION_RATIO, 0.01, 0},
	    {UNIT_FAHRENHEIT, DIMENSION_TEMPERATURE_DIFFERENCE, 1 / 1.8, 1e-15},
	    {UNIT_FAHRENHEIT_PER_S, DIMENSION_TEMPERATURE_RATE, 1 / 1.8, 1e-15},
	    {UNIT_KELVIN, DIMENSION_TEMPERATURE_DIFFERENCE, 1, 0},
	    {UNIT_KELVIN_PER_S, DIMENSION_TEMPERATURE_RATE, 1, 0},
	};

	struct published_table table =
	    published_begin(SOURCE_SP811, "factors of units to the SI");

	(void)state;
	for (size_t i = 0; i < sizeof(rows) / sizeof(rows[0]); i++)
		published_add(&table, unit_to_si(rows[i].unit, rows[i].dimension, 1),
		    rows[i].si, rows[i].near * rows[i].si);
	published_end(&table);
}

static void
fahrenheit_has_its_offset_as_a_temperature(void **state)
{
	/* NIST SP 811, B.8: t/C = (t/F - 32) / 1.8; both scales meet at -40. */
	static const double pairs[][2] = {{32, 0}, {212, 100}, {-40, -40}, {392, 200}};
	struct published_table table = published_begin(
	    SOURCE_SP811, "temperatures in degrees Fahrenheit and Celsius, both ways");

	(void)state;
	for (size_t i = 0; i < sizeof(pairs) / sizeof(pairs[0]); i++) {
		published_add(&table,
		    unit_to_si(UNIT_FAHRENHEIT, DIMENSION_TEMPERATURE, pairs[i][0]),
		    pairs[i][1], 0);
		published_add(&table,
		    unit_from_si(UNIT_FAHRENHEIT, DIMENSION_TEMPERATURE, pairs[i][1]),
		    pairs[i][0], 0);
	}
	published_end(&table);
}

static void
fahrenheit_has_none_as_a_difference(void **state)
{
	(void)state;
	assert_near(
	    unit_to_si(UNIT_FAHRENHEIT, DIMENSION_TEMPERATURE_DIFFERENCE, 18), 10, 0);
	assert_near(
	    unit_from_si(UNIT_FAHRENHEIT, DIMENSION_TEMPERATURE_DIFFERENCE, 10), 18, 0);
	assert_near(
	    unit_from_si(UNIT_FAHRENHEIT, DIMENSION_TEMPERATURE_DIFFERENCE, 0), 0, 0);
}

static void
every_unit_goes_there_and_back(void **state)
{
	unsigned random = seed_take(20260302);

	(void)state;
	for (int i = 0; i < 20000; i++) {
		enum unit unit = (enum unit)(i % UNIT_COUNT);
		enum dimension dimension =
		    (enum dimension)(i / UNIT_COUNT % (DIMENSION_LENGTH + 1));
		double value = (rand_r(&random) / (double)RAND_MAX - 0.5) * 1e4;
		double back;

		if (!unit_measures(unit, dimension))
			continue;
		back =
		    unit_from_si(unit, dimension, unit_to_si(unit, dimension, value));
		/* The offset of 32 costs its own last bit. */
		if (fabs(back - value) > 4e-16 * (fabs(value) + 64))
			fail_msg(
			    "%s: %.17g came back %.17g", unit_text(unit), value, back);
	}
}

static void
texts_read_back_and_differ(void **state)
{
	(void)state;
	for (int i = 0; i < UNIT_COUNT; i++) {
		enum unit unit = UNIT_COUNT;

		assert_true(unit_parse(unit_text((enum unit)i), &unit));
		assert_int_equal(unit, i);
	}
}

static void
an_unknown_unit_is_refused(void **state)
{
	enum unit unit = UNIT_BAR;

	(void)state;
	assert_false(unit_parse("c", &unit));
	assert_false(unit_parse("kPa", &unit));
	assert_int_equal(unit, UNIT_BAR);
}

static void
a_dimension_is_shown_in_a_unit_that_measures_it(void **state)
{
	(void)state;
	for (int i = 0; i <= DIMENSION_LENGTH; i++) {
		enum dimension dimension = (enum dimension)i;

		assert_true(
		    unit_measures(unit_shown(dimension, UNIT_CELSIUS), dimension));
		assert_true(
		    unit_measures(unit_shown(dimension, UNIT_FAHRENHEIT), dimension));
	}
	assert_false(unit_measures(UNIT_BAR, DIMENSION_TEMPERATURE));
	assert_false(unit_measures(UNIT_CELSIUS, DIMENSION_TEMPERATURE_RATE));
	assert_false(unit_measures(UNIT_KELVIN, DIMENSION_TEMPERATURE));
}

static void
the_inside_names_its_units(void **state)
{
	static const char *const texts[] = {
	    [DIMENSION_NONE] = "1",
	    [DIMENSION_TEMPERATURE] = "C",
	    [DIMENSION_TEMPERATURE_DIFFERENCE] = "K",
	    [DIMENSION_TEMPERATURE_RATE] = "K/s",
	    [DIMENSION_TIME] = "s",
	    [DIMENSION_RATIO] = "1",
	    [DIMENSION_POWER] = "W",
	    [DIMENSION_ENERGY] = "J",
	    [DIMENSION_FLOW] = "m3/s",
	    [DIMENSION_PRESSURE] = "Pa",
	    [DIMENSION_LENGTH] = "m",
	};

	(void)state;
	for (int i = 0; i <= DIMENSION_LENGTH; i++)
		assert_string_equal(unit_si_text((enum dimension)i), texts[i]);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(factors_are_those_of_nist_sp_811),
	    cmocka_unit_test(fahrenheit_has_its_offset_as_a_temperature),
	    cmocka_unit_test(fahrenheit_has_none_as_a_difference),
	    cmocka_unit_test(every_unit_goes_there_and_back),
	    cmocka_unit_test(texts_read_back_and_differ),
	    cmocka_unit_test(an_unknown_unit_is_refused),
	    cmocka_unit_test(a_dimension_is_shown_in_a_unit_that_measures_it),
	    cmocka_unit_test(the_inside_names_its_units),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
