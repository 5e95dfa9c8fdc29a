/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/reference_show.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "cli/command/calibrate_state.h"
#include "cli/command/filed_setups.h"
#include "cli/command/reference_known.h"
#include "cli/population/population.h"
#include "cli/population/sensors.h"
#include "cli/wording/shown.h"
#include "daemon/base/error.h"
#include "daemon/base/text.h"

#define COUNT(array) (sizeof(array) / sizeof((array)[0]))

struct moments {
	int64_t n;
	double mean, squares;
};

struct showing {
	const struct session *session;
	struct page *page;
	struct reference_known known;
	struct moments features[FEATURE_COUNT];
	int version[FEATURE_COUNT];  /* of the definition; 0: not known */
	char hash[17];               /* of the set-up */
	const struct settings *then; /* the set-up; NULL: it cannot be read */
	int line;                    /* in it; -1 */
	struct error trouble;        /* why then */
};

/* --- reading ------------------------------------------------------------------------------ */

/* Welford (Technometrics 4:419-420, 1962). */
static int
take_shot(void *arg, const struct ledger_reference_shot *shot)
{
	struct showing *showing = arg;

	for (int id = 0; id < FEATURE_COUNT; id++) {
		struct moments *moments = &showing->features[id];
		if (isnan(shot->value[id]))
			continue;
		double off = shot->value[id] - moments->mean;
		moments->mean += off / (double)++moments->n;
		moments->squares += off * (shot->value[id] - moments->mean);
	}
	return 0;
}

static int
take_definition(void *arg, const struct ledger_definition *definition)
{
	struct showing *showing = arg;
	int *version = &showing->version[definition->feature];

	if (definition->setup <= showing->known.setup && definition->version > *version)
		*version = definition->version;
	return 0;
}

static int
read_all(struct showing *showing, struct filed_setups *filed, struct error *error)
{
	struct ledger_read *ledger = showing->session->ledger;
	const struct reference_known *known = &showing->known;
	int code =
	    ledger_read_reference_shots(ledger, known->id, take_shot, showing, error);

	if (code == 0)
		code = ledger_read_definitions(ledger, take_definition, showing, error);
	if (code != 0)
		return code;
	showing->line = -1;
	if (known->setup == 0) {
		error_set(&showing->trouble, ERROR_NOT_FOUND,
		    "it does not say under which it was made");
		return 0;
	}
	code = ledger_read_setup_hash(ledger, known->setup, showing->hash, error);
	showing->then = filed_setups_get(filed, known->setup, &showing->trouble);
	if (showing->then)
		showing->line = settings_find_line(showing->then, known->kind.line);
	return code;
}

/* --- the page --------------------------------------------------------------------------------- */

static void
put_features(const struct showing *showing)
{
	static const struct column columns[] = {
	    {"feature", "feature", 0},
	    {"version", "definition", 0},
	    {"unit", NULL, 0},
	    {NULL, "unit", 0},
	    {"n", "n", 0},
	    {"mean", "mean", 0},
	    {"sd", "s", 0},
	};
	const struct settings *settings = showing->session->settings;
	struct page *page = showing->page;

	page_table(page, "features", "Features", columns, COUNT(columns));
	for (int id = 0; id < FEATURE_COUNT; id++) {
		const struct moments *moments = &showing->features[id];
		if (moments->n == 0)
			continue;
		double sd = moments->n > 1
		                ? sqrt(moments->squares / (double)(moments->n - 1))
		                : NAN;
		const struct cell cells[] = {
		    cell_words(feature_get(id)->name),
		    showing->version[id] > 0 ? cell_count(showing->version[id])
					     : cell_absent(NULL),
		    cell_words(feature_unit_text(id)),
		    cell_words(shown_unit(settings, id)),
		    cell_count(moments->n),
		    shown_value(settings, id, moments->mean),
		    shown_deviation(settings, id, sd),
		};
		page_row(page, cells);
	}
	page_table_end(page);
}

/* That the set-up of then has for the recipe. */
static void
put_properties(const struct showing *showing)
{
	const struct settings *then = showing->then;
	int recipe_number = population_recipe(showing->known.kind.recipe);
	const struct recipe_settings *recipe = settings_recipe(then, recipe_number);
	const struct material_settings *material =
	    recipe ? settings_material(then, recipe->material) : NULL;
	char words[3 * SETTINGS_NAME];

	words[0] = '\0';
	if (material)
		snprintf(words, sizeof words, "%s%s%s %s", material->name,
		    *material->version ? " " : "", material->version, material->hash);
	page_field(showing->page, "properties", "its material", shown_name(words));
}

static void
put_head(const struct showing *showing)
{
	const struct reference_known *known = &showing->known;
	const struct kind *kind = &known->kind;
	struct page *page = showing->page;

	page_field(page, "name", "reference run", cell_words(known->name));
	page_field(page, "line", "line", cell_words(kind->line));
	page_field(page, "side", *kind->side ? "side" : NULL, shown_name(kind->side));
	page_field(page, "recipe", "recipe", shown_name(kind->recipe));
	page_field(page, "tool", "tool", shown_name(kind->tool));
	page_field(page, "shots", "shots", cell_count(known->shots));
	page_field(page, "from", "from", cell_time(known->from));
	page_field(page, "to", "to", cell_time(known->to));
	page_field(page, "frozen", "frozen", cell_time(known->frozen));
	page_field(page, "withdrawn", known->withdrawn.ns != 0 ? "withdrawn" : NULL,
	    cell_time(known->withdrawn));
	page_field(page, "setup", "set-up", cell_count(known->setup));
	page_field(page, "setup_hash", "its hash", shown_name(showing->hash));
	page_field(page, "note", "note", shown_name(known->note));
	if (showing->then)
		put_properties(showing);
	else
		page_note(page, "trouble", TONE_BAD,
		    "the set-up of then cannot be told, so nothing can be compared "
		    "with it: %s",
		    showing->trouble.text);
}

static bool
is_used(const struct showing *showing, const struct channel_settings *channel)
{
	const struct settings *then = showing->then;

	if ((int)then->devices[channel->device].line != showing->line ||
	    (channel->side >= 0 &&
		strcmp(then->lines[showing->line].sides[channel->side],
		    showing->known.kind.side) != 0))
		return false;
	for (int id = 0; id < FEATURE_COUNT; id++)
		if (showing->features[id].n > 0 && sensors_rest_on(id, channel))
			return true;
	return false;
}

static void
put_sensor(const struct showing *showing, const struct channel_settings *channel,
    double correction)
{
	char words[SENSORS_WORDS];

	sensors_channel_words(showing->then, channel, words);
	const struct cell cells[] = {
	    cell_words(role_text(channel->role)),
	    channel->position > 0 ? cell_count(channel->position) : cell_absent(NULL),
	    cell_words(words),
	    calibrate_is_sensor(channel)
		? shown_channel_deviation(
		      showing->session->settings, channel->dimension, correction)
		: cell_absent(NULL),
	};
	page_row(showing->page, cells);
}

/* What the values were read by, and what was taken off. */
static int
put_sensors(const struct showing *showing, struct error *error)
{
	static const struct column columns[] = {
	    {"role", "sensor", COLUMN_EACH},
	    {"position", "position", COLUMN_EACH},
	    {"reading", "read from", 0},
	    {"correction", "taken off", 0},
	};
	const struct settings *then = showing->then;
	const struct reference_known *known = &showing->known;
	const struct calibrate_span span = {
	    .from = known->to, .known = known->frozen, .to = known->to};
	struct calibrate_change *changes =
	    calloc(then->channel_count + 1, sizeof *changes);

	if (!changes)
		return error_set(error, ERROR_MEMORY, "out of memory");
	int code = calibrate_changes(
	    then, showing->line, showing->session->ledger, &span, changes, error);
	page_table(showing->page, "sensors", "Sensors", columns, COUNT(columns));
	for (size_t i = 0; i < then->channel_count && code == 0; i++)
		if (is_used(showing, &then->channels[i]))
			put_sensor(showing, &then->channels[i], changes[i].before);
	page_table_end(showing->page);
	free(changes);
	return code;
}

static enum command_exit
show(struct showing *showing, const struct call *call, struct filed_setups *filed)
{
	struct error error;
	int code = read_all(showing, filed, &error);

	if (code != 0)
		return command_cannot(call, &error);
	showing->page = command_page(call);
	if (!showing->page)
		return COMMAND_CANNOT;
	put_head(showing);
	put_features(showing);
	if (showing->then && showing->line >= 0)
		code = put_sensors(showing, &error);
	return command_end_page(call, showing->page,
	    code != 0 ? command_cannot(call, &error) : COMMAND_DONE);
}

enum command_exit
reference_show(const struct call *call, const struct session *session)
{
	struct showing *showing = calloc(1, sizeof *showing);
	struct filed_setups *filed = filed_setups_new(session->ledger);
	enum command_exit code;
	struct error error;

	if (!showing || !filed) {
		error_set(&error, ERROR_MEMORY, "out of memory");
		code = command_cannot(call, &error);
	} else if (reference_named(&showing->known, session->ledger, call->argument[1],
		       &error) != 0) {
		code = command_cannot(call, &error);
	} else if (showing->known.id == 0) {
		fprintf(call->err, "evensoak: there is no reference run '%s'\n",
		    call->argument[1]);
		code = COMMAND_NO;
	} else {
		showing->session = session;
		code = show(showing, call, filed);
	}
	filed_setups_free(filed);
	free(showing);
	return code;
}
