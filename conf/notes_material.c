/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "conf/notes_material.h"

#include <ctype.h>
#include <math.h>
#include <stdbool.h>
#include <string.h>
#include <strings.h>

#include "conf/note.h"
#include "conf/settings.h"

/* Whether conduction can be computed with it. */
static bool
has_figures(const struct material_settings *material)
{
	return !isnan(material->density);
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
		    !(named || (material->density >= usual_density.low &&
				   material->density < LIGHT_KG_M3)))
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

void
notes_material_tell(const struct notes *notes)
{
	tell_materials(notes);
	tell_structures(notes);
	tell_replaced(notes);
}
