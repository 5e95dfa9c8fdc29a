/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Materials: what is told of them, and the file of theirs that is read along. */
#include "conf/settings.h"

#include <math.h>
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>
#include <cmocka.h>

#include "conf/bundle.h"
#include "tests/unit/conf/parsed.h"
#include "tests/unit/near.h"
#include "tests/unit/published.h"

/* --- what is told ------------------------------------------------------------------- */

static void
what_is_not_told_is_not_a_number(void **state)
{
	struct settings *settings = parsed(plant);
	const struct line_settings *line = settings->lines;
	const struct material_settings *material = settings_material(settings, "abs");
	const struct recipe_settings *recipe = settings_recipe(settings, 12);

	(void)state;
	assert_string_equal(settings->materials_path, "");
	assert_int_equal(line->view, VIEW_OVEN);
	assert_near(line->pyrometer_lag_s, 0, 0);
	assert_near(line->pyrometer_lag_tolerance_s, 1, 0);
	assert_near(line->pyrometer_tolerance_dc, 2, 0);
	assert_near(line->pyrometer_gain_tolerance, 0.02, 1e-15);
	assert_near(line->start_tolerance_dc, 2, 0);
	assert_true(isnan(line->start_c));
	assert_near(line->transfer_w_m2k, 10, 0);
	assert_near(line->transfer_tolerance, 0.5, 1e-15);
	assert_near(line->ambient_tolerance_dc, 5, 0);
	assert_true(isnan(line->oven_air_w_m2k));
	assert_near(line->oven_exchange_tolerance, 0.25, 1e-15);
	assert_near(line->oven_air_tolerance_dc, 5, 0);
	assert_near(line->coolant_heat_ratio, 1, 1e-15);
	assert_near(line->coolant_viscosity_ratio, 1, 0);
	assert_true(isnan(recipe->thickness_m));
	assert_near(recipe->thickness_tolerance, 0.02, 1e-15);
	assert_true(isnan(recipe->sheet_length_m) && isnan(recipe->sheet_width_m));
	assert_true(isnan(recipe->demould_c));
	assert_true(isnan(settings_tool(settings, "T-1")->bore_m));
	assert_string_equal(material->version, "");
	assert_int_equal(material->structure, STRUCTURE_AMORPHOUS);
	assert_true(isnan(material->density));
	assert_int_equal(material->heat_capacity.count, 0);
	assert_int_equal(material->conductivity.count, 0);
	assert_true(isnan(material->fusion_j_kg) && isnan(material->melting_c) &&
		    isnan(material->melting_width_dc));
	assert_near(material->emissivity, 0.94, 0);
	assert_near(material->diffusivity_tolerance, 0.15, 1e-15);
	assert_near(material->fusion_tolerance, 0.1, 1e-15);
	assert_true(isnan(material->form_low_c) && isnan(material->form_high_c) &&
		    isnan(material->limit_c) && isnan(material->demould_c));
	assert_false(material->replaces);
	settings_free(settings);
}

static void
temperatures_differences_and_lengths_have_their_own_units(void **state)
{
	struct settings *settings =
	    parsed_with("heat_timer_s = 230", "heat_timer_s = 230\npyrometers = exit\n"
					      "pyrometer_tolerance = 3.6 F\n"
					      "start_tolerance = 1.5 K\n"
					      "start_temperature = 68 F\n"
					      "coolant_heat_percent = 90\n"
					      "[channel plc.surface]\n"
					      "role = surface_top\n"
					      "table = input\n"
					      "address = 0\n"
					      "type = int16\n"
					      "unit = C\n");
	const struct line_settings *line = settings->lines;

	(void)state;
	assert_int_equal(line->view, VIEW_EXIT);
	assert_near(line->pyrometer_tolerance_dc, 2, 1e-12); /* without the 32 */
	assert_near(line->start_tolerance_dc, 1.5, 0);
	assert_near(line->start_c, 20, 1e-12);
	assert_near(line->coolant_heat_ratio, 0.9, 1e-15);
	settings_free(settings);

	settings = parsed_with("material = abs",
	    "material = abs\nthickness = 0.25 in\nthickness_tolerance_percent = 1.5\n"
	    "sheet_length = 1800 mm\nsheet_width = 48 in\ndemould = 185 F");
	const struct recipe_settings *recipe = settings_recipe(settings, 12);
	assert_near(recipe->thickness_m, 0.00635, 1e-15);
	assert_near(recipe->thickness_tolerance, 0.015, 1e-15);
	assert_near(recipe->sheet_length_m, 1.8, 1e-12);
	assert_near(recipe->sheet_width_m, 1.2192, 1e-12);
	assert_near(recipe->demould_c, 85, 1e-12);
	settings_free(settings);
}

#define SET                                                            \
	"[material abs]\nversion = 2026-03 b\nstructure = amorphous\n" \
	"density_kg_per_m3 = 1050\n"                                   \
	"heat_capacity_j_per_kgk = 23: 1300, 221 F: 1700, 180: 2100\n" \
	"conductivity_w_per_mk = 0.18\nform_from = 127 C\n"

static void
a_property_is_a_number_or_a_curve(void **state)
{
	struct settings *settings = parsed_with("[material abs]\n", SET);
	const struct material_settings *material = settings_material(settings, "abs");

	(void)state;
	assert_string_equal(material->version, "2026-03 b");
	assert_near(material->density, 1050, 0);
	assert_int_equal(material->heat_capacity.count, 3);
	assert_near(material->heat_capacity.at_c[0], 23, 0);
	assert_near(material->heat_capacity.value[0], 1300, 0);
	assert_near(material->heat_capacity.at_c[1], 105, 1e-12);
	assert_near(material->heat_capacity.value[2], 2100, 0);
	assert_int_equal(material->conductivity.count, 1);
	assert_near(material->conductivity.value[0], 0.18, 0);
	settings_free(settings);
}

/* The hash of abs with one change in the set. */
static void
hash_with(const char *from, const char *to, char hash[static 9])
{
	char *text = plant_with("[material abs]\n", SET);
	struct settings *settings = parsed_from(text, from, to);

	memcpy(hash, settings_material(settings, "abs")->hash, 9);
	settings_free(settings);
	free(text);
}

static void
the_hash_is_of_the_figures_alone(void **state)
{
	static const char *const same[][2] = {{"2026-03 b", "2026-04"},
	    {"density_kg_per_m3 = 1050", "density_kg_per_m3 = 1050.0 ; as sold"},
	    {"221 F", "105"}, {"form_from = 127 C", "form_from = 130 C"}};
	static const char *const other[][2] = {{"1050", "1051"}, {"0.18", "0.19"},
	    {"1700", "1701"}, {"180: 2100", "181: 2100"},
	    {"form_from", "emissivity = 0.93\nform_from"},
	    {"form_from", "degrades_above = 200 C\nform_from"},
	    {"form_from", "demould = 80 C\nform_from"},
	    {"form_from", "diffusivity_tolerance_percent = 5\nform_from"}};
	char plain[9], hash[9];

	(void)state;
	hash_with("works", "works", plain);
	assert_int_equal(strspn(plain, "0123456789abcdef"), 8);
	for (size_t i = 0; i < sizeof same / sizeof same[0]; i++) {
		hash_with(same[i][0], same[i][1], hash);
		assert_string_equal(hash, plain);
	}
	for (size_t i = 0; i < sizeof other / sizeof other[0]; i++) {
		hash_with(other[i][0], other[i][1], hash);
		assert_string_not_equal(hash, plain);
	}
}

#define MELTS "structure = semicrystalline\n"
#define FUSION "fusion_kj_per_kg = 190\nmelting = 131 C\nmelting_width = 6 C\n"

/* How well the fusion is known changes what is computed of one that melts alone. */
static void
the_hash_has_the_tolerance_of_a_fusion(void **state)
{
	char plain[9], hash[9];

	(void)state;
	hash_with("works", "works", plain);
	hash_with("form_from", "fusion_tolerance_percent = 5\nform_from", hash);
	assert_string_equal(hash, plain);
	hash_with("structure = amorphous\n", MELTS FUSION, plain);
	hash_with("structure = amorphous\n",
	    MELTS FUSION "fusion_tolerance_percent = 10\n", hash);
	assert_string_equal(hash, plain);
	hash_with("structure = amorphous\n",
	    MELTS FUSION "fusion_tolerance_percent = 5\n", hash);
	assert_string_not_equal(hash, plain);
}

/* --- the shipped sets --------------------------------------------------------------- */

static double
level(const struct material_curve *curve, double c)
{
	int i = 1;

	if (c <= curve->at_c[0])
		return curve->value[0];
	while (i < curve->count && curve->at_c[i] < c)
		i++;
	if (i == curve->count)
		return curve->value[curve->count - 1];
	return curve->value[i - 1] + (curve->value[i] - curve->value[i - 1]) *
	                                 (c - curve->at_c[i - 1]) /
	                                 (curve->at_c[i] - curve->at_c[i - 1]);
}

static double
mean(const struct material_curve *curve, double from_c, double to_c)
{
	enum { STEPS = 1000 };
	double sum = 0, step = (to_c - from_c) / STEPS;

	for (int i = 0; i < STEPS; i++)
		sum += level(curve, from_c + (i + 0.5) * step);
	return sum / STEPS;
}

/* 1e-7 m2/s. */
static double
diffusivity(const struct material_settings *material, double from_c, double to_c)
{
	return mean(&material->conductivity, from_c, to_c) /
	       (material->density * mean(&material->heat_capacity, from_c, to_c)) * 1e7;
}

static void
shipped_diffusivities_are_those_of_the_heating(void **state)
{
	/* Over the heating, 1e-7 m2/s, from memory: no source.  Those of handbooks for
	 * cold sheet lie above. */
	static const struct {
		const char *name;
		double low, high;
	} ranges[] = {{"abs", 0.8, 1.2}, {"asa", 0.8, 1.0}, {"hips", 0.6, 0.9},
	    {"pmma", 0.8, 1.1}, {"pc", 0.9, 1.5}, {"pvc", 0.7, 1.2},
	    {"petg", 0.8, 1.2}};
	struct settings *settings =
	    settings_load_materials("conf/materials.ini", &problems);
	struct published_table table = published_begin(SOURCE_MEMORY_DIFFUSIVITY,
	    "diffusivity of a shipped material, against the middle of its range, 1e-7 "
	    "m2/s");

	(void)state;
	assert_non_null(settings);
	assert_int_equal(problems.count, 0);
	assert_int_equal(settings->material_count, 10);
	for (size_t i = 0; i < sizeof ranges / sizeof ranges[0]; i++) {
		const struct material_settings *material =
		    settings_material(settings, ranges[i].name);

		assert_non_null(material);
		assert_int_equal(material->structure, STRUCTURE_AMORPHOUS);
		double over = diffusivity(material, 23, 180);
		published_add(&table, over, (ranges[i].low + ranges[i].high) / 2,
		    (ranges[i].high - ranges[i].low) / 2);
		/* the cold sheet's is what would mislead */
		assert_true(diffusivity(material, 23, 24) >
			    1.2 * diffusivity(material, 23, 180));
	}
	published_end(&table);
	settings_free(settings);
}

static void
shipped_sets_are_whole(void **state)
{
	static const char *const melting[] = {"hdpe", "pp", "tpo"};
	struct settings *settings =
	    settings_load_materials("conf/materials.ini", &problems);

	(void)state;
	assert_non_null(settings);
	for (size_t i = 0; i < settings->material_count; i++) {
		const struct material_settings *material = &settings->materials[i];

		assert_true(strlen(material->version) > 0);
		assert_true(material->density > 0);
		assert_true(material->form_low_c < material->form_high_c);
		assert_true(material->demould_c < material->form_low_c);
	}
	for (size_t i = 0; i < 3; i++) {
		const struct material_settings *material =
		    settings_material(settings, melting[i]);

		assert_int_equal(material->structure, STRUCTURE_SEMICRYSTALLINE);
		/* it is formed molten */
		assert_true(material->form_high_c > material->melting_c);
	}
	/* 194.2 J/g at 66 % crystallinity: Macromolecules 53 (2020) 6063, table 1 */
	assert_near(settings_material(settings, "hdpe")->fusion_j_kg, 194.2e3, 500);
	settings_free(settings);
}

/* --- the file that is read along ---------------------------------------------------- */

struct folder {
	char path[64], file[80], materials[96];
};

static void
write_file(const char *path, const char *text)
{
	FILE *file = fopen(path, "w");

	assert_non_null(file);
	assert_true(fputs(text, file) >= 0);
	assert_int_equal(fclose(file), 0);
}

/* The plant with `change` in place of its own material, and a file of materials. */
static struct folder
make_folder(const char *own, const char *materials)
{
	const char *base = getenv("TMPDIR");
	char *named = plant_with("name = works\n", "name = works\nmaterials = m.ini\n");
	char *text = text_with(named, "[material abs]\n", own);
	struct folder folder;

	snprintf(
	    folder.path, sizeof folder.path, "%.40s/conf-XXXXXX", base ? base : "/tmp");
	assert_non_null(mkdtemp(folder.path));
	snprintf(folder.file, sizeof folder.file, "%s/x.ini", folder.path);
	snprintf(folder.materials, sizeof folder.materials, "%s/m.ini", folder.path);
	write_file(folder.file, text);
	if (materials)
		write_file(folder.materials, materials);
	free(named);
	free(text);
	return folder;
}

static void
remove_folder(const struct folder *folder)
{
	unlink(folder->file);
	unlink(folder->materials);
	assert_int_equal(rmdir(folder->path), 0);
}

#define OTHERS                                                                 \
	"; of the sheet's maker\n[material pc]\nstructure = amorphous\n"       \
	"density_kg_per_m3 = 1200\nheat_capacity_j_per_kgk = 1500\n"           \
	"conductivity_w_per_mk = 0.2\n[material abs]\nstructure = amorphous\n" \
	"density_kg_per_m3 = 1040\nheat_capacity_j_per_kgk = 2000\n"           \
	"conductivity_w_per_mk = 0.17\n"

static struct settings *
loaded(const struct folder *folder)
{
	struct settings *settings = settings_load(folder->file, &problems);

	if (!settings)
		print_message("%s\n", problems.list[0].text);
	assert_non_null(settings);
	assert_int_equal(problems.count, 0);
	return settings;
}

static void
materials_of_the_file_are_those_of_the_plant(void **state)
{
	struct folder folder = make_folder("", OTHERS);
	struct settings *settings = loaded(&folder);

	(void)state;
	assert_string_equal(settings->materials_path, folder.materials);
	assert_int_equal(settings->material_count, 2);
	assert_near(settings_material(settings, "abs")->density, 1040, 0);
	assert_near(settings_material(settings, "pc")->density, 1200, 0);
	assert_false(settings_material(settings, "abs")->replaces);
	assert_string_equal(settings_recipe(settings, 12)->material, "abs");
	settings_free(settings);
	remove_folder(&folder);
}

static void
one_of_the_configuration_goes_before_one_of_the_file(void **state)
{
	struct folder folder =
	    make_folder("[material abs]\nversion = ours\nform_from = 130 C\n", OTHERS);
	struct settings *settings = loaded(&folder);
	const struct material_settings *abs = settings_material(settings, "abs");

	(void)state;
	assert_int_equal(settings->material_count, 2);
	assert_string_equal(abs->version, "ours");
	assert_true(isnan(abs->density)); /* nothing of the other is mixed in */
	assert_true(abs->replaces);
	assert_false(settings_material(settings, "pc")->replaces);
	settings_free(settings);
	remove_folder(&folder);
}

static void
the_text_kept_needs_no_file(void **state)
{
	/* the last line without an end, a byte order mark, Windows line ends */
	static const char *const files[] = {
	    OTHERS, "\xef\xbb\xbf" OTHERS, "[material abs]\r\n[material pc]", ""};

	(void)state;
	for (size_t i = 0; i < sizeof files / sizeof files[0]; i++) {
		struct folder folder =
		    make_folder(i == 3 ? "[material abs]\n" : "", files[i]);
		struct settings *first = loaded(&folder), *again;

		remove_folder(&folder);
		again = settings_parse(first->text, "set-up 1", &problems);
		assert_non_null(again);
		assert_string_equal(again->text, first->text);
		assert_string_equal(again->hash, first->hash);
		assert_int_equal(again->material_count, first->material_count);
		for (size_t m = 0; m < first->material_count; m++) {
			assert_string_equal(
			    again->materials[m].name, first->materials[m].name);
			assert_string_equal(
			    again->materials[m].hash, first->materials[m].hash);
		}
		assert_true(settings_same_machine(first, again));
		settings_free(first);
		settings_free(again);
	}
}

static void
a_change_of_the_file_is_another_set_up(void **state)
{
	struct folder folder = make_folder("", OTHERS);
	struct settings *before = loaded(&folder), *after;

	(void)state;
	write_file(folder.materials, OTHERS "diffusivity_tolerance_percent = 5\n");
	after = loaded(&folder); /* as the daemon does when it is told to reload */
	assert_string_not_equal(before->hash, after->hash);
	assert_string_equal(settings_material(before, "pc")->hash,
	    settings_material(after, "pc")->hash);
	assert_string_not_equal(settings_material(before, "abs")->hash,
	    settings_material(after, "abs")->hash);
	assert_true(settings_same_machine(before, after));
	settings_free(before);
	settings_free(after);
	remove_folder(&folder);
}

/* --- what is wrong with it ---------------------------------------------------------- */

/* All that is said, "FOLDER" for the folder's path. */
static void
expect_refusal(const char *own, const char *materials, const char *expected)
{
	struct folder folder = make_folder(own, materials);
	char said[8192] = "";

	assert_null(settings_load(folder.file, &problems));
	for (size_t i = 0; i < problems.count; i++) {
		const char *text = problems.list[i].text, *at;

		while ((at = strstr(text, folder.path)) != NULL) {
			strncat(said, text, (size_t)(at - text));
			strcat(said, "FOLDER");
			text = at + strlen(folder.path);
		}
		strcat(strcat(said, text), "\n");
	}
	assert_string_equal(said, expected);
	remove_folder(&folder);
}

static void
a_missing_file_is_one_mistake(void **state)
{
	(void)state;
	expect_refusal("", NULL,
	    "FOLDER/x.ini:3: 'materials' leads to 'FOLDER/m.ini', which cannot be "
	    "read: No such file or directory\n");
}

static void
mistakes_are_told_with_the_file_that_has_them(void **state)
{
	(void)state;
	expect_refusal("[material abs]\nemissivity = 2\n",
	    "[material pc]\ndensity = 1\n[material pc]\n[material abs]\n"
	    "structure = amorphous\nform_from = 180\n[recipe 12]\n[materail hips]\n"
	    "density_kg_per_m3 = 1050\nnonsense\n",
	    "FOLDER/x.ini:38: 'emissivity' is '2': write a number from 0.1 to 1\n"
	    "FOLDER/m.ini:2: unknown setting 'density' in [material pc]; did you mean "
	    "'density_kg_per_m3'?\n"
	    "FOLDER/m.ini:3: [material pc] stands twice, first in line 1: keep one of "
	    "them\n"
	    "FOLDER/m.ini:6: 'form_from' is '180': the unit is missing, write 180 C or "
	    "180 F\n"
	    "FOLDER/m.ini:7: [recipe 12] has no place here: a file of materials holds "
	    "[material NAME] sections alone\n"
	    "FOLDER/m.ini:8: unknown section [materail hips]; did you mean [material "
	    "hips]?\n"
	    "FOLDER/m.ini:8: 'heat_capacity_j_per_kgk' is missing in [materail hips], "
	    "where 'density_kg_per_m3' stands: the inside of a sheet is computed from "
	    "density, heat capacity and conductivity together, write all of them or "
	    "none\n"
	    "FOLDER/m.ini:10: 'nonsense' is no setting: write 'name = value'\n");
}

static void
a_material_that_neither_has_is_missed(void **state)
{
	(void)state;
	expect_refusal("", "[material pc]\n",
	    "FOLDER/x.ini:38: 'material' is 'abs', but there is no [material abs]: "
	    "write that section, or mend the name\n");
}

static void
a_text_without_the_materials_it_names_is_refused(void **state)
{
	char *text = plant_with("name = works\n", "name = works\nmaterials = m.ini\n");

	(void)state;
	assert_null(settings_parse(text, "set-up 1", &problems));
	assert_int_equal(problems.count, 1);
	assert_string_equal(problems.list[0].text,
	    "set-up 1:3: 'materials' is 'm.ini', but this text has none behind it");
	free(text);
	text = plant_with(
	    "database = plant\n", "database = plant\n" BUNDLE_MARK "\n[material pc]\n");
	assert_null(settings_parse(text, "x.ini", &problems));
	assert_int_equal(problems.count, 1);
	assert_string_equal(problems.list[0].text,
	    "x.ini:57: materials stand behind this line, but [site] has no "
	    "'materials': write the name of their file there, or take this line and "
	    "them out");
	free(text);
}

static void
materials_alone_are_no_configuration(void **state)
{
	(void)state;
	assert_null(settings_load("conf/materials.ini", &problems));
	assert_int_equal(problems.count, 1);
	assert_string_equal(problems.list[0].text,
	    "conf/materials.ini: holds materials alone: name it as 'materials' in "
	    "[site] of a configuration, and give that");
	/* and a configuration is no file of materials */
	assert_null(settings_load_materials("conf/shuttle.ini", &problems));
	assert_true(problems.count > 0);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(what_is_not_told_is_not_a_number),
	    cmocka_unit_test(temperatures_differences_and_lengths_have_their_own_units),
	    cmocka_unit_test(a_property_is_a_number_or_a_curve),
	    cmocka_unit_test(the_hash_is_of_the_figures_alone),
	    cmocka_unit_test(the_hash_has_the_tolerance_of_a_fusion),
	    cmocka_unit_test(shipped_diffusivities_are_those_of_the_heating),
	    cmocka_unit_test(shipped_sets_are_whole),
	    cmocka_unit_test(materials_of_the_file_are_those_of_the_plant),
	    cmocka_unit_test(one_of_the_configuration_goes_before_one_of_the_file),
	    cmocka_unit_test(the_text_kept_needs_no_file),
	    cmocka_unit_test(a_change_of_the_file_is_another_set_up),
	    cmocka_unit_test(a_missing_file_is_one_mistake),
	    cmocka_unit_test(mistakes_are_told_with_the_file_that_has_them),
	    cmocka_unit_test(a_material_that_neither_has_is_missed),
	    cmocka_unit_test(a_text_without_the_materials_it_names_is_refused),
	    cmocka_unit_test(materials_alone_are_no_configuration),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
