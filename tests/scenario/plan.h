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

/* What is polled together.  Each is a device; or, where they are told of as one device, they
 * are its groups, and tools are polled by themselves. */
enum { PLAN_CONTROLLER, PLAN_MEASURES, PLAN_TOOLS, PLAN_POLLS, PLAN_CHANNELS_MAX = 24 };

struct plan_channel {
	enum plan_source source;
	int which;
};

struct plan {
	struct settings *settings;                      /* owned */
	uint32_t device[PLAN_POLLS], first[PLAN_POLLS]; /* as a scan says it */
	uint32_t count[PLAN_POLLS];                     /* 0: not polled */
	double period_s[PLAN_POLLS];
	/* In the order of the settings. */
	struct plan_channel channels[PLAN_POLLS][PLAN_CHANNELS_MAX];
};

#define PLAN_CONTROLLER_S 0.5
#define PLAN_TOOLS_S 2.2 /* where they are polled by themselves */
#define PLAN_RECIPE_NUMBER 7
#define PLAN_FORM_MIN_S 3.0

/* Never fails on a kind that linesim knows: a mistake in the text ends the program. */
void plan_init(struct plan *plan, const char *kind, const struct line_rules *rules,
    double measures_s, bool one_device);
void plan_release(struct plan *plan);

/* What a channel of the settings reads. */
const struct plan_channel *plan_channel(const struct plan *plan, uint32_t channel);

#endif
