/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What a fault of the script does to the plant, beside the same plant without it.
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

enum { FRAMES = 7 };

/* A plant and the way round of the last of FRAMES. */
struct outcome {
	struct plant *plant;
	struct passage passage;
};

static struct outcome
run(const char *events)
{
	static struct script script;
	struct text mistakes;
	struct outcome outcome;
	char copy[200];

	snprintf(copy, sizeof copy, "%s\n", events);
	FILE *in = fmemopen(copy, strlen(copy), "r");
	assert_non_null(in);
	text_init(&mistakes, 1000);
	if (!script_read(&script, "events", in, &mistakes))
		fail_msg("%s", mistakes.bytes);
	text_release(&mistakes);
	fclose(in);
	outcome.plant =
	    plant_new(&(struct plant_setup){.kind = machine_kind_find("rotary"),
		.seed = 3,
		.start = {START_NS},
		.script = &script});
	assert_non_null(outcome.plant);
	while (outcome.plant->frames_left < FRAMES) {
		const struct machine *machine = &outcome.plant->machine;

		plant_step(outcome.plant);
		for (int i = 0; i < machine->event_count; i++)
			if (machine->events[i].edge == EDGE_LEFT)
				outcome.passage = machine->events[i].frame->left;
	}
	assert_string_equal(passage_class(&outcome.passage), "complete");
	return outcome;
}

static struct outcome sound;

static int
run_sound(void **state)
{
	(void)state;
	sound = run("");
	return 0;
}

static int
forget_sound(void **state)
{
	(void)state;
	plant_free(sound.plant);
	return 0;
}

static void
assert_felt(const struct outcome *ill, enum event_kind kind)
{
	assert_true(ill->passage.touched & UINT32_C(1) << kind);
	assert_false(sound.passage.touched);
}

static double
heat_s(const struct outcome *outcome)
{
	return (double)(outcome->passage.heat_end - outcome->passage.heat_start) *
	       TRUTH_STEP_S;
}

/* Seen by a pyrometer less than it is. */
static double
seen_short_dc(const struct outcome *outcome)
{
	const struct passage *passage = &outcome->passage;

	return passage->at_heat_end.true_c[0][1] - passage->indicated_c[0][1];
}

/* The eye waits for the same stiffness, so the heat lasts longer. */
static void
a_cold_stack_makes_the_heat_longer(void **state)
{
	(void)state;
	struct outcome ill = run("at 0 stack by_c=-8 for_s=1e5");

	assert_felt(&ill, EVENT_STACK);
	assert_true(ill.passage.start_c < sound.passage.start_c - 6);
	assert_true(heat_s(&ill) > heat_s(&sound) + 6);
	plant_free(ill.plant);
}

static void
low_mains_and_a_draught_make_the_heat_longer(void **state)
{
	(void)state;
	struct outcome mains = run("at 0 mains factor=0.97 for_s=1e5");
	struct outcome draught = run("at 0 draught air_c=110 for_s=1e5");
	struct outcome over = run("at 0 mains factor=0.9 for_s=60");

	assert_felt(&mains, EVENT_MAINS);
	assert_felt(&draught, EVENT_DRAUGHT);
	assert_true(heat_s(&mains) > heat_s(&sound) + 4);
	assert_true(heat_s(&draught) > heat_s(&sound) + 4);
	/* only the meter tells them apart: power over power as asked for */
	assert_near(mains.passage.true_j[0] / mains.passage.stated_j[0] /
			(sound.passage.true_j[0] / sound.passage.stated_j[0]),
	    0.97 * 0.97, 0.01);
	assert_near(draught.passage.true_j[0] / draught.passage.stated_j[0] /
			(sound.passage.true_j[0] / sound.passage.stated_j[0]),
	    1, 0.01);
	assert_near(heat_s(&over), heat_s(&sound), 1.5);
	plant_free(mains.plant);
	plant_free(draught.plant);
	plant_free(over.plant);
}

static void
a_shinier_lot_is_seen_too_cold(void **state)
{
	(void)state;
	struct outcome ill = run("at 0 lot name=shiny emissivity=0.90");

	assert_near(ill.passage.emissivity, 0.90, 1e-12);
	assert_near(heat_s(&ill), heat_s(&sound), 0.5);
	assert_true(seen_short_dc(&ill) > seen_short_dc(&sound) + 2);
	plant_free(ill.plant);
}

static void
a_lot_that_conducts_less_has_a_colder_core(void **state)
{
	(void)state;
	struct outcome ill = run("at 0 lot name=slow conductivity=0.8");
	const struct sheet_state *slow = &ill.passage.at_heat_end,
				 *usual = &sound.passage.at_heat_end;

	assert_near(ill.passage.conductivity, 0.8 * SHEET_CONDUCTIVITY, 1e-12);
	assert_true(slow->true_c[0][1] - slow->core_seen_c >
		    usual->true_c[0][1] - usual->core_seen_c + 3);
	plant_free(ill.plant);
}

static void
the_supply_takes_the_tool_with_it(void **state)
{
	(void)state;
	struct outcome ill = run("at 100 supply by_c=3 over_s=50");

	assert_felt(&ill, EVENT_SUPPLY);
	for (int zone = 0; zone < TOOL_ZONES; zone++)
		assert_near(ill.plant->tools[0].c[zone] - sound.plant->tools[0].c[zone],
		    3, 0.2);
	plant_free(ill.plant);
}

static void
each_fault_of_the_tool_is_where_the_script_says(void **state)
{
	(void)state;
	struct outcome scale = run("at 0 scale circuit=3 factor=0.5");
	struct outcome contact = run("at 0 contact zone=3 factor=0.5");
	struct outcome pump = run("at 0 pump factor=0.5");

	assert_felt(&scale, EVENT_SCALE);
	assert_felt(&contact, EVENT_CONTACT);
	assert_felt(&pump, EVENT_PUMP);
	assert_near(scale.plant->tools[0].exchange[2], 0.5, 0);
	assert_near(scale.plant->tools[0].exchange[1], 1, 0);
	assert_near(contact.plant->tools[0].contact[2], 0.5, 0);
	assert_near(tool_flow_lpm(&pump.plant->tools[0], 6), 4, 1e-12);
	assert_true(
	    scale.passage.tool.c[2] > sound.passage.tool.c[2]); /* as many steps */
	assert_true(contact.passage.water_j[2] < 0.8 * sound.passage.water_j[2]);
	plant_free(scale.plant);
	plant_free(contact.plant);
	plant_free(pump.plant);
}

static void
sensors_are_off_by_what_the_script_says(void **state)
{
	(void)state;
	struct outcome ill = run("at 0 offset channel=pyrometers.ambient by=4");
	struct outcome swapped =
	    run("at 0 swap channel=pyrometers.stack with=pyrometers.ambient for_s=1e5");
	const uint16_t *right =
	    sound.plant->registers.banks[DEVICE_PYROMETERS].word[TABLE_INPUT];
	const uint16_t *off =
	    ill.plant->registers.banks[DEVICE_PYROMETERS].word[TABLE_INPUT];
	const uint16_t *other =
	    swapped.plant->registers.banks[DEVICE_PYROMETERS].word[TABLE_INPUT];

	assert_felt(&ill, EVENT_OFFSET);
	assert_felt(&swapped, EVENT_SWAP);
	assert_int_equal(off[21], right[21] + 40);
	assert_int_equal(off[20], right[20]);
	assert_int_equal(other[21], right[20]);
	assert_int_equal(other[20], right[21]);
	plant_free(ill.plant);
	plant_free(swapped.plant);
}

/* What the sheet gives to the tool and the water takes, but for what the room takes. */
static void
the_water_has_the_heat_of_the_cycle(void **state)
{
	(void)state;
	double water_j = 0;

	for (int zone = 0; zone < TOOL_ZONES; zone++)
		water_j += sound.passage.water_j[zone];
	assert_near(water_j / (0.6 * sound.passage.given_j), 0.85, 0.1);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(a_cold_stack_makes_the_heat_longer),
	    cmocka_unit_test(low_mains_and_a_draught_make_the_heat_longer),
	    cmocka_unit_test(a_shinier_lot_is_seen_too_cold),
	    cmocka_unit_test(a_lot_that_conducts_less_has_a_colder_core),
	    cmocka_unit_test(the_supply_takes_the_tool_with_it),
	    cmocka_unit_test(each_fault_of_the_tool_is_where_the_script_says),
	    cmocka_unit_test(sensors_are_off_by_what_the_script_says),
	    cmocka_unit_test(the_water_has_the_heat_of_the_cycle),
	};
	return cmocka_run_group_tests(tests, run_sound, forget_sound);
}
