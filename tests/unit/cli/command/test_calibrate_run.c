/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "cli/command/calibrate_run.h"
#include "tests/unit/near.h"
#include "tests/unit/seed.h"

enum { SECONDS = 600 };

static struct settings *settings;
static unsigned short noise[3];

static int
load(void **state)
{
	static struct problems problems;

	(void)state;
	noise[0] = (unsigned short)seed_take(5);
	settings = settings_load("conf/demo.ini", &problems);
	return settings ? 0 : -1;
}

static int
unload(void **state)
{
	(void)state;
	settings_free(settings);
	return 0;
}

/* Mean 0, variance 1 (Irwin-Hall of twelve). */
static double
normal(void)
{
	double sum = -6;

	for (int i = 0; i < 12; i++)
		sum += erand48(noise);
	return sum;
}

/* Sensor k reads 65 C, what drift and wave do to the water, its own offset and noise. */
static void
play(struct calibrate_run *run, const double *offset_dc, double drift_dc,
    double wave_dc, double sd_dc)
{
	calibrate_run_init(run, settings, 0);
	for (size_t k = 0; k < run->sensor_count; k++)
		for (int t = 0; t < SECONDS; t++)
			calibrate_run_add(run, &run->sensors[k], t,
			    65 + drift_dc * t / SECONDS + wave_dc * sin(t / 7.0) +
				offset_dc[k] + sd_dc * normal());
}

/* 8 tool sensors, 8 returns and the supply. */
enum { SENSORS = 17 };

static void
the_sensors_are_those_of_tool_and_water(void **state)
{
	struct calibrate_run run;

	(void)state;
	calibrate_run_init(&run, settings, 0);
	assert_int_equal(run.sensor_count, SENSORS);
	for (size_t i = 0; i < settings->channel_count; i++) {
		enum role role = settings->channels[i].role;
		assert_true((calibrate_run_find(&run, i) != NULL) ==
			    (role == ROLE_TOOL || role == ROLE_WATER_SUPPLY ||
				role == ROLE_WATER_RETURN));
	}
	calibrate_run_release(&run);
}

static void
offsets_are_found_within_their_errors(void **state)
{
	double offset[SENSORS];
	int outside = 0;
	struct calibrate_run run;

	(void)state;
	for (int k = 0; k < SENSORS; k++)
		offset[k] = 0.3 * normal();
	play(&run, offset, 0, 0, 0.2);
	calibrate_run_judge(&run, 65);
	assert_true(run.steady);
	assert_int_equal(run.used, SENSORS);
	for (int k = 0; k < SENSORS; k++) {
		const struct calibrate_sensor *sensor = &run.sensors[k];
		/* 600 readings with s = 0.2 K: 0.0082 K; the error is itself an estimate
		 * from ten pieces, good to a quarter */
		assert_true(sensor->error_dc > 0.0025 && sensor->error_dc < 0.02);
		outside += fabs(sensor->offset_dc - offset[k]) > 3 * sensor->error_dc;
		assert_near(sensor->offset_dc, offset[k], 0.04);
	}
	/* |t| > 3 with 9 degrees of freedom: 1.5 % each */
	assert_true(outside <= 3);
	calibrate_run_release(&run);
}

/* The first eight sensors are the tool's, then come the returns and the supply. */
static enum role
role_of(const struct calibrate_run *run, int k)
{
	return settings->channels[run->sensors[k].channel].role;
}

static void
each_kind_is_held_against_its_own_median(void **state)
{
	double offset[SENSORS];
	struct calibrate_run run;

	(void)state;
	/* 0, 0.1 ... 0.7 in each kind: its median is 0.35; returns lose 0.5 K, the tool
	 * sensors 2 K */
	calibrate_run_init(&run, settings, 0);
	for (int k = 0, tool = 0, back = 0; k < SENSORS; k++)
		offset[k] = role_of(&run, k) == ROLE_TOOL           ? 0.1 * tool++ - 2
		            : role_of(&run, k) == ROLE_WATER_RETURN ? 0.1 * back++ - 1.2
		                                                    : 0;
	calibrate_run_release(&run);
	/* the water's own wave is in all of them alike: the offsets do not see it */
	play(&run, offset, 0, 0.2, 0);
	calibrate_run_judge(&run, NAN);
	assert_true(run.steady);
	assert_int_equal(run.used, SENSORS);
	assert_int_equal(run.known, SENSORS - 1);
	for (int k = 0; k < SENSORS; k++) {
		const struct calibrate_sensor *sensor = &run.sensors[k];
		if (sensor->role == ROLE_WATER_SUPPLY) {
			assert_int_equal(sensor->remark, RUN_ALONE);
			assert_true(isnan(sensor->offset_dc));
			continue;
		}
		assert_near(sensor->offset_dc,
		    offset[k] - 0.35 + (sensor->role == ROLE_TOOL ? 2 : 1.2), 1e-9);
		assert_near(sensor->error_dc, 0, 1e-9);
	}
	/* what all returns lose is told, as heat */
	assert_near(run.water[0].return_dc, 0.35 - 1.2, 1e-9);
	assert_near(run.water[0].tool_dc, 0.35 - 2, 1e-9);
	assert_true(run.water[0].flows);
	assert_false(run.water[0].at_hall);
	calibrate_run_release(&run);
}

/* Water that is no warmer than the hall loses nothing: what is between supply and return
 * is error. */
static void
at_hall_temperature_returns_are_held_against_the_supply(void **state)
{
	double offset[SENSORS] = {0};
	struct calibrate_run run;

	(void)state;
	calibrate_run_init(&run, settings, 0);
	for (int k = 0; k < SENSORS; k++)
		if (role_of(&run, k) == ROLE_WATER_SUPPLY)
			offset[k] = 0.4;
	calibrate_run_release(&run);
	for (int warmer = 0; warmer < 2; warmer++) {
		play(&run, offset, 0, 0, 0);
		assert_true(run.hall_count > 0);
		for (int t = 0; t < SECONDS; t++)
			calibrate_run_add(&run, &run.sensors[run.sensor_count], t,
			    warmer ? 62.9 : 63.1);
		calibrate_run_judge(&run, NAN);
		assert_int_equal(run.water[0].at_hall, !warmer);
		for (int k = 0; k < SENSORS; k++)
			if (run.sensors[k].role == ROLE_WATER_SUPPLY && !warmer)
				assert_near(run.sensors[k].offset_dc, 0.4, 1e-9);
			else if (run.sensors[k].role == ROLE_WATER_SUPPLY)
				assert_true(isnan(run.sensors[k].offset_dc));
			else
				assert_near(run.sensors[k].offset_dc, 0, 1e-9);
		calibrate_run_release(&run);
	}
}

static void
one_sensor_out_of_the_water_is_left_out_and_the_others_go_on(void **state)
{
	double offset[SENSORS] = {0};
	struct calibrate_run run;

	(void)state;
	offset[3] = -43;
	play(&run, offset, 0, 0, 0);
	for (int t = 0; t < SECONDS; t++)
		run.sensors[3].value_c[t] += 0.5 * t / SECONDS; /* its own drift */
	calibrate_run_judge(&run, NAN);
	assert_true(run.steady);
	assert_int_equal(run.used, SENSORS - 1);
	assert_int_equal(run.sensors[3].remark, RUN_FAR);
	assert_true(isnan(run.sensors[3].offset_dc));
	assert_int_equal(run.sensors[2].remark, RUN_FINE);
	assert_near(run.sensors[2].offset_dc, 0, 1e-9);
	calibrate_run_release(&run);
}

static void
two_sides_have_water_of_their_own(void **state)
{
	static struct problems problems;
	struct settings *demo = settings, *two;
	double offset[64];
	struct calibrate_run run;

	(void)state;
	two = settings_load("conf/shuttle-two-sides.ini", &problems);
	assert_non_null(two);
	settings = two;
	calibrate_run_init(&run, settings, 0);
	assert_in_range(run.sensor_count, 4, 64);
	for (size_t k = 0; k < run.sensor_count; k++)
		offset[k] = run.sensors[k].side == 1 ? 3.0 : 0.0;
	calibrate_run_release(&run);
	play(&run, offset, 0, 0, 0);
	calibrate_run_judge(&run, NAN);
	assert_true(run.steady && run.known > 0);
	for (size_t k = 0; k < run.sensor_count; k++)
		if (run.sensors[k].remark == RUN_FINE)
			assert_near(run.sensors[k].offset_dc, 0, 1e-9);
	calibrate_run_release(&run);
	settings = demo;
	settings_free(two);
}

static void
a_trend_is_not_steady(void **state)
{
	const double offset[SENSORS] = {0};
	struct calibrate_run run;

	(void)state;
	play(&run, offset, 0.15, 0, 0.05);
	calibrate_run_judge(&run, 65);
	assert_true(run.steady);
	calibrate_run_release(&run);
	play(&run, offset, -0.3, 0, 0.05);
	calibrate_run_judge(&run, 65);
	assert_false(run.steady);
	assert_int_equal(run.sensors[0].remark, RUN_DRIFTS);
	assert_near(run.sensors[0].drift_dc, -0.3, 0.05);
	calibrate_run_release(&run);
}

static void
noise_and_a_sensor_elsewhere_are_told(void **state)
{
	double offset[SENSORS] = {0};
	struct calibrate_run run;

	(void)state;
	play(&run, offset, 0, 0, 0.8);
	calibrate_run_judge(&run, 65);
	assert_false(run.steady);
	/* by chance one may drift instead */
	assert_true(run.sensors[1].remark != RUN_FINE);
	calibrate_run_release(&run);
	offset[3] = -40;
	play(&run, offset, 0, 0, 0.05);
	calibrate_run_judge(&run, 65);
	assert_true(run.steady);
	assert_int_equal(run.sensors[3].remark, RUN_FAR);
	assert_int_equal(run.sensors[2].remark, RUN_FINE);
	calibrate_run_release(&run);
}

static void
a_silent_sensor_is_left_out_of_the_mean(void **state)
{
	double offset[SENSORS] = {0};
	struct calibrate_run run;

	(void)state;
	offset[0] = 1;
	play(&run, offset, 0, 0, 0);
	run.sensors[0].count = SECONDS / 2; /* died halfway */
	run.sensors[1].count = 0;
	calibrate_run_judge(&run, NAN);
	assert_true(run.steady);
	assert_int_equal(run.used, SENSORS - 2);
	assert_int_equal(run.sensors[0].remark, RUN_SILENT);
	assert_true(isnan(run.sensors[0].offset_dc));
	assert_int_equal(run.sensors[1].remark, RUN_SILENT);
	assert_near(run.sensors[2].offset_dc, 0, 1e-9);
	calibrate_run_release(&run);
}

static void
a_run_without_readings_is_not_steady(void **state)
{
	struct calibrate_run run;

	(void)state;
	calibrate_run_init(&run, settings, 0);
	calibrate_run_judge(&run, NAN);
	assert_false(run.steady);
	assert_int_equal(run.used, 0);
	calibrate_run_release(&run);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(the_sensors_are_those_of_tool_and_water),
	    cmocka_unit_test(offsets_are_found_within_their_errors),
	    cmocka_unit_test(each_kind_is_held_against_its_own_median),
	    cmocka_unit_test(at_hall_temperature_returns_are_held_against_the_supply),
	    cmocka_unit_test(
		one_sensor_out_of_the_water_is_left_out_and_the_others_go_on),
	    cmocka_unit_test(two_sides_have_water_of_their_own),
	    cmocka_unit_test(a_trend_is_not_steady),
	    cmocka_unit_test(noise_and_a_sensor_elsewhere_are_told),
	    cmocka_unit_test(a_silent_sensor_is_left_out_of_the_mean),
	    cmocka_unit_test(a_run_without_readings_is_not_steady),
	};
	return cmocka_run_group_tests(tests, load, unload);
}
