/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Calibrations and properties of materials that are not what they were. */
#include "cli/command/compare_basis_inside.h"

#include <stdio.h>
#include <string.h>

#include "cli/population/sensors.h"
#include "daemon/base/error.h"
#include "daemon/base/text.h"

/* --- calibrations ---------------------------------------------------------------------------- */

bool
compare_basis_calibrations(
    const struct compare_basis *basis, int feature, char reason[static COMPARE_REASON])
{
	const struct settings *settings = basis->asked.session->settings;
	size_t more = 0, first = SIZE_MAX;
	char name[CALIBRATE_NAME], date[DATE], rest[48] = "";

	for (size_t i = 0; i < settings->channel_count; i++) {
		if (!basis->calibrated[i].changed ||
		    !sensors_rest_on(feature, &settings->channels[i]))
			continue;
		more += first != SIZE_MAX;
		first = first != SIZE_MAX ? first : i;
	}
	if (first == SIZE_MAX)
		return false;
	const struct calibrate_change *change = &basis->calibrated[first];
	enum dimension dimension = settings->channels[first].dimension;
	enum unit unit = unit_shown(dimension == DIMENSION_TEMPERATURE
					? DIMENSION_TEMPERATURE_DIFFERENCE
					: dimension,
	    settings->temperature);
	if (dimension == DIMENSION_TEMPERATURE)
		dimension = DIMENSION_TEMPERATURE_DIFFERENCE;
	calibrate_name(settings, first, name);
	compare_basis_date(change->at, date);
	if (more > 0)
		snprintf(rest, sizeof rest, "; and %zu sensor%s more", more,
		    more == 1 ? "" : "s");
	snprintf(reason, COMPARE_REASON,
	    "%s was calibrated on %s: %.3g %s are taken off its readings now, %.3g "
	    "then%s",
	    name, date, unit_from_si(unit, dimension, change->after), unit_text(unit),
	    unit_from_si(unit, dimension, change->before), rest);
	return true;
}

/* --- properties -------------------------------------------------------------------------------- */

/* That a set-up has for the recipe's material, as shots tell them; "" for none. */
static void
properties_of(const struct settings *settings, const char *recipe_text,
    char properties[static BASIS_TEXT])
{
	int64_t number = -1;
	const struct recipe_settings *recipe = NULL;
	const struct material_settings *material = NULL;

	properties[0] = '\0';
	if (text_integer(recipe_text, &number))
		recipe = settings_recipe(settings, (int)number);
	if (recipe)
		material = settings_material(settings, recipe->material);
	if (material)
		snprintf(properties, BASIS_TEXT, "%s%s%s %s", material->name,
		    *material->version ? " " : "", material->version, material->hash);
}

/* When the recipe's properties became what they are under `setup`; ns 0: they did not. */
static struct wall
properties_since(struct compare_basis *basis, const char *then)
{
	const char *recipe = basis->asked.reference->kind.recipe;
	struct wall at = {0};

	for (size_t i = 0; i < basis->setup_count; i++) {
		const struct ledger_setup *one = &basis->setups[i];
		char properties[BASIS_TEXT];
		struct error trouble;
		if (one->id <= basis->asked.reference->setup)
			continue;
		const struct settings *settings =
		    filed_setups_get(basis->filed, one->id, &trouble);
		if (!settings)
			continue;
		properties_of(settings, recipe, properties);
		if (strcmp(properties, then) == 0)
			at.ns = 0;
		else if (at.ns == 0)
			at = one->filed;
	}
	return at;
}

bool
compare_basis_properties(
    struct compare_basis *basis, int feature, char reason[static COMPARE_REASON])
{
	const struct found_basis *found = basis->asked.found;
	char then[BASIS_TEXT], date[DATE];
	struct error trouble;

	if (!sensors_computed(feature))
		return false;
	text_copy(then, sizeof then, found->properties_then);
	if (!*then) { /* its shots are not on file any more */
		const struct settings *settings = filed_setups_get(
		    basis->filed, basis->asked.reference->setup, &trouble);
		if (settings)
			properties_of(
			    settings, basis->asked.reference->kind.recipe, then);
	}
	if (strcmp(then, found->properties_now) != 0) {
		struct wall at = properties_since(basis, then);
		compare_basis_date(at, date);
		snprintf(reason, COMPARE_REASON,
		    "it is computed with the properties %.150s now, and was with "
		    "%.150s%s%s",
		    *found->properties_now ? found->properties_now : "of no material",
		    *then ? then : "those of no material",
		    at.ns != 0 ? "; the set-up has others since " : "",
		    at.ns != 0 ? date : "");
		return true;
	}
	if (found->not_compared == 0)
		return false;
	snprintf(reason, COMPARE_REASON,
	    "it is computed with a thickness of %.100s now, and was with %.100s, of "
	    "the same lot",
	    found->thickness_now, found->thickness_then);
	return true;
}
