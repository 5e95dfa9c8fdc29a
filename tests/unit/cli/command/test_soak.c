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

/* A quarter-inch sheet of constant properties: the demonstration values of a plastic such
 * as ABS, 0.18 W/(m K) over 1050 kg/m3 and 2050 J/(kg K). */
static const struct slab slab = {0.18 / (1050 * 2050), 6.35e-3};
#define DIFFUSIVITY "8.362369337979e-8"
#define SHEET "--thickness-mm", "6.35", "--diffusivity", DIFFUSIVITY
#define SHEET_MATERIAL                                                             \
	"--thickness-mm=6.35", "--material=sheet", "--config", readings.materials, \
	    "--start-c=23"

/* Of the scheme, 41 nodes and steps of 1 s. */
#define SCHEME_DC 0.03

static const char one_material[] = "[material sheet]\n"
				   "version = of the test\n"
				   "structure = amorphous\n"
				   "density_kg_per_m3 = 1050\n"
				   "heat_capacity_j_per_kgk = 2050\n"
				   "conductivity_w_per_mk = 0.18\n"
				   "form_from = 127 C\n"
				   "form_to = 182 C\n"
				   "degrades_above = 185 C\n";

static struct readings readings;
static struct plant *plant = &readings.plant;

static int
open_readings(void **state)
{
	(void)state;
	readings_open(&readings);
	readings_write(readings.materials, one_material);
	return 0;
}

static int
close_readings(void **state)
{
	(void)state;
	readings_close(&readings);
	return 0;
}

/* A row a second. */
static void
write_course(const char *header, double (*top)(double s), double (*bottom)(double s),
    int length_s)
{
	FILE *file = fopen(readings.csv, "w");

	plant_need(file != NULL, "a file");
	fprintf(file, "%s\n", header);
	for (int s = 0; s <= length_s; s++) {
		fprintf(file, "%d,%.6f", s, top(s));
		if (bottom)
			fprintf(file, ",%.6f", bottom(s));
		fputc('\n', file);
	}
	plant_need(fclose(file) == 0, "writing");
}

static double
at_180(double s)
{
	(void)s;
	return 180;
}

static double
at_190(double s)
{
	(void)s;
	return 190;
}

static double
at_170(double s)
{
	(void)s;
	return 170;
}

static double
ramp(double s)
{
	return 23 + s;
}

static void
a_step_on_both_faces_is_as_the_series_has_it(void **state)
{
	(void)state;
	write_course("t_s,top_c,bottom_c", at_180, at_180, 120);
	for (int s = 60; s <= 120; s += 60) {
		char at[16];
		snprintf(at, sizeof at, "%d", s);
		plant_run_command(plant, "soak", readings.csv, SHEET, "--start-c", "23",
		    "--at", at, "--format", "json");
		assert_int_equal(plant->code, COMMAND_DONE);
		assert_near(readings_figure(&readings, "core_c"),
		    slab_step_c(slab, 23, 180, s, 0.5), SCHEME_DC);
		assert_near(readings_figure(&readings, "quarter_top_c"),
		    slab_step_c(slab, 23, 180, s, 0.25), SCHEME_DC);
		assert_near(readings_figure(&readings, "quarter_bottom_c"),
		    slab_step_c(slab, 23, 180, s, 0.75), SCHEME_DC);
		assert_near(readings_figure(&readings, "surface_top_c"), 180, 1e-9);
		assert_near(readings_figure(&readings, "soak_index"),
		    1 - (180 - slab_step_c(slab, 23, 180, s, 0.5)) / (180 - 23), 3e-4);
		assert_near(
		    readings_figure(&readings, "fourier"), slab_fourier(slab, s), 1e-6);
		assert_near(readings_figure(&readings, "at_s"), s, 1e-9);
	}
}

static void
a_ramp_lags_as_the_series_has_it(void **state)
{
	(void)state;
	write_course("t_s,top_c,bottom_c", ramp, ramp, 120);
	plant_run_command(plant, "soak", readings.csv, SHEET, "--format", "json");
	assert_int_equal(plant->code, COMMAND_DONE);
	assert_near(readings_figure(&readings, "start_c"), 23, 1e-9);
	assert_near(readings_figure(&readings, "core_c"),
	    slab_ramp_c(slab, 23, 1, 120, 0.5), SCHEME_DC);
	assert_near(readings_figure(&readings, "quarter_top_c"),
	    slab_ramp_c(slab, 23, 1, 120, 0.25), SCHEME_DC);
}

static void
uneven_faces_move_the_quarters_and_not_the_core(void **state)
{
	(void)state;
	write_course("t_s,bottom_c,top_c", at_170, at_190, 120); /* any order */
	plant_run_command(
	    plant, "soak", readings.csv, SHEET, "--start-c", "23", "--format", "json");
	assert_near(readings_figure(&readings, "core_c"),
	    slab_step_c(slab, 23, 180, 120, 0.5), SCHEME_DC);
	assert_near(readings_figure(&readings, "quarter_top_c"),
	    slab_step_c(slab, 23, 180, 120, 0.25) + slab_uneven_dc(slab, 10, 120, 0.25),
	    SCHEME_DC);
	assert_near(readings_figure(&readings, "quarter_bottom_c"),
	    slab_step_c(slab, 23, 180, 120, 0.75) + slab_uneven_dc(slab, 10, 120, 0.75),
	    SCHEME_DC);
}

static void
one_face_alone_stands_for_both_in_a_wider_band(void **state)
{
	double core, low, high;

	(void)state;
	write_course("t_s,top_c,bottom_c", at_180, at_180, 120);
	plant_run_command(
	    plant, "soak", readings.csv, SHEET, "--start-c", "23", "--format", "json");
	core = readings_figure(&readings, "core_c");
	low = readings_figure(&readings, "low");
	high = readings_figure(&readings, "high");
	assert_true(low < core && core < high);
	write_course("t_s,top_c", at_180, NULL, 120);
	plant_run_command(
	    plant, "soak", readings.csv, SHEET, "--start-c", "23", "--format", "json");
	assert_near(readings_figure(&readings, "core_c"), core, 1e-9);
	assert_true(readings_figure(&readings, "high") > high);
	assert_true(readings_figure(&readings, "low") < low);
	assert_tells(plant->out, "the bottom face was not measured");
}

static void
longer_holds_the_surfaces_and_thicker_scales(void **state)
{
	(void)state;
	write_course("t_s,top_c,bottom_c", at_180, at_180, 120);
	plant_run_command(plant, "soak", readings.csv, SHEET, "--start-c", "23", "--at",
	    "60", "--longer-s", "60", "--format", "json");
	assert_near(readings_figure(&readings, "core_c"),
	    slab_step_c(slab, 23, 180, 120, 0.5), SCHEME_DC);
	assert_near(readings_figure(&readings, "at_s"), 120, 1e-9);
	assert_tells(plant->out, "the last 60 s were not measured");
	plant_run_command(plant, "soak", readings.csv, SHEET, "--start-c", "23", "--at",
	    "60", "--longer-s", "60");
	assert_tells(plant->out, "120 s of heat, the last of them not measured\n");
	const struct slab thicker = {slab.diffusivity, 1.03 * slab.thickness_m};
	plant_run_command(plant, "soak", readings.csv, "--thickness-mm", "6.5405",
	    "--diffusivity", DIFFUSIVITY, "--start-c", "23", "--format", "json");
	assert_near(readings_figure(&readings, "core_c"),
	    slab_step_c(thicker, 23, 180, 120, 0.5), SCHEME_DC);
}

static void
a_material_of_constant_figures_is_as_its_diffusivity(void **state)
{
	(void)state;
	write_course("t_s,top_c,bottom_c", at_180, at_180, 120);
	plant_run_command(
	    plant, "soak", readings.csv, SHEET_MATERIAL, "--format", "json");
	assert_int_equal(plant->code, COMMAND_DONE);
	assert_near(readings_figure(&readings, "core_c"),
	    slab_step_c(slab, 23, 180, 120, 0.5), SCHEME_DC);
	assert_near(readings_figure(&readings, "diffusivity_m2_per_s"),
	    slab.diffusivity, 1e-4 * slab.diffusivity);
	assert_near(
	    readings_figure(&readings, "fourier"), slab_fourier(slab, 120), 1e-4);
	assert_near(readings_figure(&readings, "above_limit_s"), 0, 1e-9);
	assert_tells(plant->out, "\"material\": \"sheet\"");
	assert_tells(plant->out, "\"version\": \"of the test\"");
}

static void
on_the_way_the_faces_cool_and_the_core_follows(void **state)
{
	double core;

	(void)state;
	write_course("t_s,top_c,bottom_c", at_180, at_180, 120);
	plant_run_command(plant, "soak", readings.csv, SHEET_MATERIAL, "--transfer-s",
	    "9", "--air-c", "25", "--format", "json");
	assert_int_equal(plant->code, COMMAND_DONE);
	core = readings_figure(&readings, "core_c");
	assert_true(readings_figure(&readings, "surface_top_c") < 170);
	assert_true(core > slab_step_c(slab, 23, 180, 120, 0.5) &&
		    core < slab_step_c(slab, 23, 180, 129, 0.5));
	assert_near(readings_figure(&readings, "at_s"), 129, 1e-9);
	/* the index and the state of the heat's end stand beside them */
	assert_near(readings_figure(&readings, "soak_index"),
	    1 - (180 - slab_step_c(slab, 23, 180, 120, 0.5)) / (180 - 23), 3e-4);
	const char *heat_end = strstr(plant->out, "\"heat_end\": {");
	assert_non_null(heat_end);
	assert_tells(heat_end, "\"surface_top_c\": 180");
	plant_run_command(plant, "soak", readings.csv, SHEET_MATERIAL, "--transfer-s",
	    "9", "--air-c", "25");
	assert_tells(plant->out, "at the form");
	assert_tells(plant->out, "have cooled on the way to the form");
}

static void
people_read_what_it_means(void **state)
{
	static const char *const parts[] = {"core 121.5 C (", "6.35 mm of sheet",
	    "of the test (", "0 to 60 s of '", "still soaking: the surfaces are 58.5 C",
	    "the core is below the forming window of sheet, 127 to 182 C; its band "
	    "reaches into it",
	    "the sheet is taken to go in", "release no part on it alone"};

	(void)state;
	write_course("t_s,top_c,bottom_c", at_180, at_180, 120);
	plant_run_command(plant, "soak", readings.csv, SHEET_MATERIAL, "--at", "60");
	for (size_t i = 0; i < sizeof parts / sizeof parts[0]; i++)
		if (i != 6)
			assert_tells(plant->out, parts[i]);
	assert_tells_not(plant->out, parts[6]);
	/* a site that reads F; the first reading as the start */
	plant_run_command(
	    plant, "soak", readings.csv, SHEET, "--config", "conf/demo.ini");
	assert_int_equal(plant->code, COMMAND_DONE);
	assert_tells(plant->out, "core 356.0 F (");
	assert_tells(plant->out, parts[6]);
	assert_tells(plant->out, "nothing was heated");
	write_course("t_s,top_c,bottom_c", at_190, at_190, 120);
	plant_run_command(plant, "soak", readings.csv, SHEET_MATERIAL);
	assert_tells(
	    plant->out, "a surface was above 185 C, where sheet degrades, for 1");
}

static void
csv_is_the_course_to_the_same_end(void **state)
{
	char last[64];
	double s, top, quarter, core;

	(void)state;
	write_course("t_s,top_c,bottom_c", at_180, at_180, 120);
	plant_run_command(
	    plant, "soak", readings.csv, SHEET, "--start-c", "23", "--format", "json");
	double wanted = readings_figure(&readings, "core_c");
	plant_run_command(
	    plant, "soak", readings.csv, SHEET, "--start-c", "23", "--format", "csv");
	assert_tells(plant->out, "t_s,surface_top_c,quarter_top_c,core_c,"
				 "quarter_bottom_c,surface_bottom_c,mean_c\r\n0,23,23");
	const char *line = strstr(plant->out, "\r\n120,");
	assert_non_null(line);
	snprintf(last, sizeof last, "%s", line + 2);
	assert_int_equal(sscanf(last, "%lf,%lf,%lf,%lf", &s, &top, &quarter, &core), 4);
	assert_near(core, wanted, 1e-9);
}

static void
svg_is_a_picture_of_the_same(void **state)
{
	(void)state;
	write_course("t_s,top_c,bottom_c", at_180, at_180, 120);
	plant_run_command(plant, "soak", readings.csv, SHEET_MATERIAL, "--at", "60",
	    "--format", "svg");
	assert_int_equal(plant->code, COMMAND_DONE);
	assert_memory_equal(plant->out, "<?xml ", 6);
	assert_tells(plant->out, ">6.35 mm of sheet<");
	assert_tells(plant->out, ">core 121.5 C (");
	assert_tells(plant->out, ">forming window<");
	assert_tells(plant->out, ">60 s<");
	assert_tells(plant->out, "</svg>\n");
	plant_run_command(plant, "soak", readings.csv, SHEET, "--format", "html");
	assert_int_equal(plant->code, COMMAND_USAGE);
	assert_tells(
	    plant->err, "'--format' is 'html', must be text, json, csv or svg\n");
	plant_run_command(plant, "check", "--format", "svg");
	assert_tells(plant->err, "'--format' is 'svg', must be text, json or csv\n");
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

static void
what_cannot_be_meant_is_refused(void **state)
{
	static const struct {
		const char *words[10];
		const char *told;
	} rows[] = {
	    {{"--diffusivity", "8e-8"}, "say how thick the cold sheet is"},
	    {{"--thickness-mm", "6"}, "say what the sheet is made of"},
	    {{"--thickness-mm", "600", "--diffusivity", "8e-8"}, "must be 0.2..50"},
	    {{"--thickness-mm", "6", "--diffusivity", "0.084"}, "must be 1e-09..1e-05"},
	    {{"--thickness-mm", "6", "--diffusivity", "8e-8", "--material", "sheet"},
		"two ways to say the same"},
	    {{"--thickness-mm", "6", "--material", "shet"},
		"there is no material 'shet' in '"},
	    {{"--thickness-mm", "6", "--material", "shet"}, "did you mean 'sheet'?"},
	    {{"--thickness-mm", "6", "--material", "granite"}, ": it has sheet\n"},
	    {{"--thickness-mm", "6", "--diffusivity", "8e-8", "--at", "121"},
		"the last reading is at 120 s"},
	    {{"--thickness-mm", "6", "--diffusivity", "8e-8", "--at", "0"},
		"must be after the first reading at 0 s"},
	    {{"--thickness-mm", "6", "--diffusivity", "8e-8", "--transfer-s", "9"},
		"'--transfer-s' and '--air-c' go together"},
	    {{"--thickness-mm", "6", "--diffusivity", "8e-8", "--transfer-s", "9",
		 "--air-c", "25"},
		"a diffusivity alone does not do"},
	};

	(void)state;
	write_course("t_s,top_c,bottom_c", at_180, at_180, 120);
	for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
		const char *words[16] = {
		    "soak", readings.csv, "--config", readings.materials};
		memcpy(words + 4, rows[i].words, sizeof rows[i].words);
		plant_call(plant, words);
		assert_int_equal(plant->code, COMMAND_USAGE);
		assert_tells(plant->err, rows[i].told);
		assert_string_equal(plant->out, "");
	}
}

static void
a_material_without_its_melting_is_refused(void **state)
{
	(void)state;
	write_course("t_s,top_c,bottom_c", at_180, at_180, 120);
	readings_write(readings.materials, "[material bare]\nemissivity = 0.9\n");
	plant_run_command(plant, "soak", readings.csv, "--thickness-mm", "6",
	    "--material", "Bare", "--config", readings.materials);
	assert_int_equal(plant->code, COMMAND_CANNOT);
	assert_tells(plant->err, "'bare'");
	readings_write(readings.materials, one_material);
	plant_run_command(plant, "soak", readings.csv, "--thickness-mm", "6",
	    "--material", "sheet", "--config", "/nowhere/x.ini");
	assert_int_equal(plant->code, COMMAND_CANNOT);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(a_step_on_both_faces_is_as_the_series_has_it),
	    cmocka_unit_test(a_ramp_lags_as_the_series_has_it),
	    cmocka_unit_test(uneven_faces_move_the_quarters_and_not_the_core),
	    cmocka_unit_test(one_face_alone_stands_for_both_in_a_wider_band),
	    cmocka_unit_test(longer_holds_the_surfaces_and_thicker_scales),
	    cmocka_unit_test(a_material_of_constant_figures_is_as_its_diffusivity),
	    cmocka_unit_test(on_the_way_the_faces_cool_and_the_core_follows),
	    cmocka_unit_test(people_read_what_it_means),
	    cmocka_unit_test(csv_is_the_course_to_the_same_end),
	    cmocka_unit_test(svg_is_a_picture_of_the_same),
	    cmocka_unit_test(files_are_read_as_programs_write_them),
	    cmocka_unit_test(every_bad_line_is_told),
	    cmocka_unit_test(fifty_bad_lines_are_told_and_the_rest_counted),
	    cmocka_unit_test(what_cannot_be_meant_is_refused),
	    cmocka_unit_test(a_material_without_its_melting_is_refused),
	};

	return cmocka_run_group_tests(tests, open_readings, close_readings);
}
