/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/shot/features_inside.h"

#include "daemon/base/error.h"
#include "daemon/shot/core.h"
#include "daemon/shot/limit.h"

#include <math.h>
#include <stdio.h>

static const int of_heat[] = {FEATURE_SHEET_THICKNESS_MM, FEATURE_CORE_HEAT_END_C,
    FEATURE_CORE_HEAT_END_BAND_DC, FEATURE_SHEET_MEAN_HEAT_END_C,
    FEATURE_SHEET_MEAN_HEAT_END_BAND_DC, FEATURE_SURFACE_CORE_DC,
    FEATURE_SURFACE_CORE_BAND_DC, FEATURE_SOAK_INDEX, FEATURE_FOURIER,
    FEATURE_CORE_PYROMETERS_TOP, FEATURE_CORE_PYROMETERS_BOTTOM, FEATURE_ABOVE_LIMIT_S};
static const int of_form[] = {FEATURE_CORE_FORM_START_C,
    FEATURE_CORE_FORM_START_BAND_DC, FEATURE_SHEET_MEAN_FORM_START_C,
    FEATURE_SHEET_MEAN_FORM_START_BAND_DC};

static void
put(struct shot *shot, int feature, double value)
{
	feature_put(shot, feature,
	    (struct measure){
		value, isfinite(value) ? ABSENT_NOT : ABSENT_OUT_OF_RANGE});
}

static void
put_absent(struct shot *shot, const int *features, size_t count, enum absent absent)
{
	for (size_t i = 0; i < count; i++)
		feature_put(shot, features[i], (struct measure){NAN, absent});
}

static void
put_all_absent(struct shot *shot, enum absent absent)
{
	put_absent(shot, of_heat, sizeof(of_heat) / sizeof(of_heat[0]), absent);
	put_absent(shot, of_form, sizeof(of_form) / sizeof(of_form[0]), absent);
}

/* The sheet as it leaves the last oven. */
static void
heat_end(const struct core *core, const struct soak_result *result, struct shot *shot)
{
	const struct soak_state *state = &result->state[core->heat_end];
	const struct soak_band *band = &result->band[core->heat_end];
	double surface_c = (state->surface_top_c + state->surface_bottom_c) / 2.0;
	double low_c = fmin(core->soak.start_c, surface_c);
	double high_c = fmax(core->soak.start_c, surface_c);

	put(shot, FEATURE_CORE_HEAT_END_C, state->core_c);
	put(shot, FEATURE_CORE_HEAT_END_BAND_DC, band->core_dc);
	put(shot, FEATURE_SHEET_MEAN_HEAT_END_C, state->mean_c);
	put(shot, FEATURE_SHEET_MEAN_HEAT_END_BAND_DC, band->mean_dc);
	put(shot, FEATURE_SURFACE_CORE_DC, surface_c - state->core_c);
	put(shot, FEATURE_SURFACE_CORE_BAND_DC, band->surface_core_dc);
	put(shot, FEATURE_SOAK_INDEX, soak_index(state, core->soak.start_c));
	put(shot, FEATURE_FOURIER,
	    soak_fourier(substance_diffusivity(&core->substance, low_c, high_c),
		core->soak.thickness_m, shot->value[FEATURE_HEAT_S]));
}

static void
pyrometers(const struct core *core, struct shot *shot)
{
	static const int feature_of[] = {
	    FEATURE_CORE_PYROMETERS_TOP, FEATURE_CORE_PYROMETERS_BOTTOM};

	for (int side = 0; side < 2; side++)
		feature_put(shot, feature_of[side],
		    (struct measure){core->pyrometers[side], core->pyrometers[side] < 0
								 ? ABSENT_NOT_CONFIGURED
								 : ABSENT_NOT});
}

static void
form_start(const struct core *core, const struct soak_result *result, struct shot *shot)
{
	size_t last = core->soak.stretch_count - 1;

	if (!core->formed) {
		put_absent(shot, of_form, sizeof(of_form) / sizeof(of_form[0]),
		    ABSENT_NOT_APPLICABLE);
		return;
	}
	put(shot, FEATURE_CORE_FORM_START_C, result->state[last].core_c);
	put(shot, FEATURE_CORE_FORM_START_BAND_DC, result->band[last].core_dc);
	put(shot, FEATURE_SHEET_MEAN_FORM_START_C, result->state[last].mean_c);
	put(shot, FEATURE_SHEET_MEAN_FORM_START_BAND_DC, result->band[last].mean_dc);
}

void
features_core(const struct feature_source *source, struct shot *shot)
{
	struct core core;
	struct soak_result result;
	struct error error;
	enum absent absent = core_make(source, shot, &core);

	shot->properties[0] = '\0';
	if (absent != ABSENT_NOT) {
		put_all_absent(shot, absent);
		return;
	}
	/* What no conduction leads to: surfaces that go down in the heat, and such. */
	if (soak_compute(&core.soak, &result, &error) != 0) {
		put_all_absent(shot, ABSENT_OUT_OF_RANGE);
		return;
	}
	snprintf(shot->properties, sizeof(shot->properties), "%s%s%s %s",
	    core.material->name, core.material->version[0] != '\0' ? " " : "",
	    core.material->version, core.material->hash);
	put(shot, FEATURE_SHEET_THICKNESS_MM, core.soak.thickness_m);
	pyrometers(&core, shot);
	heat_end(&core, &result, shot);
	form_start(&core, &result, shot);
	if (isnan(core.soak.limit_c))
		put_absent(
		    shot, (int[]){FEATURE_ABOVE_LIMIT_S}, 1, ABSENT_NOT_CONFIGURED);
	else
		put(shot, FEATURE_ABOVE_LIMIT_S, limit_above_s(source, &core));
}
