/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "tests/unit/cli/command/plant.h"

static struct plant plant;

static int
open_plant(void **state)
{
	(void)state;
	unsetenv("COLUMNS"); /* of whoever runs the test */
	plant_open(&plant);
	plant_run(&plant, 1, 40);
	return 0;
}

static int
close_plant(void **state)
{
	(void)state;
	plant_close(&plant);
	return 0;
}

static void
a_recipe_that_the_machine_tells_wins_and_is_told(void **state)
{
	struct plant own;

	(void)state;
	plant_open(&own);
	plant_run(&own, 1, 10); /* of recipe 12, read from the machine */
	for (int no = 11; no <= 20; no++) {
		struct shot *shot = plant_shot(&own, no);
		shot->recipe = -1;
		plant_write(&own, shot);
	}
	plant_context(&own, CONTEXT_RECIPE, "31", 15);
	/* from shot 8 on, up to the entry that holds from shot 15 on */
	plant_run_command(&own, "context", "recipe", "31", "--from", "2026-03-02T06:24",
	    "--ledger", own.ledger_path);
	assert_int_equal(own.code, COMMAND_DONE);
	assert_tells(own.out, "shots relabelled  4\n");
	assert_tells(own.err, "note: 3 shots since then keep another recipe: it was "
			      "read from the machine, whose reading wins\n");
	plant_run_command(&own, "context", "recipe", "12", "--from", "2026-03-02T06:24",
	    "--ledger", own.ledger_path);
	assert_tells_not(own.err, "keep another recipe");
	plant_close(&own);
}

/* Both tools have a bore, both recipes a thickness: figures of shots rest on them. */
static void
a_tool_or_recipe_that_figures_rest_on_is_told_to_be_made_again(void **state)
{
	static const struct {
		const char *key, *value, *told; /* NULL: nothing */
	} rows[] = {
	    {"tool", "T-999", NULL}, /* of which nothing is known, as before */
	    {"tool", "T-204",
		"shots on file that have another tool now: 4; 'evensoak "
		"recompute' makes those whose readings are kept again"},
	    {"tool", "T-204", NULL}, /* no other than before */
	    {"tool", "", "shots on file that have another tool now: 4; 'evensoak"},
	    {"recipe", "31", "shots on file that have another recipe now: 4; 'evens"},
	    {"recipe", "99", "shots on file that have another recipe now: 4; 'evens"},
	    {"recipe", "98", NULL},
	    {"lot", "L-1", NULL},
	};
	struct plant own;

	(void)state;
	plant_open(&own);
	for (int no = 7; no <= 11; no++) {
		struct shot *shot = plant_shot(&own, no);
		shot->recipe = -1;
		plant_write(&own, shot);
	}
	for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
		plant_run_command(&own, "context", rows[i].key, rows[i].value, "--from",
		    "2026-03-02T06:24", "--ledger", own.ledger_path);
		assert_int_equal(own.code, COMMAND_DONE);
		if (rows[i].told)
			assert_tells(own.err, rows[i].told);
		else
			assert_tells_not(own.err, "recompute");
	}
	plant_close(&own);
}

static void
a_lot_entered_late_labels_the_shots_since(void **state)
{
	(void)state;
	plant_run_command(&plant, "context", "lot", "B-7", "--from", "2026-03-02T07:00",
	    "--ledger", plant.ledger_path, "--format", "json");
	assert_int_equal(plant.code, COMMAND_DONE);
	/* 07:00 local is 60 minutes, 20 cycles, into the shift: shots 20 to 40 */
	assert_tells(plant.out, "\"relabelled\": 21,\n");
	assert_tells(plant.out, "\"from\": \"2026-03-02T06:00:00.000Z\"");
	plant_run_command(&plant, "context", "--ledger", plant.ledger_path);
	assert_tells(plant.out, "B-7");
	plant_run_command(&plant, "context", "tool", "T-118", "--ledger",
	    plant.ledger_path, "--from", "2026-03-03");
	assert_int_equal(plant.code, COMMAND_DONE);
	assert_tells(plant.err, "no tool 'T-118'; did you mean 'T-117'?");
}

static void
a_lot_carries_what_was_measured_of_it(void **state)
{
	/* shots 30 to 40, as soon as one figure of the lot is known */
	static const char on_file[] =
	    "evensoak: note: shots of lot C-1 on file: 11; 'evensoak recompute' makes "
	    "those whose readings are kept again with what is known of the lot now\n";
	char said[512];

	(void)state;
	/* in one word or in two, as the unit is written in a configuration */
	plant_run_command(&plant, "context", "lot", "C-1", "--thickness", "6.35", "mm",
	    "--stack", "73 F", "--from", "2026-03-02T07:30", "--ledger",
	    plant.ledger_path);
	assert_string_equal(plant.err, on_file);
	assert_int_equal(plant.code, COMMAND_DONE);
	assert_tells(plant.out, "  lot's thickness mm  6.35\n");
	assert_tells(plant.out, "  lot's stack F       73.0\n");
	plant_run_command(&plant, "context", "--ledger", plant.ledger_path);
	assert_tells(plant.out, "  6.35     73.0\n");
	/* 0.25 in are 6.35 mm; what is not said again stays */
	plant_run_command(&plant, "context", "--ledger", plant.ledger_path, "lot",
	    "C-1", "--from", "2026-03-02T07:30", "--thickness=0.26in");
	assert_int_equal(plant.code, COMMAND_DONE);
	snprintf(said, sizeof said,
	    "evensoak: note: was 6.35 mm; now 6.60 mm, for all shots of lot C-1\n%s",
	    on_file);
	assert_string_equal(plant.err, said);
	/* each entry as entered, though the last holds for all shots */
	plant_run_command(&plant, "context", "--ledger", plant.ledger_path, "lot",
	    "C-1", "--from", "2026-03-02T07:45", "--thickness=7mm");
	plant_run_command(&plant, "context", "--ledger", plant.ledger_path, "lot",
	    "C-1", "--from", "2026-03-02T07:50", "--thickness=0.26in");
	plant_run_command(&plant, "context", "--ledger", plant.ledger_path);
	assert_tells(plant.out, "  7.00     73.0\n");
	assert_tells(plant.out, "  6.60     73.0\n");
	plant_run_command(
	    &plant, "shot", "35", "--ledger", plant.ledger_path, "--format", "json");
	assert_tells(plant.out, "\"lot_thickness_m\": 0.0066");
	assert_tells(plant.out, "\"lot_stack_c\": 22.77777777777");
	plant_run_command(
	    &plant, "shot", "2", "--ledger", plant.ledger_path, "--format", "json");
	assert_tells(plant.out, "\"lot_thickness_m\": null");

	static const struct {
		const char *words[6];
		const char *told;
	} rows[] = {
	    {{"lot", "C-1", "--thickness", "6.35"},
		"'6.35': the unit is missing, write 6.35 mm or 6.35 in"},
	    {{"lot", "C-1", "--thickness", "6.35", "kg"}, "write a number in mm or in"},
	    {{"lot", "C-1", "--stack", "20 K"}, "not in K"},
	    {{"tool", "T-117", "--thickness", "6 mm"}, "are of a lot"},
	    {{"lot", "", "--thickness", "6 mm"}, "are of a lot"},
	    {{"tool", "T-117", "--material", "hdpe"}, "are of a lot"},
	    {{"lot", "C-1", "--material", "hdpa"},
		"no material 'hdpa'; did you mean 'hdpe'?"},
	    {{"lot", "C-1", "--material", "ABS-Demo"},
		"no material 'ABS-Demo'; did you mean 'abs-demo'?"},
	    {{"lot", "C-1", "--thickness", "-1 mm"},
		"'--thickness' is -1 mm, must be 0.2 mm to 50 mm"},
	    {{"lot", "C-1", "--thickness", "63.5mm"}, "is 63.5 mm, must be 0.2 mm to"},
	    /* in the site's unit */
	    {{"lot", "C-1", "--stack", "300F"},
		"'--stack' is 300 F, must be -4 F to 212 F"},
	    {{"lot", "C-1", "--stack", "101 C"}, "is 213.8 F, must be -4 F to 212 F"},
	    {{"tool", "T-117", "--material", ""}, "are of a lot"},
	};
	for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
		const char *words[10] = {"--ledger", plant.ledger_path, "context"};
		memcpy(words + 3, rows[i].words, sizeof rows[i].words);
		plant_call(&plant, words);
		assert_int_equal(plant.code, COMMAND_USAGE);
		assert_tells(plant.err, rows[i].told);
	}
}

static void
a_lot_may_be_of_another_material_than_its_recipe_says(void **state)
{
	struct plant own;

	(void)state;
	plant_open(&own);
	plant_run(&own, 1, 10);
	plant_run_command(&own, "context", "lot", "M-1", "--material", "hdpe", "--from",
	    "2026-03-02T06:15", "--ledger", own.ledger_path, "--format", "json");
	assert_int_equal(own.code, COMMAND_DONE);
	assert_tells(own.out, "\"lot_material\": \"hdpe\"");
	assert_tells(own.err, "shots of lot M-1 on file: 6; 'evensoak recompute'");
	/* what is not said again stays */
	plant_run_command(&own, "context", "lot", "M-1", "--thickness", "4 mm",
	    "--from", "2026-03-02T06:15", "--ledger", own.ledger_path);
	assert_int_equal(own.code, COMMAND_DONE);
	plant_run_command(&own, "context", "--ledger", own.ledger_path);
	assert_tells(own.out, "  material\n");
	assert_tells(own.out, "  4.00  hdpe\n");
	plant_run_command(&own, "shot", "8", "--ledger", own.ledger_path);
	assert_tells(own.out, "  lot's material ");
	plant_run_command(&own, "context", "lot", "M-1", "--material", "pmma", "--from",
	    "2026-03-02T06:15", "--ledger", own.ledger_path);
	assert_tells(
	    own.err, "evensoak: note: was hdpe; now pmma, for all shots of lot M-1\n");
	/* of a lot that is known, no figure need be said: its shots may be others now */
	plant_run_command(&own, "context", "lot", "M-1", "--from", "2026-03-02T06:09",
	    "--ledger", own.ledger_path);
	assert_tells(own.err, "shots of lot M-1 on file: 8; 'evensoak recompute'");
	/* of one of which nothing is known there is nothing to be made again with */
	plant_run_command(&own, "context", "lot", "M-2", "--from", "2026-03-02T06:24",
	    "--ledger", own.ledger_path);
	assert_string_equal(own.err, "");
	plant_close(&own);
}

static void
what_was_measured_of_a_lot_can_be_taken_back(void **state)
{
	struct plant own;

	(void)state;
	plant_open(&own);
	plant_run(&own, 1, 10); /* recipe 12 is of abs-demo */
	plant_run_command(&own, "context", "lot", "M-1", "--material", "hdpe",
	    "--thickness", "4 mm", "--from", "2026-03-02T06:15", "--ledger",
	    own.ledger_path);
	plant_run_command(
	    &own, "shot", "8", "--ledger", own.ledger_path, "--format", "json");
	assert_tells(own.out, "\"material\": \"hdpe\"");
	plant_run_command(&own, "context", "lot", "M-1", "--material", "", "--from",
	    "2026-03-02T06:15", "--ledger", own.ledger_path);
	assert_int_equal(own.code, COMMAND_DONE);
	assert_tells(own.out, "shots relabelled  6\n");
	assert_tells(own.err,
	    "evensoak: note: was hdpe; now as the set-up says, for all "
	    "shots of lot M-1\n");
	assert_tells(own.err, "shots of lot M-1 on file: 6; 'evensoak recompute'");
	plant_run_command(
	    &own, "shot", "8", "--ledger", own.ledger_path, "--format", "json");
	assert_tells(own.out, "\"material\": \"abs-demo\"");
	assert_tells(own.out, "\"lot_material\": null");
	assert_tells(own.out, "\"lot_thickness_m\": 0.004"); /* that was not meant */
	plant_run_command(&own, "context", "lot", "M-1", "--thickness=", "--stack", "",
	    "--from", "2026-03-02T06:15", "--ledger", own.ledger_path);
	assert_int_equal(own.code, COMMAND_DONE);
	assert_tells(own.err, "was 4.00 mm; now as the set-up says, for all shots");
	assert_tells(own.err, "shots of lot M-1 on file: 6; 'evensoak recompute'");
	plant_run_command(
	    &own, "shot", "8", "--ledger", own.ledger_path, "--format", "json");
	assert_tells(own.out, "\"lot_thickness_m\": null");
	/* and what it was stays on record */
	plant_run_command(&own, "context", "--ledger", own.ledger_path);
	assert_tells(own.out, "  4.00 ");
	plant_close(&own);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(a_recipe_that_the_machine_tells_wins_and_is_told),
	    cmocka_unit_test(
		a_tool_or_recipe_that_figures_rest_on_is_told_to_be_made_again),
	    cmocka_unit_test(what_was_measured_of_a_lot_can_be_taken_back),
	    cmocka_unit_test(a_lot_entered_late_labels_the_shots_since),
	    cmocka_unit_test(a_lot_carries_what_was_measured_of_it),
	    cmocka_unit_test(a_lot_may_be_of_another_material_than_its_recipe_says),
	};
	return cmocka_run_group_tests(tests, open_plant, close_plant);
}
