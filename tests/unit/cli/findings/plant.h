/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Shots with and without faults, made up: means, noise and what a fault moves.  The signs
 * are common practice, no source; the sizes are about those that contrib/linesim shows.
 */
#ifndef TESTS_UNIT_CLI_FINDINGS_PLANT_H
#define TESTS_UNIT_CLI_FINDINGS_PLANT_H

#include "cli/findings/findings.h"

enum { PLANT_SURFACES = 3, PLANT_CIRCUITS = 8 };

/* What is added; ratios of the usual where it says so.  Of one pyrometer and its pair on
 * the other side, or of one circuit, where there is a position. */
struct effect {
	double sag_ratio, exit_top_dc, exit_bottom_dc, rate_top_ratio,
	    rate_bottom_ratio;
	double meter_ratio, stack_dc, core_dc;
	double own_dc, pair_dc; /* of the pyrometer at `position` on `side` */
	double supply_dc, flow_ratio, rise_dc, tool_dc;
	double own_flow_ratio, own_rise_dc, own_tool_dc, own_heat_ratio,
	    own_resistance_ratio;
	int position, side;
};

struct plant {
	uint64_t state; /* of the random numbers */
	int64_t shot_no;
	double mains, stack_c;
};

void plant_init(struct plant *plant, unsigned seed);

/* The next shot; `effect` NULL: none.  `part`: how much of it there is. */
struct findings_shot plant_shot(
    struct plant *plant, const struct effect *effect, double part, const char *lot);

/* Appends `count` shots to `shots`. */
void plant_shots(struct plant *plant, const struct effect *effect, const char *lot,
    struct findings_shot *shots, size_t count);

#endif
