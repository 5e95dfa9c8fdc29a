/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>

#include <cmocka.h>

#include "tests/unit/cli/command/readings.h"
#include "tests/unit/near.h"

#define SHEET "--thickness-mm", "6.35", "--diffusivity", "8.362369337979e-8"

static struct readings readings;
static struct plant *plant = &readings.plant;

static int
open_readings(void **state)
{
	(void)state;
	readings_open(&readings);
	return 0;
}

static int
close_readings(void **state)
{
	(void)state;
	readings_close(&readings);
	return 0;
}

static double
ramp(double s)
{
	return 23 + s;
}

static void
files_are_read_as_programs_write_them(void **state)
{
	static const char *const files[] = {
	    "\xef\xbb\xbft_s,top_c,bottom_c\r\n0,20,20\r\n10,30,30\r\n20,40,40\r\n",
	    "\n\"t_s\" , \"bottom_c\", \"a \"\"note\"\", here\",\"top_c\"\n"
	    "0,20,x,20\n\n10,30,\"y, z\",\n20,40,,40",
	    "t_s,top_c,bottom_c\n0,20,\n5,,25\n10,,\n20,40,40\n",
	    /* times of a clock: what counts is how far they are apart */
	    "t_s,top_c\n1772427600,20\n1772427620,40\n",
	};

	(void)state;
	for (size_t i = 0; i < sizeof files / sizeof files[0]; i++) {
		readings_write(readings.csv, files[i]);
		plant_run_command(
		    plant, "soak", readings.csv, SHEET, "--format", "json");
		assert_string_equal(plant->err, "");
		assert_int_equal(plant->code, COMMAND_DONE);
		assert_near(readings_figure(&readings, "at_s") -
				readings_figure(&readings, "heat_start_s"),
		    20, 1e-6);
		assert_near(readings_figure(&readings, "start_c"), 20, 1e-9);
		assert_near(readings_figure(&readings, "surface_top_c"), 40, 1e-9);
	}
	assert_non_null(freopen(readings.csv, "r", stdin));
	plant_run_command(plant, "soak", "-", SHEET, "--format", "json");
	assert_int_equal(plant->code, COMMAND_DONE);
	assert_near(readings_figure(&readings, "surface_top_c"), 40, 1e-9);
	assert_non_null(freopen("/dev/null", "r", stdin));
}

static void
columns_in_f_are_the_same_temperatures(void **state)
{
	double core;

	(void)state;
	readings_write(
	    readings.csv, "t_s,top_c,bottom_c\n0,20,25\n60,120,110\n120,180,170\n");
	plant_run_command(plant, "soak", readings.csv, SHEET, "--format", "json");
	core = readings_figure(&readings, "core_c");
	/* 9/5 of them and 32: exact in binary too */
	readings_write(
	    readings.csv, "t_s,top_f,bottom_f\n0,68,77\n60,248,230\n120,356,338\n");
	plant_run_command(plant, "soak", readings.csv, SHEET, "--format", "json");
	assert_int_equal(plant->code, COMMAND_DONE);
	assert_near(readings_figure(&readings, "core_c"), core, 1e-9);
	assert_near(readings_figure(&readings, "start_c"), 22.5, 1e-9);
	/* each face has its own unit, and one of them */
	readings_write(
	    readings.csv, "t_s,top_c,bottom_f\n0,20,77\n60,120,230\n120,180,338\n");
	plant_run_command(plant, "soak", readings.csv, SHEET, "--format", "json");
	assert_near(readings_figure(&readings, "core_c"), core, 1e-9);
	readings_write(readings.csv, "t_s,top_c,top_f\n0,20,68\n60,120,248\n");
	plant_run_command(plant, "soak", readings.csv, SHEET);
	assert_int_equal(plant->code, COMMAND_CANNOT);
	assert_tells(plant->err, ":1: the header has 'top_c' and 'top_f': leave one");
	readings_write(readings.csv, "t_s,top_f\n0,68\n60,1200\n");
	plant_run_command(plant, "soak", readings.csv, SHEET);
	assert_tells(plant->err, ":3: 'top_f' is 1200, must be -76..1112");
}

/* A ramp of 1 K/s that one reading leaves, row 41 of the file. */
static double spike_c;

static double
ramp_with_a_spike(double s)
{
	return ramp(s) + (fabs(s - 39) < 0.5 ? spike_c : 0);
}

static void
a_reading_that_jumps_is_told_with_its_line(void **state)
{
	(void)state;
	spike_c = 500;
	readings_course(&readings, "t_s,bottom_c,top_c", ramp, ramp_with_a_spike, 120);
	plant_run_command(plant, "soak", readings.csv, SHEET);
	assert_int_equal(plant->code, COMMAND_DONE);
	assert_says(plant->out, "readings.csv:41: the top face reads 562.0 C between "
				"61.0 and 63.0: no sheet jumps so");
	assert_tells_not(plant->out, "two heats");
	plant_run_command(plant, "soak", readings.csv, SHEET, "--at", "30");
	assert_tells_not(plant->out, "no sheet jumps so");
	spike_c = 25;
	readings_course(&readings, "t_s,bottom_c,top_c", ramp, ramp_with_a_spike, 120);
	plant_run_command(plant, "soak", readings.csv, SHEET);
	assert_tells_not(plant->out, "no sheet jumps so");
	/* minutes apart it may be heat */
	readings_write(readings.csv, "t_s,top_c\n0,20\n60,120\n120,60\n");
	plant_run_command(plant, "soak", readings.csv, SHEET);
	assert_tells_not(plant->out, "no sheet jumps so");
}

/* Up for 100 s, and again. */
static double
ramp_twice(double s)
{
	return s < 100 ? ramp(s) : ramp(s - 100);
}

/* Up for 100 s, down by half on the way between two ovens, and up again. */
static double
ramp_on(double s)
{
	return s <= 100 ? ramp(s) : s <= 150 ? ramp(200 - s) : ramp(s - 100);
}

static void
two_heats_in_a_file_are_told(void **state)
{
	(void)state;
	readings_course(&readings, "t_s,top_c,bottom_c", ramp_twice, ramp_twice, 199);
	plant_run_command(plant, "soak", readings.csv, SHEET);
	assert_int_equal(plant->code, COMMAND_DONE);
	assert_says(plant->out,
	    "readings.csv:102: the top face falls back to 23.0 C and "
	    "rises again, as in two heats");
	assert_says(plant->out, "'--at 99' ends with the first");
	plant_run_command(plant, "soak", readings.csv, SHEET, "--at", "99");
	assert_tells_not(plant->out, "two heats");
	readings_course(&readings, "t_s,top_c,bottom_c", ramp_on, ramp_on, 200);
	plant_run_command(plant, "soak", readings.csv, SHEET);
	assert_tells_not(plant->out, "two heats");
}

static void
every_bad_line_is_told(void **state)
{
	static const struct {
		const char *file, *told[4];
	} rows[] = {
	    {"t_s,top_c,bottom_c\n0,20,20\n10,abc,30\n,30,30\n20,30\n15,9999,30\n9,1,"
	     "1\n",
		{"readings.csv:3: 'top_c' is 'abc', must be a number",
		    "readings.csv:4: there is no 't_s'\n",
		    "readings.csv:5: 2 fields, must be 3 as the header has\n",
		    "readings.csv:6: 'top_c' is 9999, must be -60..600"}},
	    {"t_s,top_c\n10,20\n10,30\n5,40\n",
		{"readings.csv:3: 't_s' is 10, must be above that of the row before",
		    "readings.csv:4: 't_s' is 5, must be above"}},
	    {"t,top_c\n0,20\n", {"readings.csv:1: the header has no column 't_s'"}},
	    {"t_s;top_c\n0;20\n", {"parted by ';', must be by ','"}},
	    {"t_s\ttop_c\n0\t20\n",
		{":1: the columns are parted by tabs, must be by ','"}},
	    {"time,top,bottom\n0,20,20\n",
		{":1: the header has no column 't_s'; it has time, top, bottom\n"}},
	    {"T_S,top_c\n0,20\n", {"no column 't_s'; is 'T_S' meant?"}},
	    {"t_s,top_c,top_c\n0,1,2\n",
		{"readings.csv:1: the header has 'top_c' twice"}},
	    {"", {"is empty; its first line must name the columns"}},
	    {"t_s,top_c\n", {"has a header and no rows"}},
	    {"t_s,top_c\n0,\"20\n", {"readings.csv:2: quotes that do not end"}},
	    {"t_s,surface\n0,20\n10,30\n", {"has no heating in it"}},
	    {"t_s,top_c\n0,20\n10,\n", {"has no heating in it"}},
	    {"t_s,top_c\n0,20\n170000,180\n",
		{"is 170000 s long, longer than 21600 s: is 't_s' in another unit"}},
	};

	(void)state;
	for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
		readings_write(readings.csv, rows[i].file);
		plant_run_command(plant, "soak", readings.csv, SHEET);
		assert_int_equal(plant->code, COMMAND_CANNOT);
		assert_string_equal(plant->out, "");
		for (int j = 0; j < 4 && rows[i].told[j]; j++)
			assert_tells(plant->err, rows[i].told[j]);
	}
	plant_run_command(plant, "soak", "/nowhere/x.csv", SHEET);
	assert_int_equal(plant->code, COMMAND_CANNOT);
	assert_tells(plant->err, "/nowhere/x.csv: cannot be read: No such file");
	plant_run_command(plant, "soak", readings.folder, SHEET);
	assert_tells(plant->err, ": is a folder\n");
}

static void
fifty_bad_lines_are_told_and_the_rest_counted(void **state)
{
	FILE *file = fopen(readings.csv, "w");

	(void)state;
	plant_need(file != NULL, "a file");
	fputs("t_s,top_c\n", file);
	for (int i = 0; i < 70; i++)
		fprintf(file, "%d,x\n", i);
	fclose(file);
	plant_run_command(plant, "soak", readings.csv, SHEET);
	assert_tells(plant->err, "readings.csv:51: ");
	assert_tells_not(plant->err, "readings.csv:52: ");
	assert_tells(plant->err, "... and 20 more\n");
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(files_are_read_as_programs_write_them),
	    cmocka_unit_test(columns_in_f_are_the_same_temperatures),
	    cmocka_unit_test(a_reading_that_jumps_is_told_with_its_line),
	    cmocka_unit_test(two_heats_in_a_file_are_told),
	    cmocka_unit_test(every_bad_line_is_told),
	    cmocka_unit_test(fifty_bad_lines_are_told_and_the_rest_counted),
	};

	return cmocka_run_group_tests(tests, open_readings, close_readings);
}
