/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/heat/soak.h"

#include <math.h>

#include "daemon/base/error.h"
#include "daemon/heat/soak_inside.h"
#include "daemon/heat/substance.h"

#define JOINT_S 1e-6 /* so far may stretches be apart by rounding */

static int
check_history(const struct soak_history *history, const char *name, struct error *error)
{
	for (size_t i = 0; i < history->count; i++) {
		if (!isfinite(history->s[i]) || !isfinite(history->c[i]))
			return error_set(error, ERROR_INVALID,
			    "a reading of the %s is no number", name);
		if (i > 0 && !(history->s[i] > history->s[i - 1]))
			return error_set(error, ERROR_INVALID,
			    "the times of the %s do not go up at %.3f s", name,
			    history->s[i]);
	}
	return 0;
}

static int
check_surfaces(const struct soak_stretch *stretch, struct error *error)
{
	struct soak_reader reader;
	int failed = check_history(&stretch->top, "top surface", error);

	if (!failed)
		failed = check_history(&stretch->bottom, "bottom surface", error);
	if (failed)
		return failed;
	if (soak_reader_init(&reader, &stretch->top, stretch->from_s, stretch->to_s) ||
	    soak_reader_init(&reader, &stretch->bottom, stretch->from_s, stretch->to_s))
		return 0;
	return error_set(error, ERROR_INVALID, "no readings of a surface");
}

static int
check_air(const struct soak_stretch *stretch, struct error *error)
{
	struct soak_reader reader;
	int failed = check_history(&stretch->air, "oven's air", error);

	if (failed)
		return failed;
	if (!soak_reader_init(&reader, &stretch->air, stretch->from_s, stretch->to_s))
		return error_set(error, ERROR_INVALID, "no readings of the oven's air");
	return 0;
}

static int
check_boundary(const struct soak_case *soak, const struct soak_stretch *stretch,
    struct error *error)
{
	bool exchange = stretch->boundary == SOAK_AIR || stretch->boundary == SOAK_FREE;

	if (stretch->boundary != SOAK_SURFACES && !soak->substance->material)
		return error_set(error, ERROR_INVALID,
		    "what flows through a face cannot be computed from the diffusivity "
		    "alone");
	if (exchange && !(stretch->air_w_m2k >= 0 && isfinite(stretch->air_w_m2k)))
		return error_set(error, ERROR_INVALID,
		    "what the air exchanges with the sheet is not told");
	switch (stretch->boundary) {
	case SOAK_SURFACES:
		return check_surfaces(stretch, error);
	case SOAK_EXIT:
		if (isfinite(stretch->exit_top_c) || isfinite(stretch->exit_bottom_c))
			return 0;
		return error_set(error, ERROR_INVALID, "no surface at the exit");
	case SOAK_AIR:
		return check_air(stretch, error);
	case SOAK_FREE:
		if (isfinite(stretch->air_c) && soak->substance->emissivity >= 0)
			return 0;
		return error_set(error, ERROR_INVALID,
		    "surroundings or emissivity of the sheet are not told");
	}
	return error_set(error, ERROR_INVALID, "a boundary that there is not");
}

int
soak_check(const struct soak_case *soak, struct error *error)
{
	if (!(soak->thickness_m > 0 && isfinite(soak->thickness_m)))
		return error_set(
		    error, ERROR_INVALID, "the thickness of the sheet is not above 0");
	if (!isfinite(soak->start_c))
		return error_set(error, ERROR_INVALID,
		    "the temperature at which the sheet starts is not told");
	if (!isfinite(soak->lag_s))
		return error_set(error, ERROR_INVALID, "the lag is no number");
	if (soak->stretch_count < 1 || soak->stretch_count > SOAK_STRETCHES)
		return error_set(error, ERROR_INVALID, "%zu stretches, must be 1 to %d",
		    soak->stretch_count, SOAK_STRETCHES);
	for (size_t i = 0; i < soak->stretch_count; i++) {
		const struct soak_stretch *stretch = &soak->stretches[i];
		int failed;

		if (!(stretch->to_s > stretch->from_s && isfinite(stretch->from_s) &&
			isfinite(stretch->to_s)))
			return error_set(error, ERROR_INVALID,
			    "stretch %zu ends before it begins", i + 1);
		if (i > 0 &&
		    !(fabs(stretch->from_s - soak->stretches[i - 1].to_s) < JOINT_S))
			return error_set(error, ERROR_INVALID,
			    "stretch %zu does not begin where the last one ends",
			    i + 1);
		failed = check_boundary(soak, stretch, error);
		if (failed)
			return error_prefix(error, failed, "stretch %zu", i + 1);
	}
	return 0;
}

int
soak_follow(const struct soak_case *soak, const struct soak_watch *watch,
    struct soak_result *result, struct error *error)
{
	static const struct soak_nudge none;
	int failed = soak_check(soak, error);

	if (failed)
		return failed;
	for (size_t i = 0; i < SOAK_STRETCHES; i++)
		result->band[i] = (struct soak_band){NAN, NAN, NAN};
	return soak_run(soak, &none, watch, result, error);
}

double
soak_index(const struct soak_state *state, double start_c)
{
	double surface_c = (state->surface_top_c + state->surface_bottom_c) / 2;

	if (!(surface_c > start_c))
		return NAN;
	return 1 - (surface_c - state->core_c) / (surface_c - start_c);
}

double
soak_fourier(double diffusivity, double thickness_m, double s)
{
	return diffusivity * s / (thickness_m / 2) / (thickness_m / 2);
}
