/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "tests/scenario/line.h"

#include <assert.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "contrib/linesim/machine.h"

/* A quick line: the polls do not know that a sheet takes a minute and not three. */
static const struct machine_times quick = {.index = 50,
    .travel = 40,
    .closing = 30,
    .form = 350,
    .unload = 40,
    .clamp = 20,
    .timer = 900,
    .heat_min = 100,
    .release = 300,
    .load_s = 14,
    .load_sigma = 0.3};

#define FLUTTER_M 0.09
#define SURFACE_FIRST_C 100.0
#define EMPTY_FIRST_C 1000.0
#define SURFACE_STEP_C 0.25
#define SURFACE_NOBODY_C 3000.0
#define TOOL_FIRST_C 30.0
#define TOOL_STEP_C 0.125
#define TOOL_NOBODY_C 10.0

enum { STREAM_ODDITIES = 77, FLUTTER_STEPS = 80 };

/* What is to come of the sheet in a frame. */
struct fate {
	int64_t begun, before; /* before: whose frame it was */
	int64_t sag_at;        /* in the last oven */
	enum oddity order;     /* ODDITY_COUNT: none */
	int64_t order_at;
	enum eye_state eye;
	uint32_t odd;
};

struct line {
	struct machine machine;
	struct random random;
	struct line_rules rules;
	int odds;
	double lot_s; /* sheets of this lot sag so much later */
	struct fate fates[FRAMES_MAX];
	struct line_view view;
	struct line_sheet *sheets;
	size_t sheet_count, sheet_room;
	struct hazard *hazards;
	size_t hazard_count, hazard_room;
	double *entries;
	size_t entry_count, entry_room;
};

const char *
oddity_name(enum oddity oddity)
{
	static const char *const names[ODDITY_COUNT] = {"empty", "scrap", "abort",
	    "reheat", "eye stuck", "eye bouncing", "eye dead", "double index", "fault",
	    "jog", "counter set", "stop", "lot", "bits silent", "measures silent",
	    "missed polls", "late answers", "clock step", "power-up", "restart"};
	return names[oddity];
}

/* --- life ------------------------------------------------------------------------- */

struct line *
line_new(const char *kind, uint64_t seed, int odds)
{
	struct line *line = calloc(1, sizeof *line);

	assert(line != NULL);
	line->odds = odds;
	machine_init(&line->machine, machine_kind_find(kind), seed);
	line->machine.times = quick;
	if (strcmp(kind, "single-station") == 0)
		line->machine.times.travel = 60; /* an oven is slower than a frame */
	line->machine.cycle_count = 65400 + (uint32_t)(seed % 100);
	random_init(&line->random, seed, STREAM_ODDITIES);
	line->rules = (struct line_rules){.heat_min_s = 10,
	    .timer_s = 90,
	    .startup_after_s = 240,
	    .startup_shots = 2,
	    .index_s =
		line->machine.kind->ring ? (double)quick.index * TRUTH_STEP_S : 0,
	    .ovens = line->machine.kind->ovens,
	    .sides = line->machine.kind->sides,
	    .ring = line->machine.kind->ring};
	for (int i = 0; i < FRAMES_MAX; i++)
		line->fates[i].order = ODDITY_COUNT;
	return line;
}

void
line_free(struct line *line)
{
	if (line == NULL)
		return;
	free(line->sheets);
	free(line->hazards);
	free(line->entries);
	free(line);
}

const struct line_rules *
line_rules(const struct line *line)
{
	return &line->rules;
}

double
line_now_s(const struct line *line)
{
	return (double)line->machine.now * TRUTH_STEP_S;
}

/* --- what goes wrong --------------------------------------------------------------- */

static double
draw(struct line *line, double from, double to)
{
	return from + (to - from) * random_uniform(&line->random);
}

static int64_t
draw_steps(struct line *line, double from_s, double to_s)
{
	return llround(draw(line, from_s, to_s) / TRUTH_STEP_S);
}

static void
note_hazard(struct line *line, enum oddity oddity, double for_s)
{
	if (line->hazard_count == line->hazard_room) {
		line->hazard_room += 64;
		line->hazards =
		    realloc(line->hazards, line->hazard_room * sizeof line->hazards[0]);
		assert(line->hazards != NULL);
	}
	line->hazards[line->hazard_count++] =
	    (struct hazard){oddity, line_now_s(line), line_now_s(line) + for_s};
}

static void
draw_fate(struct line *line, struct frame *frame, struct fate *fate)
{
	enum oddity oddity = (enum oddity)(draw(line, 0, ODDITY_OF_LINE));

	*fate = (struct fate){.begun = line->machine.now,
	    .before = frame->left.number,
	    .order = ODDITY_COUNT,
	    .eye = EYE_SOUND};
	if (draw(line, 0, 100) >= line->odds)
		return;
	fate->odd = UINT32_C(1) << oddity;
	frame->keep_empty = oddity == ODDITY_EMPTY;
	frame->pull_out = oddity == ODDITY_SCRAP;
	frame->keep_open = oddity == ODDITY_ABORT;
	frame->once_more = oddity == ODDITY_REHEAT;
	fate->eye = oddity == ODDITY_EYE_STUCK      ? EYE_STUCK
	            : oddity == ODDITY_EYE_BOUNCING ? EYE_BOUNCING
	            : oddity == ODDITY_EYE_DEAD     ? EYE_DEAD
	                                            : EYE_SOUND;
	if (oddity >= ODDITY_DOUBLE_INDEX && oddity <= ODDITY_COUNTER)
		fate->order = oddity;
	if (oddity == ODDITY_LOT)
		line->lot_s = draw(line, -6, 6);
	if (oddity == ODDITY_STOP) {
		int64_t steps = draw_steps(line, 400, 900);
		frame->ready_at += steps;
		note_hazard(line, ODDITY_STOP, (double)steps * TRUTH_STEP_S + 60);
	}
}

/* To 0, or anywhere, but not a little ahead: that would be an index that nobody saw. */
static void
set_counter(struct line *line)
{
	uint32_t *count = &line->machine.cycle_count;
	bool reset = random_uniform(&line->random) < 0.5;
	uint32_t by = reset ? 0 : (uint32_t)draw(line, 0, 65500);

	*count = reset && *count % 65536 < 65000 ? 0 : *count + 10 + by;
}

static void
give_order(struct line *line, struct fate *fate)
{
	struct machine *machine = &line->machine;
	int64_t steps = draw_steps(line, 15, 50);

	switch ((int)fate->order) {
	case ODDITY_DOUBLE_INDEX:
		machine->double_ordered = machine->kind->ring;
		break;
	case ODDITY_FAULT:
		machine->fault_wanted = steps;
		break;
	case ODDITY_JOG:
		machine->manual_wanted = steps;
		break;
	case ODDITY_COUNTER:
		set_counter(line);
		break;
	}
	note_hazard(line, fate->order, (double)steps * TRUTH_STEP_S + 15);
	fate->order = ODDITY_COUNT;
}

static void
note_entry(struct line *line)
{
	if (line->entry_count == line->entry_room) {
		line->entry_room += 256;
		line->entries =
		    realloc(line->entries, line->entry_room * sizeof line->entries[0]);
		assert(line->entries != NULL);
	}
	line->entries[line->entry_count++] = line_now_s(line);
}

static void
begin_heat(struct line *line, struct frame *frame, struct fate *fate)
{
	struct machine *machine = &line->machine;

	if (frame->oven == 0)
		note_entry(line);
	frame->sheet.sag_m = 0;
	fate->order_at = machine->now + draw_steps(line, 0, 60);
	if (fate->order == ODDITY_DOUBLE_INDEX && frame->oven == 0)
		give_order(line, fate);
	if (frame->oven != machine->kind->ovens - 1)
		return;
	fate->sag_at =
	    machine->now + draw_steps(line, 38 + line->lot_s, 62 + line->lot_s);
	if (fate->eye != EYE_SOUND)
		machine->eye_state = fate->eye;
}

/* --- what happened ------------------------------------------------------------------ */

static double
seconds(int64_t step)
{
	return step == TRUTH_NEVER ? NAN : (double)step * TRUTH_STEP_S;
}

static void
tell_sheet(struct line *line, const struct frame *frame, const struct fate *fate)
{
	const struct passage *passage = &frame->left;
	bool held = line->rules.ring && passage->had_sheet && !passage->scrapped &&
	            passage->form_start == TRUTH_NEVER;
	struct line_sheet *sheet;

	if (passage->number == 0)
		return;
	if (line->sheet_count == line->sheet_room) {
		line->sheet_room += 128;
		line->sheets =
		    realloc(line->sheets, line->sheet_room * sizeof line->sheets[0]);
		assert(line->sheets != NULL);
	}
	sheet = &line->sheets[line->sheet_count++];
	*sheet = (struct line_sheet){.number = passage->number,
	    .side = passage->side,
	    .outcome = passage_class(passage),
	    .stay_count = passage->stay_count,
	    .before = fate->before,
	    .begun_s = seconds(fate->begun),
	    .loaded_s = seconds(passage->loaded),
	    .sag_s = seconds(passage->sagged),
	    .form_start_s = seconds(passage->form_start),
	    .form_end_s = seconds(passage->form_end),
	    .form_before_s = seconds(passage->form_before),
	    .left_s = seconds(passage->left),
	    .odd = fate->odd};
	sheet->final_s = held ? NAN : sheet->left_s;
	for (int i = 0; i < passage->stay_count; i++)
		sheet->stays[i] = (struct line_stay){.oven = passage->stays[i].oven,
		    .in_s = seconds(passage->stays[i].in),
		    .out_s = seconds(passage->stays[i].out)};
}

/* Unformed sheets that have left are taken off where the eye at the load station sees it. */
static void
settle_held(struct line *line)
{
	for (size_t i = line->sheet_count;
	     i-- > 0 && i + FRAMES_MAX > line->sheet_count;)
		for (int f = 0; f < line->machine.frame_count; f++) {
			const struct frame *frame = &line->machine.frames[f];

			if (isnan(line->sheets[i].final_s) && !frame->has_sheet &&
			    frame->phase == PHASE_LOADING &&
			    frame->left.number == line->sheets[i].number)
				line->sheets[i].final_s = line_now_s(line);
		}
}

static void
follow(struct line *line, const struct machine_event *event)
{
	struct frame *frame = event->frame;
	struct fate *fate = &line->fates[frame - line->machine.frames];

	switch (event->edge) {
	case EDGE_BEGUN:
		draw_fate(line, frame, fate);
		break;
	case EDGE_HEAT_BEGUN:
		begin_heat(line, frame, fate);
		break;
	case EDGE_LEFT:
		tell_sheet(line, frame, fate);
		break;
	case EDGE_LOADED:
	case EDGE_SENT:
	case EDGE_HEAT_ENDED:
	case EDGE_FORM_CLOSED:
	case EDGE_FORM_OPENED:
		break;
	}
}

static void
heat(struct line *line)
{
	struct machine *machine = &line->machine;
	struct frame *frame = machine_heated(machine, machine->kind->ovens - 1);
	struct fate *fate;

	if (frame == NULL || !frame->has_sheet)
		return;
	fate = &line->fates[frame - machine->frames];
	if (fate->order != ODDITY_COUNT && machine->now >= fate->order_at)
		give_order(line, fate);
	if (machine->now < fate->sag_at - FLUTTER_STEPS)
		return;
	if (machine->now < fate->sag_at)
		frame->sheet.sag_m = FLUTTER_M;
	else if (frame->passage.sagged == TRUTH_NEVER) {
		frame->sheet.sag_m = SHEET_SAG_TRIP_M;
		frame->passage.sagged = machine->now;
	}
}

/* --- what it shows ------------------------------------------------------------------ */

static void
show_bits(struct line *line)
{
	const struct machine *machine = &line->machine;
	bool now[LINE_BITS] = {[LINE_ROTATING] = machine->rotating,
	    [LINE_SHEET_AT_LOAD] = machine->sheet_at_load,
	    [LINE_SHEET_AT_FORM] = machine->sheet_at_form,
	    [LINE_AUTOMATIC] = !machine_in_manual(machine),
	    [LINE_FAULT] = machine_in_fault(machine),
	    [LINE_SAG_EYE] = machine_eye(machine)};

	for (int side = 0; side < machine->kind->sides; side++) {
		now[LINE_FORM_CLOSED + side] = machine->sides[side].form_closed;
		now[LINE_OVEN_IN + side] = machine_oven_in(machine, side);
		now[LINE_CLAMP_CLOSED + side] = machine_clamp_closed(machine, side);
		now[LINE_SHEET_IN_FRAME + side] = machine_sheet_in_frame(machine, side);
	}
	for (int bit = 0; bit < LINE_BITS; bit++) {
		line->view.toggles[bit] += now[bit] != line->view.bit[bit];
		line->view.bit[bit] = now[bit];
	}
	line->view.cycle_count = (uint16_t)machine->cycle_count;
}

const struct line_view *
line_view(struct line *line)
{
	struct machine *machine = &line->machine;

	for (int oven = 0; oven < machine->kind->ovens; oven++) {
		const struct frame *frame = machine_heated(machine, oven);
		int64_t number = frame == NULL ? 0 : frame->passage.number;

		line->view.surface_c[oven] =
		    frame == NULL ? SURFACE_NOBODY_C
				  : line_surface_mark_c(number, !frame->has_sheet);
		line->view.zone[oven] =
		    frame == NULL ? 0.1 : 0.2 + (double)(number % 64) / 128;
	}
	for (int side = 0; side < machine->kind->sides; side++) {
		const struct frame *frame = machine_forming(machine, side);

		line->view.tool_c[side] = frame == NULL
		                              ? TOOL_NOBODY_C
		                              : line_tool_mark_c(frame->passage.number);
	}
	return &line->view;
}

void
line_run(struct line *line, double now_s)
{
	while ((double)(line->machine.now + 1) * TRUTH_STEP_S <= now_s) {
		/* Those of machine_init are followed first. */
		for (int i = 0; line->machine.now == 0 && i < line->machine.event_count;
		     i++)
			follow(line, &line->machine.events[i]);
		machine_step(&line->machine);
		for (int i = 0; i < line->machine.event_count; i++)
			follow(line, &line->machine.events[i]);
		heat(line);
		settle_held(line);
		show_bits(line);
	}
}

const struct line_sheet *
line_sheets(const struct line *line, size_t *count)
{
	*count = line->sheet_count;
	return line->sheets;
}

const double *
line_entries(const struct line *line, size_t *count)
{
	*count = line->entry_count;
	return line->entries;
}

int64_t
line_youngest(const struct line *line)
{
	return line->machine.numbers_given;
}

const struct hazard *
line_hazards(const struct line *line, size_t *count)
{
	*count = line->hazard_count;
	return line->hazards;
}

/* --- marks -------------------------------------------------------------------------- */

double
line_surface_mark_c(int64_t number, bool empty)
{
	return (empty ? EMPTY_FIRST_C : SURFACE_FIRST_C) +
	       SURFACE_STEP_C * (double)number;
}

double
line_tool_mark_c(int64_t number)
{
	return TOOL_FIRST_C + TOOL_STEP_C * (double)number;
}

/* Every mark is a whole number of quarters or eighths: exact in binary. */
static int64_t
whole_steps(double c, double first_c, double step_c)
{
	double steps = (c - first_c) / step_c;

	return steps >= 1 && fabs(steps - round(steps)) < 1e-6 ? llround(steps) : 0;
}

int64_t
line_sheet_of_surface(double surface_c)
{
	if (!(surface_c < SURFACE_NOBODY_C))
		return 0;
	return whole_steps(surface_c,
	    surface_c >= EMPTY_FIRST_C ? EMPTY_FIRST_C : SURFACE_FIRST_C,
	    SURFACE_STEP_C);
}

int64_t
line_sheet_of_tool(double tool_c)
{
	return tool_c < SURFACE_NOBODY_C
	           ? whole_steps(tool_c, TOOL_FIRST_C, TOOL_STEP_C)
	           : 0;
}
