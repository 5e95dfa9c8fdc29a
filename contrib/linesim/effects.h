/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What the events of the script do to the plant, now and over time.
 */
#ifndef CONTRIB_LINESIM_EFFECTS_H
#define CONTRIB_LINESIM_EFFECTS_H

#include "contrib/linesim/script.h"

struct frame;
struct plant;

enum { RAMPS_MAX = 32 };

/* A value on its way from one to another. */
struct ramp {
	double *value; /* NULL: free */
	double from, to;
	int64_t start, steps;
};

struct effects {
	struct ramp ramps[RAMPS_MAX];
	int64_t until[EVENT_KIND_COUNT]; /* the step until which a kind is felt */
};

/* Events by time that are due at the machine's present step. */
void effects_at_time(struct plant *plant);

/* Events of the sheet whose frame has come to the load station. */
void effects_at_load(struct plant *plant, struct frame *frame);

/* Events of the sheet that has come into an oven. */
void effects_at_heat(struct plant *plant, struct frame *frame);

/* Moves the ramps on and marks the frames that feel something. */
void effects_step(struct plant *plant);

#endif
