/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "contrib/linesim/machine.h"

#include <string.h>

#include "contrib/linesim/moves.h"

#define EYE_FLUTTER_M 0.085 /* a bouncing eye blinks from here on */

/* Steps of 0.1 s. */
enum { EYE_FILTER_STEPS = 4, BLINK_PERIOD_STEPS = 25, BLINK_STEPS = 3 };

enum { STREAM_OPERATOR = 2 };

#define RING_TIMES                                                                  \
	.index = 80, .travel = 80, .closing = 30, .form = 1500, .unload = 40,       \
	.clamp = 20, .timer = 2300, .heat_min = 300, .release = 1000, .load_s = 45, \
	.load_sigma = 0.3
#define CARRIAGE_TIMES                                                        \
	.travel = 40, .closing = 30, .form = 1500, .unload = 60, .clamp = 20, \
	.timer = 2300, .heat_min = 300, .release = 1000, .load_s = 45,        \
	.load_sigma = 0.3

static const struct machine_kind kinds[] = {
    {"rotary", true, 3, {STATION_LOAD, STATION_OVEN, STATION_FORM}, 1, 1, {RING_TIMES}},
    /* The heat is shared out: half of it in each oven. */
    {"rotary-two-ovens", true, 4,
	{STATION_LOAD, STATION_OVEN, STATION_OVEN, STATION_FORM}, 1, 2,
	{.index = 80,
	    .travel = 80,
	    .closing = 30,
	    .form = 900,
	    .unload = 40,
	    .clamp = 20,
	    .timer = 1600,
	    .heat_min = 300,
	    .release = 400,
	    .load_s = 30,
	    .load_sigma = 0.3}},
    {"rotary-unload", true, 4,
	{STATION_LOAD, STATION_OVEN, STATION_FORM, STATION_UNLOAD}, 1, 1, {RING_TIMES}},
    {"shuttle", false, 0, {0}, 1, 1, {CARRIAGE_TIMES}},
    {"shuttle-two-sides", false, 0, {0}, 2, 1, {CARRIAGE_TIMES}},
    {"single-station", false, 0, {0}, 1, 1, {CARRIAGE_TIMES}},
};
enum { KIND_COUNT = sizeof kinds / sizeof kinds[0] };

const char *const machine_kind_names[] = {"rotary", "rotary-two-ovens", "rotary-unload",
    "shuttle", "shuttle-two-sides", "single-station", NULL};

const struct machine_kind *
machine_kind_find(const char *name)
{
	for (int i = 0; i < KIND_COUNT; i++)
		if (strcmp(kinds[i].name, name) == 0)
			return &kinds[i];
	return NULL;
}

void
machine_init(struct machine *machine, const struct machine_kind *kind, uint64_t seed)
{
	*machine = (struct machine){.kind = kind,
	    .times = kind->times,
	    .frame_count = kind->ring ? kind->station_count : kind->sides,
	    .eye_since = TRUTH_NEVER,
	    .jog_at = TRUTH_NEVER};
	random_init(&machine->random, seed, STREAM_OPERATOR);
	for (int side = 0; side < SIDES_MAX; side++)
		machine->sides[side] =
		    (struct side){.form_before = TRUTH_NEVER, .form_done = true};
	for (int i = 0; i < machine->frame_count; i++) {
		struct frame *frame = &machine->frames[i];
		passage_init(&frame->passage, 0);
		frame->side = kind->ring ? 0 : i;
		frame->oven = -1;
		if (kind->ring) {
			machine->at[i] = frame;
			frame->phase = PHASE_FORMED;
		}
		if (!kind->ring || i == 0)
			moves_begin(machine, frame, 0);
		else if (kind->stations[i] == STATION_OVEN)
			moves_heat(machine, frame, i - 1);
	}
}

bool
machine_in_fault(const struct machine *machine)
{
	return machine->now < machine->fault_until;
}

bool
machine_in_manual(const struct machine *machine)
{
	return machine->now < machine->manual_until;
}

/* --- who stands where ------------------------------------------------------------- */

struct frame *
machine_heated(struct machine *machine, int oven)
{
	for (int i = 0; i < machine->frame_count; i++)
		if (machine->frames[i].phase == PHASE_HEATING &&
		    machine->frames[i].oven == oven)
			return &machine->frames[i];
	return NULL;
}

static struct frame *
in_phase(struct machine *machine, int side, enum phase phase)
{
	for (int i = 0; i < machine->frame_count; i++)
		if (machine->frames[i].side == side &&
		    machine->frames[i].phase == phase)
			return &machine->frames[i];
	return NULL;
}

struct frame *
machine_forming(struct machine *machine, int side)
{
	return in_phase(machine, side, PHASE_FORMING);
}

struct frame *
machine_loading(struct machine *machine, int side)
{
	return in_phase(machine, side, PHASE_LOADING);
}

bool
machine_clamp_closed(const struct machine *machine, int side)
{
	return machine->frames[side].clamped;
}

bool
machine_oven_in(const struct machine *machine, int side)
{
	return machine->frames[side].phase == PHASE_HEATING;
}

bool
machine_sheet_in_frame(const struct machine *machine, int side)
{
	return machine->frames[side].has_sheet;
}

/* How long a frame takes to get into an oven or out of it. */
static int64_t
way_steps(const struct machine *machine)
{
	return machine->kind->ring ? machine->times.index : machine->times.travel;
}

static bool
covers(const struct machine *machine, const struct frame *frame, int oven)
{
	int64_t gone = machine->now - frame->phase_since;
	bool coming = gone >= way_steps(machine) - MOVES_IN_VIEW;

	switch (frame->phase) {
	case PHASE_HEATING:
		return frame->oven == oven;
	case PHASE_SENT:
		return oven == 0 && coming;
	case PHASE_BETWEEN:
		return (frame->oven == oven && gone < MOVES_IN_VIEW) ||
		       (frame->oven + 1 == oven && coming);
	case PHASE_TRANSFER:
		return frame->oven == oven && gone < MOVES_IN_VIEW;
	case PHASE_LOADING:
	case PHASE_FORMING:
	case PHASE_FORMED:
		break;
	}
	return false;
}

const struct frame *
machine_in_view(const struct machine *machine, int oven)
{
	for (int i = 0; i < machine->frame_count; i++)
		if (machine->frames[i].has_sheet &&
		    covers(machine, &machine->frames[i], oven))
			return &machine->frames[i];
	return NULL;
}

/* --- the sag eye ------------------------------------------------------------------ */

/* The sheet hangs in the beam until the frame has moved it out. */
static bool
hot_in_beam(const struct machine *machine, const struct frame *frame)
{
	bool there = frame->phase == PHASE_HEATING ||
	             (frame->phase == PHASE_TRANSFER &&
			 machine->now - frame->phase_since < MOVES_IN_VIEW);

	return there && frame->has_sheet && frame->oven == machine->kind->ovens - 1;
}

bool
machine_eye(const struct machine *machine)
{
	const struct frame *hot = NULL;

	for (int i = 0; i < machine->frame_count && hot == NULL; i++)
		if (hot_in_beam(machine, &machine->frames[i]))
			hot = &machine->frames[i];
	bool hangs = hot != NULL && hot->sheet.sag_m >= SHEET_SAG_TRIP_M;

	switch (machine->eye_state) {
	case EYE_SOUND:
		return hangs;
	case EYE_STUCK:
		return true;
	case EYE_BOUNCING:
		return hangs || (hot != NULL && hot->sheet.sag_m >= EYE_FLUTTER_M &&
				    machine->now % BLINK_PERIOD_STEPS < BLINK_STEPS);
	case EYE_DEAD:
		return false;
	}
	return false;
}

static void
watch_eye(struct machine *machine)
{
	if (!machine_eye(machine))
		machine->eye_since = TRUTH_NEVER;
	else if (machine->eye_since == TRUTH_NEVER)
		machine->eye_since = machine->now;
}

bool
moves_eye_has_seen(const struct machine *machine)
{
	return machine->eye_since != TRUTH_NEVER &&
	       machine->now - machine->eye_since >= EYE_FILTER_STEPS;
}

/* --- a step ----------------------------------------------------------------------- */

/* A fault or a jog that was ordered begins when nothing moves. */
static void
begin_orders(struct machine *machine)
{
	bool moving =
	    machine->kind->ring ? machine->rotating : carriage_moving(machine);

	if (moving)
		return;
	if (machine->fault_wanted > 0)
		machine->fault_until = machine->now + machine->fault_wanted;
	if (machine->manual_wanted > 0) {
		machine->manual_until = machine->now + machine->manual_wanted;
		machine->jog_at = machine->now + MOVES_JOG_START;
	}
	machine->fault_wanted = machine->manual_wanted = 0;
	if (!machine_in_fault(machine))
		return;
	for (int i = 0; i < machine->frame_count; i++)
		if (machine->frames[i].phase == PHASE_HEATING &&
		    machine->frames[i].has_sheet)
			machine->frames[i].passage.interrupted = true;
}

void
machine_step(struct machine *machine)
{
	machine->now++;
	machine->event_count = 0;
	watch_eye(machine);
	begin_orders(machine);
	if (machine->kind->ring)
		ring_step(machine);
	else
		carriage_step(machine);
}
