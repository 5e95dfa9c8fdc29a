/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/findings/signal.h"

#include <assert.h>
#include <math.h>
#include <stdlib.h>

enum { PEERS_MIN = 3 };

/*
 * Slopes and least deviations: common practice, no source, but for their size, which is
 * that of a sheet heated at even power (a start warmer by 1 K saves 1/150 of the time)
 * and of an oven whose sheets see the square of the mains.
 */
static const struct signal_row alone[SIGNAL_ALONE] = {
    [SIGNAL_SAG] = {FEATURE_SAG_S, true, false, SIGNAL_HEAT, 0.008, 0,
	{{CIRCUMSTANCE_STACK, -0.007, 0.003}, {CIRCUMSTANCE_METER, -0.76, 0.3},
	    {CIRCUMSTANCE_HALL, 0, 0.002}}},
    [SIGNAL_SAG_PLAIN] = {FEATURE_SAG_S, true, true, SIGNAL_HEAT, 0.01, 0,
	{{CIRCUMSTANCE_METER, -0.76, 0.3}}},
    [SIGNAL_EXIT] = {FEATURE_EXIT_TOP_C, false, false, SIGNAL_HEAT, 0.7, 0,
	{{CIRCUMSTANCE_STACK, 0.09, 0.1}, {CIRCUMSTANCE_METER, 50, 20},
	    {CIRCUMSTANCE_WAIT, 0.3, 0.2}, {CIRCUMSTANCE_HALL, 0, 0.1}}},
    [SIGNAL_EXIT_TOP] = {FEATURE_EXIT_TOP_C, false, false, SIGNAL_HEAT, 0.7, 0,
	{{CIRCUMSTANCE_STACK, 0.09, 0.1}, {CIRCUMSTANCE_METER, 50, 20},
	    {CIRCUMSTANCE_WAIT, 0.3, 0.2}, {CIRCUMSTANCE_HALL, 0, 0.1}}},
    [SIGNAL_EXIT_BOTTOM] = {FEATURE_EXIT_BOTTOM_C, false, false, SIGNAL_HEAT, 0.7, 0,
	{{CIRCUMSTANCE_STACK, 0.09, 0.1}, {CIRCUMSTANCE_METER, 50, 20},
	    {CIRCUMSTANCE_WAIT, 0.3, 0.2}, {CIRCUMSTANCE_HALL, 0, 0.1}}},
    [SIGNAL_RATE_TOP] = {FEATURE_RATE_TOP, true, false, SIGNAL_HEAT, 0.005, 0,
	{{CIRCUMSTANCE_STACK, -0.0018, 0.002}, {CIRCUMSTANCE_METER, 0.83, 0.3},
	    {CIRCUMSTANCE_HALL, 0, 0.001}}},
    [SIGNAL_RATE_BOTTOM] = {FEATURE_RATE_BOTTOM, true, false, SIGNAL_HEAT, 0.005, 0,
	{{CIRCUMSTANCE_STACK, -0.0018, 0.002}, {CIRCUMSTANCE_METER, 0.83, 0.3},
	    {CIRCUMSTANCE_HALL, 0, 0.001}}},
    [SIGNAL_METER] = {FEATURE_METER_RATIO, true, false, SIGNAL_HEAT, 0.03, 0.045,
	{{0}}},
    [SIGNAL_METER_BY_RATE] = {FEATURE_METER_RATIO, true, false, SIGNAL_HEAT, 0.008, 0,
	{{CIRCUMSTANCE_RATE, 1.2, 0.4}, {CIRCUMSTANCE_STACK, 0.002, 0.002}}},
    [SIGNAL_STACK] = {FEATURE_STACK_C, false, false, SIGNAL_HEAT, 3, 8, {{0}}},
    [SIGNAL_CORE] = {FEATURE_CORE_HEAT_END_C, false, true, SIGNAL_HEAT, 1, 0,
	{{CIRCUMSTANCE_STACK, 0, 0.15}, {CIRCUMSTANCE_METER, 13, 15},
	    {CIRCUMSTANCE_WAIT, 0.4, 0.3}, {CIRCUMSTANCE_HALL, 0, 0.1}}},
    [SIGNAL_ENERGY] = {FEATURE_ENERGY_KWH, true, true, SIGNAL_HEAT, 0.01, 0,
	{{CIRCUMSTANCE_STACK, -0.005, 0.003}, {CIRCUMSTANCE_METER, -0.4, 0.3},
	    {CIRCUMSTANCE_WAIT, 0.003, 0.003}}},
    [SIGNAL_SATURATED] = {FEATURE_SATURATED_ZONES, false, true, SIGNAL_HEAT, 0.5, 0,
	{{0}}},
    [SIGNAL_SUPPLY] = {FEATURE_WATER_SUPPLY_C, false, false, SIGNAL_WATER, 0.8, 0,
	{{0}}},
    [SIGNAL_TOOL] = {FEATURE_TOOL_MEAN_C, false, false, SIGNAL_WATER, 0.25, 0,
	{{CIRCUMSTANCE_BROUGHT, 2, 1}, {CIRCUMSTANCE_CYCLE, -2, 1},
	    {CIRCUMSTANCE_HALL, 0, 0.02}}},
    [SIGNAL_RISE] = {FEATURE_WATER_RISE_DC, false, false, SIGNAL_WATER, 0.2, 0,
	{{CIRCUMSTANCE_BROUGHT, 1.6, 0.8}, {CIRCUMSTANCE_CYCLE, -1.6, 0.8},
	    {CIRCUMSTANCE_HALL, 0, 0.02}}},
    [SIGNAL_FLOW] = {FEATURE_WATER_FLOW_FIRST, true, false, SIGNAL_WATER, 0.04, 0,
	{{0}}},
    [SIGNAL_BALANCE] = {FEATURE_HEAT_BALANCE, true, true, SIGNAL_WATER, 0.05, 0, {{0}}},
};

static const struct family {
	int first, count;
	struct signal_row row;
} families[] = {
    {SIGNAL_EXIT_OWN, SIGNAL_SURFACES,
	{FEATURE_EXIT_TOP_FIRST, false, false, SIGNAL_HEAT, 1.0, 0,
	    {{CIRCUMSTANCE_EXIT, 0, 0.1}, {CIRCUMSTANCE_STACK, 0, 0.05},
		{CIRCUMSTANCE_METER, 0, 10}, {CIRCUMSTANCE_WAIT, 0, 0.05}}}},
    {SIGNAL_TOOL_OWN, SIGNAL_CIRCUITS,
	{FEATURE_TOOL_MEAN_FIRST, false, false, SIGNAL_CIRCUIT, 0.12, 0,
	    {{CIRCUMSTANCE_TOOL, 0, 0.1}}}},
    {SIGNAL_RISE_OWN, SIGNAL_CIRCUITS,
	{FEATURE_WATER_RISE_FIRST, false, false, SIGNAL_CIRCUIT, 0.1, 0,
	    {{CIRCUMSTANCE_RISE, 0, 0.1}}}},
    {SIGNAL_FLOW_OWN, SIGNAL_CIRCUITS,
	{FEATURE_WATER_FLOW_FIRST, true, false, SIGNAL_CIRCUIT, 0.04, 0, {{0}}}},
    {SIGNAL_HEAT_OWN, SIGNAL_CIRCUITS,
	{FEATURE_HEAT_REMOVED_FIRST, true, true, SIGNAL_CIRCUIT, 0.02, 0, {{0}}}},
    {SIGNAL_RESISTANCE_OWN, SIGNAL_CIRCUITS,
	{FEATURE_RESISTANCE_FIRST, true, true, SIGNAL_CIRCUIT, 0.05, 0, {{0}}}},
    {SIGNAL_RECOVERY_OWN, SIGNAL_CIRCUITS,
	{FEATURE_RECOVERY_FIRST, true, true, SIGNAL_CIRCUIT, 0.08, 0, {{0}}}},
};
enum { FAMILIES = sizeof(families) / sizeof(families[0]) };

static const struct family *
family_of(int signal)
{
	for (size_t i = 0; i < FAMILIES; i++)
		if (signal >= families[i].first &&
		    signal < families[i].first + families[i].count)
			return families + i;
	return NULL;
}

const struct signal_row *
signal_row(int signal)
{
	const struct family *family = family_of(signal);

	assert(signal >= 0 && signal < SIGNAL_COUNT);
	return family ? &family->row : alone + signal;
}

int
signal_position(int signal)
{
	const struct family *family = family_of(signal);

	return family ? signal - family->first : -1;
}

int
signal_feature(int signal)
{
	int position = signal_position(signal);

	/* Tops and bottoms stand behind each other in the catalogue too. */
	return signal_row(signal)->feature + (position > 0 ? position : 0);
}

static int
compare(const void *a, const void *b)
{
	double x = *(const double *)a, y = *(const double *)b;
	return (x > y) - (x < y);
}

double
signal_median(const double *values, size_t count, double *sorted, size_t *finite)
{
	size_t n = 0;

	for (size_t i = 0; i < count; i++)
		if (isfinite(values[i]))
			sorted[n++] = values[i];
	if (finite)
		*finite = n;
	if (n == 0)
		return NAN;
	qsort(sorted, n, sizeof(sorted[0]), compare);
	return n % 2 ? sorted[n / 2] : (sorted[n / 2 - 1] + sorted[n / 2]) / 2;
}

static double
ratio(const double *middle, const struct findings_shot *shot, int feature)
{
	return middle[feature] > 0 ? shot->value[feature] / middle[feature] : NAN;
}

static double
off(const double *middle, const struct findings_shot *shot, int feature)
{
	return shot->value[feature] - middle[feature];
}

struct figures {
	int first, count; /* features */
	bool relative;
};

/* Deviations of a family from its middles, into `off_each`; their median. */
static double
family_level(const double *middle, const struct findings_shot *shot,
    const struct figures *family, double *off_each, size_t *there)
{
	double sorted[SIGNAL_CIRCUITS + SIGNAL_SURFACES];

	for (int i = 0; i < family->count; i++)
		off_each[i] = family->relative
		                  ? ratio(middle, shot, family->first + i) - 1
		                  : off(middle, shot, family->first + i);
	return signal_median(off_each, (size_t)family->count, sorted, there);
}

static void
surfaces(const double *middle, const struct findings_shot *shot, double *signal)
{
	double each[SIGNAL_SURFACES], sorted[SIGNAL_SURFACES], level[2];
	size_t there[2], all;

	for (int side = 0; side < 2; side++) {
		const struct figures family = {
		    FEATURE_EXIT_TOP_FIRST + side * FEATURE_SURFACES_MAX,
		    FEATURE_SURFACES_MAX, false};

		level[side] = family_level(middle, shot, &family,
		    each + side * FEATURE_SURFACES_MAX, &there[side]);
	}
	signal[SIGNAL_EXIT_TOP] = level[0];
	signal[SIGNAL_EXIT_BOTTOM] = level[1];
	signal[SIGNAL_EXIT] = isnan(level[0])   ? level[1]
	                      : isnan(level[1]) ? level[0]
	                                        : (level[0] + level[1]) / 2;
	double of_all = signal_median(each, SIGNAL_SURFACES, sorted, &all);
	for (int i = 0; i < SIGNAL_SURFACES; i++) {
		int side = i / FEATURE_SURFACES_MAX;
		double peers = there[side] >= PEERS_MIN ? level[side]
		               : all >= PEERS_MIN       ? of_all
		                                        : NAN;
		signal[SIGNAL_EXIT_OWN + i] = each[i] - peers;
	}
}

/* Each of a kind of figures of the circuits, against the middle one of all. */
static double
circuits(const double *middle, const struct findings_shot *shot, int signal_first,
    int feature_first, bool relative, double *signal)
{
	double *each = signal + signal_first;
	size_t there;
	const struct figures family = {feature_first, SIGNAL_CIRCUITS, relative};
	double level = family_level(middle, shot, &family, each, &there);

	for (int i = 0; i < SIGNAL_CIRCUITS; i++)
		if (there < PEERS_MIN)
			each[i] = NAN;
		else if (relative)
			each[i] = (1 + each[i]) / fmax(1 + level, 0.02) - 1;
		else
			each[i] -= level;
	return level;
}

static void
water(const double *middle, const struct findings_shot *shot, double *signal)
{
	double supply = off(middle, shot, FEATURE_WATER_SUPPLY_C);

	signal[SIGNAL_SUPPLY] = supply;
	signal[SIGNAL_TOOL] = circuits(middle, shot, SIGNAL_TOOL_OWN,
				  FEATURE_TOOL_MEAN_FIRST, false, signal) -
	                      supply;
	signal[SIGNAL_RISE] = circuits(
	    middle, shot, SIGNAL_RISE_OWN, FEATURE_WATER_RISE_FIRST, false, signal);
	signal[SIGNAL_FLOW] = circuits(
	    middle, shot, SIGNAL_FLOW_OWN, FEATURE_WATER_FLOW_FIRST, true, signal);
	circuits(
	    middle, shot, SIGNAL_HEAT_OWN, FEATURE_HEAT_REMOVED_FIRST, true, signal);
	circuits(middle, shot, SIGNAL_RESISTANCE_OWN, FEATURE_RESISTANCE_FIRST, true,
	    signal);
	circuits(
	    middle, shot, SIGNAL_RECOVERY_OWN, FEATURE_RECOVERY_FIRST, true, signal);
}

void
signal_values(const double middle[static FEATURE_COUNT],
    const struct findings_shot *shot, struct signal_values *values)
{
	double *signal = values->signal, *circumstance = values->circumstance;

	surfaces(middle, shot, signal);
	water(middle, shot, signal);
	for (int i = 0; i < SIGNAL_ALONE; i++) {
		const struct signal_row *row = alone + i;
		if (i == SIGNAL_EXIT || i == SIGNAL_EXIT_TOP ||
		    i == SIGNAL_EXIT_BOTTOM || row->domain == SIGNAL_WATER)
			continue;
		signal[i] = row->relative ? ratio(middle, shot, row->feature) - 1
		                          : off(middle, shot, row->feature);
	}
	signal[SIGNAL_BALANCE] = ratio(middle, shot, FEATURE_HEAT_BALANCE) - 1;
	circumstance[CIRCUMSTANCE_NONE] = 0;
	circumstance[CIRCUMSTANCE_STACK] = signal[SIGNAL_STACK];
	circumstance[CIRCUMSTANCE_HALL] = off(middle, shot, FEATURE_AMBIENT_C);
	circumstance[CIRCUMSTANCE_WAIT] = off(middle, shot, FEATURE_SOAK_WAIT_S);
	circumstance[CIRCUMSTANCE_METER] = signal[SIGNAL_METER];
	circumstance[CIRCUMSTANCE_RATE] =
	    fmax(signal[SIGNAL_RATE_TOP], signal[SIGNAL_RATE_BOTTOM]);
	circumstance[CIRCUMSTANCE_EXIT] = signal[SIGNAL_EXIT];
	circumstance[CIRCUMSTANCE_TOOL] = signal[SIGNAL_TOOL];
	circumstance[CIRCUMSTANCE_RISE] = signal[SIGNAL_RISE];
	circumstance[CIRCUMSTANCE_BROUGHT] =
	    ratio(middle, shot, FEATURE_HEAT_BROUGHT_KWH) - 1;
	circumstance[CIRCUMSTANCE_CYCLE] = ratio(middle, shot, FEATURE_CYCLE_S) - 1;
	for (int i = 0; i < SIGNAL_COUNT; i++)
		if (!isfinite(signal[i]))
			signal[i] = NAN;
	for (int i = 0; i < CIRCUMSTANCE_COUNT; i++)
		if (!isfinite(circumstance[i]))
			circumstance[i] = NAN;
}
