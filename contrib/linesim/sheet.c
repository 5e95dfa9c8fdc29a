/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "contrib/linesim/sheet.h"

#include <assert.h>
#include <math.h>

#define STEFAN_BOLTZMANN 5.670374419e-8 /* W/(m2 K4), CODATA 2018 */
#define GRAVITY 9.80665
#define FLAT_SAG_M 0.004
/* Chosen so that the line has a sensible rhythm: no material data. */
#define VISCOSITY_PA_S 1.25e7
#define VISCOSITY_AT_C 150.0
#define VISCOSITY_PER_C 0.075
#define COOLING_CONVECTION 10.0 /* W/(m2 K) */

void
sheet_init(struct sheet *sheet, double start_c, double thickness_m, double fluidity)
{
	for (int patch = 0; patch < SHEET_PATCHES; patch++)
		for (int node = 0; node < SHEET_NODES; node++)
			sheet->c[patch][node] = start_c;
	sheet->thickness_m = thickness_m;
	sheet->fluidity = fluidity;
	sheet->conductivity = SHEET_CONDUCTIVITY;
	sheet->emissivity = SHEET_EMISSIVITY;
	sheet->sag_m = FLAT_SAG_M;
}

/* Half cells at the faces, whole ones between: no heat is made or lost. */
static void
conduct_patch(double c[SHEET_NODES], const double flux[SHEET_FACES],
    double conductivity, double spacing_m, double step_s)
{
	const int last = SHEET_NODES - 1;
	double old[SHEET_NODES];
	double diffusivity = conductivity / (SHEET_DENSITY * SHEET_HEAT_CAPACITY);
	double mesh = diffusivity * step_s / (spacing_m * spacing_m);
	double per_flux =
	    2 * step_s / (SHEET_DENSITY * SHEET_HEAT_CAPACITY * spacing_m);

	for (int node = 0; node < SHEET_NODES; node++)
		old[node] = c[node];
	for (int node = 1; node < last; node++)
		c[node] += mesh * (old[node - 1] - 2 * old[node] + old[node + 1]);
	c[0] += 2 * mesh * (old[1] - old[0]) + per_flux * flux[0];
	c[last] += 2 * mesh * (old[last - 1] - old[last]) + per_flux * flux[1];
}

void
sheet_conduct(
    struct sheet *sheet, double flux[SHEET_FACES][SHEET_PATCHES], double step_s)
{
	double spacing_m = sheet->thickness_m / (SHEET_NODES - 1);

	assert(step_s <= SHEET_STEP_MAX_S);
	for (int patch = 0; patch < SHEET_PATCHES; patch++) {
		const double faces[SHEET_FACES] = {flux[0][patch], flux[1][patch]};
		conduct_patch(
		    sheet->c[patch], faces, sheet->conductivity, spacing_m, step_s);
	}
}

/* The weight of a node in a mean over the thickness (trapezoid). */
static double
node_weight(int node)
{
	bool face = node == 0 || node == SHEET_NODES - 1;
	return (face ? 0.5 : 1.0) / (SHEET_NODES - 1);
}

/* Parallel layers carry the load together: the stiff cold core dominates. */
static double
mean_viscosity(const struct sheet *sheet)
{
	double sum = 0;

	for (int patch = 0; patch < SHEET_PATCHES; patch++)
		for (int node = 0; node < SHEET_NODES; node++)
			sum += node_weight(node) *
			       exp(-VISCOSITY_PER_C *
				   (sheet->c[patch][node] - VISCOSITY_AT_C));
	return VISCOSITY_PA_S / sheet->fluidity * sum / SHEET_PATCHES;
}

void
sheet_sink(struct sheet *sheet, double step_s)
{
	double width_squared = SHEET_WIDTH_M * SHEET_WIDTH_M;
	double cubed_per_s = 3 * SHEET_DENSITY * GRAVITY * width_squared *
	                     width_squared / (128 * mean_viscosity(sheet));

	sheet->sag_m = cbrt(pow(sheet->sag_m, 3) + cubed_per_s * step_s);
}

static double
fourth_power_k(double temperature_c)
{
	double square = (temperature_c + 273.15) * (temperature_c + 273.15);
	return square * square;
}

void
sheet_cool(struct sheet *sheet, double air_c, double step_s)
{
	double flux[SHEET_FACES][SHEET_PATCHES];

	for (int face = 0; face < SHEET_FACES; face++)
		for (int patch = 0; patch < SHEET_PATCHES; patch++) {
			double surface_c = sheet_surface_c(sheet, face, patch);
			flux[face][patch] =
			    COOLING_CONVECTION * (air_c - surface_c) +
			    sheet->emissivity * STEFAN_BOLTZMANN *
				(fourth_power_k(air_c) - fourth_power_k(surface_c));
		}
	sheet_conduct(sheet, flux, step_s);
}

double
sheet_surface_c(const struct sheet *sheet, int face, int patch)
{
	return sheet->c[patch][face == 0 ? 0 : SHEET_NODES - 1];
}

double
sheet_core_c(const struct sheet *sheet, int patch)
{
	return sheet->c[patch][SHEET_NODES / 2];
}

double
sheet_core_mean_c(const struct sheet *sheet)
{
	double sum = 0;

	for (int patch = 0; patch < SHEET_PATCHES; patch++)
		sum += sheet_core_c(sheet, patch);
	return sum / SHEET_PATCHES;
}

double
sheet_mean_c(const struct sheet *sheet)
{
	double sum = 0;

	for (int patch = 0; patch < SHEET_PATCHES; patch++)
		for (int node = 0; node < SHEET_NODES; node++)
			sum += node_weight(node) * sheet->c[patch][node];
	return sum / SHEET_PATCHES;
}

double
sheet_patch_mean_c(const struct sheet *sheet, int patch)
{
	double sum = 0;

	for (int node = 0; node < SHEET_NODES; node++)
		sum += node_weight(node) * sheet->c[patch][node];
	return sum;
}

double
sheet_heat_above_j(const struct sheet *sheet, double end_c)
{
	double mass_kg =
	    SHEET_DENSITY * SHEET_LENGTH_M * SHEET_WIDTH_M * sheet->thickness_m;
	return mass_kg * SHEET_HEAT_CAPACITY * (sheet_mean_c(sheet) - end_c);
}
