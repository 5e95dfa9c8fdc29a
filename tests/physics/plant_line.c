/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "tests/physics/plant_line.h"

#include <assert.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "contrib/linesim/plant.h"
#include "daemon/base/text.h"

enum { MISTAKES_ROOM = 65536 };

struct plant_line {
	struct plant *plant;
	int64_t shown; /* the step that the registers show */
	struct plant_line_sheet *sheets;
	size_t count, room;
};

static bool
read_script(const char *text, struct script *script)
{
	struct text mistakes;
	FILE *file;
	bool good;

	if (text == NULL || *text == '\0')
		return true;
	file = fmemopen((void *)(uintptr_t)text, strlen(text), "r");
	assert(file != NULL);
	text_init(&mistakes, MISTAKES_ROOM);
	good = script_read(script, "script", file, &mistakes);
	if (!good)
		fputs(mistakes.bytes, stderr);
	text_release(&mistakes);
	fclose(file);
	return good;
}

struct plant_line *
plant_line_new(const struct plant_line_setup *setup)
{
	struct script script = {.count = 0};
	struct plant_line *line;

	if (!read_script(setup->script, &script))
		return NULL;
	line = calloc(1, sizeof *line);
	assert(line != NULL);
	line->plant =
	    plant_new(&(struct plant_setup){.kind = machine_kind_find("rotary"),
		.seed = setup->seed,
		.start = {setup->start_unix_s * CLOCK_SECOND_NS},
		.script = &script});
	assert(line->plant != NULL);
	if (setup->plant_seed != 0) {
		struct sensors other;

		sensors_init(&other, setup->plant_seed);
		memcpy(line->plant->sensors.offset_dc, other.offset_dc,
		    sizeof other.offset_dc);
	}
	if (setup->optics != NULL) {
		line->plant->sensors.heater_share = setup->optics->heater_share;
		line->plant->sensors.surface_lag_s = setup->optics->lag_s;
	}
	return line;
}

void
plant_line_free(struct plant_line *line)
{
	if (line == NULL)
		return;
	plant_free(line->plant);
	free(line->sheets);
	free(line);
}

static double
seconds(int64_t step)
{
	return step == TRUTH_NEVER ? NAN : (double)step * TRUTH_STEP_S;
}

static double
seen_surface_c(const struct sheet_state *state)
{
	double sum = 0;

	for (int face = 0; face < SHEET_FACES; face++)
		for (int i = 0; i < PYROMETERS_A_SIDE; i++)
			sum += state->true_c[face][i];
	return sum / (SHEET_FACES * PYROMETERS_A_SIDE);
}

static void
note_sheet(struct plant_line *line, const struct passage *passage)
{
	bool heated = passage->had_sheet && passage->heat_end != TRUTH_NEVER;
	bool formed = passage->form_start != TRUTH_NEVER;
	const struct sheet_state *hot = &passage->at_heat_end,
				 *formable = &passage->at_form_start;
	struct plant_line_sheet *sheet;

	if (passage->number == 0)
		return;
	if (line->count == line->room) {
		line->room += 256;
		line->sheets =
		    realloc(line->sheets, line->room * sizeof line->sheets[0]);
		assert(line->sheets != NULL);
	}
	sheet = &line->sheets[line->count++];
	*sheet = (struct plant_line_sheet){.number = passage->number,
	    .outcome = passage_class(passage),
	    .heat_start_s = seconds(passage->heat_start),
	    .heat_end_s = seconds(passage->heat_end),
	    .form_start_s = seconds(passage->form_start),
	    .form_end_s = seconds(passage->form_end),
	    .left_s = seconds(passage->left),
	    .start_c = passage->start_c,
	    .thickness_m = passage->thickness_m,
	    .melt_flow = passage->fluidity,
	    .conductivity = passage->conductivity,
	    .surface_heat_end_c = heated ? seen_surface_c(hot) : NAN,
	    .core_heat_end_c = heated ? hot->core_seen_c : NAN,
	    .mean_heat_end_c = heated ? hot->mean_seen_c : NAN,
	    .core_form_start_c = formed ? formable->core_seen_c : NAN,
	    .mean_form_start_c = formed ? formable->mean_seen_c : NAN,
	    .sheet_mean_form_start_c = formed ? formable->mean_c : NAN,
	    .given_kj = formed ? passage->given_j / 1e3 : NAN};
	text_copy(sheet->lot, sizeof sheet->lot, passage->lot);
	for (int i = 0; i < PLANT_LINE_CIRCUITS; i++)
		sheet->water_kj[i] = passage->water_j[i] / 1e3;
}

void
plant_line_run(struct plant_line *line, double now_s)
{
	struct machine *machine = &line->plant->machine;

	while ((double)(machine->now + 1) * TRUTH_STEP_S <= now_s) {
		plant_advance(line->plant);
		for (int i = 0; i < machine->event_count; i++)
			if (machine->events[i].edge == EDGE_LEFT)
				note_sheet(line, &machine->events[i].frame->left);
	}
}

int
plant_line_device(const char *name)
{
	for (int device = 0; device < DEVICE_COUNT; device++)
		if (strcmp(device_names[device], name) == 0)
			return device;
	return -1;
}

bool
plant_line_ask(struct plant_line *line, int device)
{
	struct plant *plant = line->plant;
	const struct bank *bank = &plant->registers.banks[device];

	if (line->shown != plant->machine.now) {
		plant_show(plant);
		line->shown = plant->machine.now;
	}
	return bank->silent_until <= plant->machine.now &&
	       bank->exception_until <= plant->machine.now;
}

uint16_t
plant_line_word(
    const struct plant_line *line, int device, enum plant_line_table table, int address)
{
	const struct bank *bank = &line->plant->registers.banks[device];

	assert(address >= 0 && address < TABLE_SIZE && bank->served[table][address]);
	return bank->word[table][address];
}

const struct plant_line_sheet *
plant_line_sheets(const struct plant_line *line, size_t *count)
{
	*count = line->count;
	return line->sheets;
}
