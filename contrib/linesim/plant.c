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
/* The form is pumped down when the platens have closed, and vented before they open. */
#define VACUUM_MBAR (-850.0)
#define VACUUM_LAG_S 0.3
/* How sheets of one lot differ, and how evenly they lie on the tool. */
#define START_SD_C 0.4
#define THICKNESS_SD 0.003
#define MELT_FLOW_SD 0.03
#define CONTACT_SD 0.02

enum { STREAM_SHEETS = 5 };

static const char *const side_names[SIDES_MAX] = {"left", "right"};

/* What each oven gives of the recipe, by how many there are. */
static const double oven_shares[OVENS_MAX][OVENS_MAX] = {{1}, {0.6, 0.8}};

static double
day_s(const struct plant *plant)
{
	int64_t start_s = plant->truth.start.ns / CLOCK_SECOND_NS;
	return (double)(start_s % DAY_S) + (double)plant->machine.now * TRUTH_STEP_S;
}

static void
clamp_sheet(struct plant *plant, struct frame *frame)
{
	struct passage *passage = &frame->passage;
	struct random *random = &plant->random;

	passage->stack_c = plant->surroundings.stack_c;
	if (plant->effects.until[EVENT_STACK] > plant->machine.now)
		passage->touched |= UINT32_C(1) << EVENT_STACK;
	passage->start_c = passage->stack_c + START_SD_C * random_normal(random);
	passage->thickness_m = SHEET_THICKNESS_M * plant->lot.thickness *
	                       (1 + THICKNESS_SD * random_normal(random));
	passage->fluidity =
	    plant->lot.melt_flow * exp(MELT_FLOW_SD * random_normal(random));
	passage->conductivity = SHEET_CONDUCTIVITY * plant->lot.conductivity;
	passage->emissivity = plant->lot.emissivity;
	memcpy(passage->lot, plant->lot.name, sizeof passage->lot);
}

/* It has been in an oven and not in the form since. */
static bool
is_warm(const struct frame *frame)
{
	return frame->has_sheet && frame->passage.heat_start != TRUTH_NEVER &&
	       frame->passage.form_start == TRUTH_NEVER;
}

/* The sheet sets out for the oven as warm as the stack, or as the script wants; one
 * that has been in it before is as it is, but has drawn itself flat in cooling. */
static void
send_to_oven(struct frame *frame)
{
	struct passage *passage = &frame->passage;

	if (is_warm(frame)) {
		frame->sheet.sag_m = 0;
		return;
	}
	if (!frame->has_sheet)
		return;
	if (!isnan(frame->ordered_start_c))
		passage->start_c = frame->ordered_start_c;
	sheet_init(
	    &frame->sheet, passage->start_c, passage->thickness_m, passage->fluidity);
	frame->sheet.conductivity = passage->conductivity;
	frame->sheet.emissivity = passage->emissivity;
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
	state->core_seen_c = state->mean_seen_c = 0;
	for (int i = 0; i < PYROMETERS_A_SIDE; i++) {
		int patch = sensors_patch(i);

		state->core_seen_c += sheet_core_c(sheet, patch) / PYROMETERS_A_SIDE;
		state->mean_seen_c +=
		    sheet_patch_mean_c(sheet, patch) / PYROMETERS_A_SIDE;
	}
}

static void
end_heat(struct plant *plant, struct frame *frame)
{
	if (!frame->has_sheet)
		return;
	note_state(&frame->sheet, &frame->passage.at_heat_end);
	memcpy(frame->passage.indicated_c, plant->sensors.indicated_c[frame->oven],
	    sizeof frame->passage.indicated_c);
	frame->passage.sag_m = frame->sheet.sag_m;
}

static void
close_form(struct plant *plant, struct frame *frame)
{
	double contact[TOOL_ZONES];

	note_state(&frame->sheet, &frame->passage.at_form_start);
	frame->passage.given_j = fmax(0, sheet_heat_above_j(&frame->sheet, DEMOULD_C));
	for (int zone = 0; zone < TOOL_ZONES; zone++)
		contact[zone] = 1 + CONTACT_SD * random_normal(&plant->random);
	tool_close(&plant->tools[frame->side], frame->passage.given_j, contact);
}

static void
open_form(struct plant *plant, struct frame *frame)
{
	struct tool *tool = &plant->tools[frame->side];

	for (int zone = 0; zone < TOOL_ZONES; zone++) {
		double *before_j = &plant->water_before_j[frame->side][zone];

		frame->passage.water_j[zone] = tool->to_water_j[zone] - *before_j;
		*before_j = tool->to_water_j[zone];
	}
	tool_open(tool);
}

static void
write_down(struct plant *plant, const struct passage *passage)
{
	if (passage->number == 0)
		return;
	truth_write(&plant->truth, passage);
	plant->frames_left++;
}

static void
follow(struct plant *plant, const struct machine_event *event)
{
	struct frame *frame = event->frame;

	switch (event->edge) {
	case EDGE_BEGUN:
		effects_at_load(plant, frame);
		break;
	case EDGE_LOADED:
		clamp_sheet(plant, frame);
		break;
	case EDGE_SENT:
		send_to_oven(frame);
		break;
	case EDGE_HEAT_BEGUN:
		frame->passage.sagged = TRUTH_NEVER;
		effects_at_heat(plant, frame);
		break;
	case EDGE_HEAT_ENDED:
		end_heat(plant, frame);
		break;
	case EDGE_FORM_CLOSED:
		close_form(plant, frame);
		break;
	case EDGE_FORM_OPENED:
		open_form(plant, frame);
		break;
	case EDGE_LEFT:
		write_down(plant, &frame->left);
		break;
	}
}

static enum oven_stage
stage_of(struct machine *machine, int oven)
{
	const struct frame *frame = machine_heated(machine, oven);

	if (machine_in_fault(machine))
		return OVEN_STAGE_OFF;
	return frame != NULL && frame->has_sheet &&
	               machine->now - frame->phase_since < FULL_STAGE_STEPS
	           ? OVEN_STAGE_FULL
	           : OVEN_STAGE_HOLD;
}

static void
step_oven(struct plant *plant, int place)
{
	struct machine *machine = &plant->machine;
	struct oven *oven = &plant->ovens[place];
	struct frame *frame = machine_heated(machine, place);

	oven_step(
	    oven, stage_of(machine, place), plant->surroundings.mains, TRUTH_STEP_S);
	if (frame == NULL)
		return;
	for (int face = 0; face < SHEET_FACES; face++) {
		frame->passage.stated_j[face] += oven->stated_w[face] * TRUTH_STEP_S;
		frame->passage.true_j[face] += oven->true_w[face] * TRUTH_STEP_S;
	}
}

static void
warm_sheet(struct plant *plant, struct frame *frame)
{
	struct passage *passage = &frame->passage;

	if (!is_warm(frame))
		return;
	if (frame->phase != PHASE_HEATING) {
		sheet_cool(&frame->sheet, plant->surroundings.ambient_c, TRUTH_STEP_S);
		return;
	}
	oven_heat(&plant->ovens[frame->oven], &frame->sheet, TRUTH_STEP_S);
	sheet_sink(&frame->sheet, TRUTH_STEP_S);
	if (passage->sagged == TRUTH_NEVER && frame->sheet.sag_m >= SHEET_SAG_TRIP_M)
		passage->sagged = plant->machine.now;
}

static void
look_into_oven(struct plant *plant, int place)
{
	const struct frame *seen = machine_in_view(&plant->machine, place);

	sensors_look(&plant->sensors, place, &plant->ovens[place],
	    seen == NULL ? NULL : &seen->sheet, TRUTH_STEP_S);
}

static void
step_side(struct plant *plant, int side)
{
	double supply_c = plant->surroundings.supply_c;
	struct frame *frame = machine_forming(&plant->machine, side);
	double vacuum_mbar = frame != NULL ? VACUUM_MBAR : 0;

	tool_step(&plant->tools[side], supply_c, plant->surroundings.ambient_c);
	plant->vacuum_mbar[side] += (vacuum_mbar - plant->vacuum_mbar[side]) *
	                            (1 - exp(-TRUTH_STEP_S / VACUUM_LAG_S));
	if (frame != NULL)
		tool_sums_add(&frame->passage.tool, &plant->tools[side], supply_c);
}

static void
show_side(struct plant *plant, int side, struct signals *signals)
{
	const struct machine *machine = &plant->machine;

	signals->form_closed[side] = machine->sides[side].form_closed;
	if (!machine->kind->ring) {
		signals->oven_in[side] = machine_oven_in(machine, side);
		signals->clamp_closed[side] = machine_clamp_closed(machine, side);
		signals->sheet_in_frame[side] = machine_sheet_in_frame(machine, side);
	}
	signals->vacuum_mbar[side] = plant->vacuum_mbar[side];
	sensors_show_tool(&plant->sensors, side, &plant->tools[side],
	    plant->surroundings.supply_c, &signals->tools[side]);
}

static void
show_oven(struct plant *plant, int place, struct oven_signals *signals)
{
	const struct oven *oven = &plant->ovens[place];

	for (int face = 0; face < SHEET_FACES; face++)
		for (int zone = 0; zone < OVEN_ZONES; zone++) {
			signals->output_percent[face][zone] =
			    100 * oven->output[face][zone];
			signals->set_percent[face][zone] = 100 * oven->set[face][zone];
		}
	signals->energy_kwh = METER_START_KWH + oven->energy_j / 3.6e6;
	sensors_show_oven(&plant->sensors, place, signals);
}

void
plant_show(struct plant *plant)
{
	const struct machine *machine = &plant->machine;
	struct signals signals = {.rotating = machine->rotating,
	    .sag_eye = machine_eye(machine),
	    .sheet_at_load = machine->sheet_at_load,
	    .sheet_at_form = machine->sheet_at_form,
	    .automatic = !machine_in_manual(machine),
	    .fault = machine_in_fault(machine),
	    .recipe = RECIPE_NUMBER,
	    .cycle_count = machine->cycle_count,
	    .stack_c = plant->surroundings.stack_c,
	    .ambient_c = plant->surroundings.ambient_c};

	for (int place = 0; place < machine->kind->ovens; place++)
		show_oven(plant, place, &signals.ovens[place]);
	for (int side = 0; side < machine->kind->sides; side++)
		show_side(plant, side, &signals);
	registers_update(&plant->registers, &signals, machine->now);
}

void
plant_advance(struct plant *plant)
{
	struct machine *machine = &plant->machine;

	machine_step(machine);
	for (int i = 0; i < machine->event_count; i++)
		follow(plant, &machine->events[i]);
	effects_at_time(plant);
	effects_step(plant);
	surroundings_step(&plant->surroundings, day_s(plant), TRUTH_STEP_S);
	for (int place = 0; place < machine->kind->ovens; place++)
		step_oven(plant, place);
	for (int i = 0; i < machine->frame_count; i++)
		warm_sheet(plant, &machine->frames[i]);
	for (int place = 0; place < machine->kind->ovens; place++)
		look_into_oven(plant, place);
	for (int side = 0; side < machine->kind->sides; side++)
		step_side(plant, side);
}

void
plant_step(struct plant *plant)
{
	plant_advance(plant);
	plant_show(plant);
}

static void
init_parts(struct plant *plant, const struct plant_setup *setup)
{
	const struct machine_kind *kind = setup->kind;

	machine_init(&plant->machine, kind, setup->seed);
	surroundings_init(&plant->surroundings, setup->seed, day_s(plant));
	sensors_init(&plant->sensors, setup->seed);
	registers_init(&plant->registers);
	for (int place = 0; place < kind->ovens; place++)
		oven_init(&plant->ovens[place], oven_shares[kind->ovens - 1][place],
		    !setup->cold_start);
	for (int side = 0; side < SIDES_MAX; side++) {
		tool_init(&plant->tools[side], plant->surroundings.supply_c);
		for (int zone = 0; zone < TOOL_ZONES; zone++)
			plant->water_before_j[side][zone] = NAN;
		plant->truth.tool_offset_dc[side] = plant->sensors.offset_dc[side];
		plant->truth.sides[side] = kind->sides > 1 ? side_names[side] : "";
	}
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
	plant->truth = (struct truth){.file = setup->truth, .start = setup->start};
	random_init(&plant->random, setup->seed, STREAM_SHEETS);
	plant->lot.melt_flow = plant->lot.thickness = plant->lot.conductivity = 1;
	plant->lot.emissivity = SHEET_EMISSIVITY;
	text_copy(plant->lot.name, sizeof plant->lot.name, "A-0412");
	init_parts(plant, setup);
	truth_write_header(&plant->truth);
	for (int side = 0; side < setup->kind->sides; side++)
		effects_at_load(plant, machine_loading(&plant->machine, side));
	plant_show(plant);
	return plant;
}

void
plant_free(struct plant *plant)
{
	free(plant);
}
