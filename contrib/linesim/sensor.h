/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What the sensors make of the truth: pyrometers with a reflected share, a window
 * and a lag; tool probes with offsets; noise on all.  Equations in README.md.
 * radiance_init() must have run.  One object belongs to one thread.
 */
#ifndef CONTRIB_LINESIM_SENSOR_H
#define CONTRIB_LINESIM_SENSOR_H

#include "contrib/linesim/random.h"
#include "contrib/linesim/registers.h"

struct sensors {
	struct random random;               /* of the noise */
	double heater_share, surface_lag_s; /* of the pyrometers; usual at first */
	double offset_dc[SIDES_MAX][TOOL_ZONES];
	double transmission[OVENS_MAX][SHEET_FACES][PYROMETERS_A_SIDE];
	double indicated_c[OVENS_MAX][SHEET_FACES]
			  [PYROMETERS_A_SIDE]; /* with lag, without noise */
};

void sensors_init(struct sensors *sensors, uint64_t seed);

/* The patch that a pyrometer (0 to 2) looks at, above and below. */
int sensors_patch(int pyrometer);

/* One step of the pyrometers of one oven; sheet NULL: it is empty. */
void sensors_look(struct sensors *sensors, int place, const struct oven *oven,
    const struct sheet *sheet, double step_s);

/* Puts the surfaces that one oven's pyrometers see into `signals`, with noise. */
void sensors_show_oven(
    struct sensors *sensors, int place, struct oven_signals *signals);

/* Puts one side's tool with its water into `signals`, with noise. */
void sensors_show_tool(struct sensors *sensors, int side, const struct tool *tool,
    double supply_c, struct tool_signals *signals);

/* What a pyrometer set like ours makes of a surface; for a sheet by itself. */
struct pyrometer_view {
	double surface_c, emissivity;
	double heater_c, heater_share; /* reflected; the rest is as its own housing */
	double transmission;
};
double sensors_indicated_c(const struct pyrometer_view *view);

#endif
