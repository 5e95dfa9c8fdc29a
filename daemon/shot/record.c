/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/shot/record.h"

#include <math.h>

#include "daemon/shot/outcome.h"

#define EDGE_POLLS 4.0   /* the controller silent this many polls ... */
#define EDGE_LEAST_S 5.0 /* ... and this long: an edge may have gone by unseen */
/* Where no counter tells of a whole index that went by: two polls, and no ring turns in
 * less (common practice, no source). */
#define INDEX_POLLS 2.0
#define INDEX_LEAST_S 3.0

double
record_edge_limit_s(const struct settings *settings, const struct roles *roles)
{
	static const enum role movers[] = {
	    ROLE_ROTATING, ROLE_OVEN_IN, ROLE_CYCLE_COUNT};
	bool counted = roles->bit[ROLE_CYCLE_COUNT] != ROLES_NONE;

	for (size_t i = 0; i < sizeof(movers) / sizeof(movers[0]); i++) {
		int32_t channel = roles->bit[movers[i]];

		if (channel == ROLES_NONE)
			continue;
		double period_s =
		    settings->devices[settings->channels[channel].device].period_s;
		if (movers[i] == ROLE_ROTATING && !counted)
			return fmax(INDEX_LEAST_S, INDEX_POLLS * period_s);
		return fmax(EDGE_LEAST_S, EDGE_POLLS * period_s);
	}
	return EDGE_LEAST_S;
}

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
	    .edge_limit_s = record_edge_limit_s(source->settings, source->roles),
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
