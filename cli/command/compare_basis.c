/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/compare_basis.h"

#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "cli/command/calibrate_state.h"
#include "cli/command/filed_setups.h"
#include "cli/population/sensors.h"
#include "daemon/base/calendar.h"
#include "daemon/base/error.h"
#include "daemon/base/text.h"

enum { DATE = sizeof "2026-03-02" };

struct compare_basis {
	struct compare_basis_asked asked;
	struct filed_setups *filed;
	struct ledger_setup *setups; /* of the ledger, the oldest first */
	size_t setup_count;
	struct ledger_definition *definitions;
	size_t definition_count;
	struct calibrate_change *calibrated; /* by channel of the session's set-up */
	bool failed;
};

void
compare_setups_add(struct compare_setups *setups, int64_t setup)
{
	for (size_t i = 0; i < setups->count; i++)
		if (setups->list[i] == setup)
			return;
	if (setups->count == COMPARE_SETUPS)
		setups->more = true;
	else
		setups->list[setups->count++] = setup;
}

/* --- what there is ---------------------------------------------------------------------- */

static int
take_setup(void *arg, const struct ledger_setup *setup)
{
	struct compare_basis *basis = arg;
	struct ledger_setup *setups =
	    reallocarray(basis->setups, basis->setup_count + 1, sizeof *setups);

	basis->failed = !setups;
	if (basis->failed)
		return 1;
	basis->setups = setups;
	setups[basis->setup_count++] = *setup;
	return 0;
}

static int
take_definition(void *arg, const struct ledger_definition *definition)
{
	struct compare_basis *basis = arg;
	struct ledger_definition *definitions = reallocarray(
	    basis->definitions, basis->definition_count + 1, sizeof *definitions);

	basis->failed = !definitions;
	if (basis->failed)
		return 1;
	basis->definitions = definitions;
	definitions[basis->definition_count++] = *definition;
	return 0;
}

static int
fill(struct compare_basis *basis, struct error *error)
{
	const struct compare_basis_asked *asked = &basis->asked;
	const struct session *session = asked->session;
	const struct calibrate_span span = {.from = asked->reference->to,
	    .known = asked->reference->frozen,
	    .to = asked->last};
	int code = ledger_read_setups(session->ledger, take_setup, basis, error);

	if (code == 0)
		code = ledger_read_definitions(
		    session->ledger, take_definition, basis, error);
	if (code == 0 && basis->failed)
		code = error_set(error, ERROR_MEMORY, "out of memory");
	if (code == 0)
		code = calibrate_changes(session->settings, asked->line,
		    session->ledger, &span, basis->calibrated, error);
	return code;
}

struct compare_basis *
compare_basis_new(const struct compare_basis_asked *asked, struct error *error)
{
	struct compare_basis *basis = calloc(1, sizeof *basis);

	if (basis) {
		basis->asked = *asked;
		basis->filed = filed_setups_new(asked->session->ledger);
		basis->calibrated = calloc(asked->session->settings->channel_count + 1,
		    sizeof *basis->calibrated);
	}
	if (!basis || !basis->filed || !basis->calibrated)
		error_set(error, ERROR_MEMORY, "out of memory");
	else if (fill(basis, error) == 0)
		return basis;
	compare_basis_free(basis);
	return NULL;
}

void
compare_basis_free(struct compare_basis *basis)
{
	if (!basis)
		return;
	filed_setups_free(basis->filed);
	free(basis->setups);
	free(basis->definitions);
	free(basis->calibrated);
	free(basis);
}

/* "2026-03-02", local. */
static void
date_of(struct wall at, char date[static DATE])
{
	char text[CALENDAR_TEXT];

	calendar_local_text(at, text);
	text_copy(date, DATE, text);
}

/* --- definitions ------------------------------------------------------------------------- */

/* Which holds under a set-up; NULL: none is known. */
static const struct ledger_definition *
definition_of(const struct compare_basis *basis, int feature, int64_t setup)
{
	const struct ledger_definition *newest = NULL;

	for (size_t i = 0; i < basis->definition_count; i++) {
		const struct ledger_definition *one = &basis->definitions[i];
		if (one->feature == feature && one->setup <= setup &&
		    (!newest || one->version > newest->version))
			newest = one;
	}
	return newest;
}

static bool
tell_definition(
    const struct compare_basis *basis, int feature, char reason[static COMPARE_REASON])
{
	const struct compare_setups *setups = basis->asked.setups;
	const struct ledger_definition *then =
	    definition_of(basis, feature, basis->asked.reference->setup);

	for (size_t i = 0; then && i < setups->count; i++) {
		const struct ledger_definition *now =
		    definition_of(basis, feature, setups->list[i]);
		char date[DATE];
		if (!now || now->version == then->version)
			continue;
		date_of(now->since, date);
		snprintf(reason, COMPARE_REASON,
		    "its definition is another since %s: version %d then, version %d "
		    "now",
		    date, then->version, now->version);
		return true;
	}
	return false;
}

/* --- sensors ------------------------------------------------------------------------------- */

/* The line of a set-up on file; line -1: it has none of that name.  settings NULL with the
 * reason in `trouble`. */
static struct sensors_of
sensors_of(struct compare_basis *basis, int64_t setup, struct error *trouble)
{
	const struct settings *settings =
	    filed_setups_get(basis->filed, setup, trouble);
	const struct kind *kind = &basis->asked.reference->kind;

	return (struct sensors_of){settings,
	    settings ? settings_find_line(settings, kind->line) : -1, kind->side};
}

static bool
is_same(const struct sensors_of *then, const struct sensors_of *now, int feature,
    char words[static SENSORS_WORDS])
{
	if (now->line >= 0)
		return sensors_same(then, now, feature, words);
	snprintf(words, SENSORS_WORDS, "the set-up had no such line");
	return false;
}

/* From when on it was as it is in `setup`; ns 0: cannot be told. */
static struct wall
since(struct compare_basis *basis, const struct sensors_of *then, int64_t setup,
    int feature)
{
	struct wall at = {0};

	for (size_t i = 0; i < basis->setup_count && basis->setups[i].id <= setup;
	     i++) {
		const struct ledger_setup *one = &basis->setups[i];
		char words[SENSORS_WORDS];
		struct error trouble;
		if (one->id <= basis->asked.reference->setup)
			continue;
		const struct sensors_of now = sensors_of(basis, one->id, &trouble);
		if (!now.settings || is_same(then, &now, feature, words))
			at.ns = 0;
		else if (at.ns == 0)
			at = one->filed;
	}
	return at;
}

static void
tell_unreadable(const struct error *trouble, char reason[static COMPARE_REASON])
{
	snprintf(reason, COMPARE_REASON,
	    "what it was measured by cannot be told: %.400s", trouble->text);
}

static bool
tell_sensors(
    struct compare_basis *basis, int feature, char reason[static COMPARE_REASON])
{
	const struct compare_setups *setups = basis->asked.setups;
	struct error trouble;
	const struct sensors_of then =
	    sensors_of(basis, basis->asked.reference->setup, &trouble);

	if (!then.settings || then.line < 0) {
		if (then.settings)
			error_set(&trouble, ERROR_NOT_FOUND, "the set-up has no line");
		tell_unreadable(&trouble, reason);
		return true;
	}
	for (size_t i = 0; i < setups->count; i++) {
		const struct sensors_of now =
		    sensors_of(basis, setups->list[i], &trouble);
		char words[SENSORS_WORDS], date[DATE];
		if (!now.settings) {
			tell_unreadable(&trouble, reason);
			return true;
		}
		if (is_same(&then, &now, feature, words))
			continue;
		struct wall at = since(basis, &then, setups->list[i], feature);
		date_of(at, date);
		snprintf(reason, COMPARE_REASON, "%s%s%s", words,
		    at.ns != 0 ? ", since " : "", at.ns != 0 ? date : "");
		return true;
	}
	return false;
}

/* --- calibrations ---------------------------------------------------------------------------- */

static bool
tell_calibrations(
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
	date_of(change->at, date);
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

static bool
tell_properties(
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
		date_of(at, date);
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

/* --- all ------------------------------------------------------------------------------------------ */

int
compare_basis_reason(struct compare_basis *basis, int feature,
    char reason[static COMPARE_REASON], struct error *error)
{
	reason[0] = '\0';
	if (basis->asked.reference->setup == 0) {
		snprintf(reason, COMPARE_REASON,
		    "the run does not say under which set-up it was made: freeze a "
		    "newer one");
		return 0;
	}
	if (basis->asked.setups->more)
		return error_set(error, ERROR_MEMORY,
		    "the shots were made under more than %d set-ups: say a shorter "
		    "time",
		    COMPARE_SETUPS);
	if (!tell_definition(basis, feature, reason) &&
	    !tell_sensors(basis, feature, reason) &&
	    !tell_calibrations(basis, feature, reason))
		tell_properties(basis, feature, reason);
	return 0;
}
