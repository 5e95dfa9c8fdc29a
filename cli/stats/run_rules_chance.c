/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/stats/run_rules.h"

#include "cli/stats/chart_constants.h"
#include "cli/stats/run_walk.h"

#include <assert.h>
#include <gsl/gsl_randist.h>
#include <gsl/gsl_rng.h>
#include <math.h>

/*
 * -log(1 - chance) of RULES_USUAL, which nearly every study asks for: nearly straight in n, so
 * taken straight between these.  From 1,000,000 simulated series each; beyond the last, the
 * slope of the in-control run length of 152.73 (test_run_walk.c).
 */
static const struct {
	size_t n;
	double exponent;
} usual[] = {
    {0, 0},
    {4, 0},
    {5, 0.0044},
    {6, 0.0128},
    {8, 0.0161},
    {10, 0.0214},
    {15, 0.0414},
    {20, 0.0669},
    {30, 0.1248},
    {50, 0.2488},
    {100, 0.5682},
    {200, 1.2109},
    {400, 2.4935},
};
enum { USUAL_COUNT = sizeof(usual) / sizeof(usual[0]) };
#define USUAL_SLOPE (1 / 152.73)

static double
chance_usual(size_t n)
{
	size_t i = 1;

	while (i < USUAL_COUNT && usual[i].n < n)
		i++;
	double from = (double)usual[i - 1].n, exponent = usual[i - 1].exponent;
	double slope = i == USUAL_COUNT ? USUAL_SLOPE
	                                : (usual[i].exponent - exponent) /
	                                      ((double)usual[i].n - from);

	return -expm1(-exponent - slope * ((double)n - from));
}

enum {
	LONGEST = 300,     /* values in a simulated series */
	SERIES = 2000,     /* so the chance is had to 0.011 (one standard error) */
	RANDOM_STATE = 64, /* longs; more than the generator needs */
};

static struct run_zones
zones_of(const double *values, size_t n)
{
	double sum = 0, ranges = 0;

	for (size_t i = 0; i < n; i++) {
		sum += values[i];
		ranges += i > 0 ? fabs(values[i] - values[i - 1]) : 0;
	}
	return run_zones_of(sum / (double)n, ranges / (double)(n - 1) / CHART_D2_OF_2);
}

static bool
any_signal(
    const double *values, size_t n, const struct run_zones *zones, unsigned rules)
{
	struct run_walk walk = {0};

	for (size_t i = 0; i < n; i++)
		if (rules & run_walk_step(&walk, zones, values[i]))
			return true;
	return false;
}

/* A longer series is taken for a row of independent ones of LONGEST values. */
static double
chance_simulated(unsigned rules, size_t n, bool known)
{
	const struct run_zones of_known = run_zones_of(0, 1);
	double values[LONGEST] = {0};
	unsigned long state[RANDOM_STATE];
	gsl_rng random = {gsl_rng_taus2, state};
	size_t length = n < LONGEST ? n : LONGEST, with_signal = 0;

	assert(random.type->size <= sizeof(state));
	gsl_rng_set(&random, 20261127);
	for (size_t series = 0; series < SERIES; series++) {
		for (size_t i = 0; i < length; i++)
			values[i] = gsl_ran_gaussian_ziggurat(&random, 1);
		struct run_zones zones = known ? of_known : zones_of(values, length);
		with_signal += any_signal(values, length, &zones, rules);
	}
	double none = 1 - (double)with_signal / SERIES;
	return 1 - pow(none, (double)n / (double)length);
}

double
run_rules_chance(unsigned rules, size_t n)
{
	rules &= RULES_ALL;
	if (n < 2)
		return NAN;
	if (rules == 0)
		return 0;
	return rules == RULES_USUAL ? chance_usual(n)
	                            : chance_simulated(rules, n, false);
}

double
run_rules_chance_known(unsigned rules, size_t n)
{
	rules &= RULES_ALL;
	return n == 0 || rules == 0 ? 0 : chance_simulated(rules, n, true);
}
