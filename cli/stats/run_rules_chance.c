/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/stats/run_rules.h"

#include "cli/stats/chart_constants.h"
#include "cli/stats/run_walk.h"

#include <assert.h>
#include <gsl/gsl_cdf.h>
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

enum { RUN_MOST = 9 }; /* of the rules of runs on one side */

/* To which a chance is simulated: one standard error. */
#define CHANCE_ERROR 0.004

enum {
	LONGEST = 300,     /* values in a simulated series */
	BATCH = 1000,      /* series, before it is seen whether they are enough */
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
	size_t length = n < LONGEST ? n : LONGEST, with_signal = 0, all = 0;
	double times = (double)n / (double)length, error = INFINITY, none = 1;

	assert(random.type->size <= sizeof(state));
	gsl_rng_set(&random, 20261127);
	while (error > CHANCE_ERROR) {
		for (size_t i = 0; i < length; i++)
			values[i] = gsl_ran_gaussian_ziggurat(&random, 1);
		struct run_zones zones = known ? of_known : zones_of(values, length);
		with_signal += any_signal(values, length, &zones, rules);
		if (++all % BATCH > 0)
			continue;
		none = 1 - (double)with_signal / (double)all;
		error = sqrt(none * (1 - none) / (double)all) * times *
		        pow(none, times - 1);
	}
	return 1 - pow(none, times);
}

/*
 * The chance of n independent values, centre and sigma known, by the run that goes on, whichever
 * its side: exact.  Of the rules, a point beyond 3 sigma and a run of `most` (0: of none).
 */
static double
chance_of_runs(bool beyond, size_t most, size_t n)
{
	double inside = beyond ? 1 - 2 * gsl_cdf_ugaussian_Q(3) : 1;
	double row[RUN_MOST] = {1}; /* [r - 1]: a run of r goes on, no signal yet */

	if (most == 0)
		return -expm1((double)n * log(inside));
	row[0] = inside;
	for (size_t i = 1; i < n; i++) {
		double turned = 0;
		for (size_t r = most - 1; r > 0; r--) {
			turned += row[r - 1] * inside / 2;
			row[r - 1] = r > 1 ? row[r - 2] * inside / 2 : turned;
		}
	}
	double none = 0;
	for (size_t r = 0; r + 1 < most; r++)
		none += row[r];
	return 1 - none;
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
	const unsigned runs =
	    RULE_BIT(RULE_EIGHT_ONE_SIDE) | RULE_BIT(RULE_NINE_ONE_SIDE);
	const unsigned beyond = RULE_BIT(RULE_ONE_BEYOND_3S);

	rules &= RULES_ALL;
	if (n == 0 || rules == 0)
		return 0;
	if (rules & ~(runs | beyond))
		return chance_simulated(rules, n, true);
	size_t most = rules & RULE_BIT(RULE_EIGHT_ONE_SIDE)  ? 8
	              : rules & RULE_BIT(RULE_NINE_ONE_SIDE) ? 9
	                                                     : 0;
	return chance_of_runs((rules & beyond) != 0, most, n);
}
