/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/ledger/ledger_read.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/base/error.h"
#include "daemon/base/text.h"
#include "daemon/ledger/filed.h"
#include "daemon/ledger/ledger_read_inside.h"

enum { SQL_ROOM = 16384 };

enum column {
	COLUMN_ID,
	COLUMN_CHANGE,
	COLUMN_LINE,
	COLUMN_FILED_AT,
	COLUMN_OUTCOME,
	COLUMN_FLAGS,
	COLUMN_REST, /* of these on the columns there are only without values_only */
	COLUMN_SETUP = COLUMN_REST,
	COLUMN_SHOT_NO,
	COLUMN_LOADED_AT,
	COLUMN_HEAT_START_AT,
	COLUMN_HEAT_END_AT,
	COLUMN_FORM_START_AT,
	COLUMN_FORM_END_AT,
	COLUMN_CLOSED_AT,
	COLUMN_REASON,
	COLUMN_RECIPE,
	COLUMN_TOOL,
	COLUMN_LOT,
	COLUMN_MATERIAL,
	COLUMN_CYCLE_COUNT,
	COLUMN_UNCERTAINTY,
	COLUMN_SIDE,
	COLUMN_SET_POINTS,
	COLUMN_PROPERTIES,
	COLUMN_REVISION,
	COLUMN_ALL,
	/* in their place with `labels` */
	LABEL_SHOT_NO = COLUMN_REST,
	LABEL_RECIPE,
	LABEL_TOOL,
	LABEL_LOT,
	LABEL_ALL
};
static const char first_columns[] = "SELECT id, change, line, filed_at, outcome, flags";
static const char rest_of_columns[] =
    ", setup, shot_no, loaded_at, heat_start_at, heat_end_at, form_start_at,"
    " form_end_at, closed_at, reason, recipe, tool, lot, material, cycle_count,"
    " uncertainty_s, side, set_points, properties, revision";

static const char label_columns[] = ", shot_no, recipe, tool, lot";

struct row {
	int64_t line, filed_ns; /* as on file: with id the key by time */
	struct ledger_shot shot;
	bool made; /* the shot is of an earlier row of that line */
};

struct reader {
	const struct ledger_filter *filter;
	int (*take)(void *arg, const struct ledger_shot *shot);
	void *arg;
	struct ledger_shot blank; /* every feature absent */
	int features[FEATURE_COUNT];
	int feature_count;
	sqlite3_stmt *shots, *reasons, *line_name; /* reasons: NULL when not wanted */
	int64_t line;                              /* whose name is in blank.line */
	struct ledger_read *ledger;
	struct error *error;
	int code; /* of a row that could not be read whole: none is given any more */
};

static bool
wanted(const struct ledger_filter *filter, int feature)
{
	if (filter->features == NULL)
		return true;
	for (size_t i = 0; i < filter->feature_count; i++)
		if (filter->features[i] == feature)
			return true;
	return false;
}

/* The features wanted that the file has a column for. */
static int
find_features(struct ledger_read *ledger, struct reader *reader, struct error *error)
{
	sqlite3_stmt *all =
	    database_prepare(ledger->db, "SELECT * FROM shot LIMIT 0", error);

	if (all == NULL)
		return ERROR_IO;
	/* Only a step notices columns that a writer has added meanwhile. */
	if (sqlite3_step(all) != SQLITE_DONE) {
		int code = database_failed(
		    ledger->db, error, "read ledger '%s'", ledger->path);
		sqlite3_finalize(all);
		return code;
	}
	reader->feature_count = 0;
	for (int i = 0; i < sqlite3_column_count(all); i++) {
		int feature = feature_find(sqlite3_column_name(all, i));
		if (feature >= 0 && wanted(reader->filter, feature))
			reader->features[reader->feature_count++] = feature;
	}
	sqlite3_finalize(all);
	return 0;
}

/*
 * The key's parameters come first, in the text too.  The + keeps SQLite from walking
 * another index than the one that the batches are ordered by.
 */
static void
add_conditions(struct text *sql, const struct ledger_filter *filter, int64_t line)
{
	bool by_time = filter->by_time || filter->newest_first;
	const char *plus = by_time ? "" : "+";

	if (filter->newest_first)
		text_puts(sql, " WHERE (filed_at, line, id) < (?, ?, ?)");
	else if (by_time)
		text_puts(sql, " WHERE (filed_at, line, id) > (?, ?, ?)");
	else
		text_puts(sql, " WHERE change > ?");
	if (filter->from.ns != 0)
		text_printf(
		    sql, " AND %sfiled_at >= %lld", plus, (long long)filter->from.ns);
	if (filter->to.ns != 0)
		text_printf(
		    sql, " AND %sfiled_at < %lld", plus, (long long)filter->to.ns);
	if (by_time && filter->after_change != 0)
		text_printf(
		    sql, " AND +change > %lld", (long long)filter->after_change);
	if (filter->shot_no != 0)
		text_printf(sql, " AND shot_no = %lld", (long long)filter->shot_no);
	if (line >= 0)
		text_printf(sql, " AND %sline = %lld", filter->shot_no != 0 ? "" : "+",
		    (long long)line);
	else if (filter->shot_no != 0)
		text_puts(sql, " AND line IN (SELECT id FROM line)");
	text_puts(sql, filter->newest_first
			   ? " ORDER BY filed_at DESC, line DESC, id DESC"
		       : by_time ? " ORDER BY filed_at, line, id"
				 : " ORDER BY change");
	text_puts(sql, " LIMIT ?");
}

static int
prepare_shots(struct ledger_read *ledger, struct reader *reader, int64_t line,
    struct error *error)
{
	struct text sql;

	text_init(&sql, SQL_ROOM);
	text_puts(&sql, first_columns);
	if (!reader->filter->values_only)
		text_puts(&sql, rest_of_columns);
	else if (reader->filter->labels)
		text_puts(&sql, label_columns);
	for (int i = 0; i < reader->feature_count; i++)
		text_printf(&sql, ", %s", feature_get(reader->features[i])->name);
	text_puts(&sql, " FROM shot");
	add_conditions(&sql, reader->filter, line);
	if (sql.failed)
		error_set(error, ERROR_MEMORY, "out of memory");
	else
		reader->shots = database_prepare(ledger->db, sql.bytes, error);
	text_release(&sql);
	return reader->shots != NULL ? 0 : ERROR_MEMORY;
}

static int
prepare(struct ledger_read *ledger, struct reader *reader, bool reasons,
    struct error *error)
{
	int64_t line;
	int code = ledger_read_line(ledger, reader->filter->line, &line, error);

	if (code == 0)
		code = find_features(ledger, reader, error);
	if (code == 0)
		code = prepare_shots(ledger, reader, line, error);
	if (code != 0)
		return code;
	reader->line_name =
	    database_prepare(ledger->db, "SELECT name FROM line WHERE id = ?", error);
	if (reasons)
		reader->reasons = database_prepare(ledger->db,
		    "SELECT feature, reason FROM absent WHERE shot = ?", error);
	return reader->line_name == NULL || (reasons && reader->reasons == NULL)
	           ? ERROR_MEMORY
	           : 0;
}

static void
bind_key(void *self, struct binding *binding, const void *last)
{
	const struct reader *reader = self;
	const struct ledger_filter *filter = reader->filter;
	const struct row *row = last;

	if (!filter->by_time && !filter->newest_first) {
		bind_integer(
		    binding, row != NULL ? row->shot.change : filter->after_change);
		return;
	}
	int64_t start = filter->newest_first
	                    ? (filter->to.ns != 0 ? filter->to.ns : INT64_MAX)
	                    : filter->from.ns;
	bind_integer(binding, row != NULL ? row->filed_ns : start);
	bind_integer(binding, row != NULL ? row->line : -1);
	bind_integer(binding, row != NULL ? row->shot.id : -1);
}

static void
fill_failed(struct reader *reader)
{
	reader->code = database_failed(reader->ledger->db, reader->error,
	    "read ledger '%s'", reader->ledger->path);
}

static void
fill_line(struct reader *reader, int64_t line)
{
	struct binding binding;

	if (line == reader->line)
		return;
	binding = bind_start(reader->line_name);
	bind_integer(&binding, line);
	int step = bind_step(&binding);
	if (step == SQLITE_ROW) {
		column_text(reader->line_name, 0, reader->blank.line, LEDGER_NAME);
		reader->line = line;
		sqlite3_reset(reader->line_name);
	} else if (step == SQLITE_DONE) {
		reader->code = error_set(reader->error, ERROR_DAMAGED,
		    "ledger '%s' has shots of a line %lld, which it does not know",
		    reader->ledger->path, (long long)line);
	} else {
		fill_failed(reader);
	}
}

static void
fill_reasons(struct reader *reader, struct ledger_shot *shot)
{
	struct binding binding = bind_start(reader->reasons);
	int step;

	bind_integer(&binding, shot->id);
	while ((step = bind_step(&binding)) == SQLITE_ROW) {
		int feature = feature_find(column_string(reader->reasons, 0));
		if (feature >= 0 && shot->absent[feature] != ABSENT_NOT)
			shot->absent[feature] =
			    (unsigned char)ledger_read_absent(reader->reasons, 1);
	}
	if (step != SQLITE_DONE)
		fill_failed(reader);
}

static void
fill_rest(sqlite3_stmt *from, struct ledger_shot *shot)
{
	shot->setup = sqlite3_column_int64(from, COLUMN_SETUP);
	shot->shot_no = sqlite3_column_int64(from, COLUMN_SHOT_NO);
	shot->loaded_at = filed_time(column_time(from, COLUMN_LOADED_AT));
	shot->heat_start_at = filed_time(column_time(from, COLUMN_HEAT_START_AT));
	shot->heat_end_at = filed_time(column_time(from, COLUMN_HEAT_END_AT));
	shot->form_start_at = filed_time(column_time(from, COLUMN_FORM_START_AT));
	shot->form_end_at = filed_time(column_time(from, COLUMN_FORM_END_AT));
	shot->closed_at = filed_time(column_time(from, COLUMN_CLOSED_AT));
	column_text(from, COLUMN_REASON, shot->reason, sizeof shot->reason);
	column_text(from, COLUMN_RECIPE, shot->recipe, sizeof shot->recipe);
	column_text(from, COLUMN_TOOL, shot->tool, sizeof shot->tool);
	column_text(from, COLUMN_LOT, shot->lot, sizeof shot->lot);
	column_text(from, COLUMN_MATERIAL, shot->material, sizeof shot->material);
	if (sqlite3_column_type(from, COLUMN_CYCLE_COUNT) != SQLITE_NULL)
		shot->cycle_count = sqlite3_column_int64(from, COLUMN_CYCLE_COUNT);
	shot->uncertainty_s = filed_number(column_number(from, COLUMN_UNCERTAINTY));
	column_text(from, COLUMN_SIDE, shot->side, sizeof shot->side);
	shot->set_points = strtoull(column_string(from, COLUMN_SET_POINTS), NULL, 16);
	column_text(from, COLUMN_PROPERTIES, shot->properties, sizeof shot->properties);
	shot->revision = sqlite3_column_int64(from, COLUMN_REVISION);
}

static void
fill_labels(sqlite3_stmt *from, struct ledger_shot *shot)
{
	shot->shot_no = sqlite3_column_int64(from, LABEL_SHOT_NO);
	column_text(from, LABEL_RECIPE, shot->recipe, sizeof shot->recipe);
	column_text(from, LABEL_TOOL, shot->tool, sizeof shot->tool);
	column_text(from, LABEL_LOT, shot->lot, sizeof shot->lot);
}

static void
fill(void *self, sqlite3_stmt *from, void *to)
{
	struct reader *reader = self;
	struct row *row = to;
	struct ledger_shot *shot = &row->shot;
	int first = !reader->filter->values_only ? COLUMN_ALL
	            : reader->filter->labels     ? LABEL_ALL
	                                         : COLUMN_REST;

	if (reader->code != 0)
		return;
	int64_t line = sqlite3_column_int64(from, COLUMN_LINE);
	fill_line(reader, line);
	if (reader->code != 0)
		return;
	/* of values alone, all that can differ is written below */
	if (!reader->filter->values_only || !row->made || row->line != line)
		*shot = reader->blank;
	row->line = line;
	row->made = true;
	shot->id = sqlite3_column_int64(from, COLUMN_ID);
	shot->change = sqlite3_column_int64(from, COLUMN_CHANGE);
	row->filed_ns = sqlite3_column_int64(from, COLUMN_FILED_AT);
	shot->filed_at = filed_time((struct wall){row->filed_ns});
	shot->outcome = ledger_read_outcome(from, COLUMN_OUTCOME);
	shot->flags = (uint32_t)sqlite3_column_int64(from, COLUMN_FLAGS);
	if (!reader->filter->values_only)
		fill_rest(from, shot);
	else if (reader->filter->labels)
		fill_labels(from, shot);
	for (int i = 0; i < reader->feature_count; i++) {
		int feature = reader->features[i];
		shot->value[feature] = filed_number(column_number(from, first + i));
		shot->absent[feature] = isnan(shot->value[feature])
		                            ? reader->blank.absent[feature]
		                            : ABSENT_NOT;
	}
	if (reader->reasons != NULL)
		fill_reasons(reader, shot);
}

static int
give(void *self, const void *row)
{
	const struct reader *reader = self;

	if (reader->code != 0)
		return reader->code;
	return reader->take(reader->arg, &((const struct row *)row)->shot);
}

/* A shot of which nothing is known. */
static void
make_blank(struct ledger_shot *shot)
{
	shot->cycle_count = -1;
	shot->uncertainty_s = NAN;
	for (int i = 0; i < FEATURE_COUNT; i++) {
		shot->value[i] = NAN;
		shot->absent[i] = ABSENT_NOT_CONFIGURED;
	}
}

int
ledger_read_shots(struct ledger_read *ledger, const struct ledger_filter *filter,
    bool reasons, int (*take)(void *arg, const struct ledger_shot *shot), void *arg,
    struct error *error)
{
	struct reader reader = {.filter = filter,
	    .take = take,
	    .arg = arg,
	    .ledger = ledger,
	    .error = error};
	int code = prepare(ledger, &reader, reasons, error);

	make_blank(&reader.blank);
	if (code == 0)
		code = row_source_run(ledger,
		    &(struct row_source){
			.statement = reader.shots,
			.row_bytes = sizeof(struct row),
			.limit = filter->limit,
			.bind_key = bind_key,
			.fill = fill,
			.give = give,
			.self = &reader,
		    },
		    error);
	sqlite3_finalize(reader.shots);
	sqlite3_finalize(reader.reasons);
	sqlite3_finalize(reader.line_name);
	return code != 0 ? code : reader.code;
}
