/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "contrib/linesim/moves.h"

#include <assert.h>
#include <math.h>

static void
note(struct machine *machine, enum machine_edge edge, struct frame *frame)
{
	assert(machine->event_count < EVENTS_MAX);
	machine->events[machine->event_count++] =
	    (struct machine_event){.edge = edge, .frame = frame};
}

static void
enter_phase(struct machine *machine, struct frame *frame, enum phase phase)
{
	frame->phase = phase;
	frame->phase_since = machine->now;
}

void
moves_begin(struct machine *machine, struct frame *frame, int64_t unload_steps)
{
	const struct machine_times *times = &machine->times;
	double load_s =
	    times->load_s * exp(times->load_sigma * random_normal(&machine->random));

	passage_init(&frame->passage, ++machine->numbers_given);
	frame->passage.side = frame->side;
	enter_phase(machine, frame, PHASE_LOADING);
	frame->clear_at = machine->now + unload_steps;
	frame->ready_at = frame->clear_at + llround(load_s / TRUTH_STEP_S);
	frame->clamped = false;
	frame->keep_empty = frame->pull_out = frame->keep_open = frame->once_more =
	    false;
	frame->ordered_start_c = NAN;
	note(machine, EDGE_BEGUN, frame);
}

void
moves_load(struct machine *machine, struct frame *frame)
{
	if (frame->clamped)
		return;
	if (machine->now >= frame->clear_at || machine->double_ordered ||
	    machine->jog_at != TRUTH_NEVER)
		frame->has_sheet = false; /* what it brought, in a hurry if need be */
	if (machine->now < frame->ready_at)
		return;
	frame->clamped = true;
	if (frame->keep_empty)
		return;
	frame->has_sheet = true;
	frame->passage.loaded = machine->now;
	note(machine, EDGE_LOADED, frame);
}

bool
moves_loaded(const struct machine *machine, const struct frame *frame)
{
	return frame->clamped && machine->now >= frame->ready_at + machine->times.clamp;
}

void
moves_come_back(struct machine *machine, struct frame *frame)
{
	enter_phase(machine, frame, PHASE_LOADING);
	frame->ready_at = machine->now;
}

void
moves_send(struct machine *machine, struct frame *frame)
{
	frame->arrived = false;
	enter_phase(machine, frame, PHASE_SENT);
	note(machine, EDGE_SENT, frame);
}

void
moves_heat(struct machine *machine, struct frame *frame, int oven)
{
	struct passage *passage = &frame->passage;

	enter_phase(machine, frame, PHASE_HEATING);
	frame->oven = oven;
	for (int i = 0; i < passage->stay_count; i++)
		passage->reheated |= passage->stays[i].oven == oven;
	if (passage->reheated)
		frame->once_more = false;
	if (passage->stay_count == 0) {
		passage->heat_start = machine->now;
		passage->had_sheet = frame->has_sheet;
	}
	passage->sagged = passage->heat_end = TRUTH_NEVER;
	if (passage->stay_count < STAYS_MAX)
		passage->stays[passage->stay_count++] =
		    (struct stay){.oven = oven, .in = machine->now, .out = TRUTH_NEVER};
	note(machine, EDGE_HEAT_BEGUN, frame);
}

bool
moves_heated(const struct machine *machine, const struct frame *frame)
{
	int64_t stay = machine->now - frame->phase_since;

	return stay >= machine->times.timer ||
	       (stay >= machine->times.release && moves_eye_has_seen(machine));
}

void
moves_end_heat(struct machine *machine, struct frame *frame, enum phase next)
{
	struct passage *passage = &frame->passage;

	passage->heat_end = machine->now;
	passage->short_stay |=
	    machine->now - frame->phase_since < machine->times.heat_min;
	passage->stays[passage->stay_count - 1].out = machine->now;
	passage->by_timer =
	    next == PHASE_TRANSFER && frame->has_sheet && !moves_eye_has_seen(machine);
	frame->arrived = false;
	enter_phase(machine, frame, next);
	note(machine, EDGE_HEAT_ENDED, frame);
}

bool
moves_again(const struct frame *frame)
{
	return frame->once_more && frame->has_sheet;
}

void
moves_arrive(struct machine *machine, struct frame *frame)
{
	struct side *side = &machine->sides[frame->side];

	frame->arrived = true;
	if (frame->pull_out && frame->has_sheet) {
		frame->has_sheet = false;
		frame->passage.scrapped = true;
	}
	side->form_done = !frame->has_sheet || frame->keep_open || frame->once_more ||
	                  frame->passage.number == 0 || frame->passage.short_stay;
	side->form_due = machine->now + machine->times.closing;
}

void
moves_open_form(struct machine *machine, struct frame *frame)
{
	struct side *side = &machine->sides[frame->side];

	side->form_closed = false;
	side->form_done = true;
	frame->passage.form_end = machine->now;
	enter_phase(machine, frame, PHASE_FORMED);
	note(machine, EDGE_FORM_OPENED, frame);
}

void
moves_form(struct machine *machine, struct frame *frame)
{
	struct side *side = &machine->sides[frame->side];

	if (side->form_closed) {
		if (machine->now >= side->form_until)
			moves_open_form(machine, frame);
		return;
	}
	if (side->form_done || machine->now < side->form_due)
		return;
	side->form_closed = true;
	side->form_until = machine->now + machine->times.form;
	frame->passage.form_start = machine->now;
	frame->passage.form_before = side->form_before;
	side->form_before = machine->now;
	enter_phase(machine, frame, PHASE_FORMING);
	note(machine, EDGE_FORM_CLOSED, frame);
}

void
moves_pass_form(struct machine *machine, struct frame *frame)
{
	enter_phase(machine, frame, PHASE_FORMED);
}

void
moves_leave(struct machine *machine, struct frame *frame)
{
	frame->passage.left = machine->now;
	frame->left = frame->passage;
	passage_init(&frame->passage, 0);
	note(machine, EDGE_LEFT, frame);
}
