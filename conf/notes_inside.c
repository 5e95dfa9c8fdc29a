/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "conf/notes_inside.h"

#include <ctype.h>
#include <math.h>
#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>
#include <strings.h>

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

/* What sheets of plastics have, filled ones and the heat capacity in a melting peak among
 * them; foamed sheets do not.  Common practice, no source. */
static const struct usual {
	const char *setting, *unit;
	double low, high;
} usual_density = {"density_kg_per_m3", "kg/m3", 800, 2500},
  usual_capacity = {"heat_capacity_j_per_kgk", "J/(kg K)", 700, 30000},
  usual_conductivity = {"conductivity_w_per_mk", "W/(m K)", 0.08, 0.8};

static void
tell_unusual(const struct notes *notes, const struct material_settings *material,
    const struct usual *usual, const double *values, int count)
{
	for (int i = 0; i < count; i++) {
		if (values[i] >= usual->low && values[i] <= usual->high)
			continue;
		note(notes,
		    "material %s: '%s' is %g, and plastics have %g to %g %s: the core "
		    "comes out wrong if a digit slipped",
		    material->name, usual->setting, values[i], usual->low, usual->high,
		    usual->unit);
		return;
	}
}

static void
tell_materials(const struct notes *notes)
{
	const struct settings *settings = notes->settings;

	for (size_t i = 0; i < settings->material_count; i++) {
		const struct material_settings *material = &settings->materials[i];

		if (!has_figures(material))
			continue;
		tell_unusual(notes, material, &usual_density, &material->density, 1);
		tell_unusual(notes, material, &usual_capacity,
		    material->heat_capacity.value, material->heat_capacity.count);
		tell_unusual(notes, material, &usual_conductivity,
		    material->conductivity.value, material->conductivity.count);
	}
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

static void
tell_replaced(const struct notes *notes)
{
	const struct settings *settings = notes->settings;

	for (size_t i = 0; i < settings->material_count; i++)
		if (settings->materials[i].replaces)
			note(notes,
			    "material %s is that of the configuration: the one in '%s' "
			    "is not used",
			    settings->materials[i].name, settings->materials_path);
}

/* Words in names of sheets that melt (PE, PP and their kind, PA, POM); common practice, no
 * source. */
static const char *const melting_words[] = {"pe", "hdpe", "mdpe", "ldpe", "lldpe",
    "hmwpe", "uhmwpe", "polyethylene", "pp", "polypropylene", "tpo", "tpv", "pa",
    "polyamide", "nylon", "pom", "pvdf"};
/* Solid sheets that do not melt are all heavier, kg/m3; common practice, no source. */
#define LIGHT_KG_M3 1000.0

/* Whether the letters that a part of a name begins with, up to its figures, are the word. */
static bool
is_word(const char *part, size_t length, const char *word)
{
	while (length > 0 && isdigit((unsigned char)part[length - 1]))
		length--;
	return length == strlen(word) && strncasecmp(part, word, length) == 0;
}

static bool
is_named_as_melting(const char *name)
{
	while (*name != '\0') {
		size_t length = 0;

		while (isalnum((unsigned char)name[length]))
			length++;
		for (size_t i = 0; i < sizeof melting_words / sizeof melting_words[0];
		     i++)
			if (is_word(name, length, melting_words[i]))
				return true;
		name += length > 0 ? length : 1;
	}
	return false;
}

/* One word decides whether the heat of melting is counted. */
static void
tell_structures(const struct notes *notes)
{
	for (size_t i = 0; i < notes->settings->material_count; i++) {
		const struct material_settings *material =
		    &notes->settings->materials[i];
		bool named = is_named_as_melting(material->name);

		if (!has_figures(material) ||
		    material->structure != STRUCTURE_AMORPHOUS ||
		    !(named || material->density < LIGHT_KG_M3))
			continue;
		note(notes,
		    "material %s is amorphous, but %s: if it melts (PE, PP, TPO, PA), "
		    "write structure = semicrystalline, or its core is wrong by tens "
		    "of degrees",
		    material->name,
		    named ? "its name is that of one that melts"
			  : "so light are those that melt, or foams");
	}
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
	tell_materials(notes);
	tell_bores(notes);
	tell_structures(notes);
	tell_replaced(notes);
}
