/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The plainest scheme there is, explicit with constant properties, as a second opinion
 * where no series exists (radiation): no line of it is the solver's.
 */
#ifndef TESTS_UNIT_DAEMON_HEAT_EXPLICIT_H
#define TESTS_UNIT_DAEMON_HEAT_EXPLICIT_H

#include <math.h>

enum { EXPLICIT_NODES = 121 };

struct explicit_sheet {
	double thickness_m, conductivity, density, capacity;
	double c[EXPLICIT_NODES];
	double flux_w_m2;                /* into both faces */
	double w_m2k, emissivity, air_c; /* out of both faces */
	double limit_c, above_s;         /* how long a face was above the limit */
};

static inline double
explicit_gain(const struct explicit_sheet *sheet, double c)
{
	double k = c + 273.15, around = sheet->air_c + 273.15;

	return sheet->flux_w_m2 + sheet->w_m2k * (sheet->air_c - c) +
	       sheet->emissivity * 5.670374419e-8 * (pow(around, 4) - pow(k, 4));
}

static inline void
explicit_run(struct explicit_sheet *sheet, double s)
{
	enum { LAST = EXPLICIT_NODES - 1 };
	double node_m = sheet->thickness_m / LAST;
	double diffusivity = sheet->conductivity / sheet->density / sheet->capacity;
	long steps = (long)ceil(s / (0.2 * node_m * node_m / diffusivity));
	double r = diffusivity * s / (double)steps / node_m / node_m;

	for (long step = 0; step < steps; step++) {
		double old[EXPLICIT_NODES], hot_c;
		double share = 2 * r * node_m / sheet->conductivity;

		for (int i = 0; i <= LAST; i++)
			old[i] = sheet->c[i];
		for (int i = 1; i < LAST; i++)
			sheet->c[i] += r * (old[i - 1] - 2 * old[i] + old[i + 1]);
		sheet->c[0] +=
		    2 * r * (old[1] - old[0]) + share * explicit_gain(sheet, old[0]);
		sheet->c[LAST] += 2 * r * (old[LAST - 1] - old[LAST]) +
		                  share * explicit_gain(sheet, old[LAST]);
		hot_c = fmax(sheet->c[0], sheet->c[LAST]);
		sheet->above_s += hot_c > sheet->limit_c ? s / (double)steps : 0;
	}
}

#endif
