/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "contrib/linesim/plant.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "contrib/linesim/radiance.h"
#include "daemon/base/text.h"

#define DAY_S 86400
#define DEMOULD_C 82.0
#define RECIPE_NUMBER 12
#define FULL_STAGE_STEPS 800 /* 80 s of the whole recipe, then a part of it */
#define METER_START_KWH 81234.5
/* How sheets of one lot differ, and how evenly they lie on the tool. */
#define START_SD_C 0.4
#define THICKNESS_SD 0.003
#define MELT_FLOW_SD 0.03
#define CONTACT_SD 0.02

enum { STREAM_SHEETS = 5 };

static double
day_s(const struct plant *plant)
{
	int64_t start_s = plant->truth.start.ns / CLOCK_SECOND_NS;
	return (double)(start_s % DAY_S) + (double)plant->machine.now * TRUTH_STEP_S;
}

static void
clamp_sheet(struct plant *plant)
{
	struct frame *frame = plant->machine.at[STATION_LOAD];
	struct passage *passage = &frame->passage;
	struct random *random = &plant->random;

	passage->stack_c = plant->surroundings.stack_c;
	passage->start_c = passage->stack_c + START_SD_C * random_normal(random);
	passage->thickness_m = SHEET_THICKNESS_M * plant->lot.thickness *
	                       (1 + THICKNESS_SD * random_normal(random));
	passage->fluidity =
	    plant->lot.melt_flow * exp(MELT_FLOW_SD * random_normal(random));
	memcpy(passage->lot, plant->lot.name, sizeof passage->lot);
}

/* The sheet sets out for the oven as warm as the stack, or as the script wants. */
static void
send_to_oven(struct frame *frame)
{
	struct passage *passage = &frame->passage;

	if (!frame->has_sheet)
		return;
	if (!isnan(frame->ordered_start_c))
		passage->start_c = frame->ordered_start_c;
	sheet_init(
	    &frame->sheet, passage->start_c, passage->thickness_m, passage->fluidity);
}

static void
note_state(const struct sheet *sheet, struct sheet_state *state)
{
	for (int face = 0; face < SHEET_FACES; face++)
		for (int i = 0; i < PYROMETERS_A_SIDE; i++)
			state->true_c[face][i] =
			    sheet_surface_c(sheet, face, sensors_patch(i));
	state->core_c = sheet_core_c(sheet, sensors_patch(1));
	state->core_mean_c = sheet_core_mean_c(sheet);
	state->mean_c = sheet_mean_c(sheet);
}

static void
end_heat(struct plant *plant, struct frame *frame)
{
	if (!frame->has_sheet)
		return;
	note_state(&frame->sheet, &frame->passage.at_heat_end);
	memcpy(frame->passage.indicated_c, plant->sensors.indicated_c,
	    sizeof frame->passage.indicated_c);
	frame->passage.sag_m = frame->sheet.sag_m;
}

static void
close_form(struct plant *plant)
{
	struct frame *frame = plant->machine.at[STATION_FORM];
	double contact[TOOL_ZONES];

	note_state(&frame->sheet, &frame->passage.at_form_start);
	frame->passage.given_j = fmax(0, sheet_heat_above_j(&frame->sheet, DEMOULD_C));
	for (int zone = 0; zone < TOOL_ZONES; zone++)
		contact[zone] = 1 + CONTACT_SD * random_normal(&plant->random);
	tool_close(&plant->tool, frame->passage.given_j, contact);
}

static void
finish_index(struct plant *plant)
{
	if (plant->machine.left.number > 0) {
		truth_write(&plant->truth, &plant->machine.left);
		plant->frames_left++;
	}
	effects_at_heat(plant);
	effects_at_load(plant);
}

static void
follow_machine(struct plant *plant, unsigned edges)
{
	if (edges & EDGE_LOADED)
		clamp_sheet(plant);
	if (edges & EDGE_INDEX_STARTED) {
		end_heat(plant, plant->machine.at[STATION_OVEN]);
		send_to_oven(plant->machine.at[STATION_LOAD]);
	}
	if (edges & EDGE_INDEX_DONE)
		finish_index(plant);
	if (edges & EDGE_FORM_CLOSED)
		close_form(plant);
	if (edges & EDGE_FORM_OPENED)
		tool_open(&plant->tool);
}

static enum oven_stage
stage_of(const struct machine *machine)
{
	bool early = machine->now - machine->index_done < FULL_STAGE_STEPS;

	if (machine_in_fault(machine))
		return OVEN_STAGE_OFF;
	return !machine->rotating && machine->at[STATION_OVEN]->has_sheet && early
	           ? OVEN_STAGE_FULL
	           : OVEN_STAGE_HOLD;
}

static void
warm_sheets(struct plant *plant)
{
	for (int i = 0; i < STATION_COUNT; i++) {
		struct frame *frame = &plant->machine.frames[i];
		if (!frame->has_sheet)
			continue;
		if (frame->phase == PHASE_HEATING) {
			oven_heat(&plant->oven, &frame->sheet, TRUTH_STEP_S);
			sheet_sink(&frame->sheet, TRUTH_STEP_S);
			if (frame->passage.sagged == TRUTH_NEVER &&
			    frame->sheet.sag_m >= SHEET_SAG_TRIP_M)
				frame->passage.sagged = plant->machine.now;
		} else if (frame->phase == PHASE_TRANSFER)
			sheet_cool(
			    &frame->sheet, plant->surroundings.ambient_c, TRUTH_STEP_S);
	}
}

/* Adds this step to what the two windows of the records hold. */
static void
sum_up(struct plant *plant)
{
	struct frame *oven = plant->machine.at[STATION_OVEN];
	struct frame *form = plant->machine.at[STATION_FORM];

	if (oven->phase == PHASE_HEATING)
		for (int face = 0; face < SHEET_FACES; face++) {
			oven->passage.stated_j[face] +=
			    plant->oven.stated_w[face] * TRUTH_STEP_S;
			oven->passage.true_j[face] +=
			    plant->oven.true_w[face] * TRUTH_STEP_S;
		}
	if (form->phase == PHASE_FORMING)
		tool_sums_add(
		    &form->passage.tool, &plant->tool, plant->surroundings.supply_c);
}

static void
show(struct plant *plant)
{
	const struct machine *machine = &plant->machine;
	struct signals signals = {.rotating = machine->rotating,
	    .form_closed = machine->form_closed,
	    .sag_eye = machine_eye(machine),
	    .sheet_at_load = machine->sheet_at_load,
	    .sheet_at_form = machine->sheet_at_form,
	    .automatic = !machine_in_manual(machine),
	    .fault = machine_in_fault(machine),
	    .recipe = RECIPE_NUMBER,
	    .cycle_count = machine->cycle_count,
	    .stack_c = plant->surroundings.stack_c,
	    .ambient_c = plant->surroundings.ambient_c,
	    .energy_kwh = METER_START_KWH + plant->oven.energy_j / 3.6e6};

	for (int face = 0; face < SHEET_FACES; face++)
		for (int zone = 0; zone < OVEN_ZONES; zone++)
			signals.output_percent[face][zone] =
			    100 * plant->oven.output[face][zone];
	sensors_show(
	    &plant->sensors, &plant->tool, plant->surroundings.supply_c, &signals);
	registers_update(&plant->registers, &signals, machine->now);
}

void
plant_step(struct plant *plant)
{
	const struct frame *seen;

	follow_machine(plant, machine_step(&plant->machine));
	effects_at_time(plant);
	effects_step(plant);
	surroundings_step(&plant->surroundings, day_s(plant), TRUTH_STEP_S);
	oven_step(&plant->oven, stage_of(&plant->machine), plant->surroundings.mains,
	    TRUTH_STEP_S);
	warm_sheets(plant);
	tool_step(&plant->tool, plant->surroundings.supply_c);
	sum_up(plant);
	seen = machine_in_view(&plant->machine);
	sensors_look(&plant->sensors, &plant->oven, seen == NULL ? NULL : &seen->sheet,
	    TRUTH_STEP_S);
	show(plant);
}

struct plant *
plant_new(const struct plant_setup *setup)
{
	struct plant *plant = calloc(1, sizeof *plant);

	if (plant == NULL)
		return NULL;
	radiance_init();
	if (setup->script != NULL)
		plant->script = *setup->script;
	plant->truth = (struct truth){.file = setup->truth,
	    .start = setup->start,
	    .tool_offset_dc = plant->sensors.offset_dc};
	random_init(&plant->random, setup->seed, STREAM_SHEETS);
	plant->lot.melt_flow = plant->lot.thickness = 1;
	text_copy(plant->lot.name, sizeof plant->lot.name, "A-0412");
	machine_init(&plant->machine, setup->seed);
	oven_init(&plant->oven, !setup->cold_start);
	surroundings_init(&plant->surroundings, setup->seed, day_s(plant));
	tool_init(&plant->tool, plant->surroundings.supply_c);
	sensors_init(&plant->sensors, setup->seed);
	registers_init(&plant->registers);
	truth_write_header(&plant->truth);
	effects_at_load(plant);
	show(plant);
	return plant;
}

void
plant_free(struct plant *plant)
{
	free(plant);
}
