/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "contrib/linesim/effects.h"

#include <math.h>

#include "contrib/linesim/plant.h"
#include "daemon/base/text.h"

#define SHEET_ONLY INT64_C(-1)

static int64_t
steps_of(double seconds)
{
	return llround(seconds / TRUTH_STEP_S);
}

/* A ramp that is already on its way to the same value gives way to the new one. */
static void
start_ramp(struct plant *plant, double *value, double to, double over_s)
{
	struct ramp *ramps = plant->effects.ramps, *chosen = NULL;

	for (int i = 0; i < RAMPS_MAX; i++)
		if (ramps[i].value == value)
			chosen = &ramps[i];
	for (int i = 0; chosen == NULL && i < RAMPS_MAX; i++)
		if (ramps[i].value == NULL)
			chosen = &ramps[i];
	if (chosen == NULL) /* more values than RAMPS_MAX can not be ramped */
		return;
	*chosen = (struct ramp){.value = value,
	    .from = *value,
	    .to = to,
	    .start = plant->machine.now,
	    .steps = steps_of(over_s)};
}

static void
move_ramps(struct plant *plant)
{
	for (int i = 0; i < RAMPS_MAX; i++) {
		struct ramp *ramp = &plant->effects.ramps[i];
		if (ramp->value == NULL)
			continue;
		int64_t gone = plant->machine.now - ramp->start;
		if (gone >= ramp->steps) {
			*ramp->value = ramp->to;
			ramp->value = NULL;
		} else
			*ramp->value = ramp->from + (ramp->to - ramp->from) *
			                                (double)gone /
			                                (double)ramp->steps;
	}
}

/* Whether an event of a sheet comes at the load station; the others in the oven. */
static bool
comes_at_load(const struct event *event)
{
	return event->kind == EVENT_COLD || event->kind == EVENT_EMPTY ||
	       event->kind == EVENT_LOT;
}

/* The frame that an event by time is meant for: the one nearest to the form station;
 * NULL when there is none. */
static struct frame *
frame_there(struct plant *plant, const struct event *event)
{
	struct machine *machine = &plant->machine;
	struct frame *frame = NULL;

	if (comes_at_load(event))
		for (int side = 0; frame == NULL && side < machine->kind->sides; side++)
			frame = machine_loading(machine, side);
	else
		for (int oven = machine->kind->ovens; frame == NULL && oven > 0;)
			frame = machine_heated(machine, --oven);
	return frame;
}

static void
change_lot(struct plant *plant, const struct event *event)
{
	plant->lot.melt_flow = event->melt_flow;
	plant->lot.thickness = event->thickness;
	plant->lot.conductivity = event->conductivity;
	plant->lot.emissivity = event->emissivity;
	text_copy(plant->lot.name, sizeof plant->lot.name, event->lot);
}

/* What can be made good again is felt until it is. */
static int64_t
until_healed(const struct plant *plant, const struct event *event)
{
	bool by = event->kind == EVENT_SUPPLY || event->kind == EVENT_OFFSET;
	bool healed = by ? !(fabs(event->by) > 0) : event->factor >= 1;

	return healed ? plant->machine.now + steps_of(event->over_s) : INT64_MAX;
}

static void
order(struct frame *frame, const struct event *event)
{
	frame->keep_empty |= event->kind == EVENT_EMPTY;
	frame->pull_out |= event->kind == EVENT_SCRAP;
	frame->keep_open |= event->kind == EVENT_ABORT;
	frame->once_more |= event->kind == EVENT_REHEAT;
	if (event->kind == EVENT_COLD)
		frame->ordered_start_c = event->start_c;
}

/* What goes on for for_s. */
static int64_t
begin_spell(struct plant *plant, const struct event *event, int64_t until)
{
	struct registers *registers = &plant->registers;

	switch ((int)event->kind) {
	case EVENT_STACK:
		plant->surroundings.stack_by_c = event->by;
		break;
	case EVENT_MAINS:
		plant->surroundings.mains_factor = event->factor;
		break;
	case EVENT_DRAUGHT:
		plant->ovens[(int)event->place - 1].air_c = event->air_c;
		break;
	case EVENT_SWAP:
		registers->other[event->point] = event->other_point;
		registers->other[event->other_point] = event->point;
		registers->swapped_until[event->point] = until;
		registers->swapped_until[event->other_point] = until;
		break;
	case EVENT_OPEN:
		registers->open_until[event->point] = until;
		break;
	case EVENT_FREEZE:
		registers->frozen_until[event->point] = until;
		break;
	}
	return until;
}

static void
end_spells(struct plant *plant)
{
	const int64_t *until = plant->effects.until, now = plant->machine.now;

	if (until[EVENT_STACK] <= now)
		plant->surroundings.stack_by_c = 0;
	if (until[EVENT_MAINS] <= now)
		plant->surroundings.mains_factor = 1;
	for (int oven = 0; until[EVENT_DRAUGHT] <= now && oven < OVENS_MAX; oven++)
		plant->ovens[oven].air_c = OVEN_AIR_C;
}

/* What a tool or its water comes to within over_s. */
static int64_t
change_tool(struct plant *plant, const struct event *event)
{
	struct tool *tool = &plant->tools[(int)event->place - 1];
	int zone = (int)event->number - 1;
	double *value = event->kind == EVENT_PUMP      ? &tool->pump
	                : event->kind == EVENT_SCALE   ? &tool->exchange[zone]
	                : event->kind == EVENT_CONTACT ? &tool->contact[zone]
	                                               : &tool->flow_ratio[zone];

	start_ramp(plant, value, event->factor, event->over_s);
	return until_healed(plant, event);
}

static void
command_machine(struct machine *machine, const struct event *event)
{
	switch ((int)event->kind) {
	case EVENT_SAG_EYE:
		machine->eye_state = (enum eye_state)event->eye;
		break;
	case EVENT_DOUBLE_INDEX:
		machine->double_ordered = machine->kind->ring;
		break;
	case EVENT_FAULT:
		machine->fault_wanted = steps_of(event->for_s);
		break;
	case EVENT_JOG:
		machine->manual_wanted = steps_of(event->for_s);
		break;
	case EVENT_COUNTER:
		machine->cycle_count = (uint32_t)event->value;
		break;
	}
}

/* What an oven or one of its pyrometers does from now on. */
static int64_t
change_oven(struct plant *plant, const struct event *event)
{
	int place = (int)event->number - 1, which = (int)event->place - 1;
	struct oven *oven = &plant->ovens[which];

	switch ((int)event->kind) {
	case EVENT_DEAD_ZONE:
		oven->health[event->face][place] = 0;
		oven->forced[event->face][place] = event->output_percent / 100;
		return INT64_MAX;
	case EVENT_WEAK_ZONE:
		oven->health[event->face][place] = event->factor;
		oven->forced[event->face][place] = -1;
		return until_healed(plant, event);
	case EVENT_SET_POINT:
		oven->set[event->face][place] = event->percent / 100;
		return SHEET_ONLY;
	case EVENT_WINDOW:
		start_ramp(plant,
		    &plant->sensors.transmission[which][event->face][place],
		    event->factor, event->over_s);
		return until_healed(plant, event);
	}
	return SHEET_ONLY;
}

/*
 * Does what the event says.  Returns the step until which the plant feels it, or
 * SHEET_ONLY when it is an order for one sheet or for the machine.
 */
static int64_t
apply(struct plant *plant, const struct event *event, struct frame *frame)
{
	struct bank *bank = &plant->registers.banks[event->device];
	int64_t until = plant->machine.now + steps_of(event->for_s);

	switch (event->kind) {
	case EVENT_LOT:
		change_lot(plant, event);
		return SHEET_ONLY;
	case EVENT_COLD:
	case EVENT_EMPTY:
	case EVENT_SCRAP:
	case EVENT_ABORT:
	case EVENT_REHEAT:
		if (frame != NULL)
			order(frame, event);
		return SHEET_ONLY;
	case EVENT_SAG_EYE:
	case EVENT_DOUBLE_INDEX:
	case EVENT_FAULT:
	case EVENT_JOG:
	case EVENT_COUNTER:
		command_machine(&plant->machine, event);
		return SHEET_ONLY;
	case EVENT_DEAD_ZONE:
	case EVENT_WEAK_ZONE:
	case EVENT_SET_POINT:
	case EVENT_WINDOW:
		return change_oven(plant, event);
	case EVENT_CLOG:
	case EVENT_PUMP:
	case EVENT_SCALE:
	case EVENT_CONTACT:
		return change_tool(plant, event);
	case EVENT_SUPPLY:
		start_ramp(
		    plant, &plant->surroundings.supply_by_c, event->by, event->over_s);
		return until_healed(plant, event);
	case EVENT_OFFSET:
		start_ramp(plant, &plant->registers.offset[event->point], event->by,
		    event->over_s);
		return until_healed(plant, event);
	case EVENT_OPEN:
	case EVENT_FREEZE:
	case EVENT_STACK:
	case EVENT_MAINS:
	case EVENT_DRAUGHT:
	case EVENT_SWAP:
		return begin_spell(plant, event, until);
	case EVENT_SILENT:
		return bank->silent_until = until;
	case EVENT_EXCEPTION:
		bank->exception_code = (int)event->code;
		return bank->exception_until = until;
	case EVENT_LATE:
		bank->delay_steps = steps_of(event->delay_s);
		return bank->late_until = until;
	case EVENT_KIND_COUNT:
		break;
	}
	return SHEET_ONLY;
}

/* Whether every frame in the machine feels it, not one sheet only. */
static bool
moves_all(enum event_kind kind)
{
	return kind == EVENT_DOUBLE_INDEX || kind == EVENT_FAULT || kind == EVENT_JOG ||
	       kind == EVENT_COUNTER;
}

/* An order for one sheet. */
static bool
wants_frame(enum event_kind kind)
{
	return kind == EVENT_COLD || kind == EVENT_EMPTY || kind == EVENT_SCRAP ||
	       kind == EVENT_ABORT || kind == EVENT_REHEAT;
}

/* `frame` NULL: nobody stands there. */
static void
fire(struct plant *plant, struct event *event, struct frame *frame)
{
	int64_t until = apply(plant, event, frame);

	event->done = true;
	if (until == SHEET_ONLY && frame != NULL)
		frame->passage.touched |= UINT32_C(1) << event->kind;
	if (until != SHEET_ONLY)
		plant->effects.until[event->kind] = until;
	for (int i = 0; moves_all(event->kind) && i < plant->machine.frame_count; i++)
		plant->machine.frames[i].passage.touched |= UINT32_C(1) << event->kind;
}

void
effects_at_time(struct plant *plant)
{
	double now_s = (double)plant->machine.now * TRUTH_STEP_S;

	for (int i = 0; i < plant->script.count; i++) {
		struct event *event = &plant->script.events[i];
		struct frame *frame;

		if (event->done || event->by_sheet || event->when > now_s)
			continue;
		frame = frame_there(plant, event);
		if (frame != NULL || !wants_frame(event->kind))
			fire(plant, event, frame);
	}
}

/* An event that is to come later than its sheet becomes one by time. */
static void
fire_for_sheet(struct plant *plant, struct frame *frame, bool at_load)
{
	bool at_eye = frame->oven == plant->machine.kind->ovens - 1;

	for (int i = 0; i < plant->script.count; i++) {
		struct event *event = &plant->script.events[i];
		if (event->done || !event->by_sheet ||
		    comes_at_load(event) != at_load ||
		    llround(event->when) != frame->passage.number ||
		    (event->kind == EVENT_SAG_EYE && !at_eye))
			continue;
		if (event->after_s > 0) {
			event->by_sheet = false;
			event->when =
			    (double)plant->machine.now * TRUTH_STEP_S + event->after_s;
		} else
			fire(plant, event, frame);
	}
}

void
effects_at_load(struct plant *plant, struct frame *frame)
{
	fire_for_sheet(plant, frame, true);
}

void
effects_at_heat(struct plant *plant, struct frame *frame)
{
	fire_for_sheet(plant, frame, false);
}

void
effects_step(struct plant *plant)
{
	const uint32_t heat_only =
	    UINT32_C(1) << EVENT_DEAD_ZONE | UINT32_C(1) << EVENT_WEAK_ZONE |
	    UINT32_C(1) << EVENT_WINDOW | UINT32_C(1) << EVENT_MAINS |
	    UINT32_C(1) << EVENT_DRAUGHT;
	const uint32_t form_only =
	    UINT32_C(1) << EVENT_CLOG | UINT32_C(1) << EVENT_SUPPLY |
	    UINT32_C(1) << EVENT_PUMP | UINT32_C(1) << EVENT_SCALE |
	    UINT32_C(1) << EVENT_CONTACT;
	uint32_t felt = 0;

	move_ramps(plant);
	end_spells(plant);
	for (int kind = 0; kind < EVENT_KIND_COUNT; kind++)
		if (kind != EVENT_STACK && /* of the sheets that are clamped then */
		    plant->effects.until[kind] > plant->machine.now)
			felt |= UINT32_C(1) << kind;
	for (int i = 0; i < plant->machine.frame_count; i++) {
		struct frame *frame = &plant->machine.frames[i];
		bool before =
		    frame->phase == PHASE_LOADING || frame->phase == PHASE_SENT;
		bool heat =
		    frame->phase == PHASE_HEATING || frame->phase == PHASE_BETWEEN;
		if (!before)
			frame->passage.touched |=
			    felt & ~(heat ? form_only : heat_only);
	}
}
