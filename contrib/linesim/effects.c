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

/* Which frame an event of one sheet is meant for. */
static struct frame *
frame_of(struct plant *plant, const struct event *event)
{
	struct frame **at = plant->machine.at;
	bool early = event->kind == EVENT_COLD || event->kind == EVENT_EMPTY ||
	             event->kind == EVENT_LOT;

	return early ? at[STATION_LOAD] : at[STATION_OVEN];
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
	int place = (int)event->number - 1;

	switch (event->kind) {
	case EVENT_LOT:
		change_lot(plant, event);
		return SHEET_ONLY;
	case EVENT_COLD:
		frame->ordered_start_c = event->start_c;
		return SHEET_ONLY;
	case EVENT_EMPTY:
		frame->keep_empty = true;
		return SHEET_ONLY;
	case EVENT_SCRAP:
		frame->pull_out = true;
		return SHEET_ONLY;
	case EVENT_ABORT:
		frame->keep_open = true;
		return SHEET_ONLY;
	case EVENT_SAG_EYE:
		machine->eye_state = (enum eye_state)event->eye;
		return SHEET_ONLY;
	case EVENT_DOUBLE_INDEX:
		machine->double_ordered = true;
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
		plant->oven.health[event->face][place] = 0;
		plant->oven.forced[event->face][place] = event->output_percent / 100;
		return INT64_MAX;
	case EVENT_WEAK_ZONE:
		plant->oven.health[event->face][place] = event->factor;
		plant->oven.forced[event->face][place] = -1;
		return until_healed(plant, event);
	case EVENT_WINDOW:
		start_ramp(plant, &plant->sensors.transmission[event->face][place],
		    event->factor, event->over_s);
		return until_healed(plant, event);
	case EVENT_CLOG:
		start_ramp(plant, &plant->tool.flow_ratio[place], event->factor,
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

static void
fire(struct plant *plant, struct event *event)
{
	struct frame *frame = frame_of(plant, event);
	int64_t until = apply(plant, event, frame);

	event->done = true;
	if (until == SHEET_ONLY)
		frame->passage.touched |= UINT32_C(1) << event->kind;
	else
		plant->effects.until[event->kind] = until;
	for (int i = 0; moves_all(event->kind) && i < STATION_COUNT; i++)
		plant->machine.frames[i].passage.touched |= UINT32_C(1) << event->kind;
}

void
effects_at_time(struct plant *plant)
{
	double now_s = (double)plant->machine.now * TRUTH_STEP_S;

	for (int i = 0; i < plant->script.count; i++) {
		struct event *event = &plant->script.events[i];
		if (!event->done && !event->by_sheet && event->when <= now_s)
			fire(plant, event);
	}
}

/* An event that is to come later than its sheet becomes one by time. */
static void
fire_for_sheet(struct plant *plant, enum station station)
{
	struct frame *here = plant->machine.at[station];

	for (int i = 0; i < plant->script.count; i++) {
		struct event *event = &plant->script.events[i];
		if (event->done || !event->by_sheet || frame_of(plant, event) != here ||
		    llround(event->when) != here->passage.number)
			continue;
		if (event->after_s > 0) {
			event->by_sheet = false;
			event->when =
			    (double)plant->machine.now * TRUTH_STEP_S + event->after_s;
		} else
			fire(plant, event);
	}
}

void
effects_at_load(struct plant *plant)
{
	fire_for_sheet(plant, STATION_LOAD);
}

void
effects_at_heat(struct plant *plant)
{
	fire_for_sheet(plant, STATION_OVEN);
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
	plant->machine.at[STATION_OVEN]->passage.touched |= felt & ~form_only;
	plant->machine.at[STATION_FORM]->passage.touched |= felt & ~heat_only;
}
