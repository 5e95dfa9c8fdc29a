/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * How sure the answer is: the case once more with each tolerance, and the root of the
 * sum of squares of what that changes (JCGM 100:2008, 5.1, numerically as in 5.1.3).  The
 * diffusivity, whose tolerance is wide and works more downwards than upwards, is moved both
 * ways, and half of the difference counts.
 */
#include <math.h>

#include "daemon/heat/soak_inside.h"

enum { TOLERANCES = 12, DIFFUSIVITY = 1 };

static void
list_nudges(
    const struct soak_tolerances *tolerances, struct soak_nudge nudges[TOLERANCES])
{
	for (int i = 0; i < TOLERANCES; i++)
		nudges[i] = (struct soak_nudge){0};
	nudges[0].thickness = tolerances->thickness;
	nudges[DIFFUSIVITY].diffusivity = tolerances->diffusivity;
	nudges[2].surface_dc = tolerances->surface_dc;
	nudges[3].gain = tolerances->gain;
	nudges[4].start_dc = tolerances->start_dc;
	nudges[5].lag_s = tolerances->lag_s;
	nudges[6].side_dc = tolerances->side_dc;
	nudges[7].oven_air = tolerances->oven_air;
	nudges[8].oven_air_dc = tolerances->oven_air_dc;
	nudges[9].free_air = tolerances->free_air;
	nudges[10].free_air_dc = tolerances->free_air_dc;
	nudges[11].flux_fall = tolerances->flux_fall;
}

static bool
is_still(const struct soak_nudge *nudge)
{
	return !(fabs(nudge->thickness) > 0 || fabs(nudge->diffusivity) > 0 ||
		 fabs(nudge->surface_dc) > 0 || fabs(nudge->gain) > 0 ||
		 fabs(nudge->start_dc) > 0 || fabs(nudge->lag_s) > 0 ||
		 fabs(nudge->side_dc) > 0 || fabs(nudge->oven_air) > 0 ||
		 fabs(nudge->free_air) > 0 || fabs(nudge->oven_air_dc) > 0 ||
		 fabs(nudge->free_air_dc) > 0 || fabs(nudge->flux_fall) > 0);
}

static double
surface_core_dc(const struct soak_state *state)
{
	return (state->surface_top_c + state->surface_bottom_c) / 2 - state->core_c;
}

/* Adds what lies between two answers, times `share`. */
static void
add_squares(const struct soak_case *soak, const struct soak_result *from,
    const struct soak_result *to, double share, struct soak_band *bands)
{
	for (size_t i = 0; i < soak->stretch_count; i++) {
		const struct soak_state *a = &from->state[i], *b = &to->state[i];
		struct soak_band *band = &bands[i];

		band->core_dc = hypot(band->core_dc, share * (b->core_c - a->core_c));
		band->mean_dc = hypot(band->mean_dc, share * (b->mean_c - a->mean_c));
		band->surface_core_dc = hypot(band->surface_core_dc,
		    share * (surface_core_dc(b) - surface_core_dc(a)));
	}
}

/* One tolerance.  Not 0: a moved case has no answer. */
static int
add_tolerance(const struct soak_case *soak, struct soak_nudge nudge, bool both_ways,
    struct soak_result *result)
{
	struct soak_result up, down;
	int failed = soak_run(soak, &nudge, NULL, &up, NULL);

	if (failed)
		return failed;
	if (!both_ways) {
		add_squares(soak, result, &up, 1, result->band);
		return 0;
	}
	nudge.diffusivity = -nudge.diffusivity;
	failed = soak_run(soak, &nudge, NULL, &down, NULL);
	if (!failed)
		add_squares(soak, &down, &up, 0.5, result->band);
	return failed;
}

/* An exit that heating reaches, but not once it is moved. */
static void
mark_unknown(const struct soak_case *soak, struct soak_result *result)
{
	for (size_t i = 0; i < soak->stretch_count; i++)
		result->band[i] = (struct soak_band){NAN, NAN, NAN};
}

int
soak_compute(
    const struct soak_case *soak, struct soak_result *result, struct error *error)
{
	struct soak_nudge nudges[TOLERANCES];
	int failed = soak_follow(soak, NULL, result, error);

	if (failed)
		return failed;
	for (size_t i = 0; i < soak->stretch_count; i++)
		result->band[i] = (struct soak_band){0, 0, 0};
	list_nudges(&soak->tolerances, nudges);
	for (int i = 0; i < TOLERANCES; i++) {
		if (is_still(&nudges[i]))
			continue;
		if (add_tolerance(soak, nudges[i], i == DIFFUSIVITY, result))
			mark_unknown(soak, result);
	}
	return 0;
}
