/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/stats/run_rules.h"

#include "cli/stats/run_walk.h"

#include <assert.h>
#include <gsl/gsl_randist.h>
#include <gsl/gsl_rng.h>
#include <math.h>

enum {
	LONGEST = 300,     /* values in a simulated series */
	SERIES = 2000,     /* so the chance is had to 0.011 (one standard error) */
	RANDOM_STATE = 64, /* longs; more than the generator needs */
};

/* Mean range of two standard normals: 2 / sqrt(pi). */
#define D2_OF_2 1.1283791670955126

static bool
any_signal(const double *values, size_t n, unsigned rules)
{
	double sum = 0, ranges = 0;
	struct run_walk walk = {0};

	for (size_t i = 0; i < n; i++) {
		sum += values[i];
		ranges += i > 0 ? fabs(values[i] - values[i - 1]) : 0;
	}
	struct run_zones zones =
	    run_zones_of(sum / (double)n, ranges / (double)(n - 1) / D2_OF_2);
	for (size_t i = 0; i < n; i++)
		if (rules & run_walk_step(&walk, &zones, values[i]))
			return true;
	return false;
}

double
run_rules_chance(unsigned rules, size_t n)
{
	double values[LONGEST];
	unsigned long state[RANDOM_STATE];
	gsl_rng random = {gsl_rng_taus2, state};
	size_t length = n < LONGEST ? n : LONGEST, with_signal = 0;

	if (n < 2)
		return NAN;
	assert(random.type->size <= sizeof(state));
	gsl_rng_set(&random, 20261127);
	for (size_t series = 0; series < SERIES; series++) {
		for (size_t i = 0; i < length; i++)
			values[i] = gsl_ran_gaussian_ziggurat(&random, 1);
		with_signal += any_signal(values, length, rules);
	}
	double none = 1 - (double)with_signal / SERIES;
	return 1 - pow(none, (double)n / (double)length);
}
