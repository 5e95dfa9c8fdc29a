/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/shot/record.h"

#include <math.h>

#include "daemon/shot/outcome.h"

/* The machine's timer: the recipe's, else the line's. */
static double
heat_max_s(const struct feature_source *source)
{
	const struct recipe_settings *recipe =
	    settings_recipe(source->settings, source->sheet->recipe);

	if (recipe != NULL && !isnan(recipe->heat_max_s))
		return recipe->heat_max_s;
	return source->line->heat_max_s;
}

static struct wall
label(const struct edge *edge)
{
	return edge->known ? edge->wall : (struct wall){0};
}

void
record_make(const struct feature_source *source, struct shot *shot)
{
	struct sheet sheet = *source->sheet;
	struct feature_source judged = *source;
	struct outcome_rules rules = {.line = source->line,
	    .heat_max_s = heat_max_s(source),
	    .edge_limit_s = roles_edge_limit_s(source->settings, source->roles),
	    .sag_eye = source->roles->bit[ROLE_SAG_EYE] != ROLES_NONE};

	judged.sheet = &sheet;
	shot->loaded_at = label(&sheet.loaded);
	shot->heat_start_at = label(sheet_heat_start(&sheet));
	shot->heat_end_at = label(sheet_heat_end(&sheet));
	shot->form_start_at = label(&sheet.form_start);
	shot->form_end_at = label(&sheet.form_end);
	shot->closed_at = sheet.left_wall;
	shot->recipe = sheet.recipe;
	shot->cycle_count = sheet.cycle_count;
	shot->set_points = sheet.set_points;
	shot->uncertainty_s = sheet_uncertainty_s(&sheet);
	shot->outcome = outcome_of(&rules, &sheet, shot->reason);
	features_compute(&judged, shot);
	shot->flags = sheet.flags;
}
