/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * How sure the answer is: the case once more with each tolerance, and the root of the
 * sum of squares of what that changes (JCGM 100:2008, 5.1, numerically as in 5.1.3).  What
 * does nothing to a case is not computed: an oven's air where there is none.
 */
#include <math.h>

#include "daemon/base/error.h"
#include "daemon/heat/soak_inside.h"
#include "daemon/heat/substance.h"

enum way {
	WAY_UP,     /* up, and down where there is no answer */
	WAY_HALF,   /* half of what lies between up and down */
	WAY_LARGER, /* the larger of up and down */
};

/* What a band is made of. */
struct banding {
	const struct soak_case *soak;
	const struct soak_result *base; /* what moved cases are compared with */
	bool coarse;
	struct soak_band *bands;
	struct error *error;
};

static bool
has(const struct soak_case *soak, enum soak_boundary boundary)
{
	for (size_t i = 0; i < soak->stretch_count; i++)
		if (soak->stretches[i].boundary == boundary)
			return true;
	return false;
}

static double
surface_core_dc(const struct soak_state *state)
{
	return (state->surface_top_c + state->surface_bottom_c) / 2 - state->core_c;
}

static struct soak_band
distance(const struct soak_state *from, const struct soak_state *to)
{
	return (struct soak_band){fabs(to->core_c - from->core_c),
	    fabs(to->mean_c - from->mean_c),
	    fabs(surface_core_dc(to) - surface_core_dc(from))};
}

static void
add_squares(struct soak_band *band, struct soak_band by, double share)
{
	band->core_dc = hypot(band->core_dc, share * by.core_dc);
	band->mean_dc = hypot(band->mean_dc, share * by.mean_dc);
	band->surface_core_dc =
	    hypot(band->surface_core_dc, share * by.surface_core_dc);
}

static struct soak_band
larger(struct soak_band a, struct soak_band b)
{
	return (struct soak_band){fmax(a.core_dc, b.core_dc),
	    fmax(a.mean_dc, b.mean_dc), fmax(a.surface_core_dc, b.surface_core_dc)};
}

/* `one` is an answer, and so is `other`, unless NULL. */
static void
add(const struct banding *banding, const struct soak_result *one,
    const struct soak_result *other, enum way way)
{
	for (size_t i = 0; i < banding->soak->stretch_count; i++) {
		const struct soak_state *base = &banding->base->state[i];
		struct soak_band *band = &banding->bands[i];
		struct soak_band by = distance(base, &one->state[i]);

		if (other && way == WAY_HALF)
			add_squares(
			    band, distance(&other->state[i], &one->state[i]), 0.5);
		else if (other)
			add_squares(
			    band, larger(by, distance(base, &other->state[i])), 1);
		else
			add_squares(band, by, 1);
	}
}

/* Adds what one figure does, up by `up` and down by `down`. */
static int
add_moved(const struct banding *banding, struct soak_nudge up, struct soak_nudge down,
    enum way way)
{
	struct soak_result raised, lowered;
	bool is_raised, is_lowered = false;

	up.coarse = down.coarse = banding->coarse;
	is_raised = !soak_run(banding->soak, &up, NULL, &raised, NULL);
	if (!is_raised || way != WAY_UP) {
		int failed =
		    soak_run(banding->soak, &down, NULL, &lowered, banding->error);
		is_lowered = !failed;
		if (failed && !is_raised)
			return error_prefix(banding->error, failed,
			    "no answer once a tolerance moves it, up or down");
	}
	add(banding, is_raised ? &raised : &lowered,
	    is_raised && is_lowered ? &lowered : NULL, way);
	return 0;
}

static bool
lacks_side(const struct soak_case *soak)
{
	for (size_t i = 0; i < soak->stretch_count; i++) {
		const struct soak_stretch *stretch = &soak->stretches[i];
		struct soak_reader reader;

		if (stretch->boundary == SOAK_EXIT &&
		    (isnan(stretch->exit_top_c) || isnan(stretch->exit_bottom_c)))
			return true;
		if (stretch->boundary == SOAK_SURFACES &&
		    (!soak_reader_init(
			 &reader, &stretch->top, stretch->from_s, stretch->to_s) ||
			!soak_reader_init(
			    &reader, &stretch->bottom, stretch->from_s, stretch->to_s)))
			return true;
	}
	return false;
}

struct figure {
	double by;
	struct soak_nudge up, down;
	enum way way;
};

#define FIGURE(member, by, way)                                  \
	{                                                        \
		(by), {.member = (by)}, {.member = -(by)}, (way) \
	}

static int
add_figures(const struct banding *banding)
{
	const struct soak_case *soak = banding->soak;
	const struct soak_tolerances *by = &soak->tolerances;
	bool melts = soak->substance->melts;
	double leaving = has(soak, SOAK_EXIT), air = has(soak, SOAK_AIR);
	double way = has(soak, SOAK_FREE), lacking = lacks_side(soak);
	double seen = has(soak, SOAK_SURFACES) || leaving > 0;
	const struct figure figures[] = {
	    FIGURE(thickness, by->thickness, WAY_UP),
	    FIGURE(diffusivity, by->diffusivity, melts ? WAY_LARGER : WAY_HALF),
	    FIGURE(fusion, melts * by->fusion, WAY_LARGER),
	    FIGURE(start_dc, by->start_dc, WAY_UP),
	    FIGURE(surface_dc, seen * by->surface_dc, WAY_UP),
	    FIGURE(gain, seen * by->gain, WAY_UP),
	    FIGURE(lag_s, seen * by->lag_s, WAY_UP),
	    FIGURE(side_dc, lacking * by->side_dc, WAY_UP),
	    FIGURE(flux_fall, leaving * by->flux_fall, WAY_UP),
	    FIGURE(oven_air, air * by->oven_air, WAY_UP),
	    FIGURE(oven_air_dc, air * by->oven_air_dc, WAY_UP),
	    FIGURE(free_air, way * by->free_air, WAY_UP),
	    FIGURE(free_air_dc, way * by->free_air_dc, WAY_UP),
	};

	for (size_t i = 0; i < sizeof figures / sizeof figures[0]; i++) {
		const struct figure *figure = &figures[i];
		int failed = fabs(figure->by) > 0 ? add_moved(banding, figure->up,
							figure->down, figure->way)
		                                  : 0;

		if (failed)
			return failed;
	}
	return 0;
}

int
soak_compute(
    const struct soak_case *soak, struct soak_result *result, struct error *error)
{
	bool coarse = soak->substance->melts;
	struct soak_nudge still = {.coarse = coarse};
	struct soak_result coarse_base;
	int failed = soak_follow(soak, NULL, result, error);

	if (!failed && coarse)
		failed = soak_run(soak, &still, NULL, &coarse_base, error);
	if (failed)
		return failed;
	struct banding banding = {
	    soak, coarse ? &coarse_base : result, coarse, result->band, error};

	for (size_t i = 0; i < soak->stretch_count; i++)
		result->band[i] = (struct soak_band){0, 0, 0};
	return add_figures(&banding);
}
