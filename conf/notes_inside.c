/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "conf/notes_inside.h"

#include <math.h>
#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include "conf/machine.h"
#include "conf/note.h"
#include "conf/settings.h"

#define ROLE(name) MACHINE_ROLE(ROLE_##name)

/* Of several alike the first is named. */
struct told {
	const char *first;
	int count;
};

static void
tell_of(struct told *told, const char *name)
{
	if (told->count++ == 0)
		told->first = name;
}

enum { MORE = 32 };

static const char *
more_text(const struct told *told, char text[static MORE])
{
	text[0] = '\0';
	if (told->count > 1)
		snprintf(text, MORE, " and %d more", told->count - 1);
	return text;
}

/* --- what there is ---------------------------------------------------------------- */

static bool
has_channel(const struct settings *settings, uint32_t line, uint32_t roles, bool rated)
{
	for (size_t i = 0; i < settings->channel_count; i++) {
		const struct channel_settings *channel = &settings->channels[i];

		if (settings->devices[channel->device].line == line &&
		    (roles & MACHINE_ROLE(channel->role)) &&
		    (!rated || channel->rated_w > 0))
			return true;
	}
	return false;
}

static bool
any_line_has(const struct settings *settings, uint32_t roles)
{
	for (uint32_t line = 0; line < settings->line_count; line++)
		if (has_channel(settings, line, roles, false))
			return true;
	return false;
}

/* Whether conduction can be computed with it. */
static bool
has_figures(const struct material_settings *material)
{
	return material && !isnan(material->density);
}

static const struct material_settings *
material_of(const struct settings *settings, const struct recipe_settings *recipe)
{
	return settings_material(settings, recipe->material);
}

static bool
has_inside(const struct settings *settings, const struct recipe_settings *recipe)
{
	return !isnan(recipe->thickness_m) &&
	       has_figures(material_of(settings, recipe));
}

static bool
has_demould(const struct settings *settings, const struct recipe_settings *recipe)
{
	const struct material_settings *material = material_of(settings, recipe);

	return !isnan(recipe->demould_c) || (material && !isnan(material->demould_c));
}

static bool
has_balance(const struct settings *settings, const struct recipe_settings *recipe)
{
	return !isnan(recipe->sheet_length_m) && has_demould(settings, recipe);
}

static bool
has_limit(const struct settings *settings, const struct recipe_settings *recipe)
{
	const struct material_settings *material = material_of(settings, recipe);

	return material && !isnan(material->limit_c);
}

static bool
any_recipe(const struct settings *settings,
    bool (*has)(const struct settings *, const struct recipe_settings *))
{
	for (size_t i = 0; i < settings->recipe_count; i++)
		if (has(settings, &settings->recipes[i]))
			return true;
	return false;
}

static bool
any_bore(const struct settings *settings)
{
	for (size_t i = 0; i < settings->tool_count; i++)
		if (!isnan(settings->tools[i].bore_m))
			return true;
	return false;
}

/* --- limits ------------------------------------------------------------------------- */

const char *
notes_inside_lack(const struct settings *settings, int feature)
{
	bool balance =
	    feature == FEATURE_HEAT_BROUGHT_KWH || feature == FEATURE_HEAT_BALANCE;
	bool core = feature >= FEATURE_CORE_HEAT_END_C &&
	            feature <= FEATURE_SHEET_MEAN_FORM_START_BAND_DC;

	if ((core || balance) && !any_recipe(settings, has_inside))
		return "no recipe has 'thickness' and a 'material' with figures";
	if (balance && !any_recipe(settings, has_balance))
		return "no recipe has 'sheet_length', 'sheet_width' and 'demould'";
	if (feature == FEATURE_ABOVE_LIMIT_S && !any_recipe(settings, has_limit))
		return "no recipe has a 'material' with 'degrades_above'";
	if (feature >= FEATURE_REYNOLDS_FIRST &&
	    feature < FEATURE_REYNOLDS_FIRST + FEATURE_CIRCUITS_MAX &&
	    !any_bore(settings))
		return "no tool has 'water_bore'";
	return NULL;
}

/* --- recipes, materials and tools ----------------------------------------------------- */

#define NO_CORE "core_heat_end_c and what comes of it are absent"

enum { LACKS = 192 };

/* What its core cannot be computed without; "" when it has it all. */
static void
core_lacks(const struct settings *settings, const struct recipe_settings *recipe,
    char text[static LACKS])
{
	const struct material_settings *material = material_of(settings, recipe);
	bool thick = !isnan(recipe->thickness_m), figures = has_figures(material);

	snprintf(text, LACKS, "%s%s%s%s", thick ? "" : "'thickness'",
	    thick || figures ? "" : " and no ",
	    figures    ? ""
	    : material ? "figures of its material "
		       : "'material'",
	    figures || !material ? "" : material->name);
}

/* What the balance of its heat cannot. */
static void
balance_lacks(const struct settings *settings, const struct recipe_settings *recipe,
    char text[static LACKS])
{
	bool size = !isnan(recipe->sheet_length_m);
	bool demould = has_demould(settings, recipe);

	snprintf(text, LACKS, "%s%s%s", size ? "" : "'sheet_length' and 'sheet_width'",
	    size || demould ? "" : " and no ",
	    demould ? "" : "'demould', its own or its material's");
}

static void
tell_recipe(const struct notes *notes, const struct recipe_settings *recipe, bool water)
{
	char lacks[LACKS];

	if (!has_inside(notes->settings, recipe)) {
		core_lacks(notes->settings, recipe, lacks);
		note(notes,
		    "recipe %d has no %s: " NO_CORE
		    ", unless they are entered with the lot",
		    recipe->number, lacks);
	} else if (water && !has_balance(notes->settings, recipe)) {
		balance_lacks(notes->settings, recipe, lacks);
		note(notes,
		    "recipe %d has no %s: heat_brought_kwh and heat_balance are absent",
		    recipe->number, lacks);
	}
}

static void
tell_recipes(const struct notes *notes)
{
	const struct settings *settings = notes->settings;
	bool water = any_line_has(settings, ROLE(WATER_FLOW));

	if (!any_line_has(
		settings, ROLE(SURFACE_TOP) | ROLE(SURFACE_BOTTOM) | ROLE(OVEN_AIR)))
		return;
	if (settings->recipe_count == 0)
		note(notes,
		    "there is no [recipe] that tells thickness and material: " NO_CORE
		    ", unless they are entered with the lot");
	for (size_t i = 0; i < settings->recipe_count; i++)
		tell_recipe(notes, &settings->recipes[i], water);
}

static void
tell_bores(const struct notes *notes)
{
	const struct settings *settings = notes->settings;
	struct told told = {.count = 0};
	char more[MORE];

	if (!any_line_has(settings, ROLE(WATER_FLOW)))
		return;
	for (size_t i = 0; i < settings->tool_count; i++)
		if (isnan(settings->tools[i].bore_m))
			tell_of(&told, settings->tools[i].name);
	if (told.count > 0)
		note(notes, "tool %s%s %s no 'water_bore': reynolds_1 ... are absent",
		    told.first, more_text(&told, more),
		    told.count > 1 ? "have" : "has");
}

/* --- lines -------------------------------------------------------------------------- */

static void
tell_start(const struct notes *notes, uint32_t line)
{
	const struct settings *settings = notes->settings;

	if (has_channel(settings, line,
		ROLE(SURFACE_TOP) | ROLE(SURFACE_BOTTOM) | ROLE(OVEN_AIR), false) &&
	    !has_channel(settings, line, ROLE(STACK), false) &&
	    isnan(settings->lines[line].start_c))
		note(notes,
		    "line %s has no channel of role stack and no "
		    "'start_temperature': " NO_CORE
		    ", unless it is entered with the lot",
		    settings->lines[line].name);
}

static void
tell_water(const struct notes *notes, uint32_t line)
{
	const struct settings *settings = notes->settings;
	bool flow = has_channel(settings, line, ROLE(WATER_FLOW), false);
	bool supply = has_channel(settings, line, ROLE(WATER_SUPPLY), false);

	if (has_channel(settings, line, ROLE(WATER_RETURN), false) && !(flow && supply))
		note(notes,
		    "line %s has no channel of role %s%s%s: heat_removed_kwh, "
		    "heat_balance and water_resistance_1_k_per_kw ... are absent",
		    settings->lines[line].name, flow ? "" : "water_flow",
		    flow || supply ? "" : " or ", supply ? "" : "water_supply");
}

static void
tell_meter(const struct notes *notes, uint32_t line)
{
	const struct settings *settings = notes->settings;

	if (has_channel(settings, line, ROLE(ENERGY_METER), false) &&
	    !has_channel(settings, line, ROLE(ZONE_TOP) | ROLE(ZONE_BOTTOM), true))
		note(notes,
		    "line %s has an energy meter, but no zones with 'rated_kw': "
		    "meter_ratio is absent",
		    settings->lines[line].name);
}

void
notes_inside_tell(const struct notes *notes)
{
	for (uint32_t line = 0; line < notes->settings->line_count; line++) {
		tell_start(notes, line);
		tell_water(notes, line);
		tell_meter(notes, line);
	}
	tell_recipes(notes);
	tell_bores(notes);
}
