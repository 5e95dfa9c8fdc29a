/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/wording/shown.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>

#include <cmocka.h>

static const struct settings celsius = {.temperature = UNIT_CELSIUS};

static void
expect(struct cell cell, const char *words)
{
	char text[64];

	snprintf(text, sizeof text, "%.*f", cell.digits, cell.shown);
	assert_string_equal(text, words);
}

static void
little_energy_has_a_digit_more(void **state)
{
	int circuit = FEATURE_HEAT_REMOVED_FIRST;

	(void)state;
	expect(shown_value(&celsius, circuit, 0.0416), "0.042");
	expect(shown_value(&celsius, circuit, 0.0351), "0.035");
	expect(shown_value(&celsius, FEATURE_ENERGY_KWH, 2.9167), "2.92");
	expect(shown_value(&celsius, FEATURE_ENERGY_KWH, -0.5), "-0.500");
	expect(shown_deviation(&celsius, circuit, 0.0007), "0.0007");
	expect(shown_deviation(&celsius, FEATURE_ENERGY_KWH, 0.25), "0.250");
}

static void
a_number_without_a_unit_has_the_digits_of_what_it_is(void **state)
{
	(void)state;
	expect(shown_value(&celsius, FEATURE_FOURIER, 1.404), "1.40");
	expect(shown_deviation(&celsius, FEATURE_FOURIER, 0.0123), "0.012");
	expect(shown_value(&celsius, FEATURE_REYNOLDS_FIRST, 30581.4), "30581");
	expect(shown_value(&celsius, FEATURE_SATURATED_ZONES, 3), "3");
	expect(shown_value(&celsius, FEATURE_SOAK_INDEX, 0.772), "77.2");
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(little_energy_has_a_digit_more),
	    cmocka_unit_test(a_number_without_a_unit_has_the_digits_of_what_it_is),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
