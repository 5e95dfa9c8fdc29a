/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Mean and standard deviation of what is told one after another (B. P. Welford, Note on a
 * Method for Calculating Corrected Sums of Squares and Products, Technometrics 4, 1962).
 */
#ifndef TESTS_PHYSICS_SUMS_H
#define TESTS_PHYSICS_SUMS_H

#include <math.h>

struct sums {
	int count;
	double mean, squares;
};

static inline void
sums_add(struct sums *sums, double value)
{
	double away = value - sums->mean;

	sums->count++;
	sums->mean += away / sums->count;
	sums->squares += away * (value - sums->mean);
}

static inline double
sums_sd(const struct sums *sums)
{
	return sums->count < 2 ? NAN : sqrt(sums->squares / (sums->count - 1));
}

#endif
