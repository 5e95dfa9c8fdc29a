/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Shots frozen to hold later ones against. */
#include "daemon/ledger/ledger.h"

#include <math.h>

#include "daemon/base/error.h"
#include "daemon/base/text.h"
#include "daemon/ledger/ledger_inside.h"
#include "daemon/ledger/ledger_read_inside.h"

enum { SQL_ROOM = 16384, NOTE_BYTES = 255 };

/* --- freezing ----------------------------------------------------------------------- */

struct freezing {
	struct ledger *ledger;
	const struct ledger_reference *reference;
	const struct ledger_reference_shot *shots;
	size_t count;
	int64_t run;
	int features[FEATURE_COUNT]; /* that some shot has */
	int feature_count;
	sqlite3_stmt *put_shot;
};

static int
check(const struct ledger_reference *reference, size_t count, struct error *error)
{
	if (reference->name == NULL || *reference->name == '\0')
		return error_set(error, ERROR_INVALID, "its name is empty");
	if (count == 0)
		return error_set(error, ERROR_INVALID, "it has no shots");
	const struct {
		const char *what, *text;
	} names[] = {
	    {"its name", reference->name},
	    {"its side's name", reference->side},
	    {"its recipe", reference->recipe},
	    {"its tool's name", reference->tool},
	};
	for (size_t i = 0; i < sizeof names / sizeof names[0]; i++) {
		int code = ledger_check_text(
		    names[i].what, names[i].text, LEDGER_NAME - 1, error);
		if (code != 0)
			return code;
	}
	return ledger_check_text("its note", reference->note, NOTE_BYTES, error);
}

static int
count_of(struct ledger *ledger, const char *name, int64_t *there, struct error *error)
{
	struct binding binding = ledger_bind(ledger, STATEMENT_COUNT_REFERENCES);

	bind_text(&binding, name);
	return ledger_integer(ledger, &binding, there, error);
}

static int
check_new(struct ledger *ledger, const char *name, struct error *error)
{
	int64_t there = 0;
	int code = count_of(ledger, name, &there, error);

	if (code == 0 && there > 0)
		return error_set(error, ERROR_INVALID,
		    "there is one of that name, and it stays: take another name");
	return code;
}

static int
put_run(struct freezing *freezing, struct error *error)
{
	const struct ledger_reference *reference = freezing->reference;
	struct ledger *ledger = freezing->ledger;
	int64_t line = 0;
	int code = ledger_line_id(ledger, reference->line, &line, error);

	if (code != 0)
		return code;
	struct binding binding = ledger_bind(ledger, STATEMENT_PUT_REFERENCE);
	bind_text(&binding, reference->name);
	bind_integer(&binding, line);
	bind_label(&binding, reference->side);
	bind_label(&binding, reference->recipe);
	bind_label(&binding, reference->tool);
	bind_integer(&binding, reference->from.ns);
	bind_integer(&binding, reference->to.ns);
	bind_integer(&binding, reference->frozen.ns);
	bind_known(&binding, reference->setup > 0 ? reference->setup : -1);
	bind_label(&binding, reference->note);
	code = ledger_run(ledger, &binding, error);
	freezing->run = sqlite3_last_insert_rowid(ledger->db);
	return code;
}

/* The features that there are, each with its column. */
static int
put_columns(struct freezing *freezing, struct error *error)
{
	for (int id = 0; id < FEATURE_COUNT; id++) {
		size_t i = 0;
		while (i < freezing->count && !isfinite(freezing->shots[i].value[id]))
			i++;
		if (i == freezing->count)
			continue;
		freezing->features[freezing->feature_count++] = id;
		int code =
		    ledger_add_column(freezing->ledger, "reference_shot", id, error);
		if (code != 0)
			return code;
	}
	return 0;
}

static int
prepare_shots(struct freezing *freezing, struct error *error)
{
	struct text sql;

	text_init(&sql, SQL_ROOM);
	text_puts(&sql, "INSERT INTO reference_shot (run, shot_no, filed_at, lot");
	for (int i = 0; i < freezing->feature_count; i++)
		text_printf(&sql, ", %s", feature_get(freezing->features[i])->name);
	text_puts(&sql, ") VALUES (?, ?, ?, ?");
	for (int i = 0; i < freezing->feature_count; i++)
		text_puts(&sql, ", ?");
	text_puts(&sql, ")");
	if (sql.failed)
		error_set(error, ERROR_MEMORY, "out of memory");
	else
		freezing->put_shot =
		    database_prepare(freezing->ledger->db, sql.bytes, error);
	text_release(&sql);
	return freezing->put_shot != NULL ? 0 : ERROR_MEMORY;
}

static int
put_shots(const struct freezing *freezing, struct error *error)
{
	int code = 0;

	for (size_t i = 0; i < freezing->count && code == 0; i++) {
		const struct ledger_reference_shot *shot = &freezing->shots[i];
		struct binding binding = bind_start(freezing->put_shot);
		bind_integer(&binding, freezing->run);
		bind_integer(&binding, shot->shot_no);
		bind_integer(&binding, shot->filed_at.ns);
		bind_label(&binding, shot->lot);
		for (int k = 0; k < freezing->feature_count; k++)
			bind_number(&binding, shot->value[freezing->features[k]]);
		code = ledger_run(freezing->ledger, &binding, error);
	}
	return code;
}

static int
freeze(struct freezing *freezing, struct error *error)
{
	int code = check_new(freezing->ledger, freezing->reference->name, error);

	if (code == 0)
		code = put_run(freezing, error);
	if (code == 0)
		code = put_columns(freezing, error);
	if (code == 0)
		code = prepare_shots(freezing, error);
	if (code == 0)
		code = put_shots(freezing, error);
	sqlite3_finalize(freezing->put_shot);
	return code;
}

int
ledger_put_reference(struct ledger *ledger, const struct ledger_reference *reference,
    const struct ledger_reference_shot *shots, size_t count, int64_t *id,
    struct error *error)
{
	struct freezing freezing = {
	    .ledger = ledger, .reference = reference, .shots = shots, .count = count};
	int code = check(reference, count, error);

	if (code == 0)
		code = ledger_begin(ledger, error);
	if (code == 0)
		code = ledger_end(ledger, freeze(&freezing, error), error);
	if (code != 0)
		return error_prefix(error, ledger_explain(ledger, code, error),
		    "freeze reference run '%s'",
		    reference->name != NULL ? reference->name : "");
	*id = freezing.run;
	return 0;
}

/* --- withdrawing -------------------------------------------------------------------- */

static int
withdraw(struct ledger *ledger, const char *name, struct wall at, struct error *error)
{
	struct binding binding = ledger_bind(ledger, STATEMENT_WITHDRAW_REFERENCE);
	int64_t there = 0;

	bind_text(&binding, name);
	bind_integer(&binding, at.ns);
	int code = ledger_run(ledger, &binding, error);
	if (code != 0 || sqlite3_changes(ledger->db) > 0)
		return code;
	code = count_of(ledger, name, &there, error);
	if (code != 0)
		return code;
	return there > 0 ? error_set(error, ERROR_INVALID, "it was withdrawn before")
	                 : error_set(error, ERROR_NOT_FOUND,
			       "the ledger has none of that name");
}

int
ledger_withdraw_reference(
    struct ledger *ledger, const char *name, struct wall at, struct error *error)
{
	int code = ledger_begin(ledger, error);

	if (code == 0)
		code = ledger_end(ledger, withdraw(ledger, name, at, error), error);
	if (code == 0)
		return 0;
	return error_prefix(error, ledger_explain(ledger, code, error),
	    "withdraw reference run '%s'", name);
}

/* --- the runs ----------------------------------------------------------------------- */

struct run_row {
	int64_t id, shots, setup;
	char name[LEDGER_NAME], line[LEDGER_NAME], side[LEDGER_NAME],
	    recipe[LEDGER_NAME], tool[LEDGER_NAME], note[NOTE_BYTES + 1];
	struct wall from, to, frozen, withdrawn;
};

struct run_reader {
	int (*take)(void *arg, const struct ledger_reference *reference);
	void *arg;
};

static void
run_key(void *self, struct binding *binding, const void *last)
{
	const struct run_row *row = last;
	(void)self;

	bind_integer(binding, row != NULL ? row->id : INT64_MAX);
}

static void
run_fill(void *self, sqlite3_stmt *from, void *to)
{
	struct run_row *row = to;
	(void)self;

	row->id = sqlite3_column_int64(from, 0);
	column_text(from, 1, row->name, sizeof row->name);
	column_text(from, 2, row->line, sizeof row->line);
	column_text(from, 3, row->side, sizeof row->side);
	column_text(from, 4, row->recipe, sizeof row->recipe);
	column_text(from, 5, row->tool, sizeof row->tool);
	row->from = column_time(from, 6);
	row->to = column_time(from, 7);
	row->frozen = column_time(from, 8);
	row->setup = sqlite3_column_int64(from, 9);
	column_text(from, 10, row->note, sizeof row->note);
	row->withdrawn = column_time(from, 11);
	row->shots = sqlite3_column_int64(from, 12);
}

static int
run_give(void *self, const void *from)
{
	const struct run_reader *reader = self;
	const struct run_row *row = from;

	return reader->take(reader->arg, &(struct ledger_reference){
					     .id = row->id,
					     .name = row->name,
					     .line = row->line,
					     .side = row->side,
					     .recipe = row->recipe,
					     .tool = row->tool,
					     .from = row->from,
					     .to = row->to,
					     .frozen = row->frozen,
					     .withdrawn = row->withdrawn,
					     .shots = row->shots,
					     .setup = row->setup,
					     .note = row->note,
					 });
}

int
ledger_read_references(struct ledger_read *ledger,
    int (*take)(void *arg, const struct ledger_reference *reference), void *arg,
    struct error *error)
{
	struct run_reader reader = {take, arg};

	return ledger_read_run(ledger,
	    "SELECT r.id, r.name, l.name, side, recipe, tool, first_at, last_at,"
	    " frozen_at, setup, note, withdrawn_at,"
	    " (SELECT count(*) FROM reference_shot WHERE run = r.id)"
	    " FROM reference_run r JOIN line l ON l.id = r.line"
	    " WHERE r.id < ?1 ORDER BY r.id DESC LIMIT ?2",
	    (struct row_source){
		.row_bytes = sizeof(struct run_row),
		.bind_key = run_key,
		.fill = run_fill,
		.give = run_give,
		.self = &reader,
	    },
	    error);
}

/* --- the shots of one --------------------------------------------------------------- */

struct shot_row {
	int64_t id;
	struct ledger_reference_shot shot;
};

struct shot_reader {
	int64_t run;
	int (*take)(void *arg, const struct ledger_reference_shot *shot);
	void *arg;
	int columns;               /* of the statement, as `column` knows it */
	int column[FEATURE_COUNT]; /* -1: the file has none */
};

/* Before the first row, and when another run has brought a column meanwhile. */
static void
find_columns(struct shot_reader *reader, sqlite3_stmt *statement)
{
	reader->columns = sqlite3_column_count(statement);
	for (int id = 0; id < FEATURE_COUNT; id++)
		reader->column[id] = -1;
	for (int i = 4; i < reader->columns; i++) {
		int id = feature_find(sqlite3_column_name(statement, i));
		if (id >= 0)
			reader->column[id] = i;
	}
}

static void
shot_key(void *self, struct binding *binding, const void *last)
{
	const struct shot_reader *reader = self;
	const struct shot_row *row = last;

	bind_integer(binding, reader->run);
	bind_integer(binding, row != NULL ? row->shot.filed_at.ns : INT64_MIN);
	bind_integer(binding, row != NULL ? row->id : 0);
}

static void
shot_fill(void *self, sqlite3_stmt *from, void *to)
{
	struct shot_reader *reader = self;
	struct shot_row *row = to;
	struct ledger_reference_shot *shot = &row->shot;

	if (sqlite3_column_count(from) != reader->columns)
		find_columns(reader, from);
	row->id = sqlite3_column_int64(from, 0);
	shot->shot_no = sqlite3_column_int64(from, 1);
	shot->filed_at = column_time(from, 2);
	column_text(from, 3, shot->lot, sizeof shot->lot);
	for (int id = 0; id < FEATURE_COUNT; id++)
		shot->value[id] = reader->column[id] < 0
		                      ? NAN
		                      : column_number(from, reader->column[id]);
}

static int
shot_give(void *self, const void *row)
{
	const struct shot_reader *reader = self;
	return reader->take(reader->arg, &((const struct shot_row *)row)->shot);
}

int
ledger_read_reference_shots(struct ledger_read *ledger, int64_t id,
    int (*take)(void *arg, const struct ledger_reference_shot *shot), void *arg,
    struct error *error)
{
	struct shot_reader reader = {.run = id, .take = take, .arg = arg};

	return ledger_read_run(ledger,
	    "SELECT id, shot_no, filed_at, lot, * FROM reference_shot WHERE run = ?1"
	    " AND (filed_at, id) > (?2, ?3) ORDER BY filed_at, id LIMIT ?4",
	    (struct row_source){
		.row_bytes = sizeof(struct shot_row),
		.bind_key = shot_key,
		.fill = shot_fill,
		.give = shot_give,
		.self = &reader,
	    },
	    error);
}
