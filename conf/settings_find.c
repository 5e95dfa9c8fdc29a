/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Looking up what there is. */
#include "conf/settings.h"

#include <string.h>

int
settings_find_line(const struct settings *settings, const char *name)
{
	for (size_t i = 0; i < settings->line_count; i++)
		if (strcmp(settings->lines[i].name, name) == 0)
			return (int)i;
	return -1;
}

int
settings_line_family(const struct line_settings *line, int feature, int *first)
{
	switch (feature_family(feature, first)) {
	case FAMILY_SURFACES_TOP:
		return line->surfaces_top;
	case FAMILY_SURFACES_BOTTOM:
		return line->surfaces_bottom;
	case FAMILY_TOOLS:
		return line->tools < FEATURE_CIRCUITS_MAX ? line->tools
		                                          : FEATURE_CIRCUITS_MAX;
	case FAMILY_CIRCUITS:
		return line->circuits;
	case FAMILY_NONE:
		break;
	}
	return 1;
}

const struct material_settings *
settings_material(const struct settings *settings, const char *name)
{
	for (size_t i = 0; i < settings->material_count; i++)
		if (strcmp(settings->materials[i].name, name) == 0)
			return &settings->materials[i];
	return NULL;
}

const struct tool_settings *
settings_tool(const struct settings *settings, const char *name)
{
	for (size_t i = 0; i < settings->tool_count; i++)
		if (strcmp(settings->tools[i].name, name) == 0)
			return &settings->tools[i];
	return NULL;
}

const struct recipe_settings *
settings_recipe(const struct settings *settings, int number)
{
	for (size_t i = 0; i < settings->recipe_count; i++)
		if (settings->recipes[i].number == number)
			return settings->recipes + i;
	return NULL;
}

const struct limit_settings *
settings_limit(
    const struct settings *settings, int feature, int recipe, const char *tool)
{
	const struct limit_settings *best = NULL;
	int best_rank = -1;

	for (size_t i = 0; i < settings->limit_count; i++) {
		const struct limit_settings *limit = settings->limits + i;
		bool of_recipe = limit->recipe >= 0, of_tool = *limit->tool != '\0';
		int rank = 2 * of_recipe + of_tool;

		if (limit->feature != feature || rank <= best_rank ||
		    (of_recipe && limit->recipe != recipe) ||
		    (of_tool && strcmp(limit->tool, tool) != 0))
			continue;
		best = limit;
		best_rank = rank;
	}
	return best;
}
