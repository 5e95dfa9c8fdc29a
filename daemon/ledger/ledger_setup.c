/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/ledger/ledger.h"

#include <stdlib.h>
#include <string.h>

#include "daemon/base/error.h"
#include "daemon/base/text.h"
#include "daemon/ledger/ledger_inside.h"

enum { SQL_ROOM = 16384 };

/* The columns of shot that every shot has, in the order of ledger_put_shot. */
static const char fixed_columns[] =
    "change, setup, line, shot_no, filed_at, loaded_at, heat_start_at, heat_end_at,"
    " form_start_at, form_end_at, closed_at, outcome, flags, reason, recipe_read,"
    " recipe, tool, lot, material, cycle_count, uncertainty_s, side, set_points,"
    " properties";
enum { FIXED_COLUMNS = 24 };

void
filed_setup_release(struct filed_setup *setup)
{
	sqlite3_finalize(setup->put_shot);
	free(setup->lines);
	free(setup->channels);
	free(setup->flows);
	*setup = (struct filed_setup){0};
}

static int
put_recipes(struct ledger *ledger, const struct settings *settings, int64_t setup,
    struct error *error)
{
	for (size_t i = 0; i < settings->recipe_count; i++) {
		const struct recipe_settings *recipe = &settings->recipes[i];
		struct binding binding = ledger_bind(ledger, STATEMENT_PUT_RECIPE);
		bind_integer(&binding, setup);
		bind_integer(&binding, recipe->number);
		bind_label(&binding, recipe->name);
		bind_label(&binding, recipe->material);
		int code = ledger_run(ledger, &binding, error);
		if (code != 0)
			return code;
	}
	return 0;
}

static int
put_text(struct ledger *ledger, const struct settings *settings, struct wall at,
    int64_t *id, struct error *error)
{
	struct binding newest = ledger_bind(ledger, STATEMENT_NEWEST_SETUP);

	bind_text(&newest, settings->hash);
	bind_text(&newest, settings->text);
	bind_text(&newest, EVENSOAK_VERSION);
	int code = ledger_integer(ledger, &newest, id, error);
	if (code != 0 || *id != 0)
		return code;

	struct binding binding = ledger_bind(ledger, STATEMENT_PUT_SETUP);
	bind_integer(&binding, at.ns);
	bind_text(&binding, EVENSOAK_VERSION);
	bind_text(&binding, settings->site);
	bind_text(&binding, settings->path);
	bind_text(&binding, settings->hash);
	bind_text(&binding, settings->text);
	code = ledger_run(ledger, &binding, error);
	if (code != 0)
		return code;
	*id = sqlite3_last_insert_rowid(ledger->db);
	return put_recipes(ledger, settings, *id, error);
}

static int
put_lines(struct ledger *ledger, const struct settings *settings,
    struct filed_setup *setup, struct error *error)
{
	setup->lines = calloc(settings->line_count + 1, sizeof *setup->lines);
	if (setup->lines == NULL)
		return error_set(error, ERROR_MEMORY, "out of memory");
	for (size_t i = 0; i < settings->line_count; i++) {
		const char *name = settings->lines[i].name;
		struct binding binding = ledger_bind(ledger, STATEMENT_PUT_LINE);
		bind_text(&binding, name);
		int code = ledger_run(ledger, &binding, error);
		if (code == 0)
			code = ledger_line_id(ledger, name, &setup->lines[i], error);
		if (code != 0)
			return code;
	}
	return 0;
}

/* The station whose channel it is; "" for one of no oven, or of the only one. */
static const char *
oven_of(const struct line_settings *line, const struct channel_settings *channel)
{
	int oven = 0;

	if (line->oven_count < 2 || channel->role < ROLE_SURFACE_TOP ||
	    channel->role > ROLE_OVEN_AIR)
		return "";
	for (int i = 0; i < line->station_count; i++)
		if (line->stations[i].kind == STATION_OVEN && oven++ == channel->oven)
			return line->stations[i].name;
	return "";
}

static void
bind_channel(struct binding *binding, const struct settings *settings, int64_t line_id,
    const struct channel_settings *channel)
{
	const struct device_settings *device = &settings->devices[channel->device];
	const struct line_settings *line = &settings->lines[device->line];

	bind_integer(binding, line_id);
	bind_text(binding, device->name);
	bind_text(binding, channel->name);
	bind_text(binding, role_text(channel->role));
	bind_integer(binding, channel->position);
	bind_text(binding, oven_of(line, channel));
	bind_text(binding, ledger_side(line, channel->side));
	bind_text(binding, unit_si_text(channel->dimension));
}

static int
put_channels(struct ledger *ledger, const struct settings *settings,
    struct filed_setup *setup, struct error *error)
{
	setup->channel_count = settings->channel_count;
	setup->channels = calloc(settings->channel_count + 1, sizeof *setup->channels);
	setup->flows = calloc(settings->channel_count + 1, sizeof *setup->flows);
	if (setup->channels == NULL || setup->flows == NULL)
		return error_set(error, ERROR_MEMORY, "out of memory");
	for (size_t i = 0; i < settings->channel_count; i++) {
		const struct channel_settings *channel = &settings->channels[i];
		int64_t line = setup->lines[settings->devices[channel->device].line];
		setup->flows[i] = channel->dimension == DIMENSION_FLOW;
		struct binding put = ledger_bind(ledger, STATEMENT_PUT_CHANNEL);
		bind_channel(&put, settings, line, channel);
		struct binding get = ledger_bind(ledger, STATEMENT_CHANNEL_ID);
		bind_channel(&get, settings, line, channel);
		int code = ledger_run(ledger, &put, error);
		if (code == 0)
			code = ledger_integer(ledger, &get, &setup->channels[i], error);
		if (code != 0)
			return code;
	}
	return 0;
}

/* Whether some line of these settings can have the feature. */
static bool
has_feature(const struct settings *settings, int id)
{
	for (size_t i = 0; i < settings->line_count; i++) {
		int first;
		int count = settings_line_family(&settings->lines[i], id, &first);

		if (id < first + count)
			return true;
	}
	return false;
}

static void
list_features(const struct settings *settings, struct filed_setup *setup)
{
	setup->feature_count = 0;
	for (int id = 0; id < FEATURE_COUNT; id++)
		if (has_feature(settings, id))
			setup->features[setup->feature_count++] = id;
}

int
ledger_add_column(
    struct ledger *ledger, const char *table, int feature, struct error *error)
{
	const char *name = feature_get(feature)->name;
	struct text sql;
	int64_t there = 0;

	text_init(&sql, SQL_ROOM);
	text_printf(&sql,
	    "SELECT count(*) FROM pragma_table_info('%s') WHERE name = '%s'", table,
	    name);
	int code = database_integer(ledger->db, sql.bytes, &there, error);
	if (code == 0 && there == 0) {
		text_clear(&sql);
		text_printf(&sql, "ALTER TABLE %s ADD COLUMN %s REAL", table, name);
		code = database_run(ledger->db, sql.bytes, error);
	}
	text_release(&sql);
	return code;
}

static int
put_features(struct ledger *ledger, const struct settings *settings,
    struct filed_setup *setup, struct error *error)
{
	list_features(settings, setup);
	for (int i = 0; i < setup->feature_count; i++) {
		int id = setup->features[i];
		const struct feature *feature = feature_get(id);
		struct binding binding = ledger_bind(ledger, STATEMENT_PUT_FEATURE);
		bind_text(&binding, feature->name);
		bind_integer(&binding, feature->version);
		bind_text(&binding, feature_unit_text(id));
		bind_text(&binding, feature->meaning);
		bind_integer(&binding, setup->id);
		int code = ledger_run(ledger, &binding, error);
		if (code == 0)
			code = ledger_add_column(ledger, "shot", id, error);
		if (code != 0)
			return code;
	}
	return 0;
}

static int
prepare_put_shot(struct ledger *ledger, struct filed_setup *setup, struct error *error)
{
	struct text sql;

	text_init(&sql, SQL_ROOM);
	text_printf(&sql, "INSERT INTO shot (%s", fixed_columns);
	for (int i = 0; i < setup->feature_count; i++)
		text_printf(&sql, ", %s", feature_get(setup->features[i])->name);
	text_puts(&sql, ") VALUES (?");
	for (int i = 1; i < FIXED_COLUMNS + setup->feature_count; i++)
		text_puts(&sql, ", ?");
	text_puts(&sql, ") ON CONFLICT (line, shot_no) DO NOTHING");
	if (sql.failed)
		error_set(error, ERROR_MEMORY, "out of memory");
	else
		setup->put_shot = database_prepare(ledger->db, sql.bytes, error);
	text_release(&sql);
	return setup->put_shot != NULL ? 0 : ERROR_MEMORY;
}

static int
put_all(struct ledger *ledger, const struct settings *settings, struct wall at,
    struct filed_setup *setup, struct error *error)
{
	int code = put_text(ledger, settings, at, &setup->id, error);

	if (code == 0)
		code = put_lines(ledger, settings, setup, error);
	if (code == 0)
		code = put_channels(ledger, settings, setup, error);
	if (code == 0)
		code = put_features(ledger, settings, setup, error);
	if (code == 0)
		code = prepare_put_shot(ledger, setup, error);
	return code;
}

int
ledger_put_setup(struct ledger *ledger, const struct settings *settings, struct wall at,
    int64_t *setup, struct error *error)
{
	struct filed_setup filed = {0};
	int code = ledger_begin(ledger, error);

	if (code == 0) {
		code = put_all(ledger, settings, at, &filed, error);
		code = ledger_end(ledger, code, error);
	}
	if (code != 0) {
		filed_setup_release(&filed);
		return error_prefix(
		    error, code, "file the configuration '%s'", settings->path);
	}
	text_copy(filed.hash, sizeof filed.hash, settings->hash);
	filed_setup_release(&ledger->setup);
	ledger->setup = filed;
	*setup = filed.id;
	return 0;
}
