/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The units of channels, and that the advice on foreign ones leads to the same value. */
#include "conf/units.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#include "daemon/base/error.h"

static void
units_are_read_as_they_are_written(void **state)
{
	(void)state;
	for (int i = UNIT_ONE; i < UNIT_COUNT; i++) {
		struct error error;
		enum unit unit = UNIT_COUNT;

		assert_int_equal(units_read(unit_text((enum unit)i), &unit, &error), 0);
		assert_int_equal(unit, i);
	}
}

/* The factors: NIST Special Publication 811 (2008), appendix B.8; K/min and the like by
 * 60 s a minute. */
static void
advice_on_a_foreign_unit_keeps_the_value(void **state)
{
	static const struct {
		const char *text;
		enum dimension dimension;
		double si;
	} rows[] = {
	    {"mbar", DIMENSION_PRESSURE, 100},
	    {"hPa", DIMENSION_PRESSURE, 100},
	    {"Pa", DIMENSION_PRESSURE, 1},
	    {"kPa", DIMENSION_PRESSURE, 1000},
	    {"MPa", DIMENSION_PRESSURE, 1e6},
	    {"inHg", DIMENSION_PRESSURE, 3386.389},
	    {"L/s", DIMENSION_FLOW, 1e-3},
	    {"l/s", DIMENSION_FLOW, 1e-3},
	    {"L/h", DIMENSION_FLOW, 1e-3 / 3600},
	    {"mL/min", DIMENSION_FLOW, 1e-6 / 60},
	    {"m3/h", DIMENSION_FLOW, 1.0 / 3600},
	    {"gal/s", DIMENSION_FLOW, 3.785411784e-3},
	    {"gal/h", DIMENSION_FLOW, 3.785411784e-3 / 3600},
	    {"W", DIMENSION_POWER, 1},
	    {"MW", DIMENSION_POWER, 1e6},
	    {"Wh", DIMENSION_ENERGY, 3600},
	    {"MWh", DIMENSION_ENERGY, 3.6e9},
	    {"kJ", DIMENSION_ENERGY, 1e3},
	    {"MJ", DIMENSION_ENERGY, 1e6},
	    {"ms", DIMENSION_TIME, 1e-3},
	    {"min", DIMENSION_TIME, 60},
	    {"h", DIMENSION_TIME, 3600},
	    {"um", DIMENSION_LENGTH, 1e-6},
	    {"cm", DIMENSION_LENGTH, 1e-2},
	    {"m", DIMENSION_LENGTH, 1},
	    {"C/min", DIMENSION_TEMPERATURE_RATE, 1.0 / 60},
	    {"F/min", DIMENSION_TEMPERATURE_RATE, 5.0 / 9 / 60},
	    {"K/min", DIMENSION_TEMPERATURE_RATE, 1.0 / 60},
	};

	(void)state;
	for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
		enum unit unit = UNIT_COUNT, instead;
		struct error error;
		char word[16];
		double scale, si;

		assert_int_equal(
		    units_read(rows[i].text, &unit, &error), ERROR_INVALID);
		assert_int_equal(unit, UNIT_COUNT);
		assert_int_equal(sscanf(error.text, "write unit = %15s and scale = %lf",
				     word, &scale),
		    2);
		assert_true(unit_parse(word, &instead));
		assert_true(unit_measures(instead, rows[i].dimension));
		si = unit_to_si(instead, rows[i].dimension, scale);
		assert_true(fabs(si / rows[i].si - 1) < 1e-8);
	}
}

/* What differs in a letter differs in size, or is another quantity. */
static void
only_upper_and_lower_case_are_guessed(void **state)
{
	static const char *const far[] = {
	    "kV", "kPas", "degC", "ubar", "g/min", "s/s", "kWm", "psia"};
	enum unit unit = UNIT_COUNT;
	struct error error;

	(void)state;
	assert_int_equal(units_read("PSI", &unit, &error), ERROR_INVALID);
	assert_string_equal(error.text, "did you mean 'psi'?");
	assert_int_equal(units_read("kwh", &unit, &error), ERROR_INVALID);
	assert_string_equal(error.text, "did you mean 'kWh'?");
	for (size_t i = 0; i < sizeof far / sizeof far[0]; i++) {
		assert_int_equal(units_read(far[i], &unit, &error), ERROR_INVALID);
		assert_string_equal(error.text,
		    "write C, F, C/s, F/s, K, K/s, s, %, kW, kWh, L/min, gal/min, bar, "
		    "psi, mm, in or K/kW");
	}
	assert_int_equal(unit, UNIT_COUNT);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(units_are_read_as_they_are_written),
	    cmocka_unit_test(advice_on_a_foreign_unit_keeps_the_value),
	    cmocka_unit_test(only_upper_and_lower_case_are_guessed),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
