/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Frames that each go into the oven and come out again by themselves, one a side; or,
 * the same to whoever looks at the bits, an oven that comes to a frame and goes.
 */
#include "contrib/linesim/moves.h"

enum { EMPTY_STAY_STEPS = 50 }; /* an empty frame comes out again so soon */

static bool
on_its_way(const struct machine *machine, const struct frame *frame)
{
	return frame->phase == PHASE_SENT ||
	       (frame->phase == PHASE_TRANSFER &&
		   machine->now - frame->phase_since < machine->times.travel);
}

bool
carriage_moving(const struct machine *machine)
{
	for (int i = 0; i < machine->frame_count; i++)
		if (on_its_way(machine, &machine->frames[i]))
			return true;
	return false;
}

static bool
oven_free(const struct machine *machine)
{
	for (int i = 0; i < machine->frame_count; i++)
		if (machine->frames[i].phase == PHASE_HEATING)
			return false;
	return !carriage_moving(machine);
}

/* Out of the oven and at the form station: formed, sent in again, or left open. */
static void
work_outside(struct machine *machine, struct frame *frame)
{
	int64_t out = machine->now - frame->phase_since;

	if (out < machine->times.travel)
		return;
	if (!frame->arrived) {
		machine->eye_state = EYE_SOUND;
		moves_arrive(machine, frame);
	}
	moves_form(machine, frame);
	if (frame->phase != PHASE_TRANSFER || !machine->sides[frame->side].form_done ||
	    out < machine->times.travel + machine->times.closing)
		return;
	if (!moves_again(frame))
		moves_pass_form(machine, frame);
	else if (oven_free(machine))
		moves_send(machine, frame);
}

static void
work_frame(struct machine *machine, struct frame *frame)
{
	int64_t since = machine->now - frame->phase_since;

	switch (frame->phase) {
	case PHASE_LOADING:
		if (moves_loaded(machine, frame) && oven_free(machine))
			moves_send(machine, frame);
		break;
	case PHASE_SENT:
		if (since >= machine->times.travel)
			moves_heat(machine, frame, 0);
		break;
	case PHASE_HEATING:
		if (frame->has_sheet ? moves_heated(machine, frame)
				     : since >= EMPTY_STAY_STEPS)
			moves_end_heat(machine, frame, PHASE_TRANSFER);
		break;
	case PHASE_BETWEEN:
		break;
	case PHASE_TRANSFER:
		work_outside(machine, frame);
		break;
	case PHASE_FORMING:
		moves_form(machine, frame);
		break;
	case PHASE_FORMED:
		if (since < machine->times.unload)
			break;
		frame->has_sheet = false;
		machine->cycle_count++;
		moves_leave(machine, frame);
		moves_begin(machine, frame, 0);
		break;
	}
}

/* In manual: the platens open, the frame in the oven is brought out. */
static void
work_by_hand(struct machine *machine, struct frame *frame)
{
	if (machine->now == machine->jog_at - (MOVES_JOG_START - MOVES_JOG_OPEN) &&
	    frame->phase == PHASE_FORMING)
		moves_open_form(machine, frame);
	if (machine->now == machine->jog_at && frame->phase == PHASE_HEATING) {
		frame->keep_open = true;
		moves_end_heat(machine, frame, PHASE_TRANSFER);
	}
}

void
carriage_step(struct machine *machine)
{
	for (int i = 0; i < machine->frame_count; i++) {
		struct frame *frame = &machine->frames[i];

		if (frame->phase == PHASE_LOADING)
			moves_load(machine, frame);
		if (machine_in_manual(machine))
			work_by_hand(machine, frame);
		else if (!machine_in_fault(machine))
			work_frame(machine, frame);
	}
}
