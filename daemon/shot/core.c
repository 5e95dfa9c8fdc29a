/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/shot/core.h"

#include "daemon/base/error.h"
#include "daemon/shot/course.h"
#include "daemon/shot/features_inside.h"
#include "daemon/shot/track.h"

#include <math.h>
#include <string.h>

/* Of a thickness that no recipe tells of; common practice, no source. */
#define THICKNESS_TOLERANCE 0.02

/* An oven that begins at full power and goes back: seen at the exit, nobody knows when; half
 * of a 95 % interval; common practice, no source. */
#define FLUX_FALL_TOLERANCE 0.5

static const struct recipe_settings *
recipe_of(const struct feature_source *source)
{
	return settings_recipe(source->settings, source->circumstances->recipe);
}

double
core_thickness_m(const struct feature_source *source)
{
	const struct recipe_settings *recipe = recipe_of(source);

	if (source->circumstances->thickness_m > 0.0)
		return source->circumstances->thickness_m;
	return recipe != NULL && recipe->thickness_m > 0.0 ? recipe->thickness_m : NAN;
}

static struct mono
later(struct mono at, double s)
{
	return (struct mono){at.ns + (int64_t)(s * (double)CLOCK_SECOND_NS)};
}

/* The stack sensor's reading nearest before the sheet went in, else after; NAN. */
static double
stack_near(const struct feature_source *source)
{
	const struct edge *start = sheet_heat_start(source->sheet);
	struct window near = {true, source->sheet->placed, edge_time(start)};
	struct mono at, oldest = later(near.to, -CORE_STACK_BEFORE_S);
	double value, c = NAN;
	struct track track;

	if (source->roles->stack == ROLES_NONE || !start->known)
		return NAN;
	if (near.from.ns < oldest.ns)
		near.from = oldest;
	track_start(&track, source->history, (uint32_t)source->roles->stack, near);
	while (track_next(&track, &at, &value))
		c = value;
	if (isfinite(c))
		return c;
	near = (struct window){true, near.to, later(near.to, CORE_STACK_AFTER_S)};
	if (near.to.ns > source->sheet->left.ns)
		near.to = source->sheet->left; /* what is kept of it ends there */
	track_start(&track, source->history, (uint32_t)source->roles->stack, near);
	return track_next(&track, &at, &value) ? value : NAN;
}

/* How warm the sheet came in, and how well that is known; why nobody knows. */
static enum absent
find_start(const struct feature_source *source, const struct shot *shot,
    struct soak_case *soak)
{
	double *start_c = &soak->start_c;

	soak->tolerances.start_dc = source->line->start_tolerance_dc;
	*start_c = shot->absent[FEATURE_STACK_C] == ABSENT_NOT
	               ? shot->value[FEATURE_STACK_C]
	               : stack_near(source);
	if (!isfinite(*start_c))
		*start_c = source->circumstances->stack_c;
	if (isfinite(*start_c))
		return ABSENT_NOT;
	*start_c = source->line->start_c;
	soak->tolerances.start_dc = fmax(
	    CORE_START_LEAST_DC, CORE_START_TIMES * source->line->start_tolerance_dc);
	return isfinite(*start_c) ? ABSENT_NOT
	                          : (enum absent)shot->absent[FEATURE_STACK_C];
}

static void
set_tolerances(const struct feature_source *source, struct core *core)
{
	const struct line_settings *line = source->line;
	const struct recipe_settings *recipe = recipe_of(source);

	core->soak.tolerances = (struct soak_tolerances){
	    .thickness = recipe != NULL && recipe->thickness_tolerance >= 0.0
	                     ? recipe->thickness_tolerance
	                     : THICKNESS_TOLERANCE,
	    .diffusivity = core->material->diffusivity_tolerance,
	    .surface_dc = line->pyrometer_tolerance_dc,
	    .gain = line->pyrometer_gain_tolerance,
	    .start_dc = core->soak.tolerances.start_dc,
	    .lag_s = line->pyrometer_lag_tolerance_s,
	    .side_dc = CORE_SIDE_DC,
	    .fusion = core->material->fusion_tolerance,
	    .oven_air = line->oven_exchange_tolerance,
	    .oven_air_dc = line->oven_air_tolerance_dc,
	    .free_air = line->transfer_tolerance,
	    .free_air_dc = line->ambient_tolerance_dc,
	    .flux_fall = FLUX_FALL_TOLERANCE};
}

/* The sheet's way was seen from the first oven to the last. */
static bool
is_whole(const struct sheet *sheet)
{
	if (sheet->stay_count == 0 || sheet->empty)
		return false;
	/* Taken in once more than there is room for: that stay is lost. */
	if (sheet->stay_count == SHEET_STAYS_MAX && sheet->unseen)
		return false;
	for (int i = 0; i < sheet->stay_count; i++) {
		const struct stay *stay = &sheet->stays[i];

		if (!sheet_stay_window(stay).known)
			return false;
		if (i > 0 && !(edge_span_s(&sheet->stays[i - 1].out, &stay->in) >= 0.0))
			return false;
	}
	return true;
}

/* --- stretches ----------------------------------------------------------------------- */

struct builder {
	const struct feature_source *source;
	struct core *core;
	struct mono origin;
	double air_c;
};

static double
case_s(const struct builder *builder, const struct edge *edge)
{
	return (double)(edge_time(edge).ns - builder->origin.ns) /
	       (double)CLOCK_SECOND_NS;
}

/* NULL when no time goes by. */
static struct soak_stretch *
add_stretch(struct builder *builder, const struct edge *from, const struct edge *to,
    enum soak_boundary boundary)
{
	struct soak_case *soak = &builder->core->soak;
	struct soak_stretch *stretch = &soak->stretches[soak->stretch_count];
	double from_s = case_s(builder, from), to_s = case_s(builder, to);

	if (!(to_s > from_s))
		return NULL;
	*stretch = (struct soak_stretch){.boundary = boundary,
	    .from_s = from_s,
	    .to_s = to_s,
	    .exit_top_c = NAN,
	    .exit_bottom_c = NAN};
	soak->stretch_count++;
	return stretch;
}

static void
add_way(struct builder *builder, const struct edge *from, const struct edge *to)
{
	struct soak_stretch *stretch = add_stretch(builder, from, to, SOAK_FREE);

	if (stretch == NULL)
		return;
	stretch->air_w_m2k = builder->source->line->transfer_w_m2k;
	stretch->air_c = builder->air_c;
}

struct few {
	size_t count;
	uint32_t channels[COURSE_SENSORS];
};

/* The mean of some channels over a stay, in the room of one side; of how many of them. */
static enum absent
take_course(struct builder *builder, int stay, int side, const struct few *few,
    struct soak_history *history, int *sensors)
{
	const struct feature_source *source = builder->source;
	const struct sheet *sheet = source->sheet;
	struct core *core = builder->core;
	struct course course = {.s = core->s[side] + core->used[side],
	    .value = core->c[side] + core->used[side]};
	struct course_source readings = {.history = source->history,
	    .channels = few->channels,
	    .count = few->count,
	    .window = sheet_stay_window(&sheet->stays[stay]),
	    .coverage_min = source->line->coverage_min,
	    .to_the_end = stay == sheet->stay_count - 1};
	enum absent absent = course_make(&readings, builder->origin,
	    edge_time(&sheet->stays[stay].out), core->soak.step_s, &course);

	*sensors = (int)course.sensors;
	core->used[side] += course.count;
	*history = (struct soak_history){course.count, course.s, course.value};
	return absent;
}

/* What each pyrometer showed of the sheet going by, meaned over the side; of how many. */
static enum absent
take_exit(const struct builder *builder, int stay, const uint32_t *channels, int count,
    double *exit_c, int *good)
{
	enum absent absent = ABSENT_NOT;
	double sum = 0.0;

	*good = 0;
	for (int i = 0; i < count; i++) {
		struct measure one =
		    feature_passage(builder->source, channels[i], stay);

		if (one.absent != ABSENT_NOT) {
			absent = one.absent;
			continue;
		}
		sum += one.value;
		(*good)++;
	}
	*exit_c = *good > 0 ? sum / *good : NAN;
	return *good > 0 ? ABSENT_NOT : absent;
}

/* The faces of one side over a stay, from those of its pyrometers that do not hang. */
static enum absent
take_surfaces(struct builder *builder, int stay, int side, struct soak_history *history,
    int *sensors)
{
	const struct feature_source *source = builder->source;
	const struct stay *of = &source->sheet->stays[stay];
	const struct oven_roles *oven = &source->roles->ovens[of->oven];
	struct few few = {.count = 0};

	for (int i = 0; i < oven->surface_count[side]; i++)
		if (!feature_is_stuck(
			source, oven->surface[side][i], stay, sheet_stay_window(of)))
			few.channels[few.count++] = oven->surface[side][i];
	if (few.count == 0)
		return ABSENT_SENSOR_FAULT;
	return take_course(builder, stay, side, &few, history, sensors);
}

static enum absent
add_air(struct builder *builder, int number, struct soak_stretch *stretch)
{
	const struct stay *stay = &builder->source->sheet->stays[number];
	struct few air = {1, {(uint32_t)builder->source->roles->ovens[stay->oven].air}};
	int sensors;

	stretch->boundary = SOAK_AIR;
	stretch->air_w_m2k = builder->source->line->oven_air_w_m2k;
	return take_course(builder, number, 0, &air, &stretch->air, &sensors);
}

/* One stay in an oven.  A side that has pyrometers must have a good one: with the other
 * side alone this shot would step away from its neighbours for no reason of its own. */
static enum absent
add_stay(struct builder *builder, int number)
{
	const struct stay *stay = &builder->source->sheet->stays[number];
	const struct oven_roles *oven = &builder->source->roles->ovens[stay->oven];
	bool at_exit = builder->source->line->view == VIEW_EXIT;
	struct soak_stretch *stretch = add_stretch(
	    builder, &stay->in, &stay->out, at_exit ? SOAK_EXIT : SOAK_SURFACES);
	int *fewest = builder->core->pyrometers;
	enum absent absent = ABSENT_NOT;

	if (stretch == NULL)
		return ABSENT_NOT_APPLICABLE;
	if (oven->surface_count[0] + oven->surface_count[1] == 0)
		return add_air(builder, number, stretch);
	for (int side = 0; side < 2 && absent == ABSENT_NOT; side++) {
		int count = oven->surface_count[side], sensors = 0;

		if (count == 0)
			continue;
		if (at_exit)
			absent = take_exit(builder, number, oven->surface[side], count,
			    side == 0 ? &stretch->exit_top_c : &stretch->exit_bottom_c,
			    &sensors);
		else
			absent = take_surfaces(builder, number, side,
			    side == 0 ? &stretch->top : &stretch->bottom, &sensors);
		if (fewest[side] < 0 || sensors < fewest[side])
			fewest[side] = sensors;
	}
	return absent;
}

static enum absent
add_stretches(struct builder *builder)
{
	const struct sheet *sheet = builder->source->sheet;
	struct core *core = builder->core;

	for (int i = 0; i < sheet->stay_count; i++) {
		enum absent absent;

		if (i > 0)
			add_way(builder, &sheet->stays[i - 1].out, &sheet->stays[i].in);
		absent = add_stay(builder, i);
		if (absent != ABSENT_NOT)
			return absent;
	}
	core->heat_end = core->soak.stretch_count - 1;
	core->formed = edge_span_s(sheet_heat_end(sheet), &sheet->form_start) >= 0.0;
	if (core->formed)
		add_way(builder, sheet_heat_end(sheet), &sheet->form_start);
	return ABSENT_NOT;
}

/* Every oven that the sheet was in shows its surfaces, or the air that heats it. */
static bool
is_seen(const struct feature_source *source)
{
	for (int i = 0; i < source->sheet->stay_count; i++) {
		const struct oven_roles *oven =
		    &source->roles->ovens[source->sheet->stays[i].oven];

		if (oven->surface_count[0] + oven->surface_count[1] == 0 &&
		    (oven->air == ROLES_NONE || !(source->line->oven_air_w_m2k > 0.0)))
			return false;
	}
	return true;
}

enum absent
core_make(
    const struct feature_source *source, const struct shot *shot, struct core *core)
{
	struct builder builder = {.source = source, .core = core, .air_c = CORE_AIR_C};
	struct soak_case *soak = &core->soak;
	enum absent absent;
	struct error error;
	double ovens_s;

	core->material =
	    settings_material(source->settings, source->circumstances->material);
	if (core->material == NULL ||
	    substance_init(&core->substance, core->material, &error) != 0 ||
	    isnan(core_thickness_m(source)) || !is_seen(source))
		return ABSENT_NOT_CONFIGURED;
	*soak = (struct soak_case){.substance = &core->substance,
	    .thickness_m = core_thickness_m(source),
	    .lag_s = source->line->pyrometer_lag_s,
	    .limit_c = core->material->limit_c};
	absent = find_start(source, shot, soak);
	if (absent == ABSENT_NOT_CONFIGURED)
		return absent;
	if (!is_whole(source->sheet))
		return ABSENT_NOT_APPLICABLE;
	if (absent != ABSENT_NOT)
		return absent;
	set_tolerances(source, core);
	builder.origin = edge_time(sheet_heat_start(source->sheet));
	if (shot->absent[FEATURE_AMBIENT_C] == ABSENT_NOT)
		builder.air_c = shot->value[FEATURE_AMBIENT_C];
	/* The ways between are not measured: they take no points. */
	ovens_s = edge_span_s(
		      sheet_heat_start(source->sheet), sheet_heat_end(source->sheet)) -
	          sheet_heat_gap_s(source->sheet);
	soak->step_s = fmax(SOAK_STEP_S,
	    ovens_s /
		(source->line->view == VIEW_EXIT ? CORE_EXIT_STEPS : CORE_POINTS));
	core->used[0] = core->used[1] = 0;
	core->pyrometers[0] = core->pyrometers[1] = -1;
	return add_stretches(&builder);
}
