/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A shot that is made again: what is new of it goes on file, what was there stays
 * readable in `earlier`. */
#include "daemon/ledger/ledger.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "daemon/base/error.h"
#include "daemon/base/text.h"
#include "daemon/ledger/filed.h"
#include "daemon/ledger/ledger_inside.h"
#include "daemon/ledger/ledger_read_inside.h"

enum { SQL_ROOM = 16384, NAMES_ROOM = 65536 };

/* What can change of a shot; values in the unit of the feature's name. */
struct making {
	char outcome[LEDGER_NAME];
	int64_t flags;
	char reason[128];
	char properties[2 * LEDGER_NAME];
	double value[FEATURE_COUNT]; /* NAN when absent */
	enum absent absent[FEATURE_COUNT];
};

/* A shot that is made again. */
struct recompute {
	int64_t id, line, change, setup; /* as on file */
	struct wall at;                  /* now */
	struct making filed, made;
	bool differs[FEATURE_COUNT];
};

static void
make_blank(struct making *making)
{
	for (int i = 0; i < FEATURE_COUNT; i++) {
		making->value[i] = NAN;
		making->absent[i] = ABSENT_NOT_CONFIGURED;
	}
}

/* --- what is on file ---------------------------------------------------------------- */

/* The features stand behind the columns that are asked for by name. */
static void
fill_filed(struct recompute *recompute, sqlite3_stmt *row)
{
	struct making *filed = &recompute->filed;

	recompute->line = sqlite3_column_int64(row, 0);
	recompute->change = sqlite3_column_int64(row, 1);
	recompute->setup = sqlite3_column_int64(row, 2);
	column_text(row, 3, filed->outcome, sizeof filed->outcome);
	filed->flags = sqlite3_column_int64(row, 4);
	column_text(row, 5, filed->reason, sizeof filed->reason);
	column_text(row, 6, filed->properties, sizeof filed->properties);
	for (int i = 7; i < sqlite3_column_count(row); i++) {
		int feature = feature_find(sqlite3_column_name(row, i));
		if (feature < 0 || sqlite3_column_type(row, i) == SQLITE_NULL)
			continue;
		filed->value[feature] = filed_number(sqlite3_column_double(row, i));
		filed->absent[feature] = ABSENT_NOT;
	}
}

static int
read_row(struct ledger *ledger, struct recompute *recompute, struct error *error)
{
	/* Prepared each time: a new setup may have added columns. */
	sqlite3_stmt *statement = database_prepare(ledger->db,
	    "SELECT line, change, setup, outcome, flags, reason, properties, *"
	    " FROM shot WHERE id = ?",
	    error);
	if (statement == NULL)
		return ERROR_IO;
	struct binding binding = bind_start(statement);
	int code = 0;

	bind_integer(&binding, recompute->id);
	int step = bind_step(&binding);
	if (step == SQLITE_ROW)
		fill_filed(recompute, statement);
	else if (step == SQLITE_DONE)
		code = error_set(error, ERROR_NOT_FOUND, "the ledger has no such shot");
	else
		code = database_failed(ledger->db, error, "ledger");
	sqlite3_finalize(statement);
	return code;
}

static int
read_absences(struct ledger *ledger, struct recompute *recompute, struct error *error)
{
	struct binding binding = ledger_bind(ledger, STATEMENT_ABSENCES);
	int step;

	bind_integer(&binding, recompute->id);
	while ((step = bind_step(&binding)) == SQLITE_ROW) {
		int feature = feature_find(column_string(binding.statement, 0));
		if (feature >= 0)
			recompute->filed.absent[feature] =
			    ledger_read_absent(binding.statement, 1);
	}
	return step == SQLITE_DONE ? 0 : database_failed(ledger->db, error, "ledger");
}

/* --- what differs ------------------------------------------------------------------- */

static void
fill_made(const struct ledger *ledger, const struct shot *shot, struct making *made)
{
	const struct filed_setup *setup = &ledger->setup;

	text_copy(
	    made->outcome, sizeof made->outcome, shot_outcome_text(shot->outcome));
	made->flags = shot->flags;
	text_copy(made->reason, sizeof made->reason, shot->reason);
	text_copy(made->properties, sizeof made->properties, shot->properties);
	for (int i = 0; i < setup->feature_count; i++) {
		int feature = setup->features[i];
		made->value[feature] =
		    ledger_filed_value(shot, feature, &made->absent[feature]);
	}
}

static bool
find_differences(struct recompute *recompute)
{
	const struct making *filed = &recompute->filed, *made = &recompute->made;
	bool any = strcmp(filed->outcome, made->outcome) != 0 ||
	           filed->flags != made->flags ||
	           strcmp(filed->reason, made->reason) != 0 ||
	           strcmp(filed->properties, made->properties) != 0;

	for (int i = 0; i < FEATURE_COUNT; i++) {
		recompute->differs[i] = filed->absent[i] != made->absent[i] ||
		                        !filed_same(filed->value[i], made->value[i]);
		any = any || recompute->differs[i];
	}
	return any;
}

/* --- replacing ---------------------------------------------------------------------- */

/* `feature` with its number, or why it had none; or "outcome" or "properties" with that
 * in `text`. */
static int
keep_one(struct ledger *ledger, const struct recompute *recompute, const char *feature,
    double value, const char *text, struct error *error)
{
	struct binding binding = ledger_bind(ledger, STATEMENT_PUT_EARLIER);

	bind_integer(&binding, recompute->id);
	bind_integer(&binding, recompute->change);
	bind_integer(&binding, recompute->setup);
	bind_integer(&binding, recompute->at.ns);
	bind_text(&binding, feature);
	bind_number(&binding, value);
	bind_label(&binding, text);
	return ledger_run(ledger, &binding, error);
}

/* Whether the feature was there to be configured under the shot's setup. */
static int
was_known(struct ledger *ledger, const struct recompute *recompute, int feature,
    bool *known, struct error *error)
{
	struct binding binding = ledger_bind(ledger, STATEMENT_FEATURE_SINCE);
	int64_t since = 0;

	bind_text(&binding, feature_get(feature)->name);
	int code = ledger_integer(ledger, &binding, &since, error);
	*known = since <= recompute->setup;
	return code;
}

/* What was not configured, in one row; of what did not exist yet, `feature` tells. */
static int
keep_not_configured(
    struct ledger *ledger, const struct recompute *recompute, struct error *error)
{
	struct text names;
	int count = 0, code = 0;

	text_init(&names, NAMES_ROOM);
	for (int i = 0; code == 0 && i < FEATURE_COUNT; i++) {
		bool known = false;
		if (!recompute->differs[i] ||
		    recompute->filed.absent[i] != ABSENT_NOT_CONFIGURED)
			continue;
		code = was_known(ledger, recompute, i, &known, error);
		if (known)
			text_printf(&names, "%s%s", count++ > 0 ? " " : "",
			    feature_get(i)->name);
	}
	if (code == 0 && names.failed)
		code = error_set(error, ERROR_MEMORY, "out of memory");
	if (code == 0 && count > 0)
		code = keep_one(ledger, recompute, LEDGER_NOT_CONFIGURED, count,
		    names.bytes, error);
	text_release(&names);
	return code;
}

static int
keep_earlier(
    struct ledger *ledger, const struct recompute *recompute, struct error *error)
{
	const struct making *filed = &recompute->filed, *made = &recompute->made;
	int code = 0;

	if (strcmp(filed->outcome, made->outcome) != 0)
		code =
		    keep_one(ledger, recompute, "outcome", NAN, filed->outcome, error);
	if (code == 0 && strcmp(filed->properties, made->properties) != 0)
		code = keep_one(
		    ledger, recompute, "properties", NAN, filed->properties, error);
	for (int i = 0; code == 0 && i < FEATURE_COUNT; i++)
		if (recompute->differs[i] && filed->absent[i] != ABSENT_NOT_CONFIGURED)
			code = keep_one(ledger, recompute, feature_get(i)->name,
			    filed->value[i], absent_text(filed->absent[i]), error);
	return code != 0 ? code : keep_not_configured(ledger, recompute, error);
}

static void
update_sql(struct text *sql, const struct recompute *recompute)
{
	text_puts(sql, "UPDATE shot SET change = ?, setup = ?, outcome = ?, flags = ?,"
		       " reason = ?, properties = ?");
	for (int i = 0; i < FEATURE_COUNT; i++)
		if (recompute->differs[i])
			text_printf(sql, ", %s = ?", feature_get(i)->name);
	text_puts(sql, " WHERE id = ?");
}

static int
run_update(struct ledger *ledger, sqlite3_stmt *update, int64_t change,
    const struct recompute *recompute, struct error *error)
{
	const struct making *made = &recompute->made;
	struct binding binding = bind_start(update);

	bind_integer(&binding, change);
	bind_integer(&binding, ledger->setup.id);
	bind_text(&binding, made->outcome);
	bind_integer(&binding, made->flags);
	bind_label(&binding, made->reason);
	bind_label(&binding, made->properties);
	for (int i = 0; i < FEATURE_COUNT; i++)
		if (recompute->differs[i])
			bind_number(&binding, made->value[i]);
	bind_integer(&binding, recompute->id);
	return ledger_run(ledger, &binding, error);
}

static int
update_row(
    struct ledger *ledger, const struct recompute *recompute, struct error *error)
{
	struct text sql;
	sqlite3_stmt *update = NULL;
	int64_t change = 0;
	int code = ledger_next_change(ledger, &change, error);

	if (code != 0)
		return code;
	text_init(&sql, SQL_ROOM);
	update_sql(&sql, recompute);
	if (sql.failed)
		code = error_set(error, ERROR_MEMORY, "out of memory");
	else
		update = database_prepare(ledger->db, sql.bytes, error);
	if (update != NULL)
		code = run_update(ledger, update, change, recompute, error);
	else if (code == 0)
		code = ERROR_IO;
	sqlite3_finalize(update);
	text_release(&sql);
	return code;
}

static int
replace(struct ledger *ledger, const struct recompute *recompute,
    const struct shot *shot, struct error *error)
{
	int64_t id = recompute->id;
	int code = keep_earlier(ledger, recompute, error);

	/* Before its channels go: see the trigger shot_superseded. */
	if (code == 0)
		code = update_row(ledger, recompute, error);
	struct binding absent = ledger_bind(ledger, STATEMENT_CLEAR_ABSENT);
	bind_integer(&absent, id);
	if (code == 0)
		code = ledger_run(ledger, &absent, error);
	if (code == 0)
		code = ledger_clear_channels(ledger, id, error);
	if (code == 0)
		code = ledger_put_absences(ledger, shot, id, error);
	return code != 0 ? code : ledger_put_channels(ledger, shot, id, error);
}

static int
compare_and_replace(struct ledger *ledger, int64_t shot_id, const struct shot *shot,
    bool *changed, struct error *error)
{
	struct recompute recompute = {.id = shot_id, .at = clock_wall()};
	bool same = false;

	make_blank(&recompute.filed);
	make_blank(&recompute.made);
	int code = read_row(ledger, &recompute, error);
	if (code == 0)
		code = read_absences(ledger, &recompute, error);
	if (code == 0 && recompute.line != ledger->setup.lines[shot->line])
		code = error_set(error, ERROR_INVALID, "it is of another line");
	if (code == 0)
		code = ledger_same_channels(ledger, shot, shot_id, &same, error);
	if (code != 0)
		return code;
	fill_made(ledger, shot, &recompute.made);
	*changed = find_differences(&recompute) || !same;
	return *changed ? replace(ledger, &recompute, shot, error) : 0;
}

int
ledger_put_recomputed(struct ledger *ledger, const struct settings *settings,
    int64_t shot_id, const struct shot *shot, bool *changed, struct error *error)
{
	bool differs = false;
	int code = ledger_check_shot(ledger, settings, shot, error);

	if (code == 0)
		code = ledger_begin(ledger, error);
	if (code == 0) {
		code = compare_and_replace(ledger, shot_id, shot, &differs, error);
		code = ledger_end(ledger, code, error);
	}
	if (code != 0)
		return error_prefix(error, ledger_explain(ledger, code, error),
		    "write shot %lld of '%s' again", (long long)shot->shot_no,
		    shot->line < settings->line_count ? settings->lines[shot->line].name
						      : "?");
	*changed = differs;
	return 0;
}
