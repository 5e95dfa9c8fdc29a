/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/ledger/ledger_shift.h"

#include <math.h>
#include <string.h>

#include "daemon/base/error.h"
#include "daemon/base/text.h"
#include "daemon/ledger/filed.h"
#include "daemon/ledger/ledger_inside.h"

enum { SQL_ROOM = 4096 };

/* --- statements ---------------------------------------------------------------------------- */

static const char *
sum_name(int i)
{
	return ledger_shift_sum_name((enum ledger_shift_sum)i);
}

static const char *
figure_name(int i)
{
	return ledger_shift_figure_name((enum ledger_shift_figure)i);
}

/* "start, name, name ... end", and then "?, ? ...)". */
struct columns {
	const char *start;
	const char *(*name)(int i);
	int count;
	const char *end;
	int values; /* 0: none */
};

/* The caller finalizes what it gets in `statement`. */
static int
prepare(sqlite3_stmt **statement, struct ledger *ledger, const struct columns *columns,
    struct error *error)
{
	struct text sql;
	int code = 0;

	text_init(&sql, SQL_ROOM);
	text_puts(&sql, columns->start);
	for (int i = 0; i < columns->count; i++)
		text_printf(&sql, ", %s", columns->name(i));
	text_puts(&sql, columns->end);
	for (int i = 1; i <= columns->values; i++)
		text_puts(&sql, i < columns->values ? "?, " : "?)");
	if (sql.failed)
		code = error_set(error, ERROR_MEMORY, "out of memory");
	else
		*statement = database_prepare(ledger->db, sql.bytes, error);
	if (code == 0 && *statement == NULL)
		code = database_code(ledger->db);
	text_release(&sql);
	return code;
}

/* --- what is on file --------------------------------------------------------------------- */

/* A shift that is being filed, and the revision of it that holds. */
struct putting {
	struct ledger *ledger;
	const struct ledger_shift *shift;
	int64_t line, change, revision;
	int64_t held; /* the change of that on file; 0: there is none */
	int64_t held_revision;
	bool same;
};

/* The one row of `statement`, which is finalized: read by `fill` if there is one. */
static int
look(struct putting *putting, struct binding *binding,
    void (*fill)(struct putting *putting, sqlite3_stmt *from), struct error *error)
{
	int step = bind_step(binding), code = 0;

	if (step == SQLITE_ROW)
		fill(putting, binding->statement);
	else if (step != SQLITE_DONE)
		code = database_failed(putting->ledger->db, error, "ledger");
	sqlite3_finalize(binding->statement);
	return code;
}

static void
fill_held(struct putting *putting, sqlite3_stmt *from)
{
	const struct ledger_shift *shift = putting->shift;

	putting->held = sqlite3_column_int64(from, 0);
	putting->held_revision = sqlite3_column_int64(from, 1);
	putting->same = sqlite3_column_int64(from, 2) == shift->to.ns;
	for (int i = 0; i < LEDGER_SHIFT_SUMS; i++)
		putting->same &= filed_same(column_number(from, 3 + i), shift->sum[i]);
}

static int
find_held(struct putting *putting, struct error *error)
{
	sqlite3_stmt *statement = NULL;
	int code = prepare(&statement, putting->ledger,
	    &(struct columns){"SELECT change, revision, to_at", sum_name,
		LEDGER_SHIFT_SUMS,
		" FROM shift_total WHERE line = ?1 AND from_at = ?2 AND shift = ?3"
		" AND superseded IS NULL",
		0},
	    error);

	if (code != 0)
		return code;
	struct binding binding = bind_start(statement);
	bind_integer(&binding, putting->line);
	bind_integer(&binding, putting->shift->from.ns);
	bind_text(&binding, putting->shift->shift);
	return look(putting, &binding, fill_held, error);
}

static bool
is_row(const struct ledger_shift_row *row, sqlite3_stmt *from)
{
	return strcmp(row->recipe, column_string(from, 0)) == 0 &&
	       strcmp(row->tool, column_string(from, 1)) == 0 &&
	       strcmp(row->characteristic, column_string(from, 2)) == 0;
}

/* Whether the row of the ledger is one of those that are put. */
static bool
has_row(const struct putting *putting, sqlite3_stmt *from)
{
	for (size_t i = 0; i < putting->shift->row_count; i++) {
		const struct ledger_shift_row *row = &putting->shift->rows[i];
		bool same = is_row(row, from);
		for (int k = 0; same && k < LEDGER_SHIFT_FIGURES; k++)
			same = filed_same(column_number(from, 3 + k), row->figure[k]);
		if (same)
			return true;
	}
	return false;
}

static int
compare_rows(struct putting *putting, struct error *error)
{
	size_t there = 0;
	int step = SQLITE_DONE;
	sqlite3_stmt *statement = NULL;
	int code = prepare(&statement, putting->ledger,
	    &(struct columns){"SELECT recipe, tool, characteristic", figure_name,
		LEDGER_SHIFT_FIGURES, " FROM shift_summary WHERE shift = ?1", 0},
	    error);

	if (code != 0)
		return code;
	struct binding binding = bind_start(statement);
	bind_integer(&binding, putting->held);
	while (putting->same && (step = bind_step(&binding)) == SQLITE_ROW) {
		putting->same = has_row(putting, statement);
		there++;
	}
	putting->same &= there == putting->shift->row_count;
	if (step != SQLITE_ROW && step != SQLITE_DONE)
		code = database_failed(putting->ledger->db, error, "ledger");
	sqlite3_finalize(statement);
	return code;
}

/* --- filing it ----------------------------------------------------------------------------- */

static int
put_total(struct putting *putting, struct error *error)
{
	const struct ledger_shift *shift = putting->shift;
	sqlite3_stmt *statement = NULL;
	int code = prepare(&statement, putting->ledger,
	    &(struct columns){"INSERT INTO shift_total (change, line, shift, from_at, "
			      "to_at, revision,"
			      " closed_at, setup, program",
		sum_name, LEDGER_SHIFT_SUMS, ") VALUES (", 9 + LEDGER_SHIFT_SUMS},
	    error);

	if (code != 0)
		return code;
	struct binding binding = bind_start(statement);
	bind_integer(&binding, putting->change);
	bind_integer(&binding, putting->line);
	bind_text(&binding, shift->shift);
	bind_integer(&binding, shift->from.ns);
	bind_integer(&binding, shift->to.ns);
	bind_integer(&binding, putting->revision);
	bind_integer(&binding, shift->closed.ns);
	bind_text(&binding, shift->setup);
	bind_text(&binding, EVENSOAK_VERSION);
	for (int i = 0; i < LEDGER_SHIFT_SUMS; i++)
		bind_number(&binding, filed_number(shift->sum[i]));
	code = ledger_run(putting->ledger, &binding, error);
	sqlite3_finalize(statement);
	return code;
}

static int
put_rows(struct putting *putting, struct error *error)
{
	sqlite3_stmt *statement = NULL;
	int code = prepare(&statement, putting->ledger,
	    &(struct columns){
		"INSERT INTO shift_summary (shift, recipe, tool, characteristic",
		figure_name, LEDGER_SHIFT_FIGURES, ") VALUES (",
		4 + LEDGER_SHIFT_FIGURES},
	    error);

	for (size_t i = 0; i < putting->shift->row_count && code == 0; i++) {
		const struct ledger_shift_row *row = &putting->shift->rows[i];
		struct binding binding = bind_start(statement);
		bind_integer(&binding, putting->change);
		bind_label(&binding, row->recipe);
		bind_label(&binding, row->tool);
		bind_text(&binding, row->characteristic);
		for (int k = 0; k < LEDGER_SHIFT_FIGURES; k++)
			bind_number(&binding, filed_number(row->figure[k]));
		code = ledger_run(putting->ledger, &binding, error);
	}
	sqlite3_finalize(statement);
	return code;
}

/* Its marks go out with the new one: lines of it that were refused are of no use. */
static int
supersede(struct putting *putting, struct error *error)
{
	const int64_t values[] = {putting->held, putting->change};

	if (putting->held == 0)
		return 0;
	int code = ledger_run_with(putting->ledger,
	    "UPDATE shift_total SET superseded = ?2 WHERE change = ?1", values, 2,
	    error);
	if (code != 0)
		return code;
	return ledger_run_with(
	    putting->ledger, "DELETE FROM refusal WHERE change = ?1", values, 1, error);
}

static void
fill_revision(struct putting *putting, sqlite3_stmt *from)
{
	putting->revision = sqlite3_column_int64(from, 0);
}

/* As a shot's: after a copy was put in the ledger's place behind all that it may have had. */
static int
find_revision(struct putting *putting, struct error *error)
{
	sqlite3_stmt *statement = database_prepare(putting->ledger->db,
	    "SELECT max(?1, 1000 * restored) FROM line WHERE id = ?2", error);

	if (statement == NULL)
		return database_code(putting->ledger->db);
	struct binding binding = bind_start(statement);
	bind_integer(&binding, putting->held == 0 ? 0 : putting->held_revision + 1);
	bind_integer(&binding, putting->line);
	return look(putting, &binding, fill_revision, error);
}

static int
put_whole(struct putting *putting, struct error *error)
{
	struct ledger *ledger = putting->ledger;
	int code = ledger_line_id(ledger, putting->shift->line, &putting->line, error);

	if (code == 0)
		code = find_held(putting, error);
	if (code == 0 && putting->same)
		code = compare_rows(putting, error);
	if (code != 0 || putting->same)
		return code;
	code = find_revision(putting, error);
	if (code == 0)
		code = ledger_next_change(ledger, &putting->change, error);
	if (code == 0)
		code = supersede(putting, error);
	if (code == 0)
		code = put_total(putting, error);
	return code == 0 ? put_rows(putting, error) : code;
}

int
ledger_end_dry(struct ledger *ledger, int code, bool dry, struct error *error)
{
	if (code == 0 && dry)
		return database_run(ledger->db, "ROLLBACK", error);
	return ledger_end(ledger, code, error);
}

int
ledger_put_shift(struct ledger *ledger, const struct ledger_shift *shift, bool dry,
    enum ledger_shift_filed *filed, struct error *error)
{
	struct putting putting = {.ledger = ledger, .shift = shift};
	int code = ledger_begin(ledger, error);

	if (code == 0)
		code = ledger_end_dry(ledger, put_whole(&putting, error), dry, error);
	if (code != 0)
		return error_prefix(error, ledger_explain(ledger, code, error),
		    "close shift '%s' of '%s'", shift->shift, shift->line);
	*filed = putting.same        ? LEDGER_SHIFT_SAME
	         : putting.held == 0 ? LEDGER_SHIFT_NEW
	                             : LEDGER_SHIFT_REVISED;
	return 0;
}

int
ledger_put_shift_closing(struct ledger *ledger, int64_t change, struct error *error)
{
	int code = ledger_begin(ledger, error);

	if (code == 0) {
		code = ledger_run_with(ledger,
		    "INSERT INTO shift_closing (id, change) VALUES (1, ?1)"
		    " ON CONFLICT DO UPDATE SET change = excluded.change",
		    &change, 1, error);
		code = ledger_end(ledger, code, error);
	}
	return code == 0 ? 0
	                 : error_prefix(error, ledger_explain(ledger, code, error),
			       "file how far shifts are closed");
}
