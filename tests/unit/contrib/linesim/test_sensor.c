/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>

#include <cmocka.h>
#include <math.h>

#include "contrib/linesim/radiance.h"
#include "contrib/linesim/sensor.h"
#include "tests/unit/near.h"
#include "tests/unit/published.h"

static int
make_table(void **state)
{
	(void)state;
	radiance_init();
	return 0;
}

/* Planck's law over 8 to 14 um, integrated independently (SciPy quad) for the ratio to
 * 180 C. */
static void
the_band_sees_heaters_as_planck_says(void **state)
{
	(void)state;
	double sheet = radiance_of(180);

	struct published_table table = published_begin(SOURCE_SCIPY,
	    "Planck's law over 8 to 14 um at 400 to 600 C, over that at 180 C");

	published_add(&table, radiance_of(400) / sheet, 3.03966, 0.001);
	published_add(&table, radiance_of(500) / sheet, 4.18880, 0.001);
	published_add(&table, radiance_of(600) / sheet, 5.42764, 0.001);
	published_end(&table);
	for (double c = -50; c < 1000; c += 37.3)
		assert_near(radiance_temperature_c(radiance_of(c)), c, 1e-6);
}

static double
error_of(double emissivity, double heater_c, double share, double transmission)
{
	struct pyrometer_view view = {.surface_c = 180,
	    .emissivity = emissivity,
	    .heater_c = heater_c,
	    .heater_share = share,
	    .transmission = transmission};
	return sensors_indicated_c(&view) - 180;
}

/* From the same integration: the errors of a head set to 0.95 at 180 C. */
static void
each_error_of_a_pyrometer_has_its_size(void **state)
{
	(void)state;
	assert_near(error_of(0.95, 25, 0, 1), 0, 1e-6);
	struct published_table table = published_begin(
	    SOURCE_SCIPY, "errors of a pyrometer, by the same integration, K");

	published_add(&table, error_of(0.90, 25, 0, 1), -5.577, 0.01);
	published_add(&table, error_of(0.95, 400, 0.1, 1), 2.040, 0.01);
	published_add(&table, error_of(0.95, 25, 0, 0.95), -5.296, 0.01);
	published_add(&table, error_of(0.95, 25, 0, 0.80), -21.782, 0.01);
	published_end(&table);
}

static void
an_empty_oven_shows_the_elements_opposite(void **state)
{
	(void)state;
	struct oven oven;
	struct sensors sensors;

	oven_init(&oven, 1, true);
	sensors_init(&sensors, 1);
	for (int i = 0; i < 100; i++)
		sensors_look(&sensors, 0, &oven, NULL, 0.1);
	double element_c = oven.element_c[1][sensors_patch(0)];
	assert_true(element_c > 250);
	assert_near(sensors.indicated_c[0][0][0], element_c, 20);
}

static void
the_lag_is_half_a_second(void **state)
{
	(void)state;
	struct oven oven;
	struct sensors sensors;
	struct sheet sheet;

	oven_init(&oven, 1, true);
	sensors_init(&sensors, 1);
	sheet_init(&sheet, 150, SHEET_THICKNESS_M, 1);
	for (int i = 0; i < 200; i++)
		sensors_look(&sensors, 0, &oven, &sheet, 0.1);
	double settled_c = sensors.indicated_c[0][0][0];
	sensors.indicated_c[0][0][0] = settled_c - 10;
	for (int i = 0; i < 5; i++)
		sensors_look(&sensors, 0, &oven, &sheet, 0.1);
	assert_near(settled_c - sensors.indicated_c[0][0][0], 10 * exp(-1), 1e-3);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(the_band_sees_heaters_as_planck_says),
	    cmocka_unit_test(each_error_of_a_pyrometer_has_its_size),
	    cmocka_unit_test(an_empty_oven_shows_the_elements_opposite),
	    cmocka_unit_test(the_lag_is_half_a_second),
	};
	return cmocka_run_group_tests(tests, make_table, NULL);
}
