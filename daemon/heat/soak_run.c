/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <math.h>

#include "daemon/base/error.h"
#include "daemon/heat/conduction.h"
#include "daemon/heat/soak_inside.h"
#include "daemon/heat/substance.h"

enum {
	LEAST_STEPS = 20, /* of a stretch, however short */
	DAMPED_PARTS = 4, /* of a step of backward Euler: it damps, but errs by more */
	COARSE_PARTS = 2,
	COARSE_NODES = (SOAK_NODES - 1) / 2 + 1,
	FLUX_TRIALS = 80, /* until a flux is found */
};
#define LEAST_STEP 0.1    /* of the longest, however dense the readings are */
#define FLUX_DONE_DC 1e-3 /* so near must the surface come */
#define LEAST_FLUX 100.0  /* W/m2, to begin the search with */

struct run {
	const struct soak_case *soak;
	const struct soak_nudge *nudge;
	const struct soak_watch *watch;
	struct conduction conduction;
	double lag_s, step_s;
	double above_s;
	/* of the stretch under way */
	const struct soak_stretch *stretch;
	struct soak_reader readers[2]; /* surfaces; of AIR the first is the air */
	double flux_w_m2;              /* SOAK_EXIT */
};

/* The surfaces at a moment as they are taken to have been. */
static void
find_surfaces(struct run *run, double s, double c[2])
{
	const struct soak_nudge *nudge = run->nudge;
	bool seen[2] = {
	    run->readers[0].history != NULL, run->readers[1].history != NULL};

	for (int side = 0; side < 2; side++) {
		struct soak_reader *reader = &run->readers[seen[side] ? side : !side];

		c[side] = soak_reader_at(reader, s + run->lag_s);
		c[side] += nudge->surface_dc +
		           nudge->gain * (c[side] - run->soak->start_c) +
		           (seen[side] ? 0 : nudge->side_dc);
	}
}

/* Constant, or falling evenly through the stretch around the same mean. */
static double
flux_at(const struct run *run, double s)
{
	const struct soak_stretch *stretch = run->stretch;
	double gone = (s - stretch->from_s) / (stretch->to_s - stretch->from_s);

	return run->flux_w_m2 * (1 + run->nudge->flux_fall * (1 - 2 * gone));
}

static void
find_faces(struct run *run, double s, bool end, struct conduction_face faces[2])
{
	double at[2] = {0, 0};

	switch (run->stretch->boundary) {
	case SOAK_SURFACES:
		find_surfaces(run, s, at);
		break;
	case SOAK_EXIT:
		at[0] = at[1] = flux_at(run, s);
		break;
	case SOAK_AIR:
		at[0] = at[1] =
		    soak_reader_at(&run->readers[0], s) + run->nudge->oven_air_dc;
		break;
	case SOAK_FREE:
		at[0] = at[1] = run->stretch->air_c + run->nudge->free_air_dc;
		break;
	}
	for (int side = 0; side < 2; side++)
		*(end ? &faces[side].to : &faces[side].from) = at[side];
}

static void
prepare_faces(const struct run *run, struct conduction_face faces[2])
{
	struct conduction_face face = {.kind = FACE_TEMPERATURE};

	switch (run->stretch->boundary) {
	case SOAK_SURFACES:
		break;
	case SOAK_EXIT:
		face.kind = FACE_FLUX;
		break;
	case SOAK_FREE:
		face.emissivity = run->soak->substance->emissivity;
		face.kind = FACE_EXCHANGE;
		face.w_m2k = run->stretch->air_w_m2k * (1 + run->nudge->free_air);
		break;
	case SOAK_AIR:
		/* Less heat capacity is more of conductivity and exchange alike. */
		face.kind = FACE_EXCHANGE;
		face.w_m2k = run->stretch->air_w_m2k * (1 + run->nudge->oven_air) *
		             (1 + run->nudge->diffusivity);
		break;
	}
	faces[0] = faces[1] = face;
}

/* The warmer face of two lines over a step: how long it was above the limit. */
static double
time_above(double from_c, double to_c, double limit_c, double step_s)
{
	if (from_c > limit_c && to_c > limit_c)
		return step_s;
	if (from_c <= limit_c && to_c <= limit_c)
		return 0;
	return step_s * (fmax(from_c, to_c) - limit_c) / fabs(to_c - from_c);
}

/* One step, and what is told of it. */
static void
move(struct run *run, struct conduction_face faces[2], double from_s, double step_s,
    bool damped)
{
	struct conduction *conduction = &run->conduction;
	double *c = conduction->c, before;
	int last = conduction->nodes - 1;
	bool measured = faces[0].kind == FACE_TEMPERATURE;

	find_faces(run, from_s, false, faces);
	find_faces(run, from_s + step_s, true, faces);
	before = measured ? fmax(faces[0].from, faces[1].from) : fmax(c[0], c[last]);
	conduction_step(conduction, faces, step_s, damped);
	run->above_s +=
	    time_above(before, fmax(c[0], c[last]), run->soak->limit_c, step_s);
	if (run->watch)
		run->watch->profile(run->watch->arg, from_s + step_s, c);
}

/* No longer than asked for, nor than the readings are apart. */
static double
longest_step(const struct run *run)
{
	double step_s = run->step_s;

	for (int side = 0; side < 2; side++) {
		const struct soak_reader *reader = &run->readers[side];
		const struct soak_history *history = reader->history;

		if (history && reader->last > reader->first)
			step_s = fmin(step_s,
			    (history->s[reader->last] - history->s[reader->first]) /
				(double)(reader->last - reader->first));
	}
	return fmax(step_s, LEAST_STEP * run->step_s);
}

/* From one moment of a stretch to another; the first is a jump, or follows on. */
static void
march(struct run *run, double from_s, double to_s, bool jump)
{
	double count = ceil((to_s - from_s) / longest_step(run) - 1e-9);
	long steps = (long)fmax(count, LEAST_STEPS);
	double step_s = (to_s - from_s) / (double)steps;
	bool melts = run->soak->substance->melts;
	int damped_parts = run->nudge->coarse ? COARSE_PARTS : DAMPED_PARTS;
	struct conduction_face faces[2];

	if (!(to_s > from_s))
		return;
	prepare_faces(run, faces);
	for (long i = 0; i < steps; i++) {
		bool damped = melts || (jump && i == 0);
		int parts = damped ? damped_parts : 1;

		for (int part = 0; part < parts; part++)
			move(run, faces,
			    from_s + ((double)i + (double)part / parts) * step_s,
			    step_s / parts, damped);
	}
}

/* The mean of both surfaces at a moment under a flux, tried and undone. */
static double
try_flux(struct run *run, double flux_w_m2, double to_s)
{
	struct conduction saved = run->conduction;
	const struct soak_watch *watch = run->watch;
	double above_s = run->above_s, mean_c;
	int last = saved.nodes - 1;

	run->watch = NULL;
	run->flux_w_m2 = flux_w_m2;
	march(run, run->stretch->from_s, to_s, true);
	mean_c = (run->conduction.c[0] + run->conduction.c[last]) / 2;
	run->conduction = saved;
	run->watch = watch;
	run->above_s = above_s;
	return mean_c;
}

static double
exit_mean_c(const struct run *run)
{
	const struct soak_stretch *stretch = run->stretch;
	const struct soak_nudge *nudge = run->nudge;
	double top_c = stretch->exit_top_c, bottom_c = stretch->exit_bottom_c, mean_c;

	if (isnan(top_c))
		top_c = bottom_c + nudge->side_dc;
	else if (isnan(bottom_c))
		bottom_c = top_c + nudge->side_dc;
	mean_c = (top_c + bottom_c) / 2;
	return mean_c + nudge->surface_dc + nudge->gain * (mean_c - run->soak->start_c);
}

/* The flux with which the sheet as a whole would end as warm as its surface: too much. */
static double
ample_flux(const struct run *run, double wanted_c, double to_s)
{
	const struct conduction *conduction = &run->conduction;
	const struct substance *substance = conduction->substance;
	double thickness_m = conduction->node_m * (conduction->nodes - 1);
	double wanted =
	    substance_enthalpy(substance, wanted_c) * substance->density * thickness_m;

	return fmax((wanted - conduction_enthalpy(conduction)) / 2 /
			(to_s - run->stretch->from_s),
	    LEAST_FLUX);
}

/* False position after Illinois (M. Dowell and P. Jarratt, BIT 11 (1971) 168-174): exact
 * at once where the surface is linear in the flux, and never outside its bounds. */
static int
find_flux(struct run *run, double to_s, struct error *error)
{
	double wanted_c = exit_mean_c(run), low = 0, flux = 0, gap_c;
	double high = ample_flux(run, wanted_c, to_s);
	double low_dc = try_flux(run, 0, to_s) - wanted_c;
	double high_dc = try_flux(run, high, to_s) - wanted_c;
	int moved = 0, trials = 0;

	if (low_dc > 0)
		return error_set(error, ERROR_INVALID,
		    "no heating brings the surface from %.1f C down to %.1f C",
		    low_dc + wanted_c, wanted_c);
	for (; high_dc < 0 && trials < FLUX_TRIALS; trials++) {
		low = high;
		low_dc = high_dc;
		high *= 2;
		high_dc = try_flux(run, high, to_s) - wanted_c;
	}
	for (gap_c = INFINITY; fabs(gap_c) > FLUX_DONE_DC; trials++) {
		if (trials >= FLUX_TRIALS)
			return error_set(error, ERROR_INVALID,
			    "no heating was found that brings the surface to %.1f C",
			    wanted_c);
		flux = low - low_dc * (high - low) / (high_dc - low_dc);
		gap_c = try_flux(run, flux, to_s) - wanted_c;
		if (gap_c > 0) {
			high = flux;
			high_dc = gap_c;
			low_dc *= moved > 0 ? 0.5 : 1;
			moved = 1;
		} else {
			low = flux;
			low_dc = gap_c;
			high_dc *= moved < 0 ? 0.5 : 1;
			moved = -1;
		}
	}
	run->flux_w_m2 = flux;
	return 0;
}

/* The surface is shown late: what is seen at the end was so a lag before. */
static int
run_exit(struct run *run, struct error *error)
{
	const struct soak_stretch *stretch = run->stretch;
	double lag_s = fmin(run->lag_s, (stretch->to_s - stretch->from_s) / 2);
	double seen_s = stretch->to_s - fmax(lag_s, 0);
	int failed = find_flux(run, seen_s, error);

	if (failed)
		return failed;
	march(run, stretch->from_s, seen_s, true);
	march(run, seen_s, stretch->to_s, false);
	return 0;
}

static int
run_stretch(struct run *run, struct error *error)
{
	const struct soak_stretch *stretch = run->stretch;

	run->readers[0].history = run->readers[1].history = NULL;
	switch (stretch->boundary) {
	case SOAK_SURFACES:
		soak_reader_init(
		    &run->readers[0], &stretch->top, stretch->from_s, stretch->to_s);
		soak_reader_init(
		    &run->readers[1], &stretch->bottom, stretch->from_s, stretch->to_s);
		run->readers[0].reach_s = run->readers[1].reach_s = run->lag_s;
		break;
	case SOAK_EXIT:
		return run_exit(run, error);
	case SOAK_AIR:
		soak_reader_init(
		    &run->readers[0], &stretch->air, stretch->from_s, stretch->to_s);
		break;
	case SOAK_FREE:
		break;
	}
	march(run, stretch->from_s, stretch->to_s, true);
	return 0;
}

static void
take_state(const struct conduction *conduction, struct soak_state *state)
{
	const double *c = conduction->c;
	int last = conduction->nodes - 1;

	state->core_c = c[last / 2];
	state->mean_c = conduction_mean_c(conduction);
	state->quarter_top_c = c[last / 4];
	state->quarter_bottom_c = c[last - last / 4];
	state->surface_top_c = c[0];
	state->surface_bottom_c = c[last];
}

/* Everything but the stretch under way; `moved` is room for another substance. */
static void
begin(struct run *run, struct substance *moved)
{
	const struct soak_case *soak = run->soak;
	const struct soak_nudge *nudge = run->nudge;
	const struct substance *substance = soak->substance;

	run->lag_s = soak->lag_s + nudge->lag_s;
	run->step_s = soak->step_s > 0 ? soak->step_s : SOAK_STEP_S;
	if (substance->melts && fabs(nudge->fusion) > 0) {
		*moved = *substance;
		substance_scale_fusion(moved, 1 + nudge->fusion);
		substance = moved;
	}
	conduction_init(&run->conduction, substance,
	    soak->thickness_m * (1 + nudge->thickness),
	    nudge->coarse ? COARSE_NODES : SOAK_NODES, soak->start_c + nudge->start_dc);
	run->conduction.conductivity_scale = 1 + nudge->diffusivity;
}

int
soak_run(const struct soak_case *soak, const struct soak_nudge *nudge,
    const struct soak_watch *watch, struct soak_result *result, struct error *error)
{
	struct run run = {.soak = soak, .nudge = nudge, .watch = watch};
	struct substance moved;

	begin(&run, &moved);
	for (size_t i = 0; i < soak->stretch_count; i++) {
		int failed;

		run.stretch = &soak->stretches[i];
		failed = run_stretch(&run, error);
		if (failed)
			return failed;
		take_state(&run.conduction, &result->state[i]);
	}
	result->above_limit_s = isnan(soak->limit_c) ? NAN : run.above_s;
	return 0;
}
