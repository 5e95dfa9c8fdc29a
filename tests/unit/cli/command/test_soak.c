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
	readings_course(&readings, "t_s,top_c,bottom_c", at_180, at_180, 120);
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
	readings_course(&readings, "t_s,top_c,bottom_c", ramp, ramp, 120);
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
	readings_course(
	    &readings, "t_s,bottom_c,top_c", at_170, at_190, 120); /* any order */
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
	readings_course(&readings, "t_s,top_c,bottom_c", at_180, at_180, 120);
	plant_run_command(
	    plant, "soak", readings.csv, SHEET, "--start-c", "23", "--format", "json");
	core = readings_figure(&readings, "core_c");
	low = readings_figure(&readings, "low");
	high = readings_figure(&readings, "high");
	assert_true(low < core && core < high);
	readings_course(&readings, "t_s,top_c", at_180, NULL, 120);
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
	readings_course(&readings, "t_s,top_c,bottom_c", at_180, at_180, 120);
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
	readings_course(&readings, "t_s,top_c,bottom_c", at_180, at_180, 120);
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
	readings_course(&readings, "t_s,top_c,bottom_c", at_180, at_180, 120);
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
	assert_says(
	    plant->out, "50 % of the convection and 5.0 C of the air on the way");
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
	readings_course(&readings, "t_s,top_c,bottom_c", at_180, at_180, 120);
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
	readings_course(&readings, "t_s,top_c,bottom_c", at_190, at_190, 120);
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
	readings_course(&readings, "t_s,top_c,bottom_c", at_180, at_180, 120);
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
	readings_course(&readings, "t_s,top_c,bottom_c", at_180, at_180, 120);
	plant_run_command(plant, "soak", readings.csv, SHEET_MATERIAL, "--at", "60",
	    "--format", "svg");
	assert_int_equal(plant->code, COMMAND_DONE);
	assert_memory_equal(plant->out, "<?xml ", 6);
	assert_tells(plant->out, ">6.35 mm of sheet<");
	assert_tells(plant->out, ">core 121.5 C (");
	assert_tells(plant->out, ">forming window<");
	assert_tells(plant->out, ">60 s<");
	assert_tells(plant->out, "</svg>\n");
	plant_run_command(plant, "soak", readings.csv, SHEET, "--format", "jpeg");
	assert_int_equal(plant->code, COMMAND_USAGE);
	assert_tells(plant->err,
	    "'--format' is 'jpeg', must be text, json, csv, html, pdf, svg or png\n");
	plant_run_command(plant, "check", "--format", "svg");
	assert_tells(plant->err, "'--format' is 'svg', must be text, json or csv\n");
}

static void
the_picture_stands_in_documents_and_alone(void **state)
{
	(void)state;
	readings_course(&readings, "t_s,top_c,bottom_c", at_180, at_180, 120);
	plant_run_command(plant, "soak", readings.csv, SHEET_MATERIAL, "--at", "60",
	    "--format", "html");
	assert_int_equal(plant->code, COMMAND_DONE);
	assert_memory_equal(plant->out, "<!DOCTYPE html>", 15);
	assert_tells(plant->out, "<h1 id=\"s1\">6.35\xc2\xa0mm of sheet</h1>");
	assert_tells(plant->out, "<title id=\"p1-title\">6.35 mm of sheet</title>");
	assert_tells(plant->out, "<dt>Fourier number</dt>");
	plant_run_command(plant, "soak", readings.csv, SHEET, "--format", "pdf");
	assert_int_equal(plant->code, COMMAND_DONE);
	assert_memory_equal(plant->out, "%PDF-1.", 7);
	plant_run_command(plant, "soak", readings.csv, SHEET, "--format", "png",
	    "--picture", "sheet");
	assert_int_equal(plant->code, COMMAND_DONE);
	assert_memory_equal(plant->out, "\x89PNG", 4);
}

static void
a_picture_that_is_not_there_is_refused_with_those_that_are(void **state)
{
	(void)state;
	readings_course(&readings, "t_s,top_c,bottom_c", at_180, at_180, 120);
	plant_run_command(
	    plant, "soak", readings.csv, SHEET, "--format", "svg", "--picture", "oven");
	assert_int_equal(plant->code, COMMAND_USAGE);
	assert_tells(plant->err, "no picture 'oven'; '--picture' is one of 'sheet'\n");
	assert_string_equal(plant->out, "");
	plant_run_command(plant, "soak", readings.csv, SHEET, "--picture", "sheet");
	assert_int_equal(plant->code, COMMAND_USAGE);
	assert_tells(
	    plant->err, "'--picture' needs '--format svg' or '--format png'\n");
	plant_run_command(plant, "check", "--picture", "sheet");
	assert_tells(plant->err, "unknown option '--picture'");
}

static void
json_tells_all_that_was_asked(void **state)
{
	(void)state;
	readings_course(&readings, "t_s,top_c,bottom_c", at_180, at_180, 120);
	plant_run_command(plant, "soak", readings.csv, SHEET_MATERIAL, "--transfer-s",
	    "9", "--air-c", "28", "--longer-s", "11", "--format", "json");
	assert_tells(plant->out, "/readings.csv\",\n");
	assert_near(readings_figure(&readings, "transfer_s"), 9, 1e-9);
	assert_near(readings_figure(&readings, "air_c"), 28, 1e-9);
	assert_near(readings_figure(&readings, "longer_s"), 11, 1e-9);
	assert_near(readings_figure(&readings, "thickness"), 0.02, 1e-9);
	assert_near(readings_figure(&readings, "diffusivity"), 0.15, 1e-9);
	assert_near(readings_figure(&readings, "surface_dc"), 2, 1e-9);
	assert_near(readings_figure(&readings, "lag_s"), 1, 1e-9);
	assert_near(readings_figure(&readings, "transfer_w_per_m2k"), 10, 1e-9);
	plant_run_command(
	    plant, "soak", readings.csv, SHEET_MATERIAL, "--longer-s", "11");
	assert_tells(plant->out, "0 to 120 s of '");
	assert_tells(plant->out, "readings.csv', then 11 s held\n");
	assert_tells_not(plant->out, "131 s of '");
	plant_run_command(plant, "soak", readings.csv, SHEET, "--format", "json");
	assert_true(isnan(readings_figure(&readings, "air_c")));
}

static void
a_picture_by_the_clock_is_that_from_zero(void **state)
{
	char *from_zero;

	(void)state;
	readings_write(readings.csv, "t_s,top_c\n0,20\n50,100\n100,170\n");
	plant_run_command(plant, "soak", readings.csv, SHEET, "--format", "svg");
	from_zero = strdup(plant->out);
	assert_non_null(from_zero);
	readings_write(
	    readings.csv, "t_s,top_c\n1772427600,20\n1772427650,100\n1772427700,170\n");
	plant_run_command(plant, "soak", readings.csv, SHEET, "--format", "svg");
	assert_string_equal(plant->out, from_zero);
	free(from_zero);
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
	readings_course(&readings, "t_s,top_c,bottom_c", at_180, at_180, 120);
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
	readings_course(&readings, "t_s,top_c,bottom_c", at_180, at_180, 120);
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
	    cmocka_unit_test(the_picture_stands_in_documents_and_alone),
	    cmocka_unit_test(
		a_picture_that_is_not_there_is_refused_with_those_that_are),
	    cmocka_unit_test(json_tells_all_that_was_asked),
	    cmocka_unit_test(a_picture_by_the_clock_is_that_from_zero),
	    cmocka_unit_test(what_cannot_be_meant_is_refused),
	    cmocka_unit_test(a_material_without_its_melting_is_refused),
	};

	return cmocka_run_group_tests(tests, open_readings, close_readings);
}
