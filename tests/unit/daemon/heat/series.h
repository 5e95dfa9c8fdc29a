/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Conduction through a plate in series, summed anew: no line of it is the solver's.
 * Carslaw and Jaeger, "Conduction of Heat in Solids", 2nd edition, chapter III.  L is half
 * of the thickness, fo = diffusivity * time / L^2, x the distance from the midplane over L.
 */
#ifndef TESTS_UNIT_DAEMON_HEAT_SERIES_H
#define TESTS_UNIT_DAEMON_HEAT_SERIES_H

#include <math.h>

enum { SERIES_TERMS = 400 };

/* What is left of a step of both faces: 1 at first, 0 at last. */
static inline double
series_step(double fo, double x)
{
	double sum = 0;

	for (int n = 0; n < SERIES_TERMS; n++) {
		double zeta = (n + 0.5) * M_PI;

		sum += (n % 2 ? -2 : 2) / zeta * exp(-zeta * zeta * fo) * cos(zeta * x);
	}
	return sum;
}

static inline double
series_step_mean(double fo)
{
	double sum = 0;

	for (int n = 0; n < SERIES_TERMS; n++) {
		double zeta = (n + 0.5) * M_PI;

		sum += 2 / zeta / zeta * exp(-zeta * zeta * fo);
	}
	return sum;
}

/* How far the inside is behind faces that rise by 1 in fo 1. */
static inline double
series_ramp(double fo, double x)
{
	double sum = (1 - x * x) / 2;

	for (int n = 0; n < SERIES_TERMS; n++) {
		double zeta = (n + 0.5) * M_PI;

		sum -= (n % 2 ? -2 : 2) / (zeta * zeta * zeta) *
		       exp(-zeta * zeta * fo) * cos(zeta * x);
	}
	return sum;
}

/* Both faces 1 - exp(-b fo): Duhamel's integral over the step, term by term. */
static inline double
series_approach(double b, double fo, double x)
{
	double sum = 1 - exp(-b * fo);

	for (int n = 0; n < SERIES_TERMS; n++) {
		double zeta = (n + 0.5) * M_PI, rate = zeta * zeta;

		sum -= (n % 2 ? -2 : 2) / zeta * cos(zeta * x) * b / (rate - b) *
		       (exp(-b * fo) - exp(-rate * fo));
	}
	return sum;
}

/* A flux into both faces. */
static inline double
series_flux(double fo, double x)
{
	double sum = fo + (3 * x * x - 1) / 6;

	for (int n = 1; n < SERIES_TERMS; n++) {
		double zeta = n * M_PI;

		sum -= (n % 2 ? -2 : 2) / (zeta * zeta) * exp(-zeta * zeta * fo) *
		       cos(zeta * x);
	}
	return sum;
}

/* The face at s = 0 stepped to 1, the one at s = 1 kept at 0; fo still of half. */
static inline double
series_two_sided(double fo, double s)
{
	double sum = 1 - s;

	for (int n = 1; n < SERIES_TERMS; n++) {
		double zeta = n * M_PI;

		sum -= 2 / zeta * exp(-zeta * zeta * fo / 4) * sin(zeta * s);
	}
	return sum;
}

/* The root of z tan z = bi that lies above n pi, by halving. */
static inline double
series_zeta(double bi, int n)
{
	double low = n * M_PI, high = (n + 0.5) * M_PI;

	for (int i = 0; i < 200; i++) {
		double middle = (low + high) / 2;

		if (middle * sin(middle) * (n % 2 ? -1 : 1) <
		    bi * cos(middle) * (n % 2 ? -1 : 1))
			low = middle;
		else
			high = middle;
	}
	return (low + high) / 2;
}

static inline double
series_c1(double zeta)
{
	return 4 * sin(zeta) / (2 * zeta + sin(2 * zeta));
}

/* What is left of the difference to the air. */
static inline double
series_exchange(double bi, double fo, double x)
{
	double sum = 0;

	for (int n = 0; n < SERIES_TERMS; n++) {
		double zeta = series_zeta(bi, n);

		sum += series_c1(zeta) * exp(-zeta * zeta * fo) * cos(zeta * x);
	}
	return sum;
}

/* Insulated, from a parabola that is 0 in the core and 1 at the faces. */
static inline double
series_insulated(double fo, double x)
{
	double sum = 1.0 / 3;

	for (int n = 1; n < SERIES_TERMS; n++) {
		double zeta = n * M_PI;

		sum += (n % 2 ? -4 : 4) / (zeta * zeta) * exp(-zeta * zeta * fo) *
		       cos(zeta * x);
	}
	return sum;
}

#endif
