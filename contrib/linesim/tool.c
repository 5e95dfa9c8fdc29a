/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "contrib/linesim/tool.h"

#include <math.h>
#include <stdbool.h>

#define ZONE_CAPACITY (31.0 * 900.0) /* J/K: 31 kg of aluminium */
#define NEIGHBOUR 60.0               /* W/K */
#define WATER_UA 900.0               /* W/K at full flow; flow to the 0.8 */
#define WATER_PER_LPM 68.5           /* W/K of 1 L/min at 65 C */
#define ROOM_LOSS 4.0                /* W/K */
#define ROOM_C 30.0
#define SHARE_TO_TOOL 0.6 /* the rest goes to the fans and the air */
#define LOAD_DECAY_S 45.0
#define LOAD_WINDOW_S 150.0
#define PROBE_LAG_S 3.0
/* Below that part of the full flow the water stands in its pipe, more or less, and cools
 * towards the hall; what moving water loses on its way is left out. */
#define STANDING_RATIO 0.1
#define STANDING_S 600.0

static const double zone_share[TOOL_ZONES] = {
    1.03, 0.98, 1.05, 0.96, 1.02, 0.97, 1.00, 0.99};

static double
water_w_per_k(struct tool *tool, int zone)
{
	double ratio = tool->flow_ratio[zone] * tool->pump;
	bool known = tool->water[zone].ratio == ratio &&
	             tool->water[zone].exchange == tool->exchange[zone];

	if (!known) {
		double flow = WATER_PER_LPM * TOOL_FLOW_LPM * ratio;
		double exchange = WATER_UA * pow(ratio, 0.8) * tool->exchange[zone];

		tool->water[zone].w_per_k = flow * (1 - exp(-exchange / flow));
		tool->water[zone].ratio = ratio;
		tool->water[zone].exchange = tool->exchange[zone];
	}
	return tool->water[zone].w_per_k;
}

double
tool_flow_lpm(const struct tool *tool, int zone)
{
	return TOOL_FLOW_LPM * tool->flow_ratio[zone] * tool->pump;
}

void
tool_init(struct tool *tool, double supply_c)
{
	*tool = (struct tool){.pump = 1};
	for (int zone = 0; zone < TOOL_ZONES; zone++) {
		tool->flow_ratio[zone] = tool->exchange[zone] = tool->contact[zone] = 1;
		tool->c[zone] = tool->return_c[zone] = tool->late_c[zone] = supply_c;
		for (int place = 0; place < TOOL_DEAD_TIME_STEPS; place++)
			tool->pipe_c[zone][place] = supply_c;
	}
}

void
tool_close(struct tool *tool, double heat_j, const double contact[TOOL_ZONES])
{
	double first_w = heat_j * SHARE_TO_TOOL / TOOL_ZONES /
	                 (LOAD_DECAY_S * (1 - exp(-LOAD_WINDOW_S / LOAD_DECAY_S)));

	for (int zone = 0; zone < TOOL_ZONES; zone++)
		tool->load_w[zone] = first_w * zone_share[zone] * contact[zone];
}

void
tool_open(struct tool *tool)
{
	for (int zone = 0; zone < TOOL_ZONES; zone++)
		tool->load_w[zone] = 0;
}

/* The water that leaves a zone with `leaving_c` goes on to the probe: TOOL_DEAD_TIME_STEPS
 * places at full flow, the longer the less flows. */
static void
move_water(struct tool *tool, int zone, double leaving_c, double hall_c)
{
	double *pipe_c = tool->pipe_c[zone];
	double ratio = tool->flow_ratio[zone] * tool->pump;
	double standing = fmax(0, 1 - ratio / STANDING_RATIO);
	double cooling = standing * TOOL_STEP_S / STANDING_S;

	for (int i = 0; standing > 0 && i < TOOL_DEAD_TIME_STEPS; i++)
		pipe_c[i] += (hall_c - pipe_c[i]) * cooling;
	tool->late_c[zone] += (hall_c - tool->late_c[zone]) * cooling;
	tool->pipe_moved[zone] += ratio;
	while (tool->pipe_moved[zone] >= 1) {
		int *place = &tool->pipe_place[zone];

		tool->late_c[zone] = pipe_c[*place];
		pipe_c[*place] = leaving_c;
		*place = (*place + 1) % TOOL_DEAD_TIME_STEPS;
		tool->pipe_moved[zone] -= 1;
	}
	tool->return_c[zone] += (tool->late_c[zone] - tool->return_c[zone]) *
	                        (1 - exp(-TOOL_STEP_S / PROBE_LAG_S));
}

void
tool_step(struct tool *tool, double supply_c, double hall_c)
{
	double old[TOOL_ZONES];
	double fade = exp(-TOOL_STEP_S / LOAD_DECAY_S);

	for (int zone = 0; zone < TOOL_ZONES; zone++)
		old[zone] = tool->c[zone];
	for (int zone = 0; zone < TOOL_ZONES; zone++) {
		double rise = old[zone] - supply_c, flow_w;
		double to_water_w = water_w_per_k(tool, zone) * rise;
		double in_w = tool->load_w[zone] * tool->contact[zone] - to_water_w -
		              ROOM_LOSS * (old[zone] - ROOM_C);
		if (zone > 0)
			in_w += NEIGHBOUR * (old[zone - 1] - old[zone]);
		if (zone < TOOL_ZONES - 1)
			in_w += NEIGHBOUR * (old[zone + 1] - old[zone]);
		tool->c[zone] += in_w * TOOL_STEP_S / ZONE_CAPACITY;
		tool->load_w[zone] *= fade;
		tool->to_water_j[zone] += to_water_w * TOOL_STEP_S;

		flow_w = WATER_PER_LPM * tool_flow_lpm(tool, zone);
		move_water(tool, zone, supply_c + to_water_w / flow_w, hall_c);
	}
}
