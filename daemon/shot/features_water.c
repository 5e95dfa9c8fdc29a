/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/shot/features_inside.h"

#include "daemon/base/error.h"
#include "daemon/heat/substance.h"
#include "daemon/heat/water.h"
#include "daemon/shot/core.h"
#include "daemon/shot/recovery.h"
#include "daemon/shot/track.h"

#include <math.h>

/* A smaller rise is within what two sensors may differ: nothing is divided by it.
 * Common practice, no source. */
#define RISE_LEAST_DC 0.2

static const struct measure not_configured = {NAN, ABSENT_NOT_CONFIGURED};

static int
at_most(int count, int most)
{
	return count < most ? count : most;
}

/* --- a circuit over the tool's cycle -------------------------------------------------- */

/* What one circuit did, each a number or why there is none. */
struct circuit {
	struct measure flow;   /* m3/s, its time mean */
	struct measure heat_j; /* taken away */
	struct measure supply_c, return_c;
};

static struct measure
mean_over(const struct feature_source *source, int32_t channel, struct window window)
{
	struct shot_channel summary;

	if (channel == ROLES_NONE)
		return not_configured;
	summary = window_summary(
	    source->history, (uint32_t)channel, window, source->line->coverage_min);
	return (struct measure){summary.mean, summary.absent};
}

/* Heat that goes over to the water in a second, W. */
static double
power_w(const struct line_settings *line, double flow_m3_s, double supply_c,
    double return_c)
{
	double water_c = (supply_c + return_c) / 2.0;

	return line->coolant_heat_ratio * water_density(water_c) *
	       water_capacity(water_c) * flow_m3_s * (return_c - supply_c);
}

/* Trapezoids at the readings of the return, flow and supply taken there, over holes too, and
 * level before the first and after the last (the coverage rule has been asked). */
static double
heat_over(const struct feature_source *source, int k, struct window window)
{
	const struct roles *roles = source->roles;
	struct track back, supply, flow;
	double joules = 0.0, last_w = NAN, return_c;
	struct mono at, last = window.from;

	track_start(&back, source->history, roles->water_return[k], window);
	track_start(&supply, source->history, (uint32_t)roles->water_supply[k], window);
	track_start(&flow, source->history, (uint32_t)roles->water_flow[k], window);
	while (track_next(&back, &at, &return_c)) {
		double w = power_w(
		    source->line, track_at(&flow, at), track_at(&supply, at), return_c);
		double stretch_s = (double)(at.ns - last.ns) / CLOCK_SECOND_NS;

		joules += stretch_s * (isnan(last_w) ? w : (last_w + w) / 2.0);
		last = at;
		last_w = w;
	}
	return joules + (double)(window.to.ns - last.ns) / CLOCK_SECOND_NS * last_w;
}

/* Why a channel does not tell of a whole cycle: its loaded part and its unloaded one are
 * unlike each other, and readings of the one cannot stand for the other. */
static enum absent
lacks(const struct feature_source *source, uint32_t channel)
{
	struct window parts[] = {sheet_form(source->sheet),
	    sheet_tool_open(source->sheet, source->line->startup_after_s)};

	for (size_t i = 0; i < sizeof(parts) / sizeof(parts[0]); i++) {
		struct shot_channel part = window_summary(
		    source->history, channel, parts[i], source->line->coverage_min);

		if (part.absent == ABSENT_STALE) /* not one reading was kept */
			return ABSENT_LOW_COVERAGE;
		if (part.absent != ABSENT_NOT)
			return part.absent;
	}
	return ABSENT_NOT;
}

static enum absent
circuit_lacks(const struct feature_source *source, int k)
{
	const struct roles *roles = source->roles;
	uint32_t needed[] = {(uint32_t)roles->water_flow[k],
	    (uint32_t)roles->water_supply[k], roles->water_return[k]};
	enum absent absent = ABSENT_NOT;

	for (size_t i = 0; i < sizeof(needed) / sizeof(needed[0]); i++)
		if (absent == ABSENT_NOT)
			absent = lacks(source, needed[i]);
	return absent;
}

static struct circuit
circuit_over(const struct feature_source *source, int k, struct window window)
{
	const struct roles *roles = source->roles;
	struct circuit circuit = {
	    .flow = mean_over(source, roles->water_flow[k], window),
	    .supply_c = mean_over(source, roles->water_supply[k], window),
	    .return_c = mean_over(source, (int32_t)roles->water_return[k], window)};
	const struct measure *needed[] = {
	    &circuit.flow, &circuit.supply_c, &circuit.return_c};

	for (size_t i = 0; i < sizeof(needed) / sizeof(needed[0]); i++)
		if (needed[i]->absent != ABSENT_NOT &&
		    circuit.heat_j.absent != ABSENT_NOT_CONFIGURED)
			circuit.heat_j = (struct measure){NAN, needed[i]->absent};
	if (circuit.heat_j.absent == ABSENT_NOT)
		circuit.heat_j.absent = circuit_lacks(source, k);
	if (circuit.heat_j.absent == ABSENT_NOT)
		circuit.heat_j.value = heat_over(source, k, window);
	return circuit;
}

/* Tool sensor k belongs to circuit k where there are as many of them. */
static struct measure
resistance(const struct feature_source *source, const struct circuit *circuit, int k,
    struct window window)
{
	struct measure tool;
	double water_c = (circuit->supply_c.value + circuit->return_c.value) / 2.0;

	if (source->roles->tool_count != source->roles->circuit_count)
		return not_configured;
	if (circuit->heat_j.absent != ABSENT_NOT)
		return (struct measure){NAN, circuit->heat_j.absent};
	tool = mean_over(source, (int32_t)source->roles->tool[k], window);
	if (tool.absent != ABSENT_NOT)
		return tool;
	if (!(circuit->return_c.value - circuit->supply_c.value >= RISE_LEAST_DC) ||
	    !(circuit->heat_j.value > 0.0))
		return (struct measure){NAN, ABSENT_NOT_APPLICABLE};
	return (struct measure){
	    (tool.value - water_c) * window_s(window) / circuit->heat_j.value,
	    ABSENT_NOT};
}

static struct measure
reynolds(const struct feature_source *source, const struct circuit *circuit)
{
	const struct tool_settings *tool =
	    settings_tool(source->settings, source->circumstances->tool);
	struct measure water = circuit->supply_c;

	if (tool == NULL || !(tool->bore_m > 0.0) ||
	    circuit->flow.absent == ABSENT_NOT_CONFIGURED)
		return not_configured;
	if (circuit->flow.absent != ABSENT_NOT)
		return circuit->flow;
	if (water.absent == ABSENT_NOT) {
		water.absent = circuit->return_c.absent;
		water.value = (water.value + circuit->return_c.value) / 2.0;
	}
	if (water.absent != ABSENT_NOT)
		return (struct measure){NAN, water.absent};
	return (struct measure){water_reynolds(circuit->flow.value, tool->bore_m,
				    water.value, source->line->coolant_viscosity_ratio),
	    ABSENT_NOT};
}

static void
circuits(const struct feature_source *source, struct shot *shot)
{
	struct window cycle =
	    sheet_tool_cycle(source->sheet, source->line->startup_after_s);
	int count = at_most(source->roles->circuit_count, FEATURE_CIRCUITS_MAX);
	struct measure removed = {0.0, ABSENT_NOT};

	for (int k = 0; k < count; k++) {
		struct circuit circuit = circuit_over(source, k, cycle);

		feature_put(shot, FEATURE_WATER_FLOW_FIRST + k, circuit.flow);
		feature_put(shot, FEATURE_HEAT_REMOVED_FIRST + k, circuit.heat_j);
		feature_put(shot, FEATURE_RESISTANCE_FIRST + k,
		    resistance(source, &circuit, k, cycle));
		feature_put(
		    shot, FEATURE_REYNOLDS_FIRST + k, reynolds(source, &circuit));
		removed.value += circuit.heat_j.value;
		if (circuit.heat_j.absent != ABSENT_NOT &&
		    removed.absent != ABSENT_NOT_CONFIGURED)
			removed.absent = circuit.heat_j.absent;
	}
	if (count > 0)
		feature_put(shot, FEATURE_HEAT_REMOVED_KWH, removed);
}

/* --- tool sensors --------------------------------------------------------------------- */

/* The supply that a tool sensor falls to: its own circuit's, else the first one's. */
static int32_t
water_of(const struct roles *roles, int sensor)
{
	if (roles->circuit_count == 0)
		return ROLES_NONE;
	return roles
	    ->water_supply[roles->tool_count == roles->circuit_count ? sensor : 0];
}

static void
tool_sensors(const struct feature_source *source, struct shot *shot)
{
	const struct roles *roles = source->roles;
	struct window open =
	    sheet_tool_open(source->sheet, source->line->startup_after_s);
	int count = at_most(roles->tool_count, FEATURE_CIRCUITS_MAX);
	struct measure mean = {0.0, ABSENT_NOT};

	for (int k = 0; k < count; k++) {
		const struct shot_channel *form = feature_summary(shot, roles->tool[k]);
		int32_t water = water_of(roles, k);
		struct measure fall = not_configured;

		if (water != ROLES_NONE)
			fall = recovery_fit(source->history, roles->tool[k],
			    (uint32_t)water, open, source->line->coverage_min);
		feature_put(shot, FEATURE_TOOL_MEAN_FIRST + k,
		    (struct measure){form->mean, form->absent});
		feature_put(shot, FEATURE_RECOVERY_FIRST + k, fall);
		mean.value += fall.value / count;
		if (fall.absent != ABSENT_NOT)
			mean.absent = fall.absent;
	}
	if (count > 0)
		feature_put(shot, FEATURE_RECOVERY_S, mean);
}

/* --- the balance ----------------------------------------------------------------------- */

/* At which the part is taken off: as the recipe says, else its material; NAN. */
static double
demould_c(
    const struct recipe_settings *recipe, const struct material_settings *material)
{
	return isfinite(recipe->demould_c) ? recipe->demould_c : material->demould_c;
}

/* Heat that the sheet gave away from the platens' closing on, J. */
static struct measure
brought(const struct feature_source *source, const struct shot *shot)
{
	const struct recipe_settings *recipe =
	    settings_recipe(source->settings, source->circumstances->recipe);
	const struct material_settings *material =
	    settings_material(source->settings, source->circumstances->material);
	double mean_c = shot->value[FEATURE_SHEET_MEAN_FORM_START_C], mass_kg;
	struct substance substance;
	struct error error;

	if (recipe == NULL || material == NULL || !(recipe->sheet_length_m > 0.0) ||
	    !(recipe->sheet_width_m > 0.0) || !isfinite(demould_c(recipe, material)))
		return not_configured;
	if (isnan(mean_c))
		return (struct measure){
		    NAN, (enum absent)shot->absent[FEATURE_SHEET_MEAN_FORM_START_C]};
	if (substance_init(&substance, material, &error) != 0)
		return not_configured;
	mass_kg = substance.density * shot->value[FEATURE_SHEET_THICKNESS_MM] *
	          recipe->sheet_length_m * recipe->sheet_width_m;
	return (struct measure){
	    mass_kg * (substance_enthalpy(&substance, mean_c) -
			  substance_enthalpy(&substance, demould_c(recipe, material))),
	    ABSENT_NOT};
}

static void
balance(const struct feature_source *source, struct shot *shot)
{
	struct measure in = brought(source, shot);
	struct measure ratio = {shot->value[FEATURE_HEAT_REMOVED_KWH] / in.value,
	    (enum absent)shot->absent[FEATURE_HEAT_REMOVED_KWH]};

	feature_put(shot, FEATURE_HEAT_BROUGHT_KWH, in);
	if (in.absent == ABSENT_NOT_CONFIGURED || ratio.absent == ABSENT_NOT)
		ratio.absent = in.absent;
	if (ratio.absent == ABSENT_NOT && !(in.value > 0.0))
		ratio.absent = ABSENT_NOT_APPLICABLE;
	feature_put(shot, FEATURE_HEAT_BALANCE, ratio);
}

void
features_water(const struct feature_source *source, struct shot *shot)
{
	circuits(source, shot);
	tool_sensors(source, shot);
	balance(source, shot);
}
