/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/ledger/ledger.h"

#include <inttypes.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "daemon/base/error.h"
#include "daemon/ledger/filed.h"
#include "daemon/ledger/ledger_inside.h"

/* What a shot carries that the machine did not tell. */
struct labels {
	int64_t recipe; /* -1: unknown */
	char tool[64], lot[64], material[64];
};

int
ledger_last_shot(struct ledger *ledger, const char *line, int64_t *shot_no,
    struct wall *closed_at, struct error *error)
{
	struct binding binding = ledger_bind(ledger, STATEMENT_LAST_SHOT);

	bind_text(&binding, line);
	switch (bind_step(&binding)) {
	case SQLITE_ROW:
		*shot_no = sqlite3_column_int64(binding.statement, 0);
		closed_at->ns = sqlite3_column_int64(binding.statement, 1);
		sqlite3_reset(binding.statement);
		return 0;
	case SQLITE_DONE:
		*shot_no = 0;
		closed_at->ns = 0;
		return 0;
	default:
		return database_failed(ledger->db, error, "ledger");
	}
}

static int
labels_of(struct ledger *ledger, const struct shot *shot, struct labels *labels,
    struct error *error)
{
	struct binding binding = ledger_bind(ledger, STATEMENT_LABELS);

	bind_integer(&binding, ledger->setup.lines[shot->line]);
	bind_integer(&binding, filed_time(shot_time(shot)).ns);
	bind_known(&binding, shot->recipe);
	bind_integer(&binding, ledger->setup.id);
	if (bind_step(&binding) != SQLITE_ROW)
		return database_failed(ledger->db, error, "ledger");
	sqlite3_stmt *row = binding.statement;
	labels->recipe = sqlite3_column_type(row, 0) == SQLITE_NULL
	                     ? -1
	                     : sqlite3_column_int64(row, 0);
	column_text(row, 1, labels->tool, sizeof labels->tool);
	column_text(row, 2, labels->lot, sizeof labels->lot);
	column_text(row, 3, labels->material, sizeof labels->material);
	sqlite3_reset(row);
	return 0;
}

const char *
ledger_side(const struct line_settings *line, int side)
{
	return side >= 0 && side < line->side_count ? line->sides[side] : "";
}

double
ledger_filed_value(const struct shot *shot, int feature, enum absent *absent)
{
	double value = filed_number(feature_from_si(feature, shot->value[feature]));

	*absent = (enum absent)shot->absent[feature];
	if (*absent == ABSENT_NOT && !isfinite(value))
		*absent = ABSENT_OUT_OF_RANGE; /* a number that cannot be */
	return *absent == ABSENT_NOT ? value : NAN;
}

/* In the order of fixed_columns (ledger_setup.c), then the features. */
static int
put_row(struct ledger *ledger, const struct line_settings *line,
    const struct shot *shot, int64_t change, const struct labels *labels,
    struct error *error)
{
	const struct filed_setup *setup = &ledger->setup;
	struct binding binding = bind_start(setup->put_shot);
	char set_points[17] = "";
	enum absent absent;

	if (shot->set_points != 0)
		snprintf(
		    set_points, sizeof set_points, "%016" PRIx64, shot->set_points);

	bind_integer(&binding, change);
	bind_integer(&binding, setup->id);
	bind_integer(&binding, setup->lines[shot->line]);
	bind_integer(&binding, shot->shot_no);
	bind_integer(&binding, filed_time(shot_time(shot)).ns);
	bind_time(&binding, filed_time(shot->loaded_at));
	bind_time(&binding, filed_time(shot->heat_start_at));
	bind_time(&binding, filed_time(shot->heat_end_at));
	bind_time(&binding, filed_time(shot->form_start_at));
	bind_time(&binding, filed_time(shot->form_end_at));
	bind_integer(&binding, filed_time(shot->closed_at).ns);
	bind_text(&binding, shot_outcome_text(shot->outcome));
	bind_integer(&binding, shot->flags);
	bind_label(&binding, shot->reason);
	bind_known(&binding, shot->recipe);
	bind_known(&binding, labels->recipe);
	bind_label(&binding, labels->tool);
	bind_label(&binding, labels->lot);
	bind_label(&binding, labels->material);
	bind_known(&binding, shot->cycle_count);
	bind_number(&binding, filed_number(shot->uncertainty_s));
	bind_label(&binding, ledger_side(line, shot->side));
	bind_label(&binding, set_points);
	bind_label(&binding, shot->properties);
	for (int i = 0; i < setup->feature_count; i++)
		bind_number(
		    &binding, ledger_filed_value(shot, setup->features[i], &absent));
	return ledger_run(ledger, &binding, error);
}

int
ledger_put_absences(
    struct ledger *ledger, const struct shot *shot, int64_t id, struct error *error)
{
	const struct filed_setup *setup = &ledger->setup;

	for (int i = 0; i < setup->feature_count; i++) {
		int feature = setup->features[i];
		enum absent absent;
		ledger_filed_value(shot, feature, &absent);
		if (absent == ABSENT_NOT || absent == ABSENT_NOT_CONFIGURED)
			continue;
		struct binding binding = ledger_bind(ledger, STATEMENT_PUT_ABSENT);
		bind_integer(&binding, id);
		bind_text(&binding, feature_get(feature)->name);
		bind_text(&binding, absent_text(absent));
		int code = ledger_run(ledger, &binding, error);
		if (code != 0)
			return code;
	}
	return 0;
}

static int
put_whole(struct ledger *ledger, const struct line_settings *line,
    const struct shot *shot, struct error *error)
{
	struct labels labels = {0};
	int64_t change = 0;
	int code = labels_of(ledger, shot, &labels, error);

	if (code == 0)
		code = ledger_next_change(ledger, &change, error);
	if (code == 0)
		code = put_row(ledger, line, shot, change, &labels, error);
	if (code != 0 || sqlite3_changes(ledger->db) == 0)
		return code; /* no row changed: this shot is there already */
	int64_t id = sqlite3_last_insert_rowid(ledger->db);
	code = ledger_put_absences(ledger, shot, id, error);
	if (code == 0)
		code = ledger_put_channels(ledger, shot, id, error);
	return code != 0 ? code : ledger_put_trace(ledger, shot, id, error);
}

int
ledger_check_shot(const struct ledger *ledger, const struct settings *settings,
    const struct shot *shot, struct error *error)
{
	const struct filed_setup *setup = &ledger->setup;

	if (setup->id == 0 || strcmp(setup->hash, settings->hash) != 0)
		return error_set(error, ERROR_INVALID,
		    "its configuration is not the one that was filed last");
	if (shot->line >= settings->line_count)
		return error_set(error, ERROR_INVALID, "it is of no configured line");
	if (shot->side >= settings->lines[shot->line].side_count)
		return error_set(error, ERROR_INVALID, "it is of no configured side");
	for (size_t i = 0; i < shot->channel_count; i++)
		if (shot->channels[i].channel >= setup->channel_count)
			return error_set(error, ERROR_INVALID,
			    "it has a channel that is not configured");
	return 0;
}

int
ledger_put_shot(struct ledger *ledger, const struct settings *settings,
    const struct shot *shot, struct error *error)
{
	int code = ledger_check_shot(ledger, settings, shot, error);

	if (code == 0)
		code = ledger_begin(ledger, error);
	if (code == 0) {
		code = put_whole(ledger, &settings->lines[shot->line], shot, error);
		code = ledger_end(ledger, code, error);
	}
	if (code == 0)
		return 0;
	return error_prefix(error, code, "write shot %lld of '%s'",
	    (long long)shot->shot_no,
	    shot->line < settings->line_count ? settings->lines[shot->line].name : "?");
}

static int
put_event(struct ledger *ledger, const char *line, struct wall at, const char *kind,
    const char *text, struct error *error)
{
	int64_t change = 0, line_id = -1;
	int code = ledger_next_change(ledger, &change, error);

	if (code == 0 && line != NULL && line[0] != '\0')
		code = ledger_line_id(ledger, line, &line_id, error);
	if (code != 0)
		return code;
	struct binding binding = ledger_bind(ledger, STATEMENT_PUT_EVENT);
	bind_integer(&binding, change);
	bind_known(&binding, line_id);
	bind_integer(&binding, at.ns);
	bind_text(&binding, kind);
	bind_text(&binding, text);
	return ledger_run(ledger, &binding, error);
}

int
ledger_put_event(struct ledger *ledger, const char *line, struct wall at,
    const char *kind, const char *text, struct error *error)
{
	int code = ledger_begin(ledger, error);

	if (code == 0) {
		code = put_event(ledger, line, at, kind, text, error);
		code = ledger_end(ledger, code, error);
	}
	return code == 0 ? 0 : error_prefix(error, code, "write event '%s'", kind);
}
