/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What drifts round the line: the hall and the sheet stack over the day, the mains
 * voltage, the supply water.  One object belongs to one thread.
 */
#ifndef CONTRIB_LINESIM_SURROUNDINGS_H
#define CONTRIB_LINESIM_SURROUNDINGS_H

#include "contrib/linesim/random.h"

struct surroundings {
	struct random random;
	double mains;    /* voltage over nominal, 0.98 to 1.02 */
	double supply_c; /* of the tool's water */
	double ambient_c, stack_c;
	double mains_drift, supply_drift;
	/* What has happened to them: 1 and 0 at first. */
	double mains_factor, stack_by_c, supply_by_c;
};

void surroundings_init(struct surroundings *surroundings, uint64_t seed, double day_s);

/* day_s: seconds since midnight UTC, any day. */
void surroundings_step(struct surroundings *surroundings, double day_s, double step_s);

#endif
