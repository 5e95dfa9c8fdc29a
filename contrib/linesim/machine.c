/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "contrib/linesim/machine.h"

#include <math.h>

#define LOAD_MEDIAN_S 45.0
#define LOAD_SIGMA 0.3      /* of the logarithm */
#define EYE_FLUTTER_M 0.085 /* a bouncing eye blinks from here on */

/* Steps of 0.1 s. */
enum {
	INDEX_STEPS = 80,
	IN_VIEW_STEPS = 15, /* a sheet still or already covers the pyrometers' spots */
	CLAMP_STEPS = 20,   /* from the clamped sheet until the frame may go */
	CLOSING_STEPS = 30,
	FORM_STEPS = 1500,
	TIMER_STEPS = 2300,
	HEAT_MIN_STEPS = 300,     /* a sheet with less is not formed */
	RELEASE_MIN_STEPS = 1000, /* nor let out of the oven by its sag */
	EYE_FILTER_STEPS = 4,
	DOUBLE_PAUSE_STEPS = 10,
	JOG_OPEN_STEPS = 10,  /* after going to manual the platens open ... */
	JOG_START_STEPS = 20, /* ... and the ring is moved */
	BLINK_PERIOD_STEPS = 25,
	BLINK_STEPS = 3,
};

enum { STREAM_OPERATOR = 2 };

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

/* The frame at the load station begins a new way round. */
static void
begin_passage(struct machine *machine)
{
	struct frame *frame = machine->at[STATION_LOAD];
	double load_s =
	    LOAD_MEDIAN_S * exp(LOAD_SIGMA * random_normal(&machine->random));

	passage_init(&frame->passage, ++machine->numbers_given);
	frame->phase = PHASE_LOADING;
	frame->has_sheet = frame->keep_empty = frame->pull_out = frame->keep_open =
	    false;
	frame->ordered_start_c = NAN;
	machine->operator_ready = machine->now + llround(load_s / TRUTH_STEP_S);
}

void
machine_init(struct machine *machine, uint64_t seed)
{
	*machine = (struct machine){.form_before = TRUTH_NEVER,
	    .eye_since = TRUTH_NEVER,
	    .jog_at = TRUTH_NEVER,
	    .form_done = true};
	random_init(&machine->random, seed, STREAM_OPERATOR);
	for (int station = 0; station < STATION_COUNT; station++) {
		struct frame *frame = &machine->frames[station];
		machine->at[station] = frame;
		passage_init(&frame->passage, 0);
		frame->phase = station == STATION_OVEN ? PHASE_HEATING : PHASE_FORMED;
	}
	begin_passage(machine);
}

/* The sheet hangs in the beam until the frame has moved it out. */
bool
machine_eye(const struct machine *machine)
{
	const struct frame *frame = machine->at[STATION_OVEN];
	bool leaving = frame->phase == PHASE_TRANSFER &&
	               machine->now - machine->index_started < IN_VIEW_STEPS;
	bool hot = (frame->phase == PHASE_HEATING || leaving) && frame->has_sheet;
	bool hangs = hot && frame->sheet.sag_m >= SHEET_SAG_TRIP_M;

	switch (machine->eye_state) {
	case EYE_SOUND:
		return hangs;
	case EYE_STUCK:
		return true;
	case EYE_BOUNCING:
		return hangs || (hot && frame->sheet.sag_m >= EYE_FLUTTER_M &&
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

static bool
eye_has_seen(const struct machine *machine)
{
	return machine->eye_since != TRUTH_NEVER &&
	       machine->now - machine->eye_since >= EYE_FILTER_STEPS;
}

static bool
may_go_on(const struct machine *machine)
{
	const struct frame *load = machine->at[STATION_LOAD];
	const struct frame *oven = machine->at[STATION_OVEN];
	int64_t stay = machine->now - machine->index_done;
	bool loaded = load->has_sheet || load->keep_empty;
	bool heated = !oven->has_sheet || stay >= TIMER_STEPS ||
	              (stay >= RELEASE_MIN_STEPS && eye_has_seen(machine));

	return loaded && machine->now >= machine->operator_ready + CLAMP_STEPS &&
	       heated && machine->form_done;
}

static unsigned
start_index(struct machine *machine)
{
	struct frame *load = machine->at[STATION_LOAD];
	struct frame *oven = machine->at[STATION_OVEN];

	if (load->keep_empty)
		load->has_sheet = false;
	oven->passage.heat_end = machine->now;
	oven->passage.by_timer = oven->has_sheet && !eye_has_seen(machine);
	oven->phase = PHASE_TRANSFER;
	machine->rotating = true;
	machine->index_started = machine->now;
	return EDGE_INDEX_STARTED;
}

/* The platens close later on a sheet that had its heat; on nothing else. */
static void
receive_at_form(struct machine *machine)
{
	struct frame *frame = machine->at[STATION_FORM];
	int64_t heat = frame->passage.heat_end - frame->passage.heat_start;

	if (frame->pull_out && frame->has_sheet) {
		frame->has_sheet = false;
		frame->passage.scrapped = true;
	}
	machine->form_done = !frame->has_sheet || frame->keep_open ||
	                     frame->passage.number == 0 || heat < HEAT_MIN_STEPS;
	machine->form_due = machine->now + CLOSING_STEPS;
}

static unsigned
finish_index(struct machine *machine)
{
	struct frame *came_round = machine->at[STATION_FORM];

	machine->rotating = false;
	machine->index_done = machine->now;
	machine->eye_state = EYE_SOUND;
	machine->cycle_count++;
	machine->at[STATION_FORM] = machine->at[STATION_OVEN];
	machine->at[STATION_OVEN] = machine->at[STATION_LOAD];
	machine->at[STATION_LOAD] = came_round;
	came_round->passage.left = machine->now;
	machine->left = came_round->passage;
	begin_passage(machine);

	struct frame *oven = machine->at[STATION_OVEN];
	oven->phase = PHASE_HEATING;
	oven->passage.heat_start = machine->now;
	oven->passage.had_sheet = oven->has_sheet;
	receive_at_form(machine);
	return EDGE_INDEX_DONE;
}

static unsigned
open_form(struct machine *machine)
{
	machine->form_closed = false;
	machine->form_done = true;
	machine->at[STATION_FORM]->phase = PHASE_FORMED;
	machine->at[STATION_FORM]->passage.form_end = machine->now;
	return EDGE_FORM_OPENED;
}

static unsigned
work_form(struct machine *machine)
{
	struct passage *passage = &machine->at[STATION_FORM]->passage;

	if (machine->form_closed)
		return machine->now >= machine->form_until ? open_form(machine) : 0;
	if (machine->form_done || machine->now < machine->form_due)
		return 0;
	machine->form_closed = true;
	machine->form_until = machine->now + FORM_STEPS;
	machine->at[STATION_FORM]->phase = PHASE_FORMING;
	passage->form_start = machine->now;
	passage->form_before = machine->form_before;
	machine->form_before = machine->now;
	return EDGE_FORM_CLOSED;
}

static unsigned
work_operator(struct machine *machine)
{
	struct frame *frame = machine->at[STATION_LOAD];

	if (frame->has_sheet || frame->keep_empty || machine->rotating ||
	    machine->now < machine->operator_ready)
		return 0;
	frame->has_sheet = true;
	frame->passage.loaded = machine->now;
	return EDGE_LOADED;
}

/* A fault or a jog that was ordered begins when the ring stands. */
static void
begin_orders(struct machine *machine)
{
	struct frame *oven = machine->at[STATION_OVEN];

	if (machine->rotating)
		return;
	if (machine->fault_wanted > 0)
		machine->fault_until = machine->now + machine->fault_wanted;
	if (machine->manual_wanted > 0) {
		machine->manual_until = machine->now + machine->manual_wanted;
		machine->jog_at = machine->now + JOG_START_STEPS;
	}
	machine->fault_wanted = machine->manual_wanted = 0;
	if (machine_in_fault(machine) && oven->has_sheet)
		oven->passage.interrupted = true;
}

/* In manual: the platens open, the ring is moved by one station. */
static unsigned
work_by_hand(struct machine *machine)
{
	if (machine->jog_at == TRUTH_NEVER)
		return 0;
	if (machine->form_closed &&
	    machine->now >= machine->jog_at - (JOG_START_STEPS - JOG_OPEN_STEPS))
		return open_form(machine);
	if (machine->now < machine->jog_at)
		return 0;
	machine->jog_at = TRUTH_NEVER;
	machine->at[STATION_OVEN]->keep_open = true;
	return start_index(machine);
}

static unsigned
work_automatically(struct machine *machine)
{
	unsigned edges = work_form(machine);
	bool twice = machine->double_ordered &&
	             machine->now - machine->index_done == DOUBLE_PAUSE_STEPS;

	if (twice)
		machine->double_ordered = false;
	if (twice || may_go_on(machine))
		edges |= start_index(machine);
	return edges;
}

unsigned
machine_step(struct machine *machine)
{
	unsigned edges = 0;

	machine->now++;
	watch_eye(machine);
	begin_orders(machine);
	if (machine->rotating) {
		if (machine->now - machine->index_started >= INDEX_STEPS)
			edges |= finish_index(machine);
	} else {
		edges |= work_operator(machine);
		if (machine_in_manual(machine))
			edges |= work_by_hand(machine);
		else if (!machine_in_fault(machine))
			edges |= work_automatically(machine);
	}
	if (!machine->rotating) {
		machine->sheet_at_load = machine->at[STATION_LOAD]->has_sheet;
		machine->sheet_at_form = machine->at[STATION_FORM]->has_sheet;
	}
	return edges;
}

const struct frame *
machine_in_view(const struct machine *machine)
{
	const struct frame *frame = machine->at[STATION_OVEN];
	int64_t turning = machine->now - machine->index_started;

	if (machine->rotating && turning >= IN_VIEW_STEPS)
		frame = turning >= INDEX_STEPS - IN_VIEW_STEPS
		            ? machine->at[STATION_LOAD]
		            : NULL;
	return frame != NULL && frame->has_sheet ? frame : NULL;
}
