/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "contrib/linesim/sensor.h"

#include <math.h>
#include <stddef.h>

#include "contrib/linesim/radiance.h"

#define EMISSIVITY_SET 0.95
#define HOUSING_C 40.0 /* also what the head takes the surroundings to be */
#define HEATER_SHARE 0.1
#define HEATER_EMISSIVITY 0.9
#define SURFACE_LAG_S 0.5
#define SURFACE_NOISE_C 0.3
#define TOOL_OFFSET_C 0.1
#define TOOL_NOISE_C 0.05
#define FLOW_NOISE_LPM 0.05

enum { STREAM_OFFSETS = 3, STREAM_NOISE = 4 };

void
sensors_init(struct sensors *sensors, uint64_t seed)
{
	struct random offsets;

	random_init(&offsets, seed, STREAM_OFFSETS);
	random_init(&sensors->random, seed, STREAM_NOISE);
	sensors->heater_share = HEATER_SHARE;
	sensors->surface_lag_s = SURFACE_LAG_S;
	for (int side = 0; side < SIDES_MAX; side++)
		for (int zone = 0; zone < TOOL_ZONES; zone++)
			sensors->offset_dc[side][zone] =
			    TOOL_OFFSET_C * random_normal(&offsets);
	for (int place = 0; place < OVENS_MAX; place++)
		for (int face = 0; face < SHEET_FACES; face++)
			for (int i = 0; i < PYROMETERS_A_SIDE; i++) {
				sensors->transmission[place][face][i] = 1;
				sensors->indicated_c[place][face][i] = HOUSING_C;
			}
}

int
sensors_patch(int pyrometer)
{
	static const int patches[PYROMETERS_A_SIDE] = {
	    1 * SHEET_COLUMNS + 1, 2 * SHEET_COLUMNS + 3, 1 * SHEET_COLUMNS + 4};

	return patches[pyrometer];
}

double
sensors_indicated_c(const struct pyrometer_view *view)
{
	double housing = radiance_of(HOUSING_C);
	double reflected = view->heater_share * radiance_of(view->heater_c) +
	                   (1 - view->heater_share) * housing;
	double coming = view->emissivity * radiance_of(view->surface_c) +
	                (1 - view->emissivity) * reflected;
	double seen = view->transmission * coming + (1 - view->transmission) * housing;

	return radiance_temperature_c(
	    (seen - (1 - EMISSIVITY_SET) * housing) / EMISSIVITY_SET);
}

/* A sheet with the elements of its side mirrored in it, or the elements opposite. */
static double
indicated_now(const struct oven *oven, const struct sheet *sheet, int face,
    int pyrometer, double heater_share, double transmission)
{
	int patch = sensors_patch(pyrometer);
	struct pyrometer_view view = {
	    .heater_c = oven->element_c[face][patch], .transmission = transmission};

	if (sheet != NULL) {
		view.surface_c = sheet_surface_c(sheet, face, patch);
		view.emissivity = sheet->emissivity;
		view.heater_share = heater_share;
	} else {
		view.surface_c = oven->element_c[1 - face][patch];
		view.emissivity = HEATER_EMISSIVITY;
		view.heater_share = 1;
	}
	return sensors_indicated_c(&view);
}

void
sensors_look(struct sensors *sensors, int place, const struct oven *oven,
    const struct sheet *sheet, double step_s)
{
	double follow = 1 - exp(-step_s / sensors->surface_lag_s);

	for (int face = 0; face < SHEET_FACES; face++)
		for (int i = 0; i < PYROMETERS_A_SIDE; i++) {
			double *shown_c = &sensors->indicated_c[place][face][i];
			*shown_c +=
			    follow *
			    (indicated_now(oven, sheet, face, i, sensors->heater_share,
				 sensors->transmission[place][face][i]) -
				*shown_c);
		}
}

void
sensors_show_oven(struct sensors *sensors, int place, struct oven_signals *signals)
{
	for (int face = 0; face < SHEET_FACES; face++)
		for (int i = 0; i < PYROMETERS_A_SIDE; i++)
			signals->surface_c[face][i] =
			    sensors->indicated_c[place][face][i] +
			    SURFACE_NOISE_C * random_normal(&sensors->random);
}

void
sensors_show_tool(struct sensors *sensors, int side, const struct tool *tool,
    double supply_c, struct tool_signals *signals)
{
	struct random *random = &sensors->random;

	for (int zone = 0; zone < TOOL_ZONES; zone++) {
		signals->tool_c[zone] = tool->c[zone] + sensors->offset_dc[side][zone] +
		                        TOOL_NOISE_C * random_normal(random);
		signals->return_c[zone] =
		    tool->return_c[zone] + TOOL_NOISE_C * random_normal(random);
		signals->flow_lpm[zone] =
		    tool_flow_lpm(tool, zone) + FLOW_NOISE_LPM * random_normal(random);
	}
	signals->supply_c = supply_c + TOOL_NOISE_C * random_normal(random);
}
