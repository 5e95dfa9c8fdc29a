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
	text_copy(plant->lot.name, sizeof plant->lot.name, event->lot);
}

/* What can be made good again is felt until it is. */
static int64_t
until_healed(const struct plant *plant, const struct event *event)
{
	bool healed = event->factor >= 1;
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

/*
 * Does what the event says.  Returns the step until which the plant feels it, or
 * SHEET_ONLY when it is an order for one sheet or for the machine.
 */
static int64_t
apply(struct plant *plant, const struct event *event, struct frame *frame)
{
	struct machine *machine = &plant->machine;
	struct bank *bank = &plant->registers.banks[event->device];
	int64_t until = machine->now + steps_of(event->for_s);
	int place = (int)event->number - 1, which = (int)event->place - 1;

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
		machine->eye_state = (enum eye_state)event->eye;
		return SHEET_ONLY;
	case EVENT_DOUBLE_INDEX:
		machine->double_ordered = machine->kind->ring;
		return SHEET_ONLY;
	case EVENT_FAULT:
		machine->fault_wanted = steps_of(event->for_s);
		return SHEET_ONLY;
	case EVENT_JOG:
		machine->manual_wanted = steps_of(event->for_s);
		return SHEET_ONLY;
	case EVENT_COUNTER:
		machine->cycle_count = (uint32_t)event->value;
		return SHEET_ONLY;
	case EVENT_DEAD_ZONE:
		plant->ovens[which].health[event->face][place] = 0;
		plant->ovens[which].forced[event->face][place] =
		    event->output_percent / 100;
		return INT64_MAX;
	case EVENT_WEAK_ZONE:
		plant->ovens[which].health[event->face][place] = event->factor;
		plant->ovens[which].forced[event->face][place] = -1;
		return until_healed(plant, event);
	case EVENT_SET_POINT:
		plant->ovens[which].set[event->face][place] = event->percent / 100;
		return SHEET_ONLY;
	case EVENT_WINDOW:
		start_ramp(plant,
		    &plant->sensors.transmission[which][event->face][place],
		    event->factor, event->over_s);
		return until_healed(plant, event);
	case EVENT_CLOG:
		start_ramp(plant, &plant->tools[which].flow_ratio[place], event->factor,
		    event->over_s);
		return until_healed(plant, event);
	case EVENT_OPEN:
		return plant->registers.open_until[event->point] = until;
	case EVENT_FREEZE:
		return plant->registers.frozen_until[event->point] = until;
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
	const uint32_t heat_only = UINT32_C(1) << EVENT_DEAD_ZONE |
	                           UINT32_C(1) << EVENT_WEAK_ZONE |
	                           UINT32_C(1) << EVENT_WINDOW;
	const uint32_t form_only = UINT32_C(1) << EVENT_CLOG;
	uint32_t felt = 0;

	move_ramps(plant);
	for (int kind = 0; kind < EVENT_KIND_COUNT; kind++)
		if (plant->effects.until[kind] > plant->machine.now)
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
