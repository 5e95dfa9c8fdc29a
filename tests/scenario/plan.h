/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * How the suite's logger is told of a line: the settings of each kind, as text, and which
 * bit or measure of the line each of their channels reads.
 */
#ifndef TESTS_SCENARIO_PLAN_H
#define TESTS_SCENARIO_PLAN_H

#include "tests/scenario/line.h"

struct settings;

enum plan_source {
	PLAN_BIT, /* which: enum line_bit */
	PLAN_RECIPE,
	PLAN_COUNT,
	PLAN_SURFACE, /* which: oven */
	PLAN_ZONE,    /* which: oven */
	PLAN_TOOL,    /* which: side */
	PLAN_WATER,
};

enum { PLAN_CONTROLLER, PLAN_MEASURES, PLAN_DEVICES, PLAN_CHANNELS_MAX = 24 };

struct plan_channel {
	enum plan_source source;
	int which;
};

struct plan {
	struct settings *settings; /* owned */
	uint32_t count[PLAN_DEVICES];
	/* In the order of the settings. */
	struct plan_channel channels[PLAN_DEVICES][PLAN_CHANNELS_MAX];
};

#define PLAN_CONTROLLER_S 0.5
#define PLAN_RECIPE_NUMBER 7
#define PLAN_FORM_MIN_S 3.0

/* Never fails on a kind that linesim knows: a mistake in the text ends the program. */
void plan_init(struct plan *plan, const char *kind, const struct line_rules *rules,
    double measures_s);
void plan_release(struct plan *plan);

#endif
