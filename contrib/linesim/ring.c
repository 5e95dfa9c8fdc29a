/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * A ring: the frames stand at the stations and move on together.
 */
#include "contrib/linesim/moves.h"

enum { DOUBLE_PAUSE_STEPS = 10 };

/* At the last of these stations, which every ring has. */
static struct frame *
standing_at(const struct machine *machine, enum station station)
{
	int i = machine->kind->station_count - 1;

	while (i > 0 && machine->kind->stations[i] != station)
		i--;
	return machine->at[i];
}

/* NULL on a ring where the parts are taken off at the load station. */
static struct frame *
standing_at_unload(const struct machine *machine)
{
	int last = machine->kind->station_count - 1;

	return machine->kind->stations[last] == STATION_UNLOAD ? machine->at[last]
	                                                       : NULL;
}

static bool
may_go_on(const struct machine *machine)
{
	const struct frame *oven = standing_at(machine, STATION_OVEN);
	const struct frame *unload = standing_at_unload(machine);

	return moves_loaded(machine, machine->at[0]) &&
	       (!oven->has_sheet || moves_heated(machine, oven)) &&
	       machine->sides[0].form_done &&
	       (unload == NULL || machine->now >= unload->clear_at);
}

static void
start_index(struct machine *machine)
{
	const struct frame *last = standing_at(machine, STATION_OVEN);

	for (int i = machine->kind->station_count - 1; i >= 0; i--) {
		switch (machine->kind->stations[i]) {
		case STATION_LOAD:
			moves_send(machine, machine->at[i]);
			break;
		case STATION_OVEN:
			moves_end_heat(machine, machine->at[i],
			    machine->at[i] == last ? PHASE_TRANSFER : PHASE_BETWEEN);
			break;
		case STATION_FORM:
		case STATION_UNLOAD:
			break;
		}
	}
	machine->rotating = true;
	machine->index_started = machine->now;
}

/* To the load station: the operator takes off what is in the frame, unless it is to go
 * into the oven again. */
static void
come_round(struct machine *machine, struct frame *frame)
{
	if (moves_again(frame)) {
		moves_come_back(machine, frame);
		return;
	}
	moves_begin(machine, frame, frame->has_sheet ? machine->times.unload : 0);
}

static void
receive(struct machine *machine, int station, int ovens_before)
{
	struct frame *frame = machine->at[station];

	switch (machine->kind->stations[station]) {
	case STATION_LOAD:
		come_round(machine, frame);
		break;
	case STATION_OVEN:
		moves_heat(machine, frame, ovens_before);
		break;
	case STATION_FORM:
		moves_arrive(machine, frame);
		break;
	case STATION_UNLOAD:
		frame->clear_at = machine->now + machine->times.unload;
		break;
	}
}

static void
finish_index(struct machine *machine)
{
	int last = machine->kind->station_count - 1, ovens = 0;
	struct frame *formed = standing_at(machine, STATION_FORM);
	struct frame *came_round = machine->at[last];

	machine->rotating = false;
	machine->index_done = machine->now;
	machine->eye_state = EYE_SOUND;
	machine->cycle_count++;
	if (!moves_again(formed))
		moves_leave(machine, formed);
	for (int i = last; i > 0; i--)
		machine->at[i] = machine->at[i - 1];
	machine->at[0] = came_round;
	for (int i = 0; i <= last; i++) {
		receive(machine, i, ovens);
		ovens += machine->kind->stations[i] == STATION_OVEN;
	}
}

static void
work_unload(struct machine *machine)
{
	struct frame *frame = standing_at_unload(machine);

	if (frame != NULL && machine->now == frame->clear_at && !moves_again(frame))
		frame->has_sheet = false;
}

/* In manual: the platens open, the ring is moved by one station. */
static void
work_by_hand(struct machine *machine)
{
	if (machine->jog_at == TRUTH_NEVER)
		return;
	if (machine->now >= machine->jog_at - (MOVES_JOG_START - MOVES_JOG_OPEN) &&
	    machine->sides[0].form_closed) {
		moves_open_form(machine, standing_at(machine, STATION_FORM));
		return;
	}
	if (machine->now < machine->jog_at)
		return;
	machine->jog_at = TRUTH_NEVER;
	standing_at(machine, STATION_OVEN)->keep_open = true;
	start_index(machine);
}

static void
work_automatically(struct machine *machine)
{
	bool twice = machine->double_ordered &&
	             machine->now - machine->index_done == DOUBLE_PAUSE_STEPS;

	moves_form(machine, standing_at(machine, STATION_FORM));
	if (twice)
		machine->double_ordered = false;
	if (twice || may_go_on(machine))
		start_index(machine);
}

void
ring_step(struct machine *machine)
{
	if (machine->rotating) {
		if (machine->now - machine->index_started >= machine->times.index)
			finish_index(machine);
	} else {
		moves_load(machine, machine->at[0]);
		work_unload(machine);
		if (machine_in_manual(machine))
			work_by_hand(machine);
		else if (!machine_in_fault(machine))
			work_automatically(machine);
	}
	if (!machine->rotating) {
		machine->sheet_at_load = machine->at[0]->has_sheet;
		machine->sheet_at_form = standing_at(machine, STATION_FORM)->has_sheet;
	}
}
