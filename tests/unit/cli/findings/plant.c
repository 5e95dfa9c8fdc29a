/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "tests/unit/cli/findings/plant.h"

#include <math.h>

static double
uniform(struct plant *plant)
{
	/* The generator of splitmix64 (S. Vigna, public domain). */
	uint64_t z = plant->state += UINT64_C(0x9e3779b97f4a7c15);

	z = (z ^ (z >> 30)) * UINT64_C(0xbf58476d1ce4e5b9);
	z = (z ^ (z >> 27)) * UINT64_C(0x94d049bb133111eb);
	return ((double)((z ^ (z >> 31)) >> 11) + 0.5) / 9007199254740992.0;
}

static double
noise(struct plant *plant, double sd)
{
	double radius = sqrt(-2 * log(uniform(plant)));
	return sd * radius * cos(6.283185307179586 * uniform(plant));
}

void
plant_init(struct plant *plant, unsigned seed)
{
	*plant = (struct plant){.state = seed, .stack_c = 23};
}

static void
set_heat(struct plant *plant, const struct effect *e, double part, double *value)
{
	/* Start and mains differ without anything being wrong; flow differs by sheet. */
	double stack = plant->stack_c + part * e->stack_dc - 23;
	double mains = plant->mains, flow = noise(plant, 0.03);

	value[FEATURE_STACK_C] = 23 + stack + noise(plant, 0.05);
	value[FEATURE_AMBIENT_C] = 25 + noise(plant, 0.1);
	value[FEATURE_SOAK_WAIT_S] = 0.5;
	value[FEATURE_SAG_S] = 168 * (1 - 0.007 * stack - 1.5 * mains - 0.11 * flow +
					 part * e->sag_ratio) +
	                       noise(plant, 0.5);
	value[FEATURE_METER_RATIO] = 1 + 2 * mains + part * e->meter_ratio;
	value[FEATURE_RATE_TOP] =
	    1.15 * (1 + 1.6 * mains - 0.0018 * stack + part * e->rate_top_ratio +
		       noise(plant, 0.004));
	value[FEATURE_RATE_BOTTOM] =
	    1.13 * (1 + 1.6 * mains - 0.0018 * stack + part * e->rate_bottom_ratio +
		       noise(plant, 0.004));
	value[FEATURE_CORE_HEAT_END_C] =
	    147 + part * e->core_dc - 11 * flow + noise(plant, 0.2);
	value[FEATURE_ENERGY_KWH] = 2.9 * value[FEATURE_SAG_S] / 168;
	value[FEATURE_SATURATED_ZONES] = 0;
	double common = 100 * mains + 0.09 * stack - 9 * flow;
	for (int i = 0; i < PLANT_SURFACES; i++) {
		bool here = i + 1 == e->position;
		double own = here ? part * e->own_dc : 0;
		double pair = here ? part * e->pair_dc : 0;
		value[FEATURE_EXIT_TOP_FIRST + i] =
		    183 + i + common + part * e->exit_top_dc +
		    (e->side == 0 ? own : pair) + noise(plant, 0.15);
		value[FEATURE_EXIT_BOTTOM_FIRST + i] =
		    182 - i + common + part * e->exit_bottom_dc +
		    (e->side == 1 ? own : pair) + noise(plant, 0.15);
	}
	value[FEATURE_EXIT_TOP_C] = value[FEATURE_EXIT_TOP_FIRST + 1];
}

static void
set_water(struct plant *plant, const struct effect *e, double part, double *value)
{
	double supply = 65 + part * e->supply_dc + noise(plant, 0.07);

	value[FEATURE_WATER_SUPPLY_C] = supply;
	value[FEATURE_CYCLE_S] = value[FEATURE_SAG_S] + 8;
	value[FEATURE_HEAT_BROUGHT_KWH] = 0.575 * (1 + noise(plant, 0.005));
	for (int i = 0; i < PLANT_CIRCUITS; i++) {
		double own = i + 1 == e->position ? part : 0;
		value[FEATURE_TOOL_MEAN_FIRST + i] =
		    supply + 1.9 + 0.05 * i + part * e->tool_dc + own * e->own_tool_dc +
		    noise(plant, 0.03);
		value[FEATURE_WATER_RISE_FIRST + i] = 1.5 + part * e->rise_dc +
		                                      own * e->own_rise_dc +
		                                      noise(plant, 0.025);
		value[FEATURE_WATER_FLOW_FIRST + i] =
		    8 * (1 + part * e->flow_ratio + own * e->own_flow_ratio) +
		    noise(plant, 0.005);
		value[FEATURE_HEAT_REMOVED_FIRST + i] =
		    0.036 * (1 + own * e->own_heat_ratio + noise(plant, 0.015));
		value[FEATURE_RESISTANCE_FIRST + i] =
		    1.3 * (1 + own * e->own_resistance_ratio + noise(plant, 0.008));
	}
}

struct findings_shot
plant_shot(
    struct plant *plant, const struct effect *effect, double part, const char *lot)
{
	static const struct effect none = {0};
	struct findings_shot shot = {
	    .shot_no = ++plant->shot_no, .lot = lot, .usual = true};

	shot.at.ns = plant->shot_no * 180 * CLOCK_SECOND_NS;
	plant->mains =
	    fmin(fmax(0.9 * plant->mains + noise(plant, 0.0035), -0.02), 0.02);
	plant->stack_c += noise(plant, 0.05) - 0.01 * (plant->stack_c - 23);
	for (int id = 0; id < FEATURE_COUNT; id++)
		shot.value[id] = NAN;
	set_heat(plant, effect ? effect : &none, part, shot.value);
	set_water(plant, effect ? effect : &none, part, shot.value);
	return shot;
}

void
plant_shots(struct plant *plant, const struct effect *effect, const char *lot,
    struct findings_shot *shots, size_t count)
{
	for (size_t i = 0; i < count; i++)
		shots[i] = plant_shot(plant, effect, 1, lot);
}
