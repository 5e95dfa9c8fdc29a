/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "contrib/linesim/oven.h"

#include <math.h>

#define STEFAN_BOLTZMANN 5.670374419e-8 /* W/(m2 K4), CODATA 2018 */
#define ELEMENT_CAPACITY 900.0          /* J/K */
#define ELEMENT_AREA_M2 0.09
#define ELEMENT_EMISSIVITY 0.9
#define ELEMENT_LOSS 1.35 /* front and, in part, back */
#define ELEMENT_SINK_K 450.0
#define EXCHANGE 0.55  /* view and emission factors together */
#define CONVECTION 8.0 /* W/(m2 K) */
#define KERNEL_PITCHES 0.75
#define HOLD_RATIO 0.55
#define COLD_C 23.0
#define BOTTOM_RATIO 0.98 /* of the recipe: warm air rises */

/* The recipe's percents, a quarter of the oven; the others mirror it. */
static const double recipe[SHEET_ROWS / 2][SHEET_COLUMNS / 2] = {
    {0.95, 0.57, 0.65},
    {0.60, 0.28, 0.39},
};

static double
recipe_of(int face, int zone)
{
	int row = zone / SHEET_COLUMNS, column = zone % SHEET_COLUMNS;

	if (row >= SHEET_ROWS / 2)
		row = SHEET_ROWS - 1 - row;
	if (column >= SHEET_COLUMNS / 2)
		column = SHEET_COLUMNS - 1 - column;
	return recipe[row][column] * (face == 0 ? 1 : BOTTOM_RATIO);
}

static double
gauss(int rows, int columns)
{
	return exp(
	    -(rows * rows + columns * columns) / (2 * KERNEL_PITCHES * KERNEL_PITCHES));
}

/* Normalised on a grid without end, so that edges get less. */
static void
fill_kernel(struct oven *oven)
{
	const int reach = 8;
	double whole = 0;

	for (int row = -reach; row <= reach; row++)
		for (int column = -reach; column <= reach; column++)
			whole += gauss(row, column);
	for (int patch = 0; patch < SHEET_PATCHES; patch++) {
		oven->seen[patch] = 0;
		for (int zone = 0; zone < OVEN_ZONES; zone++) {
			double share =
			    gauss(patch / SHEET_COLUMNS - zone / SHEET_COLUMNS,
				patch % SHEET_COLUMNS - zone % SHEET_COLUMNS) /
			    whole;
			oven->kernel[patch][zone] = share;
			oven->seen[patch] += share;
		}
	}
}

static double
fourth_power(double kelvin)
{
	return kelvin * kelvin * kelvin * kelvin;
}

static void
heat_elements(struct oven *oven, int face, double mains, double step_s)
{
	const double loss =
	    ELEMENT_EMISSIVITY * STEFAN_BOLTZMANN * ELEMENT_AREA_M2 * ELEMENT_LOSS;

	for (int zone = 0; zone < OVEN_ZONES; zone++) {
		double stated_w = OVEN_RATED_W * oven->output[face][zone];
		double true_w = stated_w * oven->health[face][zone] * mains * mains;
		double kelvin = oven->element_c[face][zone] + 273.15;
		double lost_w =
		    loss * (fourth_power(kelvin) - fourth_power(ELEMENT_SINK_K));
		oven->element_c[face][zone] +=
		    (true_w - lost_w) / ELEMENT_CAPACITY * step_s;
		oven->stated_w[face] += stated_w;
		oven->true_w[face] += true_w;
	}
	oven->energy_j += oven->true_w[face] * step_s;
}

static void
send(struct oven *oven, int face)
{
	double power[OVEN_ZONES];

	for (int zone = 0; zone < OVEN_ZONES; zone++)
		power[zone] = fourth_power(oven->element_c[face][zone] + 273.15);
	for (int patch = 0; patch < SHEET_PATCHES; patch++) {
		double sum = 0;
		for (int zone = 0; zone < OVEN_ZONES; zone++)
			sum += oven->kernel[patch][zone] * power[zone];
		oven->incident[face][patch] = sum;
	}
}

void
oven_step(struct oven *oven, enum oven_stage stage, double mains, double step_s)
{
	static const double ratio[] = {[OVEN_STAGE_OFF] = 0,
	    [OVEN_STAGE_HOLD] = HOLD_RATIO,
	    [OVEN_STAGE_FULL] = 1};

	for (int face = 0; face < SHEET_FACES; face++) {
		oven->stated_w[face] = oven->true_w[face] = 0;
		for (int zone = 0; zone < OVEN_ZONES; zone++) {
			double forced = oven->forced[face][zone];
			oven->output[face][zone] =
			    forced >= 0 ? forced : oven->set[face][zone] * ratio[stage];
		}
		heat_elements(oven, face, mains, step_s);
		send(oven, face);
	}
}

void
oven_init(struct oven *oven, double share, bool hot)
{
	*oven = (struct oven){.air_c = OVEN_AIR_C};
	fill_kernel(oven);
	for (int face = 0; face < SHEET_FACES; face++)
		for (int zone = 0; zone < OVEN_ZONES; zone++) {
			oven->element_c[face][zone] = COLD_C;
			oven->set[face][zone] = share * recipe_of(face, zone);
			oven->health[face][zone] = 1;
			oven->forced[face][zone] = -1;
		}
	for (int second = 0; hot && second < 3600; second++)
		oven_step(oven, OVEN_STAGE_HOLD, 1, 1);
	oven->energy_j = 0;
}

void
oven_heat(const struct oven *oven, struct sheet *sheet, double step_s)
{
	double flux[SHEET_FACES][SHEET_PATCHES];

	for (int face = 0; face < SHEET_FACES; face++)
		for (int patch = 0; patch < SHEET_PATCHES; patch++) {
			double surface_c = sheet_surface_c(sheet, face, patch);
			double back =
			    oven->seen[patch] * fourth_power(surface_c + 273.15);
			flux[face][patch] = EXCHANGE * STEFAN_BOLTZMANN *
			                        (oven->incident[face][patch] - back) +
			                    CONVECTION * (oven->air_c - surface_c);
		}
	sheet_conduct(sheet, flux, step_s);
}
