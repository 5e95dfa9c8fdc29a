/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "tests/unit/cli/command/traced.h"

#include "daemon/base/text.h"
#include "daemon/ledger/ledger_read.h"
#include "tests/unit/near.h"

enum { CYCLES = 8, WHOLE = 6 /* a shot with all of its way */ };

/* The top pyrometers' scale, ten times too small. */
static char *
wrong_ini(void)
{
	return traced_ini(player_ini,
	    "count = 2\ntable = input\naddress = 0\ntype = int16\nscale = 0.1",
	    "count = 2\ntable = input\naddress = 0\ntype = int16\nscale = 0.01");
}

static int
take_shot(void *arg, const struct ledger_shot *shot)
{
	struct ledger_shot *shots = arg;

	shots[shot->shot_no] = *shot;
	return 0;
}

/* By shot number. */
static struct ledger_shot *
shots_on_file(const struct traced *traced)
{
	const struct ledger_filter all = {.line = "r"};
	struct ledger_shot *shots =
	    calloc(traced->player.shot_count + 1, sizeof *shots);
	struct ledger_read *ledger = ledger_read_open(traced->plant.ledger_path, NULL);

	assert_non_null(shots);
	assert_non_null(ledger);
	assert_int_equal(
	    ledger_read_shots(ledger, &all, true, take_shot, shots, NULL), 0);
	ledger_read_close(ledger);
	return shots;
}

static void
assert_made_as(const struct ledger_shot *one, const struct ledger_shot *other)
{
	assert_int_equal(one->outcome, other->outcome);
	assert_int_equal(one->flags, other->flags);
	assert_string_equal(one->reason, other->reason);
	assert_memory_equal(one->absent, other->absent, sizeof one->absent);
	for (int id = 0; id < FEATURE_COUNT; id++)
		if (!isnan(one->value[id]) || !isnan(other->value[id]))
			assert_near(one->value[id], other->value[id], 0);
}

static void
under_the_same_set_up_nothing_changes(void **state)
{
	struct traced traced;

	(void)state;
	traced_open(&traced, player_ini, CYCLES);
	struct ledger_shot *before = shots_on_file(&traced);
	traced_command(&traced, "recompute");
	assert_int_equal(traced.plant.code, COMMAND_DONE);
	assert_tells(traced.plant.out, "of them changed       0\n");
	assert_tells_not(traced.plant.out, "What changed");
	struct ledger_shot *after = shots_on_file(&traced);
	for (size_t no = 1; no <= traced.player.shot_count; no++) {
		assert_made_as(&before[no], &after[no]);
		assert_int_equal(before[no].change, after[no].change);
	}
	free(before);
	free(after);
	traced_close(&traced);
}

/* The whole point: what was logged under a wrong scale is as if it had been right. */
static void
a_corrected_scale_makes_the_shots_that_it_would_have_made(void **state)
{
	struct traced wrong, right;
	char *ini = wrong_ini();

	(void)state;
	traced_open(&right, player_ini, CYCLES);
	traced_open(&wrong, ini, CYCLES);
	struct ledger_shot *wanted = shots_on_file(&right);
	struct ledger_shot *before = shots_on_file(&wrong);
	assert_near(before[WHOLE].value[FEATURE_EXIT_TOP_C],
	    wanted[WHOLE].value[FEATURE_EXIT_TOP_C] / 10, 0.1);

	traced_configure(&wrong, player_ini);
	traced_command(&wrong, "recompute");
	assert_int_equal(wrong.plant.code, COMMAND_DONE);
	assert_tells(wrong.plant.out, "exit_top_c");
	assert_tells(wrong.plant.out, "  at most by  in shot  ");
	assert_tells_not(wrong.plant.out, "tool_mean_c");
	struct ledger_shot *after = shots_on_file(&wrong);
	for (size_t no = 1; no <= wrong.player.shot_count; no++)
		assert_made_as(&after[no], &wanted[no]);
	/* they go out to the stores again */
	assert_true(after[WHOLE].change > before[wrong.player.shot_count].change);
	assert_true(after[WHOLE].setup != before[WHOLE].setup);

	/* and back: to the last bit what they were */
	traced_configure(&wrong, ini);
	traced_command(&wrong, "recompute");
	free(after);
	after = shots_on_file(&wrong);
	for (size_t no = 1; no <= wrong.player.shot_count; no++)
		assert_made_as(&after[no], &before[no]);
	free(wanted);
	free(before);
	free(after);
	free(ini);
	traced_close(&wrong);
	traced_close(&right);
}

/* The first top pyrometer is said to have shown `left_dc` too much from a shot on. */
static void
calibrate(struct traced *traced, const struct ledger_shot *from, double left_dc)
{
	const struct ledger_calibration calibration = {
	    .line = "r",
	    .device = "io",
	    .channel = "top_1",
	    .at = from->filed_at,
	    .as_found = NAN,
	    .as_left = left_dc,
	};

	plant_need(
	    ledger_put_calibration(traced->plant.ledger, &calibration, NULL) == 0,
	    "a calibration");
}

static void
a_calibration_entered_late_gets_into_the_shots_from_its_time_on(void **state)
{
	const int first = FEATURE_EXIT_TOP_FIRST, second = FEATURE_EXIT_TOP_FIRST + 1;
	struct traced traced;

	(void)state;
	traced_open(&traced, player_ini, CYCLES);
	struct ledger_shot *before = shots_on_file(&traced);
	calibrate(&traced, &before[WHOLE], 2.5);
	traced_command(&traced, "recompute");
	assert_int_equal(traced.plant.code, COMMAND_DONE);
	assert_tells(traced.plant.out, "exit_top_1_c");
	assert_tells_not(traced.plant.out, "exit_top_2_c");
	struct ledger_shot *after = shots_on_file(&traced);
	for (int no = 1; no < WHOLE; no++)
		assert_made_as(&before[no], &after[no]);
	assert_near(after[WHOLE].value[first], before[WHOLE].value[first] - 2.5, 1e-9);
	assert_near(after[WHOLE].value[second], before[WHOLE].value[second], 0);
	assert_int_equal(before[WHOLE].filed_at.ns, after[WHOLE].filed_at.ns);
	traced_command(&traced, "recompute");
	assert_tells(traced.plant.out, "of them changed       0\n");
	traced_command(&traced, "shot", "6");
	assert_tells(traced.plant.out, "Before it was made again\n");
	free(after);

	/* it was an error: to the last bit what they were */
	calibrate(&traced, &before[WHOLE], 0);
	traced_command(&traced, "recompute");
	after = shots_on_file(&traced);
	for (size_t no = 1; no <= traced.player.shot_count; no++)
		assert_made_as(&before[no], &after[no]);
	free(before);
	free(after);
	traced_close(&traced);
}

static void
put_lot(struct traced *traced, double thickness_m, const char *material)
{
	struct ledger_lot lot = {
	    .name = "L-1", .thickness_m = thickness_m, .stack_c = NAN};

	text_copy(lot.material, sizeof lot.material, material);
	plant_need(
	    ledger_put_lot(traced->plant.ledger, &lot, NULL, NULL) == 0, "a lot");
}

/* What is computed of the inside rests on both; the figures are made up. */
static void
a_lot_entered_late_gets_its_thickness_and_its_material_into_its_shots(void **state)
{
	char *told = traced_ini(player_ini, "[recipe 7]\nname = seven\n",
	    "[recipe 7]\nname = seven\nmaterial = one\nthickness = 4 mm\n"
	    "[material one]\nversion = 1\nstructure = amorphous\ndensity_kg_per_m3 = "
	    "1000\n"
	    "heat_capacity_j_per_kgk = 2000\nconductivity_w_per_mk = 0.2\n"
	    "emissivity = 0.9\n"
	    "[material two]\nversion = 1\nstructure = amorphous\ndensity_kg_per_m3 = "
	    "1000\n"
	    "heat_capacity_j_per_kgk = 2000\nconductivity_w_per_mk = 0.25\n"
	    "emissivity = 0.9\n");
	char *ini = traced_ini(told, "startup_shots = 0\n",
	    "startup_shots = 0\nstart_temperature = 23 C\n");
	struct traced traced;
	int64_t relabelled;

	(void)state;
	traced_open(&traced, ini, CYCLES);
	struct ledger_shot *before = shots_on_file(&traced);
	const struct ledger_entry entry = {
	    "r", CONTEXT_LOT, "L-1", before[WHOLE].filed_at, before[WHOLE].filed_at};
	assert_near(before[WHOLE].value[FEATURE_SHEET_THICKNESS_MM], 4, 1e-12);
	assert_memory_equal(before[WHOLE].properties, "one 1 ", 6);
	plant_need(
	    ledger_put_context(traced.plant.ledger, &entry, &relabelled, NULL) == 0,
	    "an entry");
	put_lot(&traced, 5e-3, "two");
	traced_command(&traced, "recompute");
	assert_int_equal(traced.plant.code, COMMAND_DONE);
	assert_tells(traced.plant.out, "sheet_thickness_mm");
	struct ledger_shot *after = shots_on_file(&traced);
	assert_near(after[WHOLE].value[FEATURE_SHEET_THICKNESS_MM], 5, 1e-12);
	assert_memory_equal(after[WHOLE].properties, "two 1 ", 6);
	for (int no = 1; no < WHOLE; no++)
		assert_made_as(&before[no], &after[no]);
	traced_command(&traced, "shot", "6");
	assert_tells(traced.plant.out, "  properties ");
	assert_tells(traced.plant.out, before[WHOLE].properties);

	put_lot(&traced, NAN, "");
	traced_command(&traced, "recompute");
	free(after);
	after = shots_on_file(&traced);
	for (size_t no = 1; no <= traced.player.shot_count; no++) {
		assert_made_as(&before[no], &after[no]);
		assert_string_equal(before[no].properties, after[no].properties);
	}
	free(before);
	free(after);
	free(told);
	free(ini);
	traced_close(&traced);
}

static void
a_dry_run_says_the_same_and_writes_nothing(void **state)
{
	struct traced traced;
	char *ini = wrong_ini(), *said;

	(void)state;
	traced_open(&traced, ini, CYCLES);
	traced_configure(&traced, player_ini);
	struct ledger_shot *before = shots_on_file(&traced);
	traced_command(&traced, "recompute", "--dry-run", "--format", "csv");
	assert_int_equal(traced.plant.code, COMMAND_DONE);
	said = strdup(traced.plant.out);
	traced_command(&traced, "recompute", "--dry-run");
	assert_tells(traced.plant.out, "nothing is written\n");
	struct ledger_shot *after = shots_on_file(&traced);
	for (size_t no = 1; no <= traced.player.shot_count; no++) {
		assert_made_as(&before[no], &after[no]);
		assert_int_equal(before[no].setup, after[no].setup);
	}
	traced_command(&traced, "recompute", "--format", "csv");
	assert_string_equal(traced.plant.out, said);
	free(said);
	free(before);
	free(after);
	free(ini);
	traced_close(&traced);
}

static void
earlier_values_stay_with_their_set_up(void **state)
{
	struct traced traced;
	char *ini = wrong_ini();

	(void)state;
	traced_open(&traced, ini, CYCLES);
	traced_configure(&traced, player_ini);
	traced_command(&traced, "recompute", "--shot", "6");
	assert_tells(traced.plant.out, "made again            1\n");
	traced_command(&traced, "shot", "6");
	assert_tells(traced.plant.out, "Before it was made again\n");
	assert_tells(traced.plant.out, "  exit_top_c ");
	assert_tells(traced.plant.out, "evensoak shot 6 --set-up\n");
	traced_command(&traced, "shot", "6", "--set-up");
	assert_tells(traced.plant.out, "What only one of two set-ups has\n");
	assert_tells_not(traced.plant.out, "--set-up");
	traced_command(&traced, "shot", "6", "--set-up", "--format", "csv");
	assert_memory_equal(
	    traced.plant.out, "setup,section,line,earlier_setup\r\n", 34);
	assert_tells(traced.plant.out, "\n2,[channel io.top],scale = 0.01");
	assert_tells(traced.plant.out, "\n3,[channel io.top],scale = 0.1");
	traced_command(&traced, "shot", "5", "--set-up");
	assert_tells(traced.plant.out, "it was made under set-up 2 alone\n");
	traced_command(&traced, "shot", "6", "--format", "json");
	/* set-up 1 is the demo's of plant.h, 2 the wrong one */
	assert_tells(traced.plant.out, "{\"feature\": \"exit_top_c\", \"value\": 15.");
	assert_tells(traced.plant.out, "\"setup\": 2, \"change\": ");
	assert_tells(traced.plant.out, "\"setup\": 3,\n");
	traced_command(&traced, "shot", "5");
	assert_tells_not(traced.plant.out, "Before it was made again\n");
	free(ini);
	traced_close(&traced);
}

/* The trace is read with the set-up that it was taken under, whatever the shot points to. */
static void
a_set_up_with_more_channels_in_another_order_is_no_hindrance(void **state)
{
	struct traced traced;
	char *ini = traced_ini(player_ini, "[channel io.top]",
	    "[channel io.first]\nrole = other\ntable = input\naddress = 40\n"
	    "type = uint16\n[channel io.top]");

	(void)state;
	traced_open(&traced, player_ini, CYCLES);
	struct ledger_shot *before = shots_on_file(&traced);
	for (int times = 0; times < 2; times++) {
		traced_configure(&traced, ini);
		traced_command(&traced, "recompute");
		assert_int_equal(traced.plant.code, COMMAND_DONE);
		struct ledger_shot *after = shots_on_file(&traced);
		assert_near(after[WHOLE].value[FEATURE_EXIT_TOP_C],
		    before[WHOLE].value[FEATURE_EXIT_TOP_C], 0);
		free(after);
	}
	traced_command(&traced, "shot", "6", "--trace", "--format", "csv");
	assert_tells(traced.plant.out, ",io,supply,65,C,good\r\n");
	free(before);
	free(ini);
	traced_close(&traced);
}

static void
what_the_set_up_has_not_is_left_and_told(void **state)
{
	struct traced traced;
	char *no_channel =
	    traced_ini(player_ini, "[channel io.supply]", "[channel io.other]");
	char *half = traced_ini(player_ini, "[line r]", "[line s]");
	char *no_line = traced_ini(half, "line = r\n", "line = s\n");

	(void)state;
	traced_open(&traced, player_ini, CYCLES);
	struct ledger_shot *before = shots_on_file(&traced);
	traced_configure(&traced, no_channel);
	traced_command(&traced, "recompute");
	assert_int_equal(traced.plant.code, COMMAND_NO);
	assert_tells(traced.plant.out,
	    "the set-up has no channel 'io.supply' of that width on its line");
	assert_tells(traced.plant.out, "  1-");
	struct ledger_shot *after = shots_on_file(&traced);
	assert_made_as(&before[WHOLE], &after[WHOLE]);
	assert_int_equal(before[WHOLE].setup, after[WHOLE].setup);
	free(after);

	traced_configure(&traced, no_line);
	traced_command(&traced, "recompute");
	assert_int_equal(traced.plant.code, COMMAND_NO);
	assert_tells(traced.plant.out, "the set-up has no such line");
	free(before);
	free(no_channel);
	free(half);
	free(no_line);
	traced_close(&traced);
}

static void
shots_without_a_trace_are_counted(void **state)
{
	struct plant plant;

	(void)state;
	plant_open(&plant);
	plant_run(&plant, 1, 5);
	plant_run_command(&plant, "recompute", "--ledger", plant.ledger_path);
	assert_int_equal(plant.code, COMMAND_NO);
	assert_tells(plant.out, "without a trace       5\n");
	plant_run_command(
	    &plant, "recompute", "--ledger", plant.ledger_path, "--shot", "77");
	assert_int_equal(plant.code, COMMAND_NO);
	assert_tells(plant.err, "no such shots");
	plant_run_command(&plant, "recompute", "--ledger", plant.ledger_path, "--shot",
	    "1", "--since", "1d");
	assert_int_equal(plant.code, COMMAND_USAGE);
	plant_run_command(
	    &plant, "recompute", "--ledger", plant.ledger_path, "--shot", "0");
	assert_int_equal(plant.code, COMMAND_USAGE);
	plant_close(&plant);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(under_the_same_set_up_nothing_changes),
	    cmocka_unit_test(a_corrected_scale_makes_the_shots_that_it_would_have_made),
	    cmocka_unit_test(
		a_calibration_entered_late_gets_into_the_shots_from_its_time_on),
	    cmocka_unit_test(
		a_lot_entered_late_gets_its_thickness_and_its_material_into_its_shots),
	    cmocka_unit_test(a_dry_run_says_the_same_and_writes_nothing),
	    cmocka_unit_test(earlier_values_stay_with_their_set_up),
	    cmocka_unit_test(
		a_set_up_with_more_channels_in_another_order_is_no_hindrance),
	    cmocka_unit_test(what_the_set_up_has_not_is_left_and_told),
	    cmocka_unit_test(shots_without_a_trace_are_counted),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
