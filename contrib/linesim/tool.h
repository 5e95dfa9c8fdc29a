/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The tool: eight zones of aluminium in a row, each with its water circuit, warmed
 * by each sheet and cooled by the water.  The equations stand in README.md.
 */
#ifndef CONTRIB_LINESIM_TOOL_H
#define CONTRIB_LINESIM_TOOL_H

enum {
	TOOL_ZONES = 8,
	TOOL_DEAD_TIME_STEPS = 100, /* 10 s at TOOL_STEP_S */
};

#define TOOL_STEP_S 0.1
#define TOOL_FLOW_LPM 8.0 /* of an open circuit */

struct tool {
	double c[TOOL_ZONES];
	double flow_ratio[TOOL_ZONES]; /* 1 open */
	double pump;                   /* all of them by this: 1 */
	double exchange[TOOL_ZONES];   /* of heat with the water: 1 clean */
	double contact[TOOL_ZONES];    /* of the sheet: 1 good */
	/* Heat into the water for a degree, and what it was reckoned for. */
	struct {
		double w_per_k, ratio, exchange;
	} water[TOOL_ZONES];
	double return_c[TOOL_ZONES]; /* at the probes: late and slow */
	double pipe_c[TOOL_ZONES][TOOL_DEAD_TIME_STEPS];
	int pipe_place[TOOL_ZONES];
	double pipe_moved[TOOL_ZONES]; /* part of a place that the water has gone on */
	double late_c[TOOL_ZONES];     /* of the water that passes the probe */
	double load_w[TOOL_ZONES];     /* what the sheet gives now */
	double to_water_j[TOOL_ZONES]; /* since the start */
};

/* As it stands after hours of water and no sheet. */
void tool_init(struct tool *tool, double supply_c);

/* A sheet is pressed on: it will give `heat_j`, zone by zone `contact` more or less. */
void tool_close(struct tool *tool, double heat_j, const double contact[TOOL_ZONES]);

/* The part is taken off. */
void tool_open(struct tool *tool);

/* One TOOL_STEP_S, in a hall of that temperature. */
void tool_step(struct tool *tool, double supply_c, double hall_c);

double tool_flow_lpm(const struct tool *tool, int zone);

#endif
