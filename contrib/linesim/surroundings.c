/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "contrib/linesim/surroundings.h"

#include <math.h>

#define PI 3.14159265358979323846
#define DAY_S 86400.0
#define AMBIENT_C 25.0
#define AMBIENT_SWING_C 7.0
#define AMBIENT_PEAK_S (14 * 3600.0) /* UTC */
#define STACK_LAG_S (6 * 3600.0)
#define MAINS_SD 0.008
#define MAINS_MEMORY_S 1800.0
#define MAINS_LIMIT 0.02
#define SUPPLY_C 65.0
#define SUPPLY_SD_C 0.08
#define SUPPLY_MEMORY_S 600.0
#define SUPPLY_RIPPLE_C 0.1
#define SUPPLY_RIPPLE_S 140.0

enum { STREAM_SURROUNDINGS = 1 };

/* An Ornstein-Uhlenbeck process: wanders round 0 with the deviation `sd`. */
static double
wander(struct random *random, double value, double sd, double memory_s, double step_s)
{
	double keep = exp(-step_s / memory_s);
	return value * keep + sd * sqrt(1 - keep * keep) * random_normal(random);
}

static double
held_within(double value, double limit)
{
	return fmin(fmax(value, -limit), limit);
}

static void
set_temperatures(struct surroundings *surroundings, double day_s)
{
	const double turn = 2 * PI / DAY_S;
	double late = atan(turn * STACK_LAG_S); /* a first-order lag of a sine */
	double angle = turn * (day_s - AMBIENT_PEAK_S);

	surroundings->ambient_c = AMBIENT_C + AMBIENT_SWING_C * cos(angle);
	surroundings->stack_c = AMBIENT_C +
	                        AMBIENT_SWING_C * cos(late) * cos(angle - late) +
	                        surroundings->stack_by_c;
	surroundings->mains =
	    (1 + held_within(surroundings->mains_drift, MAINS_LIMIT)) *
	    surroundings->mains_factor;
	surroundings->supply_c =
	    SUPPLY_C + surroundings->supply_drift +
	    SUPPLY_RIPPLE_C * sin(2 * PI * day_s / SUPPLY_RIPPLE_S) +
	    surroundings->supply_by_c;
}

void
surroundings_init(struct surroundings *surroundings, uint64_t seed, double day_s)
{
	*surroundings = (struct surroundings){.mains_factor = 1};
	random_init(&surroundings->random, seed, STREAM_SURROUNDINGS);
	set_temperatures(surroundings, day_s);
}

void
surroundings_step(struct surroundings *surroundings, double day_s, double step_s)
{
	struct random *random = &surroundings->random;

	surroundings->mains_drift =
	    wander(random, surroundings->mains_drift, MAINS_SD, MAINS_MEMORY_S, step_s);
	surroundings->supply_drift = wander(
	    random, surroundings->supply_drift, SUPPLY_SD_C, SUPPLY_MEMORY_S, step_s);
	set_temperatures(surroundings, day_s);
}
