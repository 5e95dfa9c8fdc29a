/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * How long the core of one sheet takes: 180 s in the oven, two faces read every second, 41
 * nodes; with constant properties and melting; alone and with its band; and beside the
 * plainest loop that could do the first of them.
 */
#include <math.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>

#include "conf/settings.h"
#include "daemon/base/error.h"
#include "daemon/heat/soak.h"
#include "daemon/heat/substance.h"
#include "tests/bench/figure.h"

enum { HEAT_S = 180, READINGS = HEAT_S + 1, TIMES = 101 };
#define THICKNESS_M 0.00635
#define CONDUCTIVITY 0.18
#define DENSITY 1050.0
#define CAPACITY 2050.0

static struct error error;
static double at_s[READINGS], surface_c[READINGS];
static double sink; /* what was computed is used */

static void
give_up(const char *what)
{
	fprintf(stderr, "bench_heat: %s: %s\n", what, error.text);
	exit(1);
}

static void
make_substances(struct substance *constant, struct substance *melting)
{
	static struct material_settings solid = {.name = "constant",
	    .density = DENSITY,
	    .heat_capacity = {1, {23}, {CAPACITY}},
	    .conductivity = {1, {23}, {CONDUCTIVITY}},
	    .emissivity = 0.93};
	static struct material_settings melts = {.name = "melting",
	    .structure = STRUCTURE_SEMICRYSTALLINE,
	    .density = 950,
	    .heat_capacity = {2, {23, 131}, {1850, 2500}},
	    .conductivity = {2, {23, 131}, {0.46, 0.25}},
	    .fusion_j_kg = 190e3,
	    .melting_c = 131,
	    .melting_width_dc = 6,
	    .emissivity = 0.94};

	if (substance_init(constant, &solid, &error) ||
	    substance_init(melting, &melts, &error))
		give_up("a substance");
}

static struct soak_case
make_case(const struct substance *substance)
{
	struct soak_case soak = {.substance = substance,
	    .thickness_m = THICKNESS_M,
	    .start_c = 23,
	    .lag_s = 0.5,
	    .limit_c = 190,
	    .tolerances = {.thickness = 0.02,
		.diffusivity = 0.15,
		.surface_dc = 2,
		.gain = 0.02,
		.start_dc = 2,
		.lag_s = 1,
		.side_dc = 8,
		.fusion = 0.1,
		.flux_fall = 0.5},
	    .stretch_count = 1};

	soak.stretches[0].boundary = SOAK_SURFACES;
	soak.stretches[0].to_s = HEAT_S;
	soak.stretches[0].top.count = READINGS;
	soak.stretches[0].top.s = at_s;
	soak.stretches[0].top.c = surface_c;
	return soak;
}

/* The median of many, in ms. */
static double
soak_ms(const struct soak_case *soak, bool band)
{
	double taken[TIMES];

	for (int i = 0; i < TIMES; i++) {
		struct soak_result result;
		double begun_s = figure_now_s();
		int failed = band ? soak_compute(soak, &result, &error)
		                  : soak_follow(soak, NULL, &result, &error);

		if (failed)
			give_up("the core");
		taken[i] = 1e3 * (figure_now_s() - begun_s);
		sink += result.state[0].core_c;
	}
	return figure_quantile(taken, TIMES, 0.5);
}

/* Explicit, 41 nodes, just stable: bound to steps of 0.15 s. */
static double
bare_core_c(void)
{
	enum { LAST = SOAK_NODES - 1 };
	double node_m = THICKNESS_M / LAST, c[2][SOAK_NODES];
	double diffusivity = CONDUCTIVITY / DENSITY / CAPACITY;
	int steps = (int)ceil(HEAT_S * diffusivity / node_m / node_m / 0.5);
	double step_s = (double)HEAT_S / steps;
	double r = diffusivity * step_s / node_m / node_m;

	for (int i = 0; i <= LAST; i++)
		c[0][i] = 23;
	for (int step = 0; step < steps; step++) {
		double *old = c[step % 2], *next = c[(step + 1) % 2];
		double s = (step + 1) * step_s;
		int reading = (int)fmin(s, READINGS - 2);

		next[0] = next[LAST] =
		    surface_c[reading] +
		    (s - reading) * (surface_c[reading + 1] - surface_c[reading]);
		for (int i = 1; i < LAST; i++)
			next[i] = old[i] + r * (old[i - 1] - 2 * old[i] + old[i + 1]);
	}
	return c[steps % 2][SOAK_NODES / 2];
}

static double
bare_ms(void)
{
	double taken[TIMES];

	for (int i = 0; i < TIMES; i++) {
		double begun_s = figure_now_s();

		sink += bare_core_c();
		taken[i] = 1e3 * (figure_now_s() - begun_s);
	}
	return figure_quantile(taken, TIMES, 0.5);
}

int
main(void)
{
	static struct substance constant, melting;
	struct soak_case soak;
	double alone_ms;

	for (int i = 0; i < READINGS; i++) {
		at_s[i] = i;
		surface_c[i] = 23 + 165 * (1 - exp(-i / 60.0));
	}
	make_substances(&constant, &melting);
	soak = make_case(&constant);
	alone_ms = soak_ms(&soak, false);
	figure_at_most("core, constant", alone_ms, "ms", 1, "one sheet, %d s, %d nodes",
	    HEAT_S, SOAK_NODES);
	figure_only("core, constant / bare", alone_ms / bare_ms(), "ratio",
	    "an explicit loop with as many nodes, in steps of 0.15 s");
	figure_at_most("core with band, constant", soak_ms(&soak, true), "ms", 2,
	    "seven tolerances, each computed again");
	soak = make_case(&melting);
	figure_at_most("core, melting", soak_ms(&soak, false), "ms", 5,
	    "the same in enthalpy form");
	figure_at_most("core with band, melting", soak_ms(&soak, true), "ms", 8,
	    "eight tolerances, each computed again at half the nodes");
	soak.stretches[0].boundary = SOAK_EXIT;
	soak.stretches[0].exit_top_c = 190;
	soak.stretches[0].exit_bottom_c = NAN;
	figure_only("core from exit, melting", soak_ms(&soak, false), "ms",
	    "the flux searched for, the sheet computed for each trial");
	figure_only("exit with band, melting", soak_ms(&soak, true), "ms",
	    "nine tolerances, the flux searched for with each");
	return isnan(sink);
}
