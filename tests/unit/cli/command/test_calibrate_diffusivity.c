/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>

#include <cmocka.h>

#include "tests/unit/cli/command/readings.h"
#include "tests/unit/cli/command/series.h"
#include "tests/unit/near.h"

static const struct slab slab = {8.4e-8, 6.35e-3};

static struct readings readings;
static struct plant *plant = &readings.plant;

/* The material of the set-up: of a quarter more diffusivity than the slab. */
static const char two_points[] = "[material sheet]\n"
				 "structure = amorphous\n"
				 "density_kg_per_m3 = 1000\n"
				 "heat_capacity_j_per_kgk = 2000\n"
				 "conductivity_w_per_mk = 23: 0.21, 150: 0.21\n";

static int
open_readings(void **state)
{
	(void)state;
	readings_open(&readings);
	readings_write(readings.materials, two_points);
	return 0;
}

static int
close_readings(void **state)
{
	(void)state;
	readings_close(&readings);
	return 0;
}

/* Both faces rise by 1 K/s for two minutes; the thermocouple shows the series, and noise
 * of `sd_dc`, all of one run `shift_dc` off in its second half. */
static void
write_run(double depth, double sd_dc, double shift_dc, unsigned short seed)
{
	struct plant noise = {.random = {seed}};
	FILE *file = fopen(readings.csv, "w");

	plant_need(file != NULL, "a file");
	fprintf(file, "t_s,top_c,bottom_c,inside_c\n");
	for (int s = 0; s <= 120; s++)
		fprintf(file, "%d,%d,%d,%.6f\n", s, 23 + s, 23 + s,
		    slab_ramp_c(slab, 23, 1, s, depth) + sd_dc * plant_normal(&noise) +
			(s > 60 ? shift_dc : 0));
	plant_need(fclose(file) == 0, "writing");
}

#define RUN \
	"calibrate", "diffusivity", readings.csv, "--thickness-mm=6.35", "--start-c=23"

static void
the_diffusivity_of_the_series_is_found(void **state)
{
	static const double depths[] = {0.5, 0.3};

	(void)state;
	for (size_t i = 0; i < 2; i++) {
		char depth[16];
		snprintf(depth, sizeof depth, "%g", depths[i]);
		write_run(depths[i], 0, 0, 1);
		plant_run_command(plant, RUN, "--depth", depth, "--format", "json");
		assert_int_equal(plant->code, COMMAND_DONE);
		assert_near(readings_figure(&readings, "diffusivity_m2_per_s"),
		    slab.diffusivity, 2e-3 * slab.diffusivity);
		assert_near(readings_figure(&readings, "residual_sd_dc"), 0, 0.05);
		assert_true(isnan(readings_figure(&readings, "conductivity_factor")));
		assert_near(readings_figure(&readings, "readings"), 121, 1);
	}
}

static void
the_interval_holds_it_about_as_often_as_it_says(void **state)
{
	enum { RUNS = 100 };
	unsigned short seed = (unsigned short)seed_take(5);
	int held = 0;

	(void)state;
	for (int i = 0; i < RUNS; i++) {
		write_run(0.5, 0.5, 0, (unsigned short)(seed + i));
		plant_run_command(plant, RUN, "--format", "json");
		double low = readings_figure(&readings, "low_m2_per_s");
		double high = readings_figure(&readings, "high_m2_per_s");
		held += low <= slab.diffusivity && slab.diffusivity <= high;
	}
	print_message("%d of %d intervals hold it\n", held, RUNS);
	/* 95 % of 100: fewer than 86 come once in 7000 times (binomial) */
	assert_in_range(held, 86, RUNS);
}

static void
twice_the_noise_is_twice_the_standard_error(void **state)
{
	double error, noise;

	(void)state;
	write_run(0.5, 0.4, 0, 3);
	plant_run_command(plant, RUN, "--format", "json");
	error = readings_figure(&readings, "standard_error_m2_per_s");
	noise = readings_figure(&readings, "residual_sd_dc");
	assert_near(noise, 0.4, 0.1);
	write_run(0.5, 0.8, 0, 3);
	plant_run_command(plant, RUN, "--format", "json");
	assert_near(readings_figure(&readings, "standard_error_m2_per_s") / error,
	    readings_figure(&readings, "residual_sd_dc") / noise, 0.05);
}

static void
a_material_gets_its_conductivity_scaled(void **state)
{
	(void)state;
	write_run(0.5, 0.1, 0, 2);
	plant_run_command(plant, RUN, "--material=sheet", "--config",
	    readings.materials, "--format", "json");
	assert_int_equal(plant->code, COMMAND_DONE);
	/* 8.4e-8 over 0.21/(1000 * 2000) */
	assert_near(readings_figure(&readings, "conductivity_factor"), 0.8, 0.003);
	assert_near(readings_figure(&readings, "diffusivity_m2_per_s"),
	    slab.diffusivity, 4e-3 * slab.diffusivity);
	plant_run_command(
	    plant, RUN, "--material=sheet", "--config", readings.materials);
	assert_tells(plant->out, "\n[material sheet]\n");
	assert_tells(plant->out, "\nconductivity_w_per_mk = 23: 0.16");
	assert_tells(plant->out, ", 150: 0.16");
	assert_tells(plant->out, "\ndiffusivity_tolerance_percent = 3\n");
	assert_tells(plant->out,
	    "only the diffusivity over the square of the thickness can be found");
}

/* What it says to write is read back, and then nothing is left to scale. */
static void
its_lines_can_be_put_into_the_set_up(void **state)
{
	char again[1024];

	(void)state;
	write_run(0.5, 0.1, 0, 2);
	plant_run_command(
	    plant, RUN, "--material=sheet", "--config", readings.materials);
	const char *lines = strstr(plant->out, "\nconductivity_w_per_mk");
	assert_non_null(lines);
	snprintf(again, sizeof again,
	    "[material sheet]\nstructure = amorphous\ndensity_kg_per_m3 = 1000\n"
	    "heat_capacity_j_per_kgk = 2000%s",
	    lines);
	readings_write(readings.materials, again);
	plant_run_command(plant, RUN, "--material=sheet", "--config",
	    readings.materials, "--format", "json");
	readings_write(readings.materials, two_points);
	assert_int_equal(plant->code, COMMAND_DONE);
	assert_near(readings_figure(&readings, "conductivity_factor"), 1, 1e-3);
}

static void
a_thickness_taken_wrong_by_one_is_a_diffusivity_wrong_by_two(void **state)
{
	(void)state;
	write_run(0.5, 0, 0, 1);
	plant_run_command(plant, "calibrate", "diffusivity", readings.csv,
	    "--thickness-mm=6.4135", "--start-c=23", "--format", "json");
	assert_near(
	    readings_figure(&readings, "diffusivity_m2_per_s") / slab.diffusivity,
	    1.0201, 3e-3);
}

static void
residuals_that_go_together_are_told_and_widen_it(void **state)
{
	double narrow, wide, error;

	(void)state;
	write_run(0.5, 0.3, 0, 4);
	plant_run_command(plant, RUN, "--format", "json");
	assert_tells_not(plant->out, "the residuals go together");
	narrow = readings_figure(&readings, "high_m2_per_s") -
	         readings_figure(&readings, "low_m2_per_s");
	write_run(0.5, 0.3, 4, 4);
	plant_run_command(plant, RUN, "--format", "json");
	assert_tells(plant->out, "the residuals go together");
	wide = readings_figure(&readings, "high_m2_per_s") -
	       readings_figure(&readings, "low_m2_per_s");
	error = readings_figure(&readings, "standard_error_m2_per_s");
	assert_true(wide > 2 * narrow);
	assert_true(wide > 2 * 1.96 * error * 1.5);
}

/* A thermocouple that shows something else altogether. */
static void
a_model_that_does_not_fit_gives_no_lines(void **state)
{
	(void)state;
	write_run(0.5, 0.3, 30, 4);
	plant_run_command(
	    plant, RUN, "--material=sheet", "--config", readings.materials);
	assert_int_equal(plant->code, COMMAND_NO);
	assert_says(plant->out, "the model does not fit these readings");
	assert_tells_not(plant->out, "conductivity_w_per_mk =");
	plant_run_command(plant, RUN, "--format", "csv");
	assert_int_equal(plant->code, COMMAND_NO);
	write_run(0.5, 0.3, 0, 4);
	plant_run_command(plant, RUN);
	assert_int_equal(plant->code, COMMAND_DONE);
	assert_says(plant->out, "no lines for the set-up without --material NAME");
	assert_tells_not(plant->out, "readings are few");
}

static void
few_readings_are_told(void **state)
{
	char csv[1024] = "t_s,top_c,bottom_c,inside_c\n";

	(void)state;
	for (int s = 0; s <= 120; s += 12)
		snprintf(csv + strlen(csv), sizeof csv - strlen(csv), "%d,%d,%d,%.4f\n",
		    s, 23 + s, 23 + s, slab_ramp_c(slab, 23, 1, s, 0.5));
	readings_write(readings.csv, csv);
	plant_run_command(plant, RUN);
	assert_int_equal(plant->code, COMMAND_DONE);
	assert_says(plant->out, "11 readings are few");
}

static void
csv_is_one_row_of_figures(void **state)
{
	(void)state;
	write_run(0.5, 0.1, 0, 2);
	plant_run_command(plant, RUN, "--format", "csv");
	assert_int_equal(plant->code, COMMAND_DONE);
	assert_tells(plant->out,
	    "diffusivity_m2_per_s,standard_error_m2_per_s,low_m2_per_s,high_m2_per_s,"
	    "conductivity_factor,residual_sd_dc,residual_correlation,readings,"
	    "tolerance\r\n");
}

static void
what_tells_nothing_is_refused(void **state)
{
	static const struct {
		const char *file, *told;
	} rows[] = {
	    {"t_s,top_c,bottom_c\n0,20,20\n9,30,30\n",
		"has no column 'inside_c' or 'inside_f'; it has t_s, "
		"top_c, bottom_c"},
	    {"t_s,inside_c\n0,20\n9,30\n", "has no heating in it"},
	    {"t_s,top_c,inside_c\n0,20,20\n9,30,20\n18,40,20\n", "readings.csv'"},
	};

	(void)state;
	for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
		readings_write(readings.csv, rows[i].file);
		plant_run_command(plant, RUN);
		assert_int_equal(plant->code, COMMAND_CANNOT);
		assert_tells(plant->err, rows[i].told);
		assert_string_equal(plant->out, "");
	}
	write_run(0.5, 0, 0, 1);
	plant_run_command(plant, RUN, "--depth", "1.5");
	assert_int_equal(plant->code, COMMAND_USAGE);
	plant_run_command(plant, "calibrate", "diffusivity", readings.csv);
	assert_int_equal(plant->code, COMMAND_USAGE);
	assert_tells(plant->err, "--thickness-mm MM");
	plant_run_command(plant, RUN, "--air-c", "20");
	assert_int_equal(plant->code, COMMAND_USAGE);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(the_diffusivity_of_the_series_is_found),
	    cmocka_unit_test(the_interval_holds_it_about_as_often_as_it_says),
	    cmocka_unit_test(twice_the_noise_is_twice_the_standard_error),
	    cmocka_unit_test(a_material_gets_its_conductivity_scaled),
	    cmocka_unit_test(its_lines_can_be_put_into_the_set_up),
	    cmocka_unit_test(
		a_thickness_taken_wrong_by_one_is_a_diffusivity_wrong_by_two),
	    cmocka_unit_test(residuals_that_go_together_are_told_and_widen_it),
	    cmocka_unit_test(a_model_that_does_not_fit_gives_no_lines),
	    cmocka_unit_test(few_readings_are_told),
	    cmocka_unit_test(csv_is_one_row_of_figures),
	    cmocka_unit_test(what_tells_nothing_is_refused),
	};

	return cmocka_run_group_tests(tests, open_readings, close_readings);
}
