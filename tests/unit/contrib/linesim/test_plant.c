/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The whole plant without sockets: what the script orders is what the truth tells.
 */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>

#include <cmocka.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "contrib/linesim/plant.h"
#include "daemon/base/text.h"
#include "tests/unit/near.h"

#define START_NS INT64_C(1772427600000000000) /* 2026-03-02T05:00:00Z */

/* The truth of a machine after `frames` have gone round; the caller frees it. */
static char *
run_kind(const char *kind, uint64_t seed, const char *events, int64_t frames)
{
	static struct script script;
	struct text mistakes;
	char *truth = NULL, copy[2000];
	size_t length = 0;

	snprintf(copy, sizeof copy, "%s\n", events);
	FILE *in = fmemopen(copy, strlen(copy), "r"),
	     *out = open_memstream(&truth, &length);
	assert_true(in != NULL && out != NULL);
	text_init(&mistakes, 1000);
	bool good = script_read(&script, "events", in, &mistakes);
	if (!good)
		fail_msg("%s", mistakes.bytes);
	text_release(&mistakes);
	fclose(in);
	struct plant *plant =
	    plant_new(&(struct plant_setup){.kind = machine_kind_find(kind),
		.seed = seed,
		.start = {START_NS},
		.truth = out,
		.script = &script});
	assert_non_null(plant);
	for (int64_t i = 0; plant->frames_left < frames && i < frames * 6000; i++)
		plant_step(plant);
	assert_int_equal(plant->frames_left, frames);
	plant_free(plant);
	fclose(out);
	return truth;
}

static char *
run(uint64_t seed, const char *events, int64_t frames)
{
	return run_kind("rotary", seed, events, frames);
}

/* The cell of a row (1: the first frame) in the named column. */
static const char *
cell(const char *truth, int row, const char *column)
{
	static char word[200];
	size_t place = 0, width = strlen(column);
	const char *at = truth;

	for (;
	     strncmp(at, column, width) != 0 || (at[width] != ',' && at[width] != '\n');
	     place++) {
		at += strcspn(at, ",\n");
		if (*at != ',')
			fail_msg("no column '%s'", column);
		at++;
	}
	for (at = truth; row > 0; row--)
		at = strchr(at, '\n') + 1;
	for (; place > 0; place--)
		at = strchr(at, ',') + 1;
	snprintf(word, sizeof word, "%.*s", (int)strcspn(at, ",\n"), at);
	return word;
}

static double
number(const char *truth, int row, const char *column)
{
	double value = 0;

	if (!text_number(cell(truth, row, column), &value))
		fail_msg("row %d: '%s' is no number", row, column);
	return value;
}

static void
assert_class(const char *truth, int row, const char *class)
{
	assert_string_equal(cell(truth, row, "class"), class);
}

static void
the_same_seed_gives_the_same_truth(void **state)
{
	(void)state;
	char *a = run(5, "", 6), *b = run(5, "", 6), *other = run(6, "", 6);

	assert_string_equal(a, b);
	assert_string_not_equal(a, other);
	free(a);
	free(b);
	free(other);
}

/* The heat of a good sheet lies where the recipe was trimmed to; the tool sees
 * the balance that its water allows. */
static void
a_healthy_line_makes_healthy_sheets(void **state)
{
	(void)state;
	char *truth = run(1, "", 8);

	for (int row = 3; row <= 8; row++) {
		assert_class(truth, row, "complete");
		assert_true(number(truth, row, "heat_s") > 147 &&
			    number(truth, row, "heat_s") < 185);
		assert_near(
		    number(truth, row, "heat_s"), number(truth, row, "sag_s"), 0.6);
		assert_near(number(truth, row, "transfer_s"), 11, 0.05);
		assert_near(number(truth, row, "form_s"), 150, 0.05);
		assert_near(number(truth, row, "cycle_s"),
		    number(truth, row, "heat_s") + 8, 0.05);
		assert_near(number(truth, row, "exit_top_2_true_c"), 182, 6);
		assert_near(number(truth, row, "core_heat_end_c"), 145, 5);
		assert_near(number(truth, row, "tool_mean_true_c"), 67, 1);
		assert_true(number(truth, row, "spread_of_means_true_dc") < 0.5);
	}
	free(truth);
}

static void
each_odd_way_round_has_its_class(void **state)
{
	(void)state;
	char *truth = run(1,
	    "sheet 2 empty\n"
	    "sheet 4 scrap\n"
	    "sheet 6 abort\n"
	    "sheet 8+60 fault for_s=40\n"
	    "sheet 10 sag-eye state=dead\n"
	    "sheet 13 double-index\n",
	    15);
	static const char *const classes[] = {"complete", "empty", "complete",
	    "scrapped", "complete", "aborted", "complete", "interrupted", "complete",
	    "timer_release", "complete", "aborted", "aborted", "empty", "complete"};

	for (int row = 1; row <= 15; row++)
		assert_class(truth, row, classes[row - 1]);
	assert_string_equal(cell(truth, 2, "loaded_at"), "");
	assert_string_equal(cell(truth, 4, "form_start_at"), "");
	assert_near(number(truth, 10, "heat_s"), 230, 0.05);
	assert_near(number(truth, 13, "heat_s"), 1, 0.05);
	assert_string_equal(cell(truth, 13, "events"), "double-index");
	free(truth);
}

/* What becomes of sheets 3 to 9, and of 10, whenever it comes out at last. */
static void
every_kind_of_machine_has_its_way_round(void **state)
{
	static const char *const classes[] = {[3] = "complete",
	    "empty",
	    "complete",
	    "scrapped",
	    "complete",
	    "aborted",
	    "complete",
	    "reheated"};
	(void)state;

	for (int i = 0; machine_kind_names[i] != NULL; i++) {
		const struct machine_kind *kind =
		    machine_kind_find(machine_kind_names[i]);
		char *truth = run_kind(kind->name, 2,
		    "sheet 4 empty\nsheet 6 scrap\nsheet 8 abort\nsheet 10 reheat\n",
		    16);
		int looked_at = 0;

		for (int row = 1; row <= 16; row++) {
			int sheet = (int)number(truth, row, "sheet");
			if (sheet < 3 || sheet > 10)
				continue;
			assert_class(truth, row, classes[sheet]);
			assert_near(number(truth, row, "stays"),
			    kind->ovens * (sheet == 10 ? 2 : 1), 1e-9);
			if (sheet == 10)
				assert_true(number(truth, row, "heat_gap_s") > 1);
			looked_at++;
		}
		assert_int_equal(looked_at, 8);
		free(truth);
	}
}

/* The oven between two sides takes one frame at a time, and the sides take turns. */
static void
two_sides_share_their_oven(void **state)
{
	(void)state;
	char *truth = run_kind("shuttle-two-sides", 4, "", 20);
	int left = 0;

	for (int row = 1; row <= 20; row++) {
		left += strcmp(cell(truth, row, "side"), "left") == 0;
		assert_class(truth, row, "complete");
	}
	assert_true(left >= 8 && left <= 12);
	free(truth);
}

static void
a_cold_sheet_let_out_early_is_cold_and_gives_little_to_the_tool(void **state)
{
	(void)state;
	char *truth =
	    run(1, "sheet 5 cold start_c=-15\nsheet 5 sag-eye state=stuck\n", 7);

	assert_near(number(truth, 5, "start_c"), -15, 1e-9);
	assert_true(number(truth, 5, "exit_top_1_true_c") <
		    number(truth, 4, "exit_top_1_true_c") - 20);
	assert_true(number(truth, 5, "given_kj") < 0.6 * number(truth, 4, "given_kj"));
	assert_true(number(truth, 6, "given_kj") > 1800);
	assert_true(number(truth, 5, "tool_mean_true_c") <
		    number(truth, 4, "tool_mean_true_c") - 0.4);
	free(truth);
}

static void
a_jog_by_hand_leaves_what_was_heated_unformed(void **state)
{
	(void)state;
	char *truth = run(1, "sheet 4+60 jog for_s=30\n", 6);

	assert_class(truth, 3, "complete");
	assert_class(truth, 4, "aborted");
	assert_true(number(truth, 3, "form_s") < 150);
	free(truth);
}

static void
a_softer_lot_sags_at_a_lower_core(void **state)
{
	(void)state;
	char *truth = run(1, "sheet 5 lot name=A-0413 melt_flow=1.3\n", 8);

	assert_string_equal(cell(truth, 4, "lot"), "A-0412");
	assert_string_equal(cell(truth, 5, "lot"), "A-0413");
	assert_true(number(truth, 7, "core_heat_end_c") <
		    number(truth, 4, "core_heat_end_c") - 1.5);
	free(truth);
}

static void
what_breaks_shows_where_it_should(void **state)
{
	(void)state;
	char *truth = run(1,
	    "sheet 4 window side=top pyrometer=2 transmission=0.93\n"
	    "sheet 4 dead-zone side=bottom zone=8\n"
	    "sheet 4 clog circuit=2 factor=0.3\n",
	    9);

	assert_near(number(truth, 8, "exit_top_2_indicated_c") -
			number(truth, 8, "exit_top_2_true_c"),
	    -6.5, 2);
	assert_true(number(truth, 8, "exit_bottom_1_true_c") <
		    number(truth, 3, "exit_bottom_1_true_c") - 10);
	assert_true(number(truth, 9, "spread_of_means_true_dc") > 1.3);
	assert_true(
	    number(truth, 9, "rise_2_dc") > 1.7 * number(truth, 9, "rise_6_dc"));
	assert_string_equal(cell(truth, 8, "events"), "dead-zone+window+clog");
	free(truth);
}

/* The bit that tells of a sheet at the load station still stands when the ring
 * begins to turn, and an empty frame has none. */
static void
the_load_bit_stands_when_the_ring_begins_to_turn(void **state)
{
	(void)state;
	struct plant *plant = plant_new(&(struct plant_setup){
	    .kind = machine_kind_find("rotary"), .seed = 3, .start = {START_NS}});
	const struct bank *bank = &plant->registers.banks[DEVICE_CONTROLLER];
	uint16_t turned_before = 0;
	int turns = 0;

	for (int64_t i = 0; i < 20000; i++) {
		if (turns == 2)
			plant->machine.at[STATION_LOAD]->keep_empty = true;
		plant_step(plant);
		uint16_t turns_now = bank->word[TABLE_DISCRETE][0];
		if (turns_now && !turned_before)
			assert_int_equal(
			    bank->word[TABLE_HOLDING][10] & 1, turns++ == 2 ? 0 : 1);
		turned_before = turns_now;
	}
	assert_true(turns > 5);
	plant_free(plant);
}

static const uint16_t *
words_of(const struct plant *plant, enum device device)
{
	return plant->registers.banks[device].word[TABLE_HOLDING];
}

static void
the_form_is_pumped_down_while_the_platens_are_closed(void **state)
{
	(void)state;
	struct plant *plant =
	    plant_new(&(struct plant_setup){.kind = machine_kind_find("single-station"),
		.seed = 3,
		.start = {START_NS}});
	const uint16_t *bits =
	    plant->registers.banks[DEVICE_CONTROLLER].word[TABLE_DISCRETE];
	int64_t closed = 0, open = 0;

	for (int64_t i = 0; i < 9000; i++) {
		plant_step(plant);
		int vacuum = (int16_t)words_of(plant, DEVICE_CONTROLLER)[20];
		closed = bits[1] ? closed + 1 : 0;
		open = bits[1] ? 0 : open + 1;
		if (closed > 20)
			assert_true(vacuum < -845);
		if (open > 20)
			assert_true(vacuum > -5);
		assert_int_equal(words_of(plant, DEVICE_CONTROLLER)[21], 0);
		if (closed == 1490)
			break;
	}
	assert_int_equal(closed, 1490);
	plant_free(plant);
}

/* A set point that somebody changes shows in its register and in what the zone gives. */
static void
a_changed_set_point_changes_what_the_zone_gives(void **state)
{
	(void)state;
	static struct script script;
	struct plant *plant;

	script.events[0] = (struct event){.kind = EVENT_SET_POINT,
	    .when = 100,
	    .number = 3,
	    .place = 2,
	    .percent = 61};
	script.count = 1;
	plant = plant_new(
	    &(struct plant_setup){.kind = machine_kind_find("rotary-two-ovens"),
		.seed = 3,
		.start = {START_NS},
		.script = &script});
	const uint16_t *first = words_of(plant, DEVICE_OVENS);
	const uint16_t *second = words_of(plant, DEVICE_OVENS_B);
	uint16_t set_before = first[302], output_before = first[2];

	assert_int_equal(second[302], 520); /* 0.8 of the recipe's 65 % */
	for (int i = 0; i < 1100; i++)
		plant_step(plant);
	assert_int_equal(first[302], set_before);
	assert_int_equal(second[302], 610);
	assert_true(second[2] == 610 || second[2] == 336); /* whole, or 0.55 of it */
	assert_true(first[2] == output_before || first[2] == set_before);
	plant_free(plant);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(the_same_seed_gives_the_same_truth),
	    cmocka_unit_test(a_healthy_line_makes_healthy_sheets),
	    cmocka_unit_test(each_odd_way_round_has_its_class),
	    cmocka_unit_test(every_kind_of_machine_has_its_way_round),
	    cmocka_unit_test(two_sides_share_their_oven),
	    cmocka_unit_test(
		a_cold_sheet_let_out_early_is_cold_and_gives_little_to_the_tool),
	    cmocka_unit_test(a_jog_by_hand_leaves_what_was_heated_unformed),
	    cmocka_unit_test(a_softer_lot_sags_at_a_lower_core),
	    cmocka_unit_test(what_breaks_shows_where_it_should),
	    cmocka_unit_test(the_form_is_pumped_down_while_the_platens_are_closed),
	    cmocka_unit_test(a_changed_set_point_changes_what_the_zone_gives),
	    cmocka_unit_test(the_load_bit_stands_when_the_ring_begins_to_turn),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
