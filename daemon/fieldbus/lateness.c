/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/fieldbus/lateness.h"

#include <math.h>

static const int64_t hour_ns = 3600 * CLOCK_SECOND_NS;

#define LEAST_MS 0.1 /* the upper end of the first class */

enum { CLASSES_AN_OCTAVE = 8 };

static int
class_of(int64_t late_ns)
{
	double ms = (double)late_ns / 1e6;
	double octaves = ms > LEAST_MS ? log2(ms / LEAST_MS) : 0;
	int index = (int)ceil(octaves * CLASSES_AN_OCTAVE);

	return index < LATENESS_CLASSES ? index : LATENESS_CLASSES - 1;
}

/* The upper end of a class. */
static double
class_ms(int index)
{
	return LEAST_MS * exp2((double)index / CLASSES_AN_OCTAVE);
}

static void
turn_hours(struct lateness *lateness, struct mono now)
{
	int64_t ns = now.ns - lateness->began.ns;

	if (lateness->began.ns == 0) {
		lateness->began = now;
	} else if (ns >= hour_ns) {
		lateness->hours[1] =
		    ns < 2 * hour_ns ? lateness->hours[0] : (struct lateness_hour){0};
		lateness->hours[0] = (struct lateness_hour){0};
		lateness->began.ns += ns / hour_ns * hour_ns;
	}
}

void
lateness_add(struct lateness *lateness, struct mono now, int64_t late_ns)
{
	struct lateness_hour *hour = &lateness->hours[0];

	turn_hours(lateness, now);
	hour->count++;
	hour->classes[class_of(late_ns)]++;
	if (late_ns > hour->worst_ns)
		hour->worst_ns = late_ns;
}

double
lateness_quantile_ms(const struct lateness *lateness, double ratio)
{
	const struct lateness_hour *hours = lateness->hours;
	int64_t count = hours[0].count + hours[1].count, seen = 0;
	int64_t wanted = (int64_t)ceil(ratio * (double)count);

	if (count == 0)
		return 0;
	for (int i = 0; i < LATENESS_CLASSES; i++) {
		seen += (int64_t)hours[0].classes[i] + hours[1].classes[i];
		if (seen >= wanted)
			return fmin(class_ms(i), lateness_worst_ms(lateness));
	}
	return lateness_worst_ms(lateness);
}

double
lateness_worst_ms(const struct lateness *lateness)
{
	const struct lateness_hour *hours = lateness->hours;

	return fmax((double)hours[0].worst_ns, (double)hours[1].worst_ns) / 1e6;
}
