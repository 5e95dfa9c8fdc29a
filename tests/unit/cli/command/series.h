/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * A slab of constant properties between two faces of the same temperature, as series:
 * Carslaw and Jaeger, Conduction of Heat in Solids, 2nd ed. (1959), chapter III.  Depth is
 * a ratio of the thickness from the top face.
 */
#ifndef TESTS_UNIT_CLI_COMMAND_SERIES_H
#define TESTS_UNIT_CLI_COMMAND_SERIES_H

#include <math.h>

enum { SERIES_TERMS = 200 };

struct slab {
	double diffusivity, thickness_m;
};

static inline double
slab_fourier(struct slab slab, double s)
{
	double half = slab.thickness_m / 2;

	return slab.diffusivity * s / (half * half);
}

/* Both faces from `start` to `face` at 0 s and held there. */
static inline double
slab_step_c(struct slab slab, double start, double face, double s, double depth)
{
	double theta = 0;

	for (int n = 0; n < SERIES_TERMS; n++) {
		double root = (2 * n + 1) * M_PI / 2;
		theta += (n % 2 ? -2 : 2) / root *
		         exp(-root * root * slab_fourier(slab, s)) *
		         cos(root * (1 - 2 * depth));
	}
	return face - theta * (face - start);
}

/* Both faces rise from `start` by `rate` K/s. */
static inline double
slab_ramp_c(struct slab slab, double start, double rate, double s, double depth)
{
	double x = 1 - 2 * depth, half = slab.thickness_m / 2;
	double lag = (1 - x * x) / 2;

	for (int n = 0; n < SERIES_TERMS; n++) {
		double root = (2 * n + 1) * M_PI / 2;
		lag -= (n % 2 ? -2 : 2) / (root * root * root) *
		       exp(-root * root * slab_fourier(slab, s)) * cos(root * x);
	}
	return start + rate * s - lag * rate * half * half / slab.diffusivity;
}

/* The top face `by` hotter and the bottom face `by` colder from 0 s: what that adds. */
static inline double
slab_uneven_dc(struct slab slab, double by, double s, double depth)
{
	double sum = 1 - 2 * depth;

	for (int n = 1; n < SERIES_TERMS; n++) {
		double root = n * M_PI;
		sum -= 2 / root * exp(-root * root * slab_fourier(slab, s)) *
		       sin(2 * root * depth);
	}
	return by * sum;
}

#endif
