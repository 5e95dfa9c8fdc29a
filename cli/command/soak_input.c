/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/soak_input.h"

#include <math.h>
#include <stdlib.h>

#include "cli/command/material_source.h"
#include "cli/command/number_option.h"
#include "daemon/base/error.h"

/* --- what the sheet is ------------------------------------------------------------- */

enum command_exit
soak_input_thickness(const struct call *call, double *thickness_m)
{
	double thickness_mm = NAN;
	enum command_exit code =
	    number_option(call, OPTION_THICKNESS_MM, 0.2, 50, &thickness_mm);

	if (code != COMMAND_DONE)
		return code;
	if (isnan(thickness_mm))
		return command_usage(call, "say how thick the cold sheet is: "
					   "--thickness-mm MM");
	*thickness_m = thickness_mm / 1000;
	return COMMAND_DONE;
}

static enum command_exit
take_material(struct substance *substance, const struct material_settings **material,
    const struct call *call, const struct session *session)
{
	struct error error;
	enum command_exit code = material_find(call, session, material);

	if (code != COMMAND_DONE)
		return code;
	if (substance_init(substance, *material, &error) != 0)
		return command_cannot(call, &error);
	return COMMAND_DONE;
}

enum command_exit
soak_input_substance(struct substance *substance,
    const struct material_settings **material, double *diffusivity,
    const struct call *call, const struct session *session, double fallback)
{
	double value = fallback;
	enum command_exit code;

	*material = NULL;
	*diffusivity = NAN;
	if (call->option[OPTION_MATERIAL] && call->option[OPTION_DIFFUSIVITY])
		return command_usage(call,
		    "'--material' and '--diffusivity' are two ways to say the same: "
		    "give one of them");
	if (call->option[OPTION_MATERIAL])
		return take_material(substance, material, call, session);
	code = number_option(call, OPTION_DIFFUSIVITY, 1e-9, 1e-5, &value);
	if (code != COMMAND_DONE)
		return code;
	if (isnan(value))
		return command_usage(call, "say what the sheet is made of: --material "
					   "NAME, or --diffusivity M2_PER_S");
	substance_init_diffusivity(substance, value);
	*diffusivity = value;
	return COMMAND_DONE;
}

/* --- when ----------------------------------------------------------------------------- */

/* --at, within what was measured. */
static enum command_exit
read_at(struct soak_input *input, const struct call *call)
{
	struct soak_file *file = &input->file;
	double at_s = file->to_s;
	enum command_exit code = number_option(call, OPTION_AT, -1e9, 1e9, &at_s);

	if (code != COMMAND_DONE)
		return code;
	if (at_s > file->to_s)
		return command_usage(call,
		    "'--at' is %s, but the last reading is at %g s and what the "
		    "surfaces did afterwards is not known; '--longer-s' holds them "
		    "where they were",
		    call->option[OPTION_AT], file->to_s);
	if (at_s <= file->from_s)
		return command_usage(call,
		    "'--at' is %s, must be after the first reading at %g s",
		    call->option[OPTION_AT], file->from_s);
	input->heat_end_s = at_s;
	soak_file_cut(file, at_s);
	return COMMAND_DONE;
}

static enum command_exit
read_start(struct soak_input *input, const struct call *call)
{
	const struct soak_side *top = &input->file.top, *bottom = &input->file.bottom;
	bool top_first = top->count > 0 && top->s[0] <= input->file.from_s;
	bool bottom_first = bottom->count > 0 && bottom->s[0] <= input->file.from_s;
	double *start_c = &input->soak.start_c;

	if (top_first && bottom_first)
		*start_c = (top->c[0] + bottom->c[0]) / 2;
	else
		*start_c = top_first ? top->c[0] : bottom->c[0];
	input->start_told = call->option[OPTION_START_C] != NULL;
	return number_option(call, OPTION_START_C, -40, 300, start_c);
}

static enum command_exit
read_transfer(struct soak_input *input, const struct call *call)
{
	bool way = call->option[OPTION_TRANSFER_S] != NULL;
	enum command_exit code;

	if (way != (call->option[OPTION_AIR_C] != NULL))
		return command_usage(call, "'--transfer-s' and '--air-c' go together: "
					   "how long on the way, and through what air");
	if (way && !input->material)
		return command_usage(call,
		    "'--transfer-s' needs '--material': the way to the form is "
		    "computed from the heat that leaves the faces, and for that a "
		    "diffusivity alone does not do");
	code = number_option(call, OPTION_TRANSFER_S, 0, 600, &input->transfer_s);
	if (code == COMMAND_DONE)
		code = number_option(call, OPTION_AIR_C, -40, 300, &input->air_c);
	return code;
}

/* --- the case --------------------------------------------------------------------------- */

static struct soak_stretch *
add_stretch(
    struct soak_case *soak, enum soak_boundary boundary, double from_s, double to_s)
{
	struct soak_stretch *stretch = &soak->stretches[soak->stretch_count++];

	*stretch = (struct soak_stretch){.boundary = boundary,
	    .from_s = from_s,
	    .to_s = to_s,
	    .exit_top_c = NAN,
	    .exit_bottom_c = NAN};
	return stretch;
}

static struct soak_history
held(const struct soak_side *side, const double *s, double *c)
{
	if (side->count == 0)
		return (struct soak_history){0};
	*c = side->c[side->count - 1];
	return (struct soak_history){1, s, c};
}

static void
make_case(struct soak_input *input)
{
	struct soak_case *soak = &input->soak;
	struct soak_stretch *stretch;

	soak->substance = &input->substance;
	soak->limit_c = input->material ? input->material->limit_c : NAN;
	soak->tolerances =
	    (struct soak_tolerances){.thickness = SOAK_THICKNESS_TOLERANCE,
		.diffusivity = input->material ? input->material->diffusivity_tolerance
	                                       : SOAK_DIFFUSIVITY_TOLERANCE,
		.surface_dc = SOAK_SURFACE_DC,
		.gain = SOAK_GAIN,
		.start_dc = SOAK_START_DC,
		.lag_s = SOAK_LAG_S,
		.side_dc = SOAK_SIDE_DC,
		.fusion = input->material ? input->material->fusion_tolerance : 0,
		.free_air = SOAK_FREE_AIR,
		.free_air_dc = SOAK_FREE_AIR_DC};
	stretch =
	    add_stretch(soak, SOAK_SURFACES, input->file.from_s, input->heat_end_s);
	stretch->top = (struct soak_history){
	    input->file.top.count, input->file.top.s, input->file.top.c};
	stretch->bottom = (struct soak_history){
	    input->file.bottom.count, input->file.bottom.s, input->file.bottom.c};
	if (input->longer_s > 0) {
		double end_s = input->heat_end_s + input->longer_s;
		input->held_s[0] = input->heat_end_s;
		stretch = add_stretch(soak, SOAK_SURFACES, input->heat_end_s, end_s);
		stretch->top = held(&input->file.top, input->held_s, input->held_top_c);
		stretch->bottom =
		    held(&input->file.bottom, input->held_s, input->held_bottom_c);
		input->heat_end_s = end_s;
	}
	input->heat_end = soak->stretch_count - 1;
	input->end_s = input->heat_end_s + input->transfer_s;
	if (input->transfer_s > 0) {
		stretch = add_stretch(soak, SOAK_FREE, input->heat_end_s, input->end_s);
		stretch->air_w_m2k = SOAK_TRANSFER_W_M2K;
		stretch->air_c = input->air_c;
	}
}

enum command_exit
soak_input_read(
    struct soak_input *input, const struct call *call, const struct session *session)
{
	enum command_exit code;

	*input = (struct soak_input){.air_c = NAN};
	if ((code = soak_input_thickness(call, &input->soak.thickness_m)) !=
		COMMAND_DONE ||
	    (code = soak_input_substance(&input->substance, &input->material,
		 &input->diffusivity, call, session, NAN)) != COMMAND_DONE ||
	    (code = read_transfer(input, call)) != COMMAND_DONE ||
	    (code = number_option(call, OPTION_LONGER, 0, 7200, &input->longer_s)) !=
		COMMAND_DONE ||
	    (code = soak_file_read(&input->file, call, call->argument[0], false)) !=
		COMMAND_DONE ||
	    (code = read_at(input, call)) != COMMAND_DONE ||
	    (code = read_start(input, call)) != COMMAND_DONE)
		return code;
	make_case(input);
	return COMMAND_DONE;
}

void
soak_input_release(struct soak_input *input)
{
	soak_file_release(&input->file);
}
