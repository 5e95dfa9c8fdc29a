/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "contrib/linesim/radiance.h"

#include <math.h>

#define FIRST_K 200.0
#define STEP_K 1.0
#define SECOND_RADIATION_UM_K 14387.768775 /* h c / k_B, CODATA 2018 */

enum { TABLE_COUNT = 1101, BAND_INTERVALS = 60 };

static double table[TABLE_COUNT];

/* Simpson's rule over the band. */
static double
band_integral(double temperature_k)
{
	const double from_um = 8, step_um = (14.0 - 8.0) / BAND_INTERVALS;
	double sum = 0;

	for (int i = 0; i <= BAND_INTERVALS; i++) {
		double um = from_um + i * step_um;
		double weight = i == 0 || i == BAND_INTERVALS ? 1 : i % 2 ? 4 : 2;
		double spectral = 1e5 / pow(um, 5) /
		                  expm1(SECOND_RADIATION_UM_K / (um * temperature_k));
		sum += weight * spectral;
	}
	return sum * step_um / 3;
}

void
radiance_init(void)
{
	for (int i = 0; i < TABLE_COUNT; i++)
		table[i] = band_integral(FIRST_K + i * STEP_K);
}

double
radiance_of(double temperature_c)
{
	double place = (temperature_c + 273.15 - FIRST_K) / STEP_K;

	if (place <= 0)
		return table[0];
	if (place >= TABLE_COUNT - 1)
		return table[TABLE_COUNT - 1];
	int below = (int)place;
	return table[below] + (place - below) * (table[below + 1] - table[below]);
}

double
radiance_temperature_c(double radiance)
{
	int low = 0, high = TABLE_COUNT - 1;

	if (radiance <= table[low])
		return FIRST_K - 273.15;
	if (radiance >= table[high])
		return FIRST_K + high * STEP_K - 273.15;
	while (high - low > 1) {
		int middle = (low + high) / 2;
		if (table[middle] <= radiance)
			low = middle;
		else
			high = middle;
	}
	double part = (radiance - table[low]) / (table[high] - table[low]);
	return FIRST_K + (low + part) * STEP_K - 273.15;
}
